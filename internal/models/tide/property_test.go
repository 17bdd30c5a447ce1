package tide_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/tide"
	"forecastd/internal/models/units"
)

// invented is a station of an invented coast: two tides a day, unequal.
func invented() tide.Station {
	return tide.Station{
		Name: "invented harbour", Datum: "MLLW", Mean: 0.4,
		Constituents: []tide.Constituent{
			{Name: "M2", Amplitude: 0.35, Phase: 230}, {Name: "S2", Amplitude: 0.06, Phase: 260}, {Name: "N2", Amplitude: 0.08, Phase: 210},
			{Name: "K1", Amplitude: 0.05, Phase: 200}, {Name: "O1", Amplitude: 0.04, Phase: 190}, {Name: "M4", Amplitude: 0.01, Phase: 80},
		},
	}
}

func inventedStream() tide.Stream {
	s := tide.Stream{Name: "invented inlet", Axes: tide.Axes{Flood: 290, Ebb: 100}, Mean: -0.05}
	for _, c := range invented().Constituents {
		c.Amplitude *= 3
		s.Constituents = append(s.Constituents, c)
	}
	return s
}

func instant() *rapid.Generator[time.Time] {
	return rapid.Custom(func(t *rapid.T) time.Time {
		lo, hi := time.Date(1950, 1, 1, 0, 0, 0, 0, time.UTC).Unix(), time.Date(2099, 1, 1, 0, 0, 0, 0, time.UTC).Unix()
		return time.Unix(rapid.Int64Range(lo, hi).Draw(t, "unix"), 0).UTC()
	})
}

// High and low waters follow each other, each higher or lower than the water
// just before and after, and nothing between them passes them.
func TestExtremesAreExtreme(t *testing.T) {
	s := invented()
	rapid.Check(t, func(t *rapid.T) {
		start := instant().Draw(t, "start")
		got, err := s.Extremes(start, start.Add(72*time.Hour))
		require.NoError(t, err)
		require.GreaterOrEqual(t, len(got), 10)
		for i, e := range got {
			if i > 0 {
				require.NotEqual(t, got[i-1].Kind, e.Kind)
				require.True(t, got[i-1].At.Before(e.At))
			}
			sign := 1.0
			if e.Kind == models.LowWater {
				sign = -1
			}
			for _, d := range []time.Duration{-20 * time.Minute, 20 * time.Minute} {
				near, ok := s.HeightAt(e.At.Add(d)).Get()
				require.True(t, ok)
				require.Greater(t, sign*float64(e.Height-near), 0.0)
			}
			require.Equal(t, "MLLW", e.Datum)
			require.Equal(t, time.UTC, e.At.Location())
		}
	})
}

// Cutting a window in two finds the same events, at New Year too.
func TestWindowsJoin(t *testing.T) {
	s, c := invented(), inventedStream()
	rapid.Check(t, func(t *rapid.T) {
		start := instant().Draw(t, "start")
		if rapid.Bool().Draw(t, "new year") {
			start = time.Date(start.Year(), 12, 30, start.Hour(), 0, 0, 0, time.UTC)
		}
		end := start.Add(96 * time.Hour)
		cut := start.Add(time.Duration(rapid.Int64Range(1, int64(end.Sub(start))-1).Draw(t, "cut")))
		whole, err := s.Extremes(start, end)
		require.NoError(t, err)
		a, err := s.Extremes(start, cut)
		require.NoError(t, err)
		b, err := s.Extremes(cut, end)
		require.NoError(t, err)
		require.Len(t, append(a, b...), len(whole))

		all, err := c.CurrentEvents(start, end)
		require.NoError(t, err)
		x, err := c.CurrentEvents(start, cut)
		require.NoError(t, err)
		y, err := c.CurrentEvents(cut, end)
		require.NoError(t, err)
		require.Len(t, append(x, y...), len(all))
	})
}

// Node factors change at New Year: the tide does not jump by more than a few
// millimetres there.
func TestNewYearIsSmooth(t *testing.T) {
	s := invented()
	for y := 1951; y < 2100; y++ {
		at := time.Date(y, 1, 1, 0, 0, 0, 0, time.UTC)
		before, _ := s.HeightAt(at.Add(-time.Second)).Get()
		after, _ := s.HeightAt(at).Get()
		require.InDelta(t, float64(before), float64(after), 0.012, "%d", y)
	}
}

