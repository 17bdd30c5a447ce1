package sky_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/sky"
	"forecastd/internal/models/units"
)

func instant() *rapid.Generator[time.Time] {
	return rapid.Custom(func(t *rapid.T) time.Time {
		s := rapid.Int64Range(time.Date(1950, 1, 1, 0, 0, 0, 0, time.UTC).Unix(), time.Date(2099, 12, 31, 0, 0, 0, 0, time.UTC).Unix())
		return time.Unix(s.Draw(t, "unix"), 0).UTC()
	})
}

func position() *rapid.Generator[models.Position] {
	return rapid.Custom(func(t *rapid.T) models.Position {
		return models.Position{
			Lat: rapid.Float64Range(-90, 90).Draw(t, "lat"),
			Lon: rapid.Float64Range(-180, 180).Draw(t, "lon"),
		}
	})
}

func TestPositionsAreInRange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		when, at := instant().Draw(t, "when"), position().Draw(t, "at")
		sun, moon := sky.SunAt(when, at), sky.MoonAt(when, at)
		for _, p := range [][2]float64{{sun.Elevation, sun.Azimuth}, {moon.Elevation, moon.Azimuth}} {
			require.True(t, p[0] >= -90 && p[0] <= 90 && p[1] >= 0 && p[1] < 360, "%v", p)
		}
		require.True(t, moon.Illuminated >= 0 && moon.Illuminated <= 1)
		require.True(t, moon.DistanceKM > 356000 && moon.DistanceKM < 407000, "%v", moon.DistanceKM)
		// The same instant told in another zone is the same sky.
		require.Equal(t, sun, sky.SunAt(when.In(time.FixedZone("", 3600*5)), at))
	})
}

// Going once round the earth comes back to the same sun.
func TestLongitudesWrap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		when, at := instant().Draw(t, "when"), position().Draw(t, "at")
		a := sky.SunAt(when, at)
		at.Lon += 360
		b := sky.SunAt(when, at)
		require.InDelta(t, a.Elevation, b.Elevation, 1e-6)
	})
}

// What is found is what was looked for: the upper edge on the horizon at rise
// and set, 6 degrees down at dawn and dusk; in order, where all are known.
func TestTheSunIsWhereTheDaySays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		start, at := instant().Draw(t, "start"), position().Draw(t, "at")
		day := sky.SunDay(start, start.Add(time.Duration(rapid.IntRange(23, 25).Draw(t, "hours"))*time.Hour), at)
		for _, c := range []struct {
			at models.Opt[time.Time]
			el float64
		}{{day.Rise, -50.0 / 60}, {day.Set, -50.0 / 60}, {day.CivilDawn, -6}, {day.CivilDusk, -6}} {
			if x, ok := c.at.Get(); ok {
				require.InDelta(t, c.el, sky.SunAt(x, at).Elevation, 0.001)
				require.False(t, x.Before(start))
			}
		}
		if noon, ok := day.Noon.Get(); ok && math.Abs(at.Lat) < 60 {
			az := sky.SunAt(noon, at).Azimuth
			el := sky.SunAt(noon, at).Elevation
			// On the meridian: due south or due north.
			require.InDelta(t, 0, math.Sin(az*math.Pi/180)*math.Cos(el*math.Pi/180), 0.001)
		}
	})
}

func TestPolarDaysAreUnknown(t *testing.T) {
	tromso := models.Position{Lat: 69.65, Lon: 18.96}
	summer := time.Date(2026, 6, 21, 0, 0, 0, 0, time.UTC)
	day := sky.SunDay(summer, summer.AddDate(0, 0, 1), tromso)
	require.False(t, day.Rise.Known() || day.Set.Known() || day.CivilDawn.Known() || day.CivilDusk.Known())
	require.True(t, day.Noon.Known())

	winter := time.Date(2026, 12, 21, 0, 0, 0, 0, time.UTC)
	day = sky.SunDay(winter, winter.AddDate(0, 0, 1), tromso)
	require.False(t, day.Rise.Known() || day.Set.Known())
	// The sun stays down, but noon is twilight there.
	require.True(t, day.CivilDawn.Known() && day.CivilDusk.Known())
}

