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

// sea makes a grid of 1 degree from 24 N 80 W on, west to east and south to
// north, with x where there is land.
func sea(t testing.TB, rows ...string) *grib2.Field {
	f := encode.Field{
		Grid:     encode.LatLon{Ni: len(rows[0]), Nj: len(rows), FirstLat: 24, FirstLon: -80, Di: 1, Dj: 1, Scan: 64},
		Category: 0, Number: 3, Start: run(),
	}
	for i := range rows {
		for _, c := range rows[len(rows)-1-i] { // written north up
			gap := encode.Present
			if c == 'x' {
				gap, c = encode.Primary, '0'
			}
			f.Values = append(f.Values, float64(c-'0'))
			f.Gaps = append(f.Gaps, gap)
		}
	}
	return read(t, f)[0]
}

func TestHowAValueIsFound(t *testing.T) {
	f := sea(t,
		"xxxx5",
		"xxxx7",
		"11xxx",
		"13xxx",
	)
	for name, c := range map[string]struct {
		lat, lon float64
		how      grib2.How
		want     float64
		nmi      float64 // to the nearest point used; a degree of latitude is 60
	}{
		"among four":                 {24.5, -79.5, grib2.Bilinear, 1.5, 41},
		"on a point":                 {24, -79, grib2.Bilinear, 3, 0},
		"between two":                {24.25, -79, grib2.Bilinear, 2.5, 15},
		"some of them land":          {24.5, -78.75, grib2.Partial, 2, 33},
		"on land beside water":       {25, -78, grib2.NearestWet, 1, 54.4},
		"on a dry point":             {26, -79, grib2.NearestWet, 1, 60},
		"farther than a cell inland": {26.9, -79.9, grib2.Missing, 0, 0},
		"south of all":               {23.9, -79.5, grib2.Outside, 0, 0},
		"east of all":                {24.5, -75.9, grib2.Outside, 0, 0},
		"west of all":                {24.5, -80.1, grib2.Outside, 0, 0},
		"not on earth":               {91, -79.5, grib2.Outside, 0, 0},
		"not a number":               {math.NaN(), -79.5, grib2.Outside, 0, 0},
		"counted from the west":      {24.5, 280.5, grib2.Bilinear, 1.5, 41},
		"once more round":            {24.5, 640.5, grib2.Bilinear, 1.5, 41},
		"the corner, a hair beyond":  {23.9999999, -80.0000001, grib2.Bilinear, 1, 0},
	} {
		t.Run(name, func(t *testing.T) {
			v, err := f.At(c.lat, c.lon)
			require.NoError(t, err)
			require.Equal(t, c.how, v.How, v.How.String())
			got, ok := v.Get()
			require.Equal(t, c.how >= grib2.Bilinear, ok)
			require.InDelta(t, c.want, got, 1e-5)
			require.InDelta(t, c.nmi, v.Away.NauticalMiles(), 0.6)
		})
	}
}

// A plane is interpolated exactly, wherever the grid begins, whichever way it
// runs, and across 0 and 180 degrees.
func TestAPlaneIsInterpolatedExactly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		first := float64(rapid.IntRange(0, 359).Draw(t, "first longitude"))
		scan := rapid.SampledFrom([]int{0, 0x40, 0x80, 0xC0, 0x10, 0x50, 0x20, 0x60, 0xF0}).Draw(t, "scan")
		ni, nj := 20, 9
		stepI, stepJ := 1.0, -1.0
		if scan&0x80 != 0 {
			stepI = -1
		}
		if scan&0x40 != 0 {
			stepJ = 1
		}
		f := encode.Field{
			Grid:    encode.LatLon{Ni: ni, Nj: nj, FirstLat: 10, FirstLon: first, Di: 1, Dj: 1, Scan: scan},
			Start:   run(),
			Packing: encode.Packing{Template: rapid.SampledFrom([]int{0, 2}).Draw(t, "template"), Decimal: 3},
		}
		f.Values = make([]float64, ni*nj)
		empty := read(t, f)[0]
		places, err := empty.Values()
		require.NoError(t, err)
		plane := func(i, j float64) float64 { return 3*i - 2*j }
		for k := range f.Values {
			lat, lon := places.Place(k)
			f.Values[k] = plane(math.Mod((lon-first)*stepI+720, 360), (lat-10)*stepJ)
		}
		i := rapid.Float64Range(0, float64(ni-1)).Draw(t, "i")
		j := rapid.Float64Range(0, float64(nj-1)).Draw(t, "j")
		v, err := read(t, f)[0].At(10+j*stepJ, first+i*stepI)
		require.NoError(t, err)
		got, ok := v.Get()
		require.True(t, ok, v.How)
		require.Equal(t, grib2.Bilinear, v.How)
		require.InDelta(t, plane(i, j), got, 1e-2)
	})
}

