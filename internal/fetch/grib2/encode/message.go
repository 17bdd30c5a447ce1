// Package encode makes GRIB edition 2 messages, for recordings of invented
// weather and for tests. It writes the grids 3.0 and 3.30 and the packings
// 5.0, 5.2 and 5.3, and knows nothing of how package grib2 reads them.
//
// Source: WMO306.
package encode

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"time"
)

// Message is one GRIB message. Its fields share section 1; sections 3 to 7 are
// repeated for each of them, section 3 only where the grid changes.
type Message struct {
	Discipline        int // code table 0.0: 0 meteorological, 10 oceanographic
	Centre, Subcentre int
	Run               time.Time
	Fields            []Field
}

// Field is what one field holds.
type Field struct {
	Grid             Grid
	Category, Number int     // of the parameter
	Surface          Surface // the first fixed surface; the second is never there
	// Start is when the field is valid. With a later End it is a statistic over
	// the interval, by a Process of code table 4.10 (0 average, 1 accumulation,
	// 2 maximum, 3 minimum).
	Start, End time.Time
	Process    int
	Packing    Packing
	// Values are in file order, one a grid point, also where Gaps says that
	// there is none.
	Values []float64
	// Gaps tells which points have no value: nil for none missing.
	Gaps []Gap
}

// Surface is a fixed surface of code table 4.5, with a value in tenths at
// most.
type Surface struct {
	Type  int
	Value float64
}

// Gap is why a point has no value. Only complex packing tells the two kinds
// apart.
type Gap uint8

// The kinds of Gap.
const (
	Present Gap = iota
	Primary
	Secondary
)

// Bytes returns the message.
func (m Message) Bytes() ([]byte, error) {
	if len(m.Fields) == 0 {
		return nil, errors.New("a message needs a field")
	}
	b := []byte{'G', 'R', 'I', 'B', 0, 0, byte(m.Discipline), 2}
	b = append(b, make([]byte, 8)...) // the total length
	b = m.identification(b)
	for i, f := range m.Fields {
		if f.Grid == nil {
			return nil, fmt.Errorf("field %d has no grid", i+1)
		}
		if i == 0 || f.Grid != m.Fields[i-1].Grid {
			b = section(b, 3, f.Grid.define)
		}
		var err error
		if b, err = f.sections(b, m.Run); err != nil {
			return nil, fmt.Errorf("encode field %d: %w", i+1, err)
		}
	}
	b = append(b, "7777"...)
	binary.BigEndian.PutUint64(b[8:], uint64(len(b)))
	return b, nil
}

// section appends a section with its length and number around what body
// appends.
func section(b []byte, number int, body func([]byte) []byte) []byte {
	start := len(b)
	b = append(b, 0, 0, 0, 0, byte(number))
	b = body(b)
	binary.BigEndian.PutUint32(b[start:], uint32(len(b)-start))
	return b
}

func (m Message) identification(b []byte) []byte {
	return section(b, 1, func(b []byte) []byte {
		b = u16(b, m.Centre)
		b = u16(b, m.Subcentre)
		b = append(b, 30, 0, 1) // master table 30, no local table, start of forecast
		b = instant(b, m.Run)
		return append(b, 0, 1) // operational, forecast products
	})
}

func instant(b []byte, t time.Time) []byte {
	t = t.UTC()
	b = u16(b, t.Year())
	return append(b, byte(t.Month()), byte(t.Day()), byte(t.Hour()), byte(t.Minute()), byte(t.Second()))
}

func (f Field) sections(b []byte, run time.Time) ([]byte, error) {
	ni, nj := f.Grid.size()
	if n := ni * nj; len(f.Values) != n || f.Gaps != nil && len(f.Gaps) != n {
		return nil, fmt.Errorf("%d values and %d gaps for %d grid points", len(f.Values), len(f.Gaps), n)
	}
	if f.Start.Sub(run)%time.Minute != 0 || f.End.Sub(f.Start)%time.Minute != 0 && !f.End.IsZero() {
		return nil, errors.New("times must be whole minutes after the run")
	}
	b = section(b, 4, func(b []byte) []byte { return f.product(b, run) })
	return f.pack(b)
}

func (f Field) product(b []byte, run time.Time) []byte {
	interval := f.End.After(f.Start)
	template := 0
	if interval {
		template = 8
	}
	b = u16(b, 0) // no coordinate values
	b = u16(b, template)
	b = append(b, byte(f.Category), byte(f.Number), 2, 0, 0, 0, 0, 0)
	b = duration(b, f.Start.Sub(run))
	b = append(b, byte(f.Surface.Type), 1)
	b = u32(b, signed(int(math.Round(f.Surface.Value*10)), 32))
	b = append(b, 255, 255, 255, 255, 255, 255)
	if interval {
		b = instant(b, f.End)
		b = append(b, 1)
		b = u32(b, 0)
		b = append(b, byte(f.Process), 2)
		b = duration(b, f.End.Sub(f.Start))
		b = append(b, 255, 0, 0, 0, 0)
	}
	return b
}

// duration writes a unit of time (code table 4.4) and a number of them.
func duration(b []byte, d time.Duration) []byte {
	if d%time.Hour == 0 {
		return u32(append(b, 1), signed(int(d/time.Hour), 32))
	}
	return u32(append(b, 0), signed(int(d/time.Minute), 32))
}

func u16(b []byte, v int) []byte { return binary.BigEndian.AppendUint16(b, uint16(v)) }
func u32(b []byte, v int) []byte { return binary.BigEndian.AppendUint32(b, uint32(v)) }

// signed writes a negative number as a sign bit and a magnitude.
func signed(v, bits int) int {
	if v < 0 {
		return -v | 1<<(bits-1)
	}
	return v
}
