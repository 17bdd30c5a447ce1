package fetchtest

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Plausible checks that a batch is sorted by time, in UTC, says where it came
// from, and holds no value that the sea and the air can't have. The limits
// lie beyond the records (wind 113 m/s gust, 56.7 °C, 870 and 1084 hPa;
// WMOExtremes, from memory).
func Plausible(t testing.TB, b fetch.Batch) {
	t.Helper()
	require.True(t, slices.IsSortedFunc(b.Observations, func(x, y models.Observation) int { return x.At.Compare(y.At) }), "observations are sorted")
	for _, o := range b.Observations {
		utc(t, "observation", o.At)
		require.NotEmpty(t, o.Station)
		provenance(t, o.From)
		air(t, o.At, o.Wind, o.Gust, o.WindFrom)
		sea(t, o.At, o.Sea, o.Period, o.SeaFrom)
		sea(t, o.At, o.Swell, o.SwellPeriod, o.SwellFrom)
		sea(t, o.At, o.WindSea, o.MeanPeriod, models.Unknown[units.From]())
		warmth(t, o.At, o.Air)
		warmth(t, o.At, o.Water)
		within(t, o.At, "pressure", models.MapOpt(o.Pressure, units.Pressure.Hectopascals), 850, 1100)
		within(t, o.At, "visibility", models.MapOpt(o.Visibility, units.Length.NauticalMiles), 0, 100)
	}
	for _, s := range b.Series {
		require.NotEmpty(t, s.Source)
		utc(t, "run", s.Run)
		utc(t, "fetch", s.Fetched)
		require.False(t, s.Fetched.IsZero(), "series %s does not say when it was fetched", s.Source)
		hours(t, s.Hours)
	}
	hours(t, b.Inlet)
	if ws, ok := b.Warnings.Get(); ok {
		for _, w := range ws {
			require.NotEmpty(t, w.Event)
			utc(t, "onset", w.Onset)
			utc(t, "issue", w.Issued)
			if end, ok := w.Ends.Get(); ok {
				utc(t, "end", end)
				require.False(t, end.Before(w.Onset), "%s ends before its onset", w.Event)
			}
			provenance(t, w.From)
		}
	}
	for _, x := range b.Texts {
		require.NotEmpty(t, x.Zone)
		require.NotEmpty(t, x.Body)
		utc(t, "text", x.Issued)
		provenance(t, x.From)
	}
	require.True(t, slices.IsSortedFunc(b.Tides, func(x, y models.TideEvent) int { return x.At.Compare(y.At) }), "tides are sorted")
	for _, e := range b.Tides {
		utc(t, "tide", e.At)
		require.Contains(t, []models.TideKind{models.HighWater, models.LowWater}, e.Kind)
		require.NotEmpty(t, e.Datum)
		within(t, e.At, "tide", models.Known(e.Height.Metres()), -10, 20)
		provenance(t, e.From)
	}
	require.True(t, slices.IsSortedFunc(b.Streams, func(x, y models.StreamEvent) int { return x.At.Compare(y.At) }), "streams are sorted")
	for _, e := range b.Streams {
		utc(t, "stream", e.At)
		require.Contains(t, []models.StreamKind{models.Slack, models.Flood, models.Ebb}, e.Kind)
		within(t, e.At, "stream", models.Known(e.Speed.Knots()), -20, 20)
		provenance(t, e.From)
	}
	for _, p := range b.From {
		provenance(t, p)
	}
	for _, n := range b.Notes {
		require.NotEmpty(t, n)
		require.NotContains(t, n, "\n", "a note is one sentence")
	}
}

func hours(t testing.TB, hs []models.Hour) {
	t.Helper()
	for i, h := range hs {
		utc(t, "hour", h.At)
		require.False(t, h.At.IsZero())
		if i > 0 {
			require.True(t, hs[i-1].At.Before(h.At), "hours are sorted, each once: %s", h.At)
		}
		air(t, h.At, h.Wind, h.Gust, h.WindFrom)
		sea(t, h.At, h.Sea, h.Period, h.SeaFrom)
		sea(t, h.At, h.Swell, h.SwellPeriod, h.SwellFrom)
		warmth(t, h.At, h.Air)
		warmth(t, h.At, h.Water)
		within(t, h.At, "inlet current", models.MapOpt(h.InletCurrent, units.Speed.Knots), -20, 20)
		within(t, h.At, "current", models.MapOpt(h.Current, units.Speed.Knots), 0, 20)
		within(t, h.At, "direction spread", h.DirectionSpread, 0, 360)
		within(t, h.At, "visibility", models.MapOpt(h.Visibility, units.Length.NauticalMiles), 0, 200)
		for what, v := range map[string]models.Opt[float64]{"cloud": h.Cloud, "rain": h.Rain, "thunder": h.Thunder} {
			within(t, h.At, what, v, 0, 100)
		}
	}
}

func air(t testing.TB, at time.Time, wind, gust models.Opt[units.Speed], from models.Opt[units.From]) {
	t.Helper()
	within(t, at, "wind", models.MapOpt(wind, units.Speed.MetresPerSecond), 0, 110)
	within(t, at, "gust", models.MapOpt(gust, units.Speed.MetresPerSecond), 0, 130)
	within(t, at, "wind direction", models.MapOpt(from, func(f units.From) float64 { return float64(f) }), 0, 360)
}

func sea(t testing.TB, at time.Time, height models.Opt[units.Length], period models.Opt[float64], from models.Opt[units.From]) {
	t.Helper()
	within(t, at, "wave height", models.MapOpt(height, units.Length.Metres), 0, 30)
	within(t, at, "wave period", period, 0, 40)
	within(t, at, "wave direction", models.MapOpt(from, func(f units.From) float64 { return float64(f) }), 0, 360)
}

func warmth(t testing.TB, at time.Time, v models.Opt[units.Temperature]) {
	t.Helper()
	within(t, at, "temperature", models.MapOpt(v, units.Temperature.Celsius), -70, 60)
}

func within(t testing.TB, at time.Time, what string, v models.Opt[float64], low, high float64) {
	t.Helper()
	if x, ok := v.Get(); ok && !(x >= low && x <= high) { // NaN fails, too
		t.Fatalf("%s %g at %s is not within %g to %g", what, x, at.Format(time.RFC3339), low, high)
	}
}

func utc(t testing.TB, what string, at time.Time) {
	t.Helper()
	if at.Location() != time.UTC {
		t.Fatalf("%s %s is not in UTC", what, at)
	}
}

func provenance(t testing.TB, p models.Provenance) {
	t.Helper()
	require.NotEmpty(t, p.Source, "where it came from")
	require.False(t, p.Fetched.IsZero(), "%s: when it was fetched", p.Source)
	utc(t, "fetch", p.Fetched)
	utc(t, "issue", p.Issued)
}
