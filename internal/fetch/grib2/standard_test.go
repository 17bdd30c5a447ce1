package grib2

import (
	"encoding/binary"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The tests here make messages octet by octet from the text of WMO306, for
// what no encoder at hand writes.

// sec makes a section of a number and a body.
func sec(number byte, body ...byte) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(5+len(body)))
	return append(append(b, number), body...)
}

// msg makes a message of sections.
func msg(sections ...[]byte) []byte {
	b := []byte("GRIB\x00\x00\x00\x02\x00\x00\x00\x00\x00\x00\x00\x00")
	for _, s := range sections {
		b = append(b, s...)
	}
	b = append(b, "7777"...)
	binary.BigEndian.PutUint64(b[8:], uint64(len(b)))
	return b
}

func section1() []byte {
	return sec(1, 0, 7, 0, 0, 30, 0, 1, 0x07, 0xEB, 1, 18, 18, 0, 0, 0, 1) // 2027-01-18 18:00
}

// section3 is a grid of 3 × 2 points from 25 N 279 E, by 1 degree, east and
// north.
func section3(edit ...func(s section)) []byte {
	s := sec(3, make([]byte, 67)...)
	put := func(octet int, v uint32) { binary.BigEndian.PutUint32(s[octet-1:], v) }
	put(7, 6)
	s[14] = 6 // shape of the earth
	put(31, 3)
	put(35, 2)
	put(43, missing32)
	put(47, 25e6)
	put(51, 279e6)
	s[54] = 0x30
	put(56, 26e6)
	put(60, 281e6)
	put(64, 1e6)
	put(68, 1e6)
	s[71] = 0x40
	for _, e := range edit {
		e(s)
	}
	return s
}

// section4 is template 4.0, of a parameter and an hour ahead.
func section4(number, hours byte) []byte {
	return sec(4, 0, 0, 0, 0, 2, number, 2, 0, 0, 0, 0, 0, 1, 0, 0, 0, hours, 103, 0, 0, 0, 0, 10, 255, 255, 255, 255, 255, 255)
}

// section5 is simple packing of n values of 8 bits with R = 0.
func section5(n byte) []byte {
	return sec(5, 0, 0, 0, n, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 8, 0)
}

func noBitmap() []byte { return sec(6, 255) }

func mustRead(t *testing.T, b []byte, n int) []*Field {
	t.Helper()
	fields, errs := Read(b)
	require.Empty(t, errs)
	require.Len(t, fields, n)
	return fields
}

func inFileOrder(t *testing.T, f *Field) []float64 {
	t.Helper()
	v, err := f.Values()
	require.NoError(t, err)
	var out []float64
	for k := range v.Len() {
		x, ok := v.InFile(k)
		if !ok {
			x = math.Inf(-1)
		}
		out = append(out, x)
	}
	return out
}

// Regulation 92.1: sections 2 to 7, 3 to 7 or 4 to 7 may be repeated; what is
// not keeps its last content.
func TestSectionsRepeatInEveryLegalOrder(t *testing.T) {
	smaller := section3(func(s section) {
		binary.BigEndian.PutUint32(s[6:], 3)
		binary.BigEndian.PutUint32(s[34:], 1)
	})
	b := msg(section1(),
		sec(2, 'x'), section3(), section4(2, 1), section5(6), noBitmap(), sec(7, 1, 2, 3, 4, 5, 6),
		section4(3, 1), section5(6), noBitmap(), sec(7, 6, 5, 4, 3, 2, 1), // 4 to 7
		smaller, section4(4, 2), section5(3), noBitmap(), sec(7, 7, 8, 9), // 3 to 7
		sec(2, 'y'), section3(), section4(5, 3), section5(6), noBitmap(), sec(7, 1, 1, 1, 1, 1, 1), // 2 to 7
	)
	fields := mustRead(t, b, 4)
	for i, f := range fields {
		require.Equal(t, 1, f.Message)
		require.Equal(t, i+1, f.Index)
		require.Equal(t, i+2, f.Number)
		require.Equal(t, 7, f.Centre)
		require.Equal(t, time.Date(2027, 1, 18, 18, 0, 0, 0, time.UTC), f.Run)
	}
	require.Equal(t, []float64{6, 5, 4, 3, 2, 1}, inFileOrder(t, fields[1]))
	require.Equal(t, []float64{7, 8, 9}, inFileOrder(t, fields[2]))
	require.Same(t, fields[0].Grid, fields[1].Grid)
	require.Equal(t, 1, fields[2].Grid.Nj)
	require.Equal(t, 2, fields[3].Grid.Nj)

	for name, bad := range map[string][]byte{
		"5 without 4":   msg(section1(), section3(), section5(6), noBitmap(), sec(7, 1, 2, 3, 4, 5, 6)),
		"7 without 6":   msg(section1(), section3(), section4(2, 1), section5(6), sec(7, 1, 2, 3, 4, 5, 6)),
		"5 after 7":     msg(section1(), section3(), section4(2, 1), section5(6), noBitmap(), sec(7, 1, 2, 3, 4, 5, 6), section5(6)),
		"1 twice":       msg(section1(), section1()),
		"an end at 5":   msg(section1(), section3(), section4(2, 1), section5(6)),
		"nothing in it": msg(),
	} {
		_, errs := Read(bad)
		require.NotEmpty(t, errs, name)
	}
}

