package encode

import (
	"errors"
	"fmt"
	"math"
	"math/bits"
)

// Packing is how the values of a field are written. A value comes back within
// half a step of 2^Binary / 10^Decimal.
type Packing struct {
	Template int // data representation template 5.0, 5.2 or 5.3
	Decimal  int // D
	Binary   int // E
	Order    int // of the spatial differencing of 5.3: 1 or 2
	// Marked writes gaps by marked values (missing value management 1, or 2 where
	// there are secondary ones) instead of a bitmap. Not for 5.0.
	Marked bool
}

// pack appends sections 5 to 7.
func (f Field) pack(b []byte) ([]byte, error) {
	p := f.Packing
	switch {
	case p.Template != 0 && p.Template != 2 && p.Template != 3:
		return nil, fmt.Errorf("packing template 5.%d is not written here", p.Template)
	case p.Template == 3 && p.Order != 1 && p.Order != 2:
		return nil, fmt.Errorf("spatial differencing of order %d, want 1 or 2", p.Order)
	case p.Template == 0 && p.Marked:
		return nil, errors.New("simple packing cannot mark gaps, use a bitmap")
	}
	q := quantised{step: math.Ldexp(1, p.Binary), decimal: math.Pow10(p.Decimal)}
	if err := q.scale(f.Values, f.Gaps, p.Marked); err != nil {
		return nil, err
	}
	var template, data []byte
	switch p.Template {
	case 0:
		template, data = q.simple()
	default:
		template, data = q.complex(p)
	}
	b = section(b, 5, func(b []byte) []byte {
		b = u32(b, len(q.x))
		b = u16(b, p.Template)
		b = u32(b, int(math.Float32bits(q.ref)))
		b = u16(b, signed(p.Binary, 16))
		b = u16(b, signed(p.Decimal, 16))
		return append(b, template...)
	})
	b = section(b, 6, func(b []byte) []byte {
		if f.Gaps == nil || p.Marked {
			return append(b, 255)
		}
		w := writer{b: append(b, 0)}
		for _, g := range f.Gaps {
			w.put(bit(g == Present), 1)
		}
		return w.bytes()
	})
	return section(b, 7, func(b []byte) []byte { return append(b, data...) }), nil
}

func bit(v bool) uint64 {
	if v {
		return 1
	}
	return 0
}

// quantised is the coded values as whole numbers of steps above a reference.
type quantised struct {
	step, decimal float64
	ref           float32
	x             []int64 // 0 where there is a gap
	gaps          []Gap   // nil, or one a value: they are marked
}

func (q *quantised) scale(values []float64, gaps []Gap, marked bool) error {
	least := math.Inf(1)
	for i, v := range values {
		if gaps != nil && gaps[i] != Present {
			continue
		}
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("value %d is %g", i, v)
		}
		least = min(least, v*q.decimal)
	}
	if math.IsInf(least, 1) {
		least = 0 // nothing but gaps
	}
	q.ref = float32(least)
	if float64(q.ref) > least {
		q.ref = math.Nextafter32(q.ref, float32(math.Inf(-1)))
	}
	if marked {
		q.gaps = gaps
	}
	for i, v := range values {
		if gaps != nil && gaps[i] != Present {
			if marked {
				q.x = append(q.x, 0)
			}
			continue
		}
		x := math.Round((v*q.decimal - float64(q.ref)) / q.step)
		if x > 1<<30 {
			return fmt.Errorf("value %d, %g, lies %g steps above the least, more than 2^30", i, v, x)
		}
		q.x = append(q.x, int64(x))
	}
	return nil
}

// simple returns octets 20 and 21 of section 5, and the data of section 7.
func (q *quantised) simple() (template, data []byte) {
	var most int64
	for _, x := range q.x {
		most = max(most, x)
	}
	width := bits.Len64(uint64(most))
	var w writer
	for _, x := range q.x {
		w.put(uint64(x), width)
	}
	return []byte{byte(width), 0}, w.bytes()
}

// writer packs bits, the most significant first.
type writer struct {
	b    []byte
	acc  uint64
	have int
}

// put writes up to 56 bits.
func (w *writer) put(v uint64, width int) {
	w.acc = w.acc<<width | v
	w.have += width
	for w.have >= 8 {
		w.have -= 8
		w.b = append(w.b, byte(w.acc>>w.have))
	}
}

// align fills the octet begun with zeros.
func (w *writer) align() {
	if w.have > 0 {
		w.put(0, 8-w.have)
	}
}

func (w *writer) bytes() []byte {
	w.align()
	return w.b
}
