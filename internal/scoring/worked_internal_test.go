package scoring

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

func maybe[T any](t *rapid.T, name string, from, to float64, as func(float64) T) models.Opt[T] {
	if rapid.IntRange(0, 4).Draw(t, name+" unknown") == 0 {
		return models.Unknown[T]()
	}
	return models.Known(as(rapid.Float64Range(from, to).Draw(t, name)))
}

func anyHour(t *rapid.T, at time.Time) models.Hour {
	knots := func(x float64) units.Speed { return units.Speed(x) * units.Knot }
	feet := func(x float64) units.Length { return units.Length(x) * units.Foot }
	from := func(x float64) units.From { return units.From(x) }
	plain := func(x float64) float64 { return x }
	warm := func(x float64) units.Temperature { return units.Celsius(x) }
	return models.Hour{
		At: at, Wind: maybe(t, "wind", 0, 40, knots), WindFrom: maybe(t, "wind from", 0, 359, from), Gust: maybe(t, "gust", 0, 50, knots),
		Sea: maybe(t, "sea", 0, 12, feet), Period: maybe(t, "period", 3, 14, plain), SeaFrom: maybe(t, "sea from", 0, 359, from),
		SeaIncludesCurrent: maybe(t, "includes", 0, 1, func(x float64) bool { return x > 0.5 }),
		Swell:              maybe(t, "swell", 0, 8, feet), SwellPeriod: maybe(t, "swell period", 5, 16, plain), SwellFrom: maybe(t, "swell from", 0, 359, from),
		InletCurrent: maybe(t, "inlet", -4, 4, knots), Current: maybe(t, "current", 0, 5, knots),
		CurrentToward: maybe(t, "toward", 0, 359, func(x float64) units.Toward { return units.Toward(x) }),
		Cloud:         maybe(t, "cloud", 0, 100, plain), Rain: maybe(t, "rain", 0, 100, plain), Thunder: maybe(t, "thunder", 0, 100, plain),
		Visibility: maybe(t, "visibility", 100, 20000, func(x float64) units.Length { return units.Length(x) }),
		Air:        maybe(t, "air", 5, 35, warm), Water: maybe(t, "water", 10, 30, warm),
	}
}

// What is kept of an hour's physics is what working it out anew gives,
// whatever of the hour has changed.
func TestKeptPhysicsIsThePhysics(t *testing.T) {
	at := time.Date(2027, 3, 9, 15, 0, 0, 0, time.UTC)
	span := models.Interval{Start: at, End: at.Add(time.Hour)}
	rapid.Check(t, func(t *rapid.T) {
		s := newSite(models.Outlook{
			Date: models.Date{Year: 2027, Month: time.March, Day: 9},
			Boat: models.Boat{Kind: "center console", Length: 39 * units.Foot, HeliumAboard: rapid.Bool().Draw(t, "gas")},
			Kites: []models.Kite{
				{Name: "light", Min: models.Known(6 * units.Knot), Max: models.Known(15 * units.Knot)}, {Name: "all-round", Min: models.Known(9 * units.Knot), Max: models.Known(22 * units.Knot)},
			},
			Port:   models.Port{At: models.Position{Lat: 27, Lon: -80}, ShoreNormal: 90},
			Ground: models.Ground{At: models.Position{Lat: 27, Lon: -79.8}, Depth: 150 * units.Foot},
		}, models.DefaultLimits())
		s.many = true
		a, b := anyHour(t, at), anyHour(t, at)
		// Of b some is as in a, in the groups that go together.
		alike := func(name string) bool { return rapid.Bool().Draw(t, name+" alike") }
		if alike("wind") {
			b.Wind = a.Wind
		}
		if alike("wind from") {
			b.WindFrom = a.WindFrom
		}
		if alike("gust") {
			b.Gust = a.Gust
		}
		if alike("sea") {
			b.Sea, b.Period, b.SeaIncludesCurrent = a.Sea, a.Period, a.SeaIncludesCurrent
		}
		if alike("sea from") {
			b.SeaFrom = a.SeaFrom
		}
		if alike("swell") {
			b.Swell, b.SwellPeriod, b.SwellFrom = a.Swell, a.SwellPeriod, a.SwellFrom
		}
		if alike("stream") {
			b.InletCurrent = a.InletCurrent
		}
		if alike("current") {
			b.Current, b.CurrentToward = a.Current, a.CurrentToward
		}
		if alike("warmth") {
			b.Air, b.Water = a.Air, a.Water
		}
		w := newWorked([][]models.Hour{{a}})
		s.inCourse(a, span, w.at(1, 0, 0))
		got, kite := s.inCourse(b, span, w.at(1, 0, 0))
		want, wantKite := s.conditions(b, span)
		require.Equal(t, want, got)
		require.Equal(t, wantKite, kite)
	})
}