// Code table 6.0: 254 is the bitmap defined before in the same message.
func TestBitmapBeforeHolds(t *testing.T) {
	b := msg(section1(), section3(),
		section4(2, 1), section5(4), sec(6, 0, 0b10110100), sec(7, 1, 2, 3, 4),
		section4(3, 1), section5(6), noBitmap(), sec(7, 1, 2, 3, 4, 5, 6),
		section4(4, 1), section5(4), sec(6, 254), sec(7, 5, 6, 7, 8),
	)
	fields := mustRead(t, b, 3)
	none := math.Inf(-1)
	require.Equal(t, []float64{1, none, 2, 3, none, 4}, inFileOrder(t, fields[0]))
	require.Equal(t, []float64{1, 2, 3, 4, 5, 6}, inFileOrder(t, fields[1]))
	require.Equal(t, []float64{5, none, 6, 7, none, 8}, inFileOrder(t, fields[2]))
	_, errs := Read(msg(section1(), section3(), section4(2, 1), section5(4), sec(6, 7), sec(7, 1, 2, 3, 4)))
	require.Len(t, errs, 1)
	require.ErrorIs(t, errs[0], ErrUnsupported)
}

// Bitmaps longer than a block of counted ones, and not of whole octets.
func TestBitmapRank(t *testing.T) {
	const n = 3*8*blockOctets + 5
	bits := make([]byte, (n+7)/8)
	for i := range bits {
		bits[i] = byte(i * 37)
	}
	m := newBitmap(bits, n)
	ones := 0
	for k := range n {
		require.Equal(t, ones, m.rank(k))
		if m.has(k) {
			ones++
		}
	}
	require.Equal(t, ones, m.ones)
}

// Template 5.4, code table 5.7: 1 is IEEE 32 bits, 2 is 64. No number means no
// value.
func TestFloatingPointPacking(t *testing.T) {
	values := []float64{1.5, -2.25, math.NaN(), 4e30, math.Inf(1), 0}
	var single, double []byte
	for _, v := range values {
		single = binary.BigEndian.AppendUint32(single, math.Float32bits(float32(v)))
		double = binary.BigEndian.AppendUint64(double, math.Float64bits(v))
	}
	for precision, data := range map[byte][]byte{1: single, 2: double} {
		f := mustRead(t, msg(section1(), section3(), section4(2, 1), sec(5, 0, 0, 0, 6, 0, 4, precision), noBitmap(), sec(7, data...)), 1)[0]
		got := inFileOrder(t, f)
		require.Equal(t, []float64{1.5, -2.25, math.Inf(-1)}, got[:3])
		require.InEpsilon(t, 4e30, got[3], 1e-7)
		s, err := f.Stats()
		require.NoError(t, err)
		require.Equal(t, 2, s.Missing)
		require.Equal(t, -2.25, s.Min)
		v, err := f.At(25, 281) // the point that is no number
		require.NoError(t, err)
		require.Equal(t, NearestWet, v.How)
	}
	f, _ := Read(msg(section1(), section3(), section4(2, 1), sec(5, 0, 0, 0, 6, 0, 4, 1), noBitmap(), sec(7, single[:20]...)))
	_, err := f[0].Stats()
	require.ErrorContains(t, err, "section 7, octet 6: truncated")
}