// A global grid has no seam.
func TestRoundTheEarth(t *testing.T) {
	f := fieldsOf(t, "extract/gfs_2p5_f120_marine.grib2")[2]
	require.True(t, f.Grid.Wraps())
	west, err := f.At(25, 357.5)
	require.NoError(t, err)
	east, err := f.At(25, 0)
	require.NoError(t, err)
	between, err := f.At(25, -1.25)
	require.NoError(t, err)
	a, _ := west.Get()
	b, _ := east.Get()
	c, ok := between.Get()
	require.True(t, ok)
	require.InDelta(t, (a+b)/2, c, 1e-9)
}

// The mean of bearings either side of north is north, not south.
func TestBearingsAreMixedAsBearings(t *testing.T) {
	f := encode.Field{
		Grid:     encode.LatLon{Ni: 2, Nj: 2, FirstLat: 24, FirstLon: -80, Di: 1, Dj: 1, Scan: 64},
		Category: 2, Number: 0, Start: run(), // wind direction
		Values: []float64{350, 20, 350, 20},
	}
	field := read(t, f)[0]
	v, err := field.At(24.5, -79.5)
	require.NoError(t, err)
	got, ok := v.Get()
	require.True(t, ok)
	require.InDelta(t, 5, got, 1e-9)
	require.Equal(t, []float64{20, 350}, []float64{v.Low, v.High})

	f.Category, f.Number = 0, 0 // a temperature
	field = read(t, f)[0]
	v, err = field.At(24.5, -79.5)
	require.NoError(t, err)
	got, _ = v.Get()
	require.InDelta(t, 185, got, 1e-9)
	v, err = field.BearingAt(24.5, -79.5)
	require.NoError(t, err)
	got, _ = v.Get()
	require.InDelta(t, 5, got, 1e-9)

	f.Values = []float64{90, 270, 90, 270}
	v, err = read(t, f)[0].BearingAt(24.5, -79.5)
	require.NoError(t, err)
	_, ok = v.Get()
	require.False(t, ok, "opposed bearings have no mean")
}

// Components that do not belong together make no wind.
func TestComponentsMustBelongTogether(t *testing.T) {
	u := encode.Field{
		Grid:     encode.LatLon{Ni: 2, Nj: 2, FirstLat: 24, FirstLon: -80, Di: 1, Dj: 1, Scan: 64},
		Category: 2, Number: 2, Surface: encode.Surface{Type: 103, Value: 10}, Start: run(),
		Values: []float64{3, 3, 3, 3},
	}
	v := u
	v.Number, v.Values = 3, []float64{4, 4, 4, 4}
	pair := read(t, u, v)
	got, err := grib2.VectorAtPoints(pair[0], pair[1], []grib2.Point{{Lat: 24.5, Lon: -79.5}})
	require.NoError(t, err)
	wind, ok := got[0].Get()
	require.True(t, ok)
	require.InDelta(t, 5, wind.Speed().MetresPerSecond(), 1e-9)
	from, _ := wind.From()
	require.InDelta(t, 216.87, from.Degrees(), 0.01) // from the south-west: atan(3/4) past south

	for name, spoil := range map[string]func(v *encode.Field){
		"another surface": func(v *encode.Field) { v.Surface.Value = 80 },
		"another hour":    func(v *encode.Field) { v.Start = v.Start.Add(time.Hour) },
		"another grid": func(v *encode.Field) {
			v.Grid = encode.LatLon{Ni: 2, Nj: 2, FirstLat: 25, FirstLon: -80, Di: 1, Dj: 1, Scan: 64}
		},
		"a gust":  func(v *encode.Field) { v.Number = 22 },
		"u again": func(v *encode.Field) { v.Number = 2 },
	} {
		w := v
		spoil(&w)
		pair := read(t, u, w)
		_, err := grib2.VectorAtPoints(pair[0], pair[1], []grib2.Point{{Lat: 24.5, Lon: -79.5}})
		require.Error(t, err, name)
	}

	// Where one of the two is missing, the point does not count.
	v.Gaps = []encode.Gap{0, encode.Primary, 0, 0}
	v.Values = []float64{4, 99, 4, 4}
	pair = read(t, u, v)
	got, err = grib2.VectorAtPoints(pair[0], pair[1], []grib2.Point{{Lat: 24.5, Lon: -79.5}})
	require.NoError(t, err)
	require.Equal(t, grib2.Partial, got[0].How)
	wind, _ = got[0].Get()
	require.InDelta(t, 5, wind.Speed().MetresPerSecond(), 1e-9)
}