// The first and the last sunset of a polar summer are seconds to minutes from
// the next sunrise: shorter than the search step, and still found.
func TestAGrazingSunIsFound(t *testing.T) {
	at := models.Position{Lat: 69.65, Lon: 18.96}
	var shortest time.Duration = 24 * time.Hour
	for d := time.Date(2026, 5, 1, 12, 0, 0, 0, time.UTC); d.Month() < 8; d = d.AddDate(0, 0, 1) {
		for _, lat := range []float64{69.3, 69.4, 69.5, 69.6, 69.65, 69.7} {
			at.Lat = lat
			day := sky.SunDay(d, d.AddDate(0, 0, 1), at)
			rise, okR := day.Rise.Get()
			set, okS := day.Set.Get()
			require.Equal(t, okS, okR, "lat %v, %s", lat, d)
			if okR && rise.After(set) {
				shortest = min(shortest, rise.Sub(set))
			}
		}
	}
	require.Less(t, shortest, 25*time.Minute)
}

func TestWindowsThatAreNone(t *testing.T) {
	at := models.Position{Lat: 25, Lon: -80}
	now := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	require.Equal(t, models.SunTimes{}, sky.SunDay(now, now, at))
	require.Equal(t, models.SunTimes{}, sky.SunDay(now, now.AddDate(1, 0, 0), at))
	require.Equal(t, models.SunTimes{}, sky.SunDay(now, now.AddDate(0, 0, 1), models.Position{Lat: 91}))
}

// A local day of 23 hours and one of 25 have one sunrise each.
func TestDaysOfChangedClocks(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	for _, date := range []models.Date{{Year: 2026, Month: 3, Day: 8}, {Year: 2026, Month: 11, Day: 1}} {
		i := date.Interval(zone)
		require.NotEqual(t, 24*time.Hour, i.Duration())
		day := sky.SunDay(i.Start, i.End, models.Position{Lat: 25.8, Lon: -80.1})
		for _, x := range []models.Opt[time.Time]{day.CivilDawn, day.Rise, day.Noon, day.Set, day.CivilDusk} {
			at, ok := x.Get()
			require.True(t, ok)
			require.True(t, i.Contains(at))
		}
	}
}

func light() *rapid.Generator[sky.Sun] {
	return rapid.Custom(func(t *rapid.T) sky.Sun {
		return sky.Sun{Elevation: rapid.Float64Range(-20, 90).Draw(t, "el"), Azimuth: rapid.Float64Range(0, 360).Draw(t, "az")}
	})
}

func TestLightProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sun := light().Draw(t, "sun")
		look := units.Toward(rapid.Float64Range(0, 360).Draw(t, "look"))
		wind := units.Speed(rapid.Float64Range(0, 30).Draw(t, "wind"))
		cloud := rapid.Float64Range(0, 100).Draw(t, "cloud")
		eye := units.Length(rapid.Float64Range(2, 10).Draw(t, "eye"))
		l := sky.SeeFish(sun, look, wind, models.Known(cloud), eye)
		require.True(t, l.Glare >= 0 && l.Glare <= 1 && l.Whitecaps >= 0 && l.Whitecaps <= 1)
		d, ok := l.SightDistance.Get()
		require.True(t, ok)
		require.True(t, d >= 0 && d <= 30*eye, "%v", d)

		// Turning sun and look together changes nothing.
		turn := rapid.Float64Range(0, 360).Draw(t, "turn")
		turned := sky.SeeFish(sky.Sun{Elevation: sun.Elevation, Azimuth: sun.Azimuth + turn}, look+units.Toward(turn), wind, models.Known(cloud), eye)
		require.InDelta(t, l.Glare, turned.Glare, 1e-6)
		require.InDelta(t, l.Off, turned.Off, 1e-6)
		// Left and right are alike.
		mirrored := sky.SeeFish(sky.Sun{Elevation: sun.Elevation, Azimuth: 2*float64(look) - sun.Azimuth}, look, wind, models.Known(cloud), eye)
		require.InDelta(t, l.Glare, mirrored.Glare, 1e-6)

		// More cloud never shows more, and never changes the glare.
		more := rapid.Float64Range(cloud, 100).Draw(t, "more cloud")
		under := sky.SeeFish(sun, look, wind, models.Known(more), eye)
		dim, _ := under.SightDistance.Get()
		require.LessOrEqual(t, float64(dim), float64(d)+1e-9)
		require.Equal(t, l.Glare, under.Glare)

		// A higher eye never sees less.
		higher, _ := sky.SeeFish(sun, look, wind, models.Known(cloud), eye+2).SightDistance.Get()
		require.GreaterOrEqual(t, float64(higher), float64(d))

		// Unknown cloud is unknown, not clear.
		require.False(t, sky.SeeFish(sun, look, wind, models.Unknown[float64](), eye).SightDistance.Known())
	})
}