// complexPacking is template 5.2 with R = 0, E = 0, D = 0.
func complexPacking(n, refBits, missing, groups, widthRef, widthBits, lengthRef, lengthInc, last, lengthBits byte) []byte {
	return sec(5, 0, 0, 0, n, 0, 2, 0, 0, 0, 0, 0, 0, 0, 0, refBits, 0, 1, missing, 0, 0, 0, 0, 0, 0, 0, 0,
		0, 0, 0, groups, widthRef, widthBits, 0, 0, 0, lengthRef, lengthInc, 0, 0, 0, last, lengthBits)
}

// Two groups of three, one of them flat, worked by hand: references 5 and 9 of
// 4 bits, widths 0 and 2, values 9+0, 9+1, 9+2.
func TestGroupsByHand(t *testing.T) {
	read := func(section5 []byte, data ...byte) *Field {
		fields, errs := Read(msg(section1(), section3(), section4(2, 1), section5, noBitmap(), sec(7, data...)))
		require.Empty(t, errs)
		return fields[0]
	}
	data := []byte{0x59, 0b0010_0000, 0b00_01_10_00} // references; widths of 2 bits; values
	require.Equal(t, []float64{5, 5, 5, 9, 10, 11}, inFileOrder(t, read(complexPacking(6, 4, 0, 2, 0, 2, 3, 1, 3, 0), data...)))

	// Missing value management 1: a value of 11 in 2 bits is missing.
	none := math.Inf(-1)
	data = []byte{0x59, 0b0010_0000, 0b00_11_10_00}
	require.Equal(t, []float64{5, 5, 5, 9, none, 11}, inFileOrder(t, read(complexPacking(6, 4, 1, 2, 0, 2, 3, 1, 3, 0), data...)))
	// And 2: 10 is missing as well.
	require.Equal(t, []float64{5, 5, 5, 9, none, none}, inFileOrder(t, read(complexPacking(6, 4, 2, 2, 0, 2, 3, 1, 3, 0), data...)))
	// A group without width is missing if its reference is all ones.
	data = []byte{0xF9, 0b0010_0000, 0b00_01_10_00}
	require.Equal(t, []float64{none, none, none, 9, 10, 11}, inFileOrder(t, read(complexPacking(6, 4, 1, 2, 0, 2, 3, 1, 3, 0), data...)))
	// References of no bits are 0, which is all ones of none: such a group is
	// missing, as in real files of fire weather.
	data = []byte{0b0010_0000, 0b00_01_10_00}
	require.Equal(t, []float64{none, none, none, 0, 1, 2}, inFileOrder(t, read(complexPacking(6, 0, 1, 2, 0, 2, 3, 1, 3, 0), data...)))
	// Without missing values it is a group of zeros, and the field not constant.
	require.Equal(t, []float64{0, 0, 0, 0, 1, 2}, inFileOrder(t, read(complexPacking(6, 0, 0, 2, 0, 2, 3, 1, 3, 0), data...)))

	for name, c := range map[string]struct {
		section5 []byte
		octet    string
	}{
		"lengths that do not add up": {complexPacking(6, 4, 0, 2, 0, 2, 3, 1, 2, 0), "section 5, octet 43"},
		"a group beyond the end":     {complexPacking(6, 4, 0, 2, 0, 2, 7, 1, 3, 0), "section 7, octet 8"},
		"values that are not there":  {complexPacking(6, 4, 0, 2, 9, 2, 3, 1, 3, 0), "section 7, octet 6"},
		"a width beyond reason":      {complexPacking(6, 4, 0, 2, 33, 2, 3, 1, 3, 0), "section 7, octet 7"},
		"descriptors cut short":      {complexPacking(6, 32, 0, 2, 0, 2, 3, 1, 3, 0), "section 7, octet 6"},
	} {
		_, err := read(c.section5, 0x59, 0b0010_0000, 0b00_01_10_00).Values()
		require.ErrorContains(t, err, c.octet, name)
	}
}

// Template 5.3 by hand. Values 10 12 15 19 24 30 have second differences of 1:
// seeds 10 and 12, overall minimum 1, all packed values 0.
func TestDifferencesByHand(t *testing.T) {
	with := func(order byte, values ...float64) {
		t.Helper()
		body := complexPacking(6, 4, 0, 1, 0, 0, 6, 1, 6, 0)[5:]
		body[5] = 3 // template 5.3
		s5 := sec(5, append(body, order, 1)...)
		data := map[byte][]byte{
			1: {10, 0x83, 0x00},     // minimum -3: sign and magnitude
			2: {10, 12, 0x01, 0x00}, // minimum 1
		}[order]
		f := mustRead(t, msg(section1(), section3(), section4(2, 1), s5, noBitmap(), sec(7, data...)), 1)[0]
		require.Equal(t, values, inFileOrder(t, f))
	}
	with(1, 10, 7, 4, 1, -2, -5)
	with(2, 10, 12, 15, 19, 24, 30)
}

