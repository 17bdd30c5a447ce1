package sky_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/sky"
)

type row map[string]string

func (r row) number(t *testing.T, key string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(r[key], 64)
	require.NoError(t, err, key)
	return x
}

func (r row) time(t *testing.T, key string) time.Time {
	t.Helper()
	x, err := time.Parse(time.RFC3339, r[key])
	require.NoError(t, err)
	return x
}

func rows(t *testing.T, name string) []row {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	var out []row
	for _, cells := range all[1:] {
		r := row{}
		for i, key := range all[0] {
			r[key] = cells[i]
		}
		out = append(out, r)
	}
	require.NotEmpty(t, out)
	return out
}

// apart is the angle between two directions in the sky, in degrees.
func apart(el1, az1, el2, az2 float64) float64 {
	const deg = math.Pi / 180
	s1, c1 := math.Sincos(el1 * deg)
	s2, c2 := math.Sincos(el2 * deg)
	sin := math.Hypot(c1*math.Sin((az1-az2)*deg), c2*s1-s2*c1*math.Cos((az1-az2)*deg))
	return math.Atan2(sin, s1*s2+c1*c2*math.Cos((az1-az2)*deg)) / deg
}

// Source: two independent libraries, ten years and six latitudes (testdata).
// Meeus gives 0.01 degree for his sun and about 0.003 for his moon; time
// scales and the figure of the earth add some thousandths.
func TestPositionsOfIndependentLibraries(t *testing.T) {
	for _, name := range []string{"ephem-positions.csv", "engine-positions.csv"} {
		var worstSun, worstMoon, worstLit, worstKM float64
		for _, r := range rows(t, name) {
			at := models.Position{Lat: r.number(t, "lat"), Lon: r.number(t, "lon")}
			when := r.time(t, "time")
			sun, moon := sky.SunAt(when, at), sky.MoonAt(when, at)
			worstSun = max(worstSun, apart(sun.Elevation, sun.Azimuth, r.number(t, "sun_elevation"), r.number(t, "sun_azimuth")))
			worstMoon = max(worstMoon, apart(moon.Elevation, moon.Azimuth, r.number(t, "moon_elevation"), r.number(t, "moon_azimuth")))
			if _, ok := r["moon_lit"]; ok {
				worstLit = max(worstLit, math.Abs(moon.Illuminated-r.number(t, "moon_lit")))
				worstKM = max(worstKM, math.Abs(moon.DistanceKM-r.number(t, "moon_km")))
			}
		}
		t.Logf("%s: worst sun %.4f°, moon %.4f°, lit %.5f, distance %.0f km", name, worstSun, worstMoon, worstLit, worstKM)
		require.Less(t, worstSun, 0.012, name)
		require.Less(t, worstMoon, 0.02, name)
		require.Less(t, worstLit, 0.0005, name)
		require.Less(t, worstKM, 50.0, name)
	}
}

// Source: as above. A hundredth of a degree is 3 s at the equator, and more
// where the body crosses the horizon at a shallow angle: the tolerance grows
// with the time it takes to climb a degree.
func TestDaysOfIndependentLibraries(t *testing.T) {
	for _, name := range []string{"ephem-days.csv", "engine-days.csv"} {
		var worst float64
		for _, r := range rows(t, name) {
			at := models.Position{Lat: r.number(t, "lat"), Lon: r.number(t, "lon")}
			start := r.time(t, "start")
			end := start.Add(24 * time.Hour)
			sun := sky.SunDay(start, end, at)
			sunEl := func(x time.Time) float64 { return sky.SunAt(x, at).Elevation }
			for key, got := range map[string]struct {
				at models.Opt[time.Time]
				el func(time.Time) float64
			}{
				"sun_rise": {sun.Rise, sunEl}, "sun_set": {sun.Set, sunEl},
				"civil_dawn": {sun.CivilDawn, sunEl}, "civil_dusk": {sun.CivilDusk, sunEl},
			} {
				x, ok := got.at.Get()
				require.Equal(t, r[key] != "", ok, "%s: %s at %v on %s", name, key, at, r["start"])
				if !ok {
					continue
				}
				want := start.Add(time.Duration(r.number(t, key)) * time.Second)
				perSecond := math.Abs(got.el(x.Add(time.Minute))-got.el(x.Add(-time.Minute))) / 120
				off := x.Sub(want).Abs().Seconds()
				require.LessOrEqual(t, off, 2+0.015/perSecond, "%s: %s at %v on %s", name, key, at, r["start"])
				if math.Abs(at.Lat) < 50 {
					worst = max(worst, off)
				}
			}
		}
		t.Logf("%s: worst below 50 degrees of latitude %.0f s", name, worst)
		require.Less(t, worst, 10.0, name)
	}
}
