package grib2_test

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch/grib2"
	"forecastd/internal/fetch/grib2/encode"
)

// What the damaged files are damaged in is found, with message, section and
// octet, and what is good in them is read.
func TestDamageIsNamed(t *testing.T) {
	for name, want := range map[string]struct {
		fields                  int // in the list
		good                    int // whose values can be had
		message, section, octet int
		reason                  string
	}{
		"Ni_times_Nj_overflow.grib2":               {1, 1, 1, 3, 31, "2147483647 × 2147483647 grid points"},
		"bitmap_254_without_previous.grib2":        {1, 0, 1, 6, 6, "there is none"},
		"bitmap_all_zero_but_values_present.grib2": {1, 0, 1, 5, 6, "11041 values where the bitmap has 0"},
		"drt_unknown_999.grib2":                    {1, 0, 1, 5, 10, "template 5.999"},
		"edition_3.grib2":                          {0, 0, 1, 0, 8, "edition 3"},
		"empty.grib2":                              {0, 0, 0, 0, 0, "empty"},
		"html_instead_of_grib.grib2":               {0, 0, 0, 0, 0, "HTML"},
		"nbits_255.grib2":                          {1, 0, 1, 5, 20, "255 bits"},
		"ngroups_huge.grib2":                       {1, 0, 1, 5, 32, "2147483647 groups"},
		"no_7777.grib2":                            {0, 0, 1, 0, 9, "no 7777"},
		"npoints_differs_from_NiNj.grib2":          {1, 0, 1, 3, 7, "10 grid points where 360 × 181"},
		"only_12_octets.grib2":                     {0, 0, 1, 0, 1, "12 octets are left"},
		"order_7.grib2":                            {1, 0, 1, 5, 48, "order 7"},
		"second_message_truncated.grib2":           {1, 1, 2, 0, 9, "truncated"},
		"total_length_too_big.grib2":               {0, 0, 1, 0, 9, "truncated"},
		"total_length_zero.grib2":                  {0, 0, 1, 0, 9, "total length of 0"},
		"truncated_in_section7_jpeg.grib2":         {0, 0, 1, 0, 9, "truncated"},
	} {
		t.Run(name, func(t *testing.T) {
			fields, errs := grib2.Read(bytesOf(t, "broken/"+name))
			require.Len(t, fields, want.fields)
			require.Len(t, errs, 1)
			var e *grib2.Error
			require.ErrorAs(t, errs[0], &e)
			require.Equal(t, []int{want.message, want.section, want.octet}, []int{e.Message, e.Section, e.Octet}, e)
			require.Contains(t, e.Error(), want.reason)
			good := 0
			for _, f := range fields {
				if _, err := f.Values(); err == nil {
					good++
				}
			}
			require.Equal(t, want.good, good)
		})
	}
}

// Damage inside a code stream cannot be told from data; it must not spread.
func TestFlippedBitsInACodeStream(t *testing.T) {
	fields, errs := grib2.Read(bytesOf(t, "broken/jpeg_middle_bit_flips.grib2"))
	require.Empty(t, errs)
	s, err := fields[0].Stats()
	if err != nil {
		var e *grib2.Error
		require.ErrorAs(t, err, &e)
		return
	}
	require.Equal(t, 11041, s.Count-s.Missing)
}

// use asks a file everything, and holds that what it takes is in proportion.
func use(t testing.TB, b []byte) {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	fields, errs := grib2.Read(b)
	for _, err := range errs {
		var e *grib2.Error
		require.ErrorAs(t, err, &e)
	}
	for _, f := range fields {
		if _, err := f.Stats(); err != nil {
			var e *grib2.Error
			require.ErrorAs(t, err, &e)
		}
		if v, err := f.At(25.77, -80.05); err == nil {
			if x, ok := v.Get(); ok {
				require.False(t, math.IsNaN(x))
			}
		}
		_, _ = f.List(&grib2.Point{Lat: 12, Lon: 180})
	}
	runtime.ReadMemStats(&after)
	// Samples of code streams take 4 octets, for up to 2^21 of them whatever the
	// data, and three passes are made; all else is in proportion to the file.
	streams := 0
	for _, f := range fields {
		if f.PackingTemplate >= 40 {
			streams++
		}
	}
	require.LessOrEqual(t, after.TotalAlloc-before.TotalAlloc, uint64(1<<20+600*len(b)+streams*3*2*4<<21), "%d octets", len(b))

	var v grib2.Values
	for _, f := range fields {
		if f.Count > 1<<22 {
			continue
		}
		if err := f.Unpack(&v); err == nil {
			for _, k := range []int{0, v.Len() / 2, v.Len() - 1} {
				if k >= 0 && k < v.Len() {
					v.InFile(k)
				}
			}
		}
	}
}