// Times of validity, code tables 4.4 and 4.10.
func TestTimesOfValidity(t *testing.T) {
	at := func(h, m int) time.Time { return time.Date(2027, 1, 18, h, m, 0, 0, time.UTC) }
	product := func(unit byte, forecast uint32, template byte, rest ...byte) (*Product, *Error) {
		s := section4(8, 0)
		s[8] = template
		s[17] = unit
		binary.BigEndian.PutUint32(s[18:], forecast)
		return parseProduct(append(section(s), rest...), at(18, 0))
	}
	for name, c := range map[string]struct {
		unit     byte
		forecast uint32
		want     time.Time
	}{
		"minutes":        {0, 495, at(26, 15)},
		"hours":          {1, 5, at(23, 0)},
		"days":           {2, 1, at(42, 0)},
		"months":         {3, 1, time.Date(2027, 2, 18, 18, 0, 0, 0, time.UTC)},
		"three hours":    {10, 2, at(24, 0)},
		"six hours":      {11, 1, at(24, 0)},
		"twelve hours":   {12, 1, at(30, 0)},
		"seconds":        {13, 90, at(18, 0).Add(90 * time.Second)},
		"an hour before": {1, 1<<31 | 1, at(17, 0)},
	} {
		p, bad := product(c.unit, c.forecast, 0)
		require.Nil(t, bad, name)
		require.Equal(t, c.want, p.Start, name)
		require.Equal(t, c.want, p.End, name)
		require.Equal(t, Instant, p.Process, name)
	}
	for name, c := range map[string]struct {
		unit     byte
		forecast uint32
		octet    int
	}{
		"an unknown unit": {77, 1, 18}, "a missing time": {1, missing32, 19}, "no such year": {2, 1 << 30, 19},
	} {
		_, bad := product(c.unit, c.forecast, 0)
		require.NotNil(t, bad, name)
		require.Equal(t, c.octet, bad.Octet, name)
	}

	interval := func(hour, ranges, process, unit, length byte) []byte {
		return []byte{0x07, 0xEB, 1, 18, hour, 0, 0, ranges, 0, 0, 0, 0, process, 2, unit, 0, 0, 0, length, 255, 0, 0, 0, 0}
	}
	p, bad := product(1, 4, 8, interval(23, 1, 1, 1, 1)...)
	require.Nil(t, bad)
	require.Equal(t, Accumulation, p.Process)
	require.Equal(t, []time.Time{at(22, 0), at(23, 0)}, []time.Time{p.Start, p.End})
	// Files of the analysis hour have no range, and no date.
	p, bad = product(1, 0, 8, make([]byte, 12)...)
	require.Nil(t, bad)
	require.Equal(t, []time.Time{at(18, 0), at(18, 0)}, []time.Time{p.Start, p.End})
	_, bad = product(1, 4, 8, interval(23, 1, 1, 1, 2)...)
	require.ErrorContains(t, bad, "the interval ends at 2027-01-19T00:00:00Z by its length")
	require.Equal(t, 50, bad.Octet)
	_, bad = product(1, 4, 8, interval(21, 1, 1, 1, 1)...)
	require.ErrorContains(t, bad, "before its start")
	_, bad = product(1, 4, 8, interval(23, 1, 1, 1, 1)[:20]...)
	require.ErrorContains(t, bad, "ends here")
}

// What the other templates add, octet by octet.
func TestProductTemplates(t *testing.T) {
	base := section4(8, 3)
	with := func(template byte, rest ...byte) *Product {
		s := append(append(section{}, base...), rest...)
		s[8] = template
		p, bad := parseProduct(s, time.Date(2027, 1, 18, 18, 0, 0, 0, time.UTC))
		require.Nil(t, bad)
		return p
	}
	require.Equal(t, Member{3, 17, 31}, *with(1, 3, 17, 31).Member)
	require.Equal(t, Derived{4, 31}, *with(2, 4, 31).Derived)
	require.Equal(t, 90, with(6, 90).Percentile)
	p := with(5, 0, 1, 1, 255, 255, 255, 255, 255, 1, 0, 0, 0, 125) // above 12.5
	require.Equal(t, Probability{Type: 1, Lower: Limit{Missing: true}, Upper: Limit{Value: 12.5}}, *p.Probability)
	require.False(t, with(91).TemplateKnown)
	for _, template := range []byte{1, 2, 5, 6, 8, 9, 10, 11, 12} {
		s := append(section{}, base...)
		s[8] = template
		_, bad := parseProduct(s, time.Time{})
		require.NotNil(t, bad, "4.%d is longer than 4.0", template)
	}
}

