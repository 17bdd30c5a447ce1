package gridded

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/fetch/grib2"
	"forecastd/internal/fetch/grib2/encode"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/testdata"
)

func read(t testing.TB, b []byte) []*grib2.Field {
	t.Helper()
	fields, errs := grib2.Read(b)
	require.Empty(t, errs)
	return fields
}

// The official oceanic grid of 2023-11-30 has single cells of 11.5 to 29.7 m at
// river mouths, beside water of 0.3 to 0.9 m: what is read beside one of them
// is no sea.
func TestSpikesOfARealField(t *testing.T) {
	fields := read(t, realFile(t, "ndfd_oceanic_waveh_20231130__mercator_drt52_primary_missing_boustrophedon.grib"))
	p := Product{Name: "oceanic", Fields: []Field{{As: "sea", Numbers: [3]int{10, 0, 5}}}}
	sea := func(lat, lon float64) (models.Opt[units.Length], tally) {
		hours, tallies := readHours(p, fields, []Place{{At: models.Position{Lat: lat, Lon: lon}}})
		if len(hours[0]) == 0 {
			return models.Unknown[units.Length](), tallies[0]
		}
		require.Len(t, hours[0], 1)
		return hours[0][0].Sea, tallies[0]
	}
	raw, err := fields[0].At(27.75, -82.62)
	require.NoError(t, err)
	require.Greater(t, raw.High, 29.0)
	got, counted := sea(27.75, -82.62)
	require.False(t, got.Known())
	require.Equal(t, []string{"sea out of range: rejected 1 times"}, counted.notes())
	// Between the spike and its neighbours the mix is no sea either, though
	// it could be one by its height.
	raw, err = fields[0].At(27.70, -82.62)
	require.NoError(t, err)
	mixed, ok := raw.Get()
	require.True(t, ok && mixed < highestSea && mixed > 5, "%g", mixed)
	got, counted = sea(27.70, -82.62)
	require.False(t, got.Known())
	require.Equal(t, []string{"sea far above the water around: rejected 1 times"}, counted.notes())

	// Every lone cell of the file, found by looking at all eight cells around.
	v, err := fields[0].Values()
	require.NoError(t, err)
	g := fields[0].Grid
	spikes, left := 0, []float64(nil)
	for row := 1; row+1 < g.Nj; row++ {
		for col := 1; col+1 < g.Ni; col++ {
			x, ok := v.At(col, row)
			if !ok || x < 13 {
				continue
			}
			lat, lon := g.LatLon(col, row)
			spikes++
			if got, counted := sea(lat, lon); got.Known() {
				left = append(left, x)
			} else {
				require.Len(t, counted.rejected, 1)
			}
		}
	}
	require.Equal(t, 36, spikes)
	// One stands beside a storm sea of 6.1 m, of which it is less than three
	// times.
	require.Len(t, left, 1)
	require.InDelta(t, 14.4, left[0], 0.01)

	// The sea beside, and a real storm elsewhere in the same field, stay.
	got, _ = sea(27.5, -83.2)
	require.True(t, got.Known())
	high, at := 0.0, models.Position{}
	for row := 0; row < g.Nj; row += 7 {
		for col := 0; col < g.Ni; col += 7 {
			if x, ok := v.At(col, row); ok && x > high && x < 13 {
				lat, lon := g.LatLon(col, row)
				high, at = x, models.Position{Lat: lat, Lon: lon}
			}
		}
	}
	require.Greater(t, high, 6.0)
	got, _ = sea(at.Lat, at.Lon)
	require.True(t, got.Known(), "%.1f m at %s", high, at)
}

