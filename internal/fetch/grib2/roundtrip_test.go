package grib2_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/fetch/grib2"
	"forecastd/internal/fetch/grib2/encode"
)

func run() time.Time { return time.Date(2027, 1, 18, 18, 0, 0, 0, time.UTC) }

// drawField draws a field of any shape, order, packing and pattern of gaps.
func drawField(t *rapid.T) encode.Field {
	ni, nj := rapid.IntRange(1, 40).Draw(t, "ni"), rapid.IntRange(1, 30).Draw(t, "nj")
	scan := 0
	for _, flag := range []int{0x80, 0x40, 0x20, 0x10} {
		if rapid.Bool().Draw(t, "scan flag") {
			scan |= flag
		}
	}
	lat, lon := rapid.IntRange(-45, 45).Draw(t, "lat"), rapid.IntRange(0, 359).Draw(t, "lon")
	f := encode.Field{
		Grid:     encode.LatLon{Ni: ni, Nj: nj, FirstLat: float64(lat), FirstLon: float64(lon), Di: 0.5, Dj: 0.25, Scan: scan},
		Category: 2, Number: 2,
		Surface: encode.Surface{Type: 103, Value: 10},
		Start:   run().Add(6 * time.Hour),
		Packing: encode.Packing{
			Template: rapid.SampledFrom([]int{0, 2, 3, 3}).Draw(t, "template"),
			Decimal:  rapid.IntRange(-3, 6).Draw(t, "D"),
			Binary:   rapid.IntRange(-4, 3).Draw(t, "E"),
		},
	}
	n := ni * nj
	width := rapid.IntRange(0, 24).Draw(t, "bits") // of the largest value
	step := math.Ldexp(1, f.Packing.Binary) / math.Pow10(f.Packing.Decimal)
	base := float64(rapid.IntRange(-1000, 1000).Draw(t, "base"))
	rough := rapid.Bool().Draw(t, "rough")
	x := 0
	for range n {
		most := 1<<width - 1
		if rough {
			x = rapid.IntRange(0, most).Draw(t, "value")
		} else if rapid.IntRange(0, 3).Draw(t, "move") == 0 {
			x = min(max(x+rapid.IntRange(-5, 5).Draw(t, "by"), 0), most)
		}
		f.Values = append(f.Values, (base+float64(x))*step)
	}
	if f.Packing.Template == 3 {
		f.Packing.Order = rapid.IntRange(1, 2).Draw(t, "order")
	}
	kinds := rapid.IntRange(0, 2).Draw(t, "kinds of gap")
	if kinds > 0 {
		f.Packing.Marked = f.Packing.Template != 0 && rapid.Bool().Draw(t, "marked")
		f.Gaps = make([]encode.Gap, n)
		for k := 0; k < n; { // in runs, as coasts make them
			g := encode.Gap(rapid.IntRange(0, kinds).Draw(t, "gap"))
			for range rapid.IntRange(1, 40).Draw(t, "run of gaps") {
				if k < n {
					f.Gaps[k] = g
					k++
				}
			}
		}
	}
	return f
}

func read(t require.TestingT, fields ...encode.Field) []*grib2.Field {
	b, err := encode.Message{Centre: 255, Run: run(), Fields: fields}.Bytes()
	require.NoError(t, err)
	out, errs := grib2.Read(b)
	require.Empty(t, errs)
	require.Len(t, out, len(fields))
	return out
}

// What was written is read back within half a step, and gaps are gaps, whether
// the field is unpacked whole, at single points or in summary.
func TestWrittenIsReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := drawField(t)
		f := read(t, want)[0]
		got, err := f.Values()
		require.NoError(t, err)
		step := math.Ldexp(1, want.Packing.Binary) / math.Pow10(want.Packing.Decimal)
		within := func(v float64) float64 { return step/2 + 1e-9*math.Abs(v) }
		require.Equal(t, len(want.Values), got.Len())
		var points []grib2.Point
		n, sum, low, high := 0, 0.0, math.Inf(1), math.Inf(-1)
		for k, w := range want.Values {
			v, ok := got.InFile(k)
			require.Equal(t, want.Gaps == nil || want.Gaps[k] == encode.Present, ok, "point %d", k)
			if ok {
				require.InDelta(t, w, v, within(w), "point %d", k)
				n, sum, low, high = n+1, sum+v, min(low, v), max(high, v)
			}
			lat, lon := got.Place(k)
			points = append(points, grib2.Point{Lat: lat, Lon: lon})
		}
		stats, err := f.Stats()
		require.NoError(t, err)
		require.Equal(t, len(want.Values), stats.Count)
		require.Equal(t, len(want.Values)-n, stats.Missing)
		if n > 0 {
			require.Equal(t, low, stats.Min)
			require.Equal(t, high, stats.Max)
			require.InDelta(t, sum/float64(n), stats.Mean, 1e-9*(1+math.Abs(low)+math.Abs(high)))
		}
		// Some of the points, so that not every group is wanted.
		keep := rapid.IntRange(1, 9).Draw(t, "one in")
		var some []grib2.Point
		var index []int
		for k := rapid.IntRange(0, keep-1).Draw(t, "first"); k < len(points); k += keep {
			some, index = append(some, points[k]), append(index, k)
		}
		at, err := f.AtPoints(some)
		require.NoError(t, err)
		for i, k := range index {
			v, ok := at[i].Get()
			if want.Gaps != nil && want.Gaps[k] != encode.Present {
				require.NotEqual(t, grib2.Bilinear, at[i].How, "point %d", k)
				continue
			}
			require.True(t, ok, "point %d: %v", k, at[i].How)
			require.InDelta(t, want.Values[k], v, within(want.Values[k])+1e-3*(high-low), "point %d", k)
		}
	})
}

// The column, row and file order of every scanning mode agree with the places
// that the grid's definition gives.
func TestPlacesOfEveryScanningMode(t *testing.T) {
	for scan := 0; scan < 0x100; scan += 0x10 {
		g := encode.LatLon{Ni: 4, Nj: 3, FirstLat: 10, FirstLon: 20, Di: 1, Dj: 2, Scan: scan}
		f := encode.Field{Grid: g, Start: run(), Values: make([]float64, 12)}
		got := read(t, f)[0]
		vals, err := got.Values()
		require.NoError(t, err)
		// Table 3.4: from the first point, i first unless 0x20, the other way on
		// odd rows (columns) with 0x10.
		k := 0
		stepI, stepJ := 1.0, -2.0
		if scan&0x80 != 0 {
			stepI = -1
		}
		if scan&0x40 != 0 {
			stepJ = 2
		}
		expect := func(i, j int) {
			lat, lon := vals.Place(k)
			require.InDelta(t, 10+stepJ*float64(j), lat, 1e-9, "scan %#x point %d", scan, k)
			require.InDelta(t, 20+stepI*float64(i), lon, 1e-9, "scan %#x point %d", scan, k)
			k++
		}
		if scan&0x20 == 0 {
			for j := range 3 {
				for i := range 4 {
					if scan&0x10 != 0 && j%2 == 1 {
						i = 3 - i
					}
					expect(i, j)
				}
			}
			continue
		}
		for i := range 4 {
			for j := range 3 {
				if scan&0x10 != 0 && i%2 == 1 {
					j = 2 - j
				}
				expect(i, j)
			}
		}
	}
}