// Every octet of the headers of the small files, and every seventh of their
// data, is spoiled in several ways, and the files are cut there: there are
// errors, but no panic and no memory beyond the file's measure.
func TestSpoiledFiles(t *testing.T) {
	values := []byte{0xFF, 0x7F, 0x11} // to be set, to be set, to be flipped
	if testing.Short() {
		values = values[:1]
	}
	for _, file := range gribFiles(t, "real", "extract", "synthetic") {
		b, err := os.ReadFile(file)
		require.NoError(t, err)
		if fields, _ := grib2.Read(b); len(b) > 1000 || fields[0].Count > 100_000 {
			continue // too long to spoil so often
		}
		t.Run(filepath.Base(file), func(t *testing.T) {
			for i := 0; i < len(b); i++ {
				if i > 240 { // beyond the headers
					i = min(i+6, len(b)-1)
				}
				use(t, b[:i])
				old := b[i]
				for _, v := range values {
					if b[i] = v; v == 0x11 {
						b[i] ^= old
					}
					use(t, b)
				}
				b[i] = old
			}
		})
	}
}

// A field that claims more points than memory could hold, and is constant, is
// answered without taking any.
func TestConstantFieldTakesNoMemory(t *testing.T) {
	b, err := encode.Message{Run: run(), Fields: []encode.Field{{
		Grid:  encode.LatLon{Ni: 2, Nj: 2, FirstLat: 0, FirstLon: 0, Di: 0.0001, Dj: 0.0001, Scan: 64},
		Start: run(), Values: []float64{3, 3, 3, 3},
	}}}.Bytes()
	require.NoError(t, err)
	section3 := 16 + 21
	const n = 6000 * 6000
	binary.BigEndian.PutUint32(b[section3+6:], n)
	binary.BigEndian.PutUint32(b[section3+30:], 6000)
	binary.BigEndian.PutUint32(b[section3+34:], 6000)
	section5 := section3 + 72 + 34
	require.Equal(t, byte(5), b[section5+4])
	binary.BigEndian.PutUint32(b[section5+5:], n)
	use(t, b)
	fields, errs := grib2.Read(b)
	require.Empty(t, errs)
	require.Less(t, testing.AllocsPerRun(1, func() {
		v, err := fields[0].Values()
		require.NoError(t, err)
		require.Equal(t, n, v.Len())
		s, err := fields[0].Stats()
		require.NoError(t, err)
		require.Equal(t, grib2.Stats{Count: n, Min: 3, Mean: 3, Max: 3}, s)
	}), 100.0)
	// Values that differ have to be there.
	b[section5+19] = 1 // bits a value
	fields, errs = grib2.Read(b)
	require.Empty(t, errs)
	_, err = fields[0].Values()
	require.ErrorContains(t, err, "section 7, octet 6: truncated")
}

// message makes a small good message; every one is told by its parameter.
func message(t testing.TB, number int) []byte {
	b, err := encode.Message{Run: run(), Fields: []encode.Field{{
		Grid:   encode.LatLon{Ni: 3, Nj: 2, FirstLat: 25, FirstLon: 279, Di: 1, Dj: 1, Scan: 64},
		Number: number, Start: run().Add(time.Hour), Values: []float64{1, 2, 3, 4, 5, 6},
	}}}.Bytes()
	require.NoError(t, err)
	return b
}

func numbers(fields []*grib2.Field) []int {
	var out []int
	for _, f := range fields {
		out = append(out, f.Number)
	}
	return out
}