func TestStandsAlone(t *testing.T) {
	const n, middle = 15, 7
	at := models.Position{Lat: 27, Lon: -79}
	sea := func(height func(col, row int) float64, gap func(col, row int) bool) models.Opt[units.Length] {
		f := encode.Field{
			Grid:     encode.LatLon{Ni: n, Nj: n, FirstLat: 27 - middle*0.1, FirstLon: 281 - middle*0.1, Di: 0.1, Dj: 0.1, Scan: 64},
			Category: 0, Number: 3, Surface: encode.Surface{Type: 1}, Start: newest(), End: newest(), Packing: encode.Packing{Decimal: 2},
		}
		for row := range n {
			for col := range n {
				g := encode.Present
				if gap(col, row) {
					g = encode.Primary
				}
				f.Values, f.Gaps = append(f.Values, height(col, row)), append(f.Gaps, g)
			}
		}
		b, err := encode.Message{Discipline: 10, Centre: 7, Run: newest(), Fields: []encode.Field{f}}.Bytes()
		require.NoError(t, err)
		hours, _ := readHours(Product{Fields: []Field{{As: "sea", Numbers: [3]int{10, 0, 3}}}}, read(t, b), []Place{{At: at}})
		require.LessOrEqual(t, len(hours[0]), 1)
		if len(hours[0]) == 0 {
			return models.Unknown[units.Length]()
		}
		return hours[0][0].Sea
	}
	wet := func(int, int) bool { return false }
	spike := func(col, row int) float64 {
		if row == middle && (col == middle || col == middle+3 || col == middle-3) {
			return 15
		}
		return 0.9
	}
	require.False(t, sea(spike, wet).Known(), "also with others of its kind three cells off")
	require.True(t, sea(spike, func(col, row int) bool { return col != middle || row != middle }).Known(), "without water around nobody can tell")
	storm := func(col, row int) float64 {
		away := math.Hypot(float64(col-middle), float64(row-middle))
		return 14 * math.Exp(-away/6)
	}
	require.True(t, sea(storm, wet).Known(), "a storm with a steep edge")
	require.True(t, sea(func(col, row int) float64 { return 2.9 - 2.8*math.Abs(float64(col-middle))/middle }, wet).Known(), "what is not high is no spike")
}

func TestSpikesInTime(t *testing.T) {
	at := newest()
	var hours []models.Hour
	for i, m := range []float64{0.9, 1, 11.5, 1, 1.2, 2, 4, 6, 5, 3} {
		hours = append(hours, models.Hour{At: at.Add(time.Duration(i) * time.Hour), Sea: models.Known(units.Length(m)), Period: models.Known(6.0)})
	}
	out, counted := withoutSpikes(hours)
	require.False(t, out[2].Sea.Known())
	require.True(t, out[2].Period.Known())
	require.True(t, hours[2].Sea.Known(), "what was given is left as it is")
	require.Equal(t, []string{"sea far above the hours beside it: rejected 1 times"}, counted.notes())
	out[2] = hours[2]
	require.Equal(t, hours, out, "a storm that grows and decays stays")
}

func TestLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := limits{0, 100}
		x := rapid.Float64().Draw(t, "x")
		y, ok := l.fit(x)
		require.Equal(t, x >= -0.2 && x <= 100.2, ok)
		if ok {
			require.InDelta(t, x, y, 0.2)
			require.True(t, y >= 0 && y <= 100)
		}
	})
}

// ECMWF packs a cover of 100 % as 100.009 (the real AROME file, by ecCodes):
// that is 100, not out of range.
func TestRoundingIsNoFault(t *testing.T) {
	fields := read(t, realFile(t, "arome_tcdc__drt42_ccsds_bitmap_crosses_greenwich.grib2"))
	p := Product{Fields: []Field{{As: "cloud", Numbers: [3]int{0, 6, 1}}}}
	var places []Place
	v, err := fields[0].Values()
	require.NoError(t, err)
	for k := range v.Len() {
		if x, ok := v.InFile(k); ok && x > 100 && len(places) < 5 {
			lat, lon := v.Place(k)
			places = append(places, Place{At: models.Position{Lat: lat, Lon: lon}})
		}
	}
	require.NotEmpty(t, places)
	hours, tallies := readHours(p, fields, places)
	for i := range places {
		require.Empty(t, tallies[i].rejected)
		require.LessOrEqual(t, hours[i][0].Cloud.Or(-1), 100.0)
		require.Greater(t, hours[i][0].Cloud.Or(-1), 99.0)
	}
}