// Many places in one pass are each what they are alone, on every packing that
// is read in part.
func TestManyPlacesAreEachOne(t *testing.T) {
	for name := range benchPlaces() {
		f := fieldsOf(t, name)[0]
		var places []grib2.Point
		for i := range 40 {
			lat, lon := f.Grid.LatLon(f.Grid.Ni*(i+1)/42, f.Grid.Nj*(41-i)/42)
			places = append(places, grib2.Point{Lat: lat + 0.01, Lon: lon - 0.01})
		}
		all, err := f.AtPoints(places)
		require.NoError(t, err)
		for i, p := range places {
			if i%7 != 0 {
				continue
			}
			one, err := f.At(p.Lat, p.Lon)
			require.NoError(t, err)
			require.Equal(t, all[i], one, "%s at %v", name, p)
		}
	}
}

// Places and grid coordinates are each other's inverse on every kind of grid.
func TestPlacesAreFoundWhereTheyLie(t *testing.T) {
	for _, name := range []string{
		"real/aqm_hawaii_o3__mercator_drt53_scan64.grib2",
		"real/ndfd_oceanic_waveh_20231130__mercator_drt52_primary_missing_boustrophedon.grib",
		"real/cmc_reg_ps10km_depr__polarstereo_jpeg2000_empty_section7_bitmap.grib2",
		"real/ngm_48h__polarstereo_simple_15kB.grb",
		"real/hrrr_conus_20230722t06z_f01_ugrd10m__lambert_simple_gridwinds.grib2",
		"real/arome_tcdc__drt42_ccsds_bitmap_crosses_greenwich.grib2",
		"real/ecmwf_aifs_t500_0p25__drt42_ccsds_12bit.grib2",
	} {
		f := fieldsOf(t, name)[0]
		vals, err := f.Values()
		require.NoError(t, err)
		var places []grib2.Point
		var want []float64
		for i := range 200 {
			col, row := f.Grid.Ni*i/200, (f.Grid.Nj*i*7/200)%f.Grid.Nj
			x, ok := vals.At(col, row)
			if !ok {
				continue
			}
			lat, lon := f.Grid.LatLon(col, row)
			places, want = append(places, grib2.Point{Lat: lat, Lon: lon}), append(want, x)
		}
		got, err := f.AtPoints(places)
		require.NoError(t, err)
		for i, v := range got {
			x, ok := v.Get()
			require.True(t, ok, "%s at %v: %v", name, places[i], v.How)
			require.InDelta(t, want[i], x, 1e-6*(1+v.High-v.Low)+1e-9*math.Abs(x), "%s at %v", name, places[i])
			require.Less(t, v.Away.Metres(), 1.0)
		}
	}
}

// benchPlaces are files with a field of each packing, and a place in it.
// tools/gribtime compares the times with those of ecCodes, by file.
func benchPlaces() map[string]grib2.Point {
	miami := grib2.Point{Lat: 25.77, Lon: -80.05}
	offshore := grib2.Point{Lat: 25.77, Lon: -79.5}
	return map[string]grib2.Point{
		"real/gfs_1p00_10u10v__drt50_simple.grib2":                                                  miami,
		"real/hrrr_conus_20230722t06z_f01_ugrd10m__lambert_simple_gridwinds.grib2":                  miami,
		"real/gfs_1p00_10u10v__drt52_complex.grib2":                                                 miami,
		"real/ndfd_oceanic_waveh_20231130__mercator_drt52_primary_missing_boustrophedon.grib":       offshore,
		"real/gfs_1p00_10u10v__drt53_spatialdiff.grib2":                                             miami,
		"real/gfs_0p25_cwat__drt53_order2.grib2":                                                    miami,
		"real/nbm_conus_20250901t00z_f001_tmp2m__lambert_drt53_primary_missing_boustrophedon.grib2": miami,
		"real/gfswave_atlocn_0p16_20230823t18z_f001__jpeg2000_bitmap_19msg.grib2":                   offshore,
		"real/gfs_1p00_10u__drt41_png_nbits12_depth16.grib2":                                        miami,
		"real/ecmwf_aifs_t500_0p25__drt42_ccsds_12bit.grib2":                                        miami,
		"extract/ecmwf_aifs_swh_0p25__drt42_ccsds_bitmap.grib2":                                     offshore,
	}
}