// A lone constituent is a cosine: known height, known period.
func TestALoneConstituent(t *testing.T) {
	s := tide.Station{Name: "S2 alone", Constituents: []tide.Constituent{{Name: "s2", Amplitude: 1, Phase: 60}}}
	// S2 has no node factor, V0 = 0: 30 degrees an hour from midnight.
	for hour := range 24 {
		got, ok := s.HeightAt(time.Date(2026, 5, 5, hour, 0, 0, 0, time.UTC)).Get()
		require.True(t, ok)
		require.InDelta(t, math.Cos((30*float64(hour)-60)*math.Pi/180), float64(got), 1e-6)
	}
	got, err := s.Extremes(utc("2026-05-05 00:00"), utc("2026-05-06 00:00"))
	require.NoError(t, err)
	require.Len(t, got, 4)
	require.WithinDuration(t, utc("2026-05-05 02:00"), got[0].At, time.Second)
	require.Equal(t, models.HighWater, got[0].Kind)
}

// Slack parts flood from ebb; speeds carry the sign and axis of their kind.
func TestStreamEventsAlternate(t *testing.T) {
	s := inventedStream()
	rapid.Check(t, func(t *rapid.T) {
		start := instant().Draw(t, "start")
		got, err := s.CurrentEvents(start, start.Add(72*time.Hour))
		require.NoError(t, err)
		for i, e := range got {
			v, ok := s.CurrentAt(e.At).Get()
			require.True(t, ok)
			require.InDelta(t, float64(e.Speed), float64(v), 1e-3)
			switch e.Kind {
			case models.Slack:
				require.False(t, e.Toward.Known())
				require.Zero(t, e.Speed)
			case models.Flood:
				require.Greater(t, float64(e.Speed), 0.0)
				require.Equal(t, units.Toward(290), e.Toward.Or(0))
			case models.Ebb:
				require.Less(t, float64(e.Speed), 0.0)
				require.Equal(t, units.Toward(100), e.Toward.Or(0))
			}
			if i > 0 {
				require.False(t, got[i-1].At.After(e.At))
				require.False(t, e.Kind == models.Slack && got[i-1].Kind == models.Slack)
			}
		}
	})
}

// Reading between the events comes close to the full sum, and meets it at the
// events.
func TestBetweenEvents(t *testing.T) {
	c := inventedStream()
	rapid.Check(t, func(t *rapid.T) {
		start := instant().Draw(t, "start")
		at := start.Add(36*time.Hour + time.Duration(rapid.Int64Range(0, int64(24*time.Hour)).Draw(t, "at")))
		stream, err := c.CurrentEvents(start, start.Add(96*time.Hour))
		require.NoError(t, err)
		v, ok := tide.CurrentBetween(stream, at).Get()
		require.True(t, ok)
		full, _ := c.CurrentAt(at).Get()
		require.InDelta(t, float64(full), float64(v), 0.3)
	})
}

func TestBetweenIsUnknownWhereAnEventIsMissing(t *testing.T) {
	at := utc("2026-01-01 00:00")
	mid := at.Add(3 * time.Hour)
	event := func(h int, kind models.StreamKind, v units.Speed) models.StreamEvent {
		return models.StreamEvent{At: at.Add(time.Duration(h) * time.Hour), Kind: kind, Speed: v}
	}
	slack, flood, ebb := event(0, models.Slack, 0), event(6, models.Flood, 2), event(6, models.Ebb, -2)
	require.InDelta(t, math.Sqrt2, float64(tide.CurrentBetween([]models.StreamEvent{slack, flood}, mid).Or(9)), 1e-12)
	require.InDelta(t, -math.Sqrt2, float64(tide.CurrentBetween([]models.StreamEvent{slack, ebb}, mid).Or(9)), 1e-12)
	require.InDelta(t, 1.5, float64(tide.CurrentBetween([]models.StreamEvent{event(0, models.Flood, 1), flood}, mid).Or(9)), 1e-12)
	for _, events := range [][]models.StreamEvent{nil, {slack}, {flood}, {slack, event(6, models.Slack, 0)}, {slack, event(21, models.Flood, 1)}} {
		require.False(t, tide.CurrentBetween(events, mid).Known(), "%v", events)
	}
}

func TestSubordinateHeights(t *testing.T) {
	ref := invented()
	s := tide.Subordinate{Name: "up the creek", Reference: ref, Offsets: tide.Offsets{
		High: 50 * time.Minute, Low: 80 * time.Minute, HighRatio: 1, LowRatio: 1, HighAdded: 0.1, LowAdded: -0.1,
	}}
	start, end := utc("2026-03-01 00:00"), utc("2026-03-04 00:00")
	want, err := ref.Extremes(start.Add(-6*time.Hour), end)
	require.NoError(t, err)
	got, err := s.Extremes(start, end)
	require.NoError(t, err)
	byTime := map[time.Time]models.TideEvent{}
	for _, e := range got {
		require.True(t, !e.At.Before(start) && e.At.Before(end))
		byTime[e.At.Round(time.Second)] = e
	}
	matched := 0
	for _, e := range want {
		at, h := e.At.Add(50*time.Minute), e.Height+0.1
		if e.Kind == models.LowWater {
			at, h = e.At.Add(80*time.Minute), e.Height-0.1
		}
		if g, ok := byTime[at.Round(time.Second)]; ok {
			require.InDelta(t, float64(h), float64(g.Height), 1e-4)
			matched++
		}
	}
	require.GreaterOrEqual(t, matched, len(got)-1) // one may round the other way

	s.Offsets.High = 25 * time.Hour
	_, err = s.Extremes(start, end)
	require.ErrorContains(t, err, "longer than a day")
}