// The air temperature of a real file of the blend is what ecCodes 2.28 gives at
// all four points around: grib_get -l 33,-78.
func TestBlendAtAPlace(t *testing.T) {
	fields := read(t, realFile(t, "nbm_conus_20250901t00z_f001_tmp2m__lambert_drt53_primary_missing_boustrophedon.grib2"))
	places := []Place{{At: models.Position{Lat: 33, Lon: -78}}, {At: models.Position{Lat: 33, Lon: -20}}}
	hours, tallies := readHours(product(t, "nbm"), fields, places)
	require.Len(t, hours[0], 1)
	h := hours[0][0]
	require.InDelta(t, 298.5, h.Air.Or(0).Kelvin(), 1e-6)
	h.Air = models.Unknown[units.Temperature]()
	require.Equal(t, models.Hour{At: time.Date(2025, 9, 1, 1, 0, 0, 0, time.UTC)}, h, "nothing but what the file holds")
	require.Empty(t, hours[1])
	require.Equal(t, []string{"the place lies outside the model's grid"}, tallies[1].notes())
}

// One component of a wind is no wind.
func TestHalfAWind(t *testing.T) {
	fields := read(t, realFile(t, "hrrr_conus_20230722t06z_f01_ugrd10m__lambert_simple_gridwinds.grib2"))
	hours, _ := readHours(product(t, "hrrr"), fields, []Place{{At: offshore()}})
	require.Empty(t, hours[0])
}

// Off Miami (25.77 N 80.05 W) the grid of the 3 km model is turned by 10.863°:
// (10, 0) along it is (9.8208, -1.8846) by the earth, a wind from 280.86°
// (formats page of the project, checked there against finite differences of
// the grid).
func TestGridWindsAreTurned(t *testing.T) {
	grid := encode.Lambert{Ni: 1799, Nj: 1059, FirstLat: 21.138123, FirstLon: 237.280472, LaD: 38.5, LoV: 262.5, Dx: 3000, Dy: 3000, Latin1: 38.5, Latin2: 38.5, Scan: 64, ComponentsAlongGrid: true}
	n := grid.Ni * grid.Nj
	u, v := make([]float64, n), make([]float64, n)
	for i := range u {
		u[i] = 10
	}
	at := newest()
	m := encode.Message{Centre: 7, Run: at, Fields: []encode.Field{
		{Grid: grid, Category: 2, Number: 2, Surface: encode.Surface{Type: 103, Value: 10}, Start: at, End: at, Values: u},
		{Grid: grid, Category: 2, Number: 3, Surface: encode.Surface{Type: 103, Value: 10}, Start: at, End: at, Values: v},
	}}
	b, err := m.Bytes()
	require.NoError(t, err)
	hours, _ := readHours(product(t, "hrrr"), read(t, b), []Place{{At: models.Position{Lat: 25.77, Lon: -80.05}}})
	require.InDelta(t, 10, float64(hours[0][0].Wind.Or(0)), 1e-6)
	require.InDelta(t, 280.863, float64(hours[0][0].WindFrom.Or(0)), 0.002)
}