// The sun behind never glares more than the sun ahead.
func TestGlareFallsAwayFromTheSun(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		el := rapid.Float64Range(0.1, 90).Draw(t, "el")
		wind := units.Speed(rapid.Float64Range(0, 20).Draw(t, "wind"))
		a := rapid.Float64Range(0, 180).Draw(t, "a")
		b := rapid.Float64Range(a, 180).Draw(t, "b")
		near := sky.SeeFish(sky.Sun{Elevation: el, Azimuth: a}, 0, wind, models.Known(0.0), 6)
		far := sky.SeeFish(sky.Sun{Elevation: el, Azimuth: b}, 0, wind, models.Known(0.0), 6)
		require.LessOrEqual(t, far.Glare, near.Glare+1e-12)
		dn, _ := near.SightDistance.Get()
		df, _ := far.SightDistance.Get()
		require.GreaterOrEqual(t, float64(df), float64(dn)-1e-9)
	})
}

// Common practice, no source: from a 6 m eye a high sun behind shows some 30
// to 60 m, full cloud some 5 to 15 m, and low sun ahead next to nothing.
func TestSightFromATower(t *testing.T) {
	see := func(el, off, cloud float64) float64 {
		d, ok := sky.SeeFish(sky.Sun{Elevation: el, Azimuth: off}, 0, 7, models.Known(cloud), 6).SightDistance.Get()
		require.True(t, ok)
		return d.Metres()
	}
	require.InDelta(t, 45, see(60, 180, 0), 15)
	require.InDelta(t, 9, see(60, 180, 100), 6)
	require.Less(t, see(20, 0, 0), 3.0)
	require.Zero(t, see(-8, 180, 0))
}

func BenchmarkSunAt(b *testing.B) {
	at, when := models.Position{Lat: 25, Lon: -80}, time.Date(2026, 1, 1, 15, 0, 0, 0, time.UTC)
	for b.Loop() {
		sky.SunAt(when, at)
	}
}

func BenchmarkMoonAt(b *testing.B) {
	at, when := models.Position{Lat: 25, Lon: -80}, time.Date(2026, 1, 1, 15, 0, 0, 0, time.UTC)
	for b.Loop() {
		sky.MoonAt(when, at)
	}
}

func BenchmarkSeeFish(b *testing.B) {
	for b.Loop() {
		sky.SeeFish(sky.Sun{Elevation: 35, Azimuth: 140}, 90, 8, models.Known(20.0), 6)
	}
}

func BenchmarkSunDay(b *testing.B) {
	at, start := models.Position{Lat: 25, Lon: -80}, time.Date(2026, 1, 1, 5, 0, 0, 0, time.UTC)
	for b.Loop() {
		sky.SunDay(start, start.Add(24*time.Hour), at)
	}
}