// Good messages before and after a bad one are read, and keep their numbers.
func TestGoodMessagesAroundABadOne(t *testing.T) {
	spoil := func(at int, with ...byte) []byte {
		b := message(t, 9)
		copy(b[at:], with)
		return b
	}
	whole := message(t, 9)
	edition1 := append([]byte("GRIB\x00\x00\x20\x01"), make([]byte, 20)...)
	edition1 = append(edition1, "7777"...)
	for name, bad := range map[string][]byte{
		"cut short":              whole[:len(whole)-10],
		"no end":                 spoil(len(whole)-4, 'x'),
		"length too long by one": spoil(15, whole[15]+1),
		"length over the next":   spoil(15, byte(2*len(whole))), // 368, less 256
		"unknown section":        spoil(16+21+4, 9),
		"a section too long":     spoil(16+21, 0, 1),
		"no date":                spoil(16+14, 13),
		"edition 1":              edition1,
		"only a word":            []byte("... GRIB ..."),
	} {
		t.Run(name, func(t *testing.T) {
			b := slicesConcat(message(t, 1), []byte("\r\r\n"), bad, []byte("junk"), message(t, 2))
			fields, errs := grib2.Read(b)
			require.Equal(t, []int{1, 2}, numbers(fields))
			require.NotEmpty(t, errs)
			for _, err := range errs {
				var e *grib2.Error
				require.ErrorAs(t, err, &e)
				require.Equal(t, 2, e.Message, e)
			}
			require.Equal(t, 3, fields[1].Message)
		})
	}
}

func slicesConcat(parts ...[]byte) []byte { return bytes.Join(parts, nil) }

func TestEdition1IsSteppedOver(t *testing.T) {
	inside := message(t, 9) // would be found by a search for the next GRIB
	edition1 := append([]byte("GRIB\x00\x00\x00\x01"), inside...)
	edition1 = append(edition1, "7777"...)
	edition1[6] = byte(len(edition1))
	fields, errs := grib2.Read(append(edition1, message(t, 1)...))
	require.Equal(t, []int{1}, numbers(fields))
	require.Len(t, errs, 1)
	require.ErrorIs(t, errs[0], grib2.ErrUnsupported)
	require.EqualError(t, errs[0], "message 1: section 0, octet 8: stepped over: GRIB edition 1 is not supported")
}

func TestNothingAtAll(t *testing.T) {
	for _, b := range [][]byte{nil, {}, []byte("  <!DOCTYPE html><html>"), []byte("plain text"), []byte("GRI")} {
		fields, errs := grib2.Read(b)
		require.Empty(t, fields)
		require.Len(t, errs, 1)
		require.ErrorIs(t, errs[0], grib2.ErrNoMessage)
	}
}

// Errors are as many as a person may read, not as many as a file can hold.
func TestErrorsHaveAnEnd(t *testing.T) {
	_, errs := grib2.Read(bytes.Repeat([]byte("GRIB"), 100_000))
	require.Len(t, errs, 1001)
	require.ErrorContains(t, errs[1000], "more errors")
}

func FuzzRead(f *testing.F) {
	grid := encode.LatLon{Ni: 7, Nj: 5, FirstLat: 24, FirstLon: 278, Di: 0.5, Dj: 0.5, Scan: 0x50}
	values := make([]float64, 35)
	gaps := make([]encode.Gap, 35)
	for i := range values {
		values[i] = math.Round(100*math.Sin(float64(i))) / 10
		if i%9 == 4 {
			gaps[i] = encode.Gap(1 + i%2)
		}
	}
	for _, p := range []encode.Packing{
		{Decimal: 1}, {Template: 2, Decimal: 1}, {Template: 2, Decimal: 1, Marked: true},
		{Template: 3, Decimal: 1, Order: 1, Marked: true}, {Template: 3, Decimal: 1, Order: 2},
	} {
		field := encode.Field{Grid: grid, Category: 2, Number: 2, Start: run(), End: run().Add(time.Hour), Packing: p, Values: values, Gaps: gaps}
		other := field
		other.Grid = encode.Lambert{Ni: 7, Nj: 5, FirstLat: 21, FirstLon: 237, LaD: 38.5, LoV: 262.5, Dx: 3000, Dy: 3000, Latin1: 38.5, Latin2: 38.5, Scan: 64, ComponentsAlongGrid: true}
		b, err := encode.Message{Run: run(), Fields: []encode.Field{field, other}}.Bytes()
		require.NoError(f, err)
		f.Add(b)
	}
	f.Add([]byte("GRIB"))
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 1<<16 {
			return
		}
		use(t, b)
	})
}