// Numerical examples on the sphere of radius 1. Source: Snyder1987, appendix A
// (from memory): Lambert with parallels 33 and 45, origin 23 N 96 W; Mercator
// from 180 W; both at 35 N 75 W.
func TestProjectionsOfTheHandbook(t *testing.T) {
	l := lambert{loV: -96, dx: 1, dy: 1}
	l.n = math.Log(cosd(33)/cosd(45)) / math.Log(tand(45+45.0/2)/tand(45+33.0/2))
	l.rf = cosd(33) * math.Pow(tand(45+33.0/2), l.n) / l.n
	l.rho0 = l.rho(23)
	require.InDelta(t, 0.6304777, l.n, 5e-8)
	x, y := l.plane(35, -75)
	require.InDelta(t, 0.2966785, x, 5e-8)
	require.InDelta(t, 0.2462112, y, 5e-8)

	m := mercator{west: -180, dx: 1, dy: 1, k: 1, round: 2 * math.Pi, ni: 7}
	x, y, _ = m.xy(35, -75)
	require.InDelta(t, 1.8325957, x, 5e-8)
	require.InDelta(t, 0.6528366, y, 5e-8)
}

// A southern grid is a northern one upside down.
func TestPolarSouth(t *testing.T) {
	north := polar{loV: -60, dx: 1, dy: 1, c: 1.9e7}
	south := polar{loV: -60, dx: 1, dy: 1, c: 1.9e7, south: true}
	for _, p := range []Point{{60, -80}, {75, 10}, {89, -60}, {50, 119}} {
		x, y, _ := north.xy(p.Lat, p.Lon)
		xs, ys, _ := south.xy(-p.Lat, p.Lon)
		require.InDelta(t, x, xs, 1e-6)
		require.InDelta(t, y, -ys, 1e-6)
		lat, lon := south.latLon(xs, ys)
		require.InDelta(t, -p.Lat, lat, 1e-9)
		require.InDelta(t, p.Lon, lon, 1e-9)
	}
}

// Errors about grids name the octet.
func TestGridsThatCannotBe(t *testing.T) {
	put := func(octet int, v uint32) func(section) {
		return func(s section) { binary.BigEndian.PutUint32(s[octet-1:], v) }
	}
	set := func(octet int, v byte) func(section) { return func(s section) { s[octet-1] = v } }
	for name, c := range map[string]struct {
		edit  func(section)
		octet int
	}{
		"a list of rows":       {set(11, 1), 11},
		"rows of all lengths":  {put(31, missing32), 31},
		"no columns":           {put(31, 0), 31},
		"a staggered grid":     {set(72, 0x48), 72},
		"a latitude of 95":     {put(47, 95e6), 47},
		"a longitude of 1000":  {put(51, 1000e6), 51},
		"predefined":           {set(6, 1), 6},
		"more than the earth":  {func(s section) { put(7, 6000)(s); put(31, 3000)(s); put(64, 1e6)(s) }, 64},
		"rows beyond the pole": {func(s section) { put(7, 600)(s); put(35, 200)(s); put(68, 1e6)(s) }, 68},
	} {
		_, bad := parseGrid(section3(c.edit))
		require.NotNil(t, bad, name)
		require.Equal(t, c.octet, bad.Octet, name)
	}
	// Increments rounded to a millionth of a degree give way to the corners.
	g, bad := parseGrid(section3(func(s section) {
		put(31, 301)(s)
		put(51, 260e6)(s)
		put(60, 310e6)(s)
		put(64, 166667)(s)
	}))
	require.Nil(t, bad)
	_, lon := g.LatLon(300, 0)
	require.InDelta(t, 310-360, lon, 1e-9)
	// One column or row needs no increment.
	g, bad = parseGrid(section3(put(31, 1), put(64, missing32)))
	require.Nil(t, bad)
	require.Equal(t, 1, g.Ni)
}