// Source: NOAA's offsets of Fort Lauderdale on Miami Harbor Entrance: slack
// before flood -14 min, before ebb +28, flood -1, ebb +52, ratios 1.4, 0.8.
func TestSubordinateStream(t *testing.T) {
	f := load(t, "tides", "noaa-ACT8126.json")
	o := f.Current.Offsets
	minutes := func(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }
	ref := stream(t, "MIH0901")
	s := tide.SubordinateStream{
		Name: f.Name, Axes: tide.Axes{Flood: units.Toward(f.Current.Flood), Ebb: units.Toward(f.Current.Ebb)}, Reference: ref,
		Offsets: tide.StreamOffsets{
			SlackBeforeFlood: minutes(o.SlackBeforeFlood), SlackBeforeEbb: minutes(o.SlackBeforeEbb),
			Flood: minutes(o.FloodTime), Ebb: minutes(o.EbbTime), FloodRatio: o.FloodRatio, EbbRatio: o.EbbRatio,
		},
	}
	got, err := s.CurrentEvents(utc("2026-01-15 04:00"), utc("2026-01-16 00:00"))
	require.NoError(t, err)
	type event struct {
		at   string
		kind models.StreamKind
		kn   float64
	}
	// The reference: ebb 03:12 -2.056, slack 06:11, flood 09:46 2.051, slack
	// 12:28, ebb 15:55 -1.791, slack 18:42, flood 21:53 1.489.
	for i, w := range []event{
		{"04:04", models.Ebb, -2.056 * 0.8}, {"05:57", models.Slack, 0}, {"09:45", models.Flood, 2.051 * 1.4}, {"12:56", models.Slack, 0},
		{"16:47", models.Ebb, -1.791 * 0.8}, {"18:28", models.Slack, 0}, {"21:52", models.Flood, 1.489 * 1.4},
	} {
		require.Equal(t, w.kind, got[i].Kind, "event %d", i)
		require.WithinDuration(t, utc("2026-01-15 "+w.at), got[i].At, time.Minute, "event %d", i)
		require.InDelta(t, w.kn, got[i].Speed.Knots(), 0.002, "event %d", i)
	}
	s.Offsets.Ebb = -25 * time.Hour
	_, err = s.CurrentEvents(utc("2026-01-15 04:00"), utc("2026-01-16 00:00"))
	require.ErrorContains(t, err, "longer than a day")
}

func TestWhatCannotBePredicted(t *testing.T) {
	s := invented()
	now := utc("2026-01-01 00:00")
	for _, c := range []struct {
		station    tide.Station
		start, end time.Time
		says       string
	}{
		{s, now, now, "not after its start"},
		{s, now, now.AddDate(2, 0, 0), "longer than 400 days"},
		{s, now.AddDate(-200, 0, 0), now.AddDate(-200, 0, 1), "outside 1900 to 2100"},
		{tide.Station{Name: "none"}, now, now.AddDate(0, 0, 1), "tide at none: the station has no harmonic constants"},
		{tide.Station{Constituents: []tide.Constituent{{Name: "X9", Amplitude: 1}}}, now, now.AddDate(0, 0, 1), `"X9" is not one of the 37`},
		{tide.Station{Constituents: []tide.Constituent{{Name: "M2", Amplitude: math.NaN()}}}, now, now.AddDate(0, 0, 1), "impossible amplitude"},
	} {
		_, err := c.station.Extremes(c.start, c.end)
		require.ErrorContains(t, err, c.says)
		stream := tide.Stream{Name: c.station.Name, Constituents: c.station.Constituents}
		_, err = stream.CurrentEvents(c.start, c.end)
		require.ErrorContains(t, err, c.says)
	}
	require.False(t, tide.Station{}.HeightAt(now).Known() || s.HeightAt(now.AddDate(-200, 0, 0)).Known() || tide.Stream{}.CurrentAt(now).Known())
}

func BenchmarkHeightAt(b *testing.B) {
	s, at := invented(), utc("2026-01-15 12:00")
	for b.Loop() {
		s.HeightAt(at)
	}
}

func BenchmarkTenDaysOfStreams(b *testing.B) {
	s, at := inventedStream(), utc("2026-01-15 12:00")
	for b.Loop() {
		_, _ = s.CurrentEvents(at, at.AddDate(0, 0, 10))
	}
}