// A maximum or a chance over a time belongs to the beginning of the time, for
// an hour holds until the next one.
func TestWhatHoldsForATime(t *testing.T) {
	grid := encode.LatLon{Ni: 3, Nj: 3, FirstLat: 27, FirstLon: 280, Di: 0.25, Dj: 0.25, Scan: 64}
	all := func(x float64) []float64 { return slices.Repeat([]float64{x}, 9) }
	run := newest()
	ten := encode.Surface{Type: 103, Value: 10}
	lead := func(h int) time.Time { return run.Add(time.Duration(h) * time.Hour) }
	file := func(h int, u, gust float64) []*grib2.Field {
		m := encode.Message{Centre: 98, Run: run, Fields: []encode.Field{
			{Grid: grid, Category: 2, Number: 2, Surface: ten, Start: lead(h), End: lead(h), Values: all(u)},
			{Grid: grid, Category: 2, Number: 3, Surface: ten, Start: lead(h), End: lead(h), Values: all(0)},
			{Grid: grid, Category: 2, Number: 22, Surface: ten, Start: lead(h - 3), End: lead(h), Process: int(grib2.Maximum), Values: all(gust)},
		}}
		b, err := m.Bytes()
		require.NoError(t, err)
		return read(t, b)
	}
	p := product(t, "ecmwf")
	place := []Place{{At: models.Position{Lat: 27.2, Lon: -79.8}}}
	var hours []models.Hour
	for i, g := range []float64{11, 14, 9} {
		hs, _ := readHours(p, file(3*(i+1), 5+float64(i), g), place)
		hours = append(hours, hs[0]...)
	}
	hours = join(hours)
	require.Len(t, hours, 4)
	want := []struct{ wind, gust float64 }{{-1, 11}, {5, 14}, {6, 9}, {7, -1}}
	for i, h := range hours {
		require.Equal(t, lead(3*i), h.At)
		require.InDelta(t, want[i].wind, float64(h.Wind.Or(-1)), 0.01)
		require.InDelta(t, want[i].gust, float64(h.Gust.Or(-1)), 0.01)
	}
}

// Every value within its limits comes from the field, whatever the place.
func TestManyPlacesAreAsOne(t *testing.T) {
	fields := read(t, realFile(t, waveFile))
	p := product(t, "gfs-wave")
	rapid.Check(t, func(t *rapid.T) {
		var places []Place
		for range rapid.IntRange(1, 5).Draw(t, "places") {
			places = append(places, Place{At: models.Position{Lat: rapid.Float64Range(0, 55).Draw(t, "lat"), Lon: rapid.Float64Range(-100, -50).Draw(t, "lon")}})
		}
		all, tallies := readHours(p, fields, places)
		for i, g := range places {
			one, tally := readHours(p, fields, []Place{g})
			require.Equal(t, one[0], all[i])
			require.Equal(t, tally[0], tallies[i])
		}
	})
}

// Where a wave model has no swell of its own at a place, the swell of a cell
// beside it is none there; where it has no water at all, the cell beside it
// stands in for everything, and says so.
func TestSwellBesideNone(t *testing.T) {
	fields := read(t, realFile(t, waveFile))
	p := product(t, "gfs-wave")
	height, swell := fields[4], fields[8]
	without, ashore := 0, 0
	for lat := 20.0; lat < 40; lat += 0.16 {
		for lon := -82.0; lon < -60; lon += 0.16 {
			at := models.Position{Lat: lat + 0.04, Lon: lon + 0.04}
			s, err := swell.At(at.Lat, at.Lon)
			require.NoError(t, err)
			if s.How != grib2.NearestWet || without > 20 && ashore > 20 {
				continue
			}
			h, err := height.At(at.Lat, at.Lon)
			require.NoError(t, err)
			hours, tallies := readHours(p, fields, []Place{{At: at}})
			require.Equal(t, h.How == grib2.NearestWet, tallies[0].near)
			if h.How == grib2.NearestWet {
				ashore++
				require.True(t, hours[0][0].Swell.Known())
			} else {
				without++
				require.False(t, hours[0][0].Swell.Known() || hours[0][0].SwellPeriod.Known() || hours[0][0].SwellFrom.Known())
			}
		}
	}
	require.Positive(t, without)
	require.Positive(t, ashore)
}

func extract(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(testdata.Dir(t, "grib/extract"), name))
	require.NoError(t, err)
	return b
}

func synthetic(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(testdata.Dir(t, "grib/synthetic"), name))
	require.NoError(t, err)
	return b
}
