package store_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/store"
)

func evening() time.Time { return time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC) }

func day(n int) models.Date { return models.Date{Year: 2027, Month: 1, Day: 19}.AddDays(n) }

// open opens a store in a file of its own.
func open(t testing.TB) *store.Store {
	t.Helper()
	s, err := store.Open(t.Context(), store.Options{Path: filepath.Join(t.TempDir(), "state", store.FileName), Now: evening})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return s
}

func observation(n int) models.Observation {
	return models.Observation{
		Station: "XAMP1", At: evening().Add(time.Duration(n) * 10 * time.Minute),
		Wind: models.Known(14 * units.Knot), WindFrom: models.Known(units.From(20)), Gust: models.Known(18 * units.Knot), Averaging: models.Known(2 * time.Minute),
		SteepnessLabel: "AVERAGE", Pressure: models.Known(1016 * units.Hectopascal), Water: models.Known(units.Fahrenheit(77)),
		From: models.Provenance{Source: "ndbc", Detail: "XAMP1", Issued: evening(), Fetched: evening().Add(time.Minute)},
	}
}

func always() models.Interval { return models.Interval{Start: time.Unix(0, 0), End: time.Unix(4e9, 0)} }

func TestObservationsComeBackAsTheyWere(t *testing.T) {
	s := open(t)
	n, err := s.AddObservations(t.Context(), []models.Observation{observation(0), observation(1)})
	require.NoError(t, err)
	require.Equal(t, 2, n)
	got, err := s.Observations(t.Context(), "XAMP1", always())
	require.NoError(t, err)
	require.Equal(t, []models.Observation{observation(0), observation(1)}, got)

	n, err = s.AddObservations(t.Context(), []models.Observation{observation(0), observation(1)})
	require.NoError(t, err)
	require.Zero(t, n, "seen again, nothing is written")

	// The same report, first without and then only with its sea.
	sea := models.Observation{Station: "XAMP1", At: observation(1).At, Sea: models.Known(4 * units.Foot), Wind: models.Known(15 * units.Knot), From: observation(1).From}
	n, err = s.AddObservations(t.Context(), []models.Observation{sea})
	require.NoError(t, err)
	require.Equal(t, 1, n)
	got, err = s.Observations(t.Context(), "XAMP1", models.Interval{Start: sea.At, End: sea.At.Add(time.Second)})
	require.NoError(t, err)
	want := observation(1)
	want.Sea, want.Wind = sea.Sea, sea.Wind
	require.Equal(t, []models.Observation{want}, got)
}

func series(run time.Time, hours int) models.Series {
	f := models.Series{Source: "nws gridpoint", Ground: "the edge", Run: run, Fetched: run.Add(20 * time.Minute), Official: true, Notes: []string{"a layer was left out"}}
	for i := range hours {
		f.Hours = append(f.Hours, models.Hour{
			At: run.Add(time.Duration(i) * time.Hour), Wind: models.Known(units.Speed(i)), WindFrom: models.Known(units.From(350)), Sea: models.Known(units.Length(1)),
			SeaIncludesCurrent: models.Known(true), CurrentToward: models.Known(units.Toward(10)), Thunder: models.Known(float64(0)),
		})
	}
	return f
}

func TestSeriesComeBackAsFetched(t *testing.T) {
	s, ctx := open(t), t.Context()
	old, newer := series(evening().Add(-6*time.Hour), 3), series(evening(), 5)
	for _, f := range []models.Series{old, newer} {
		changed, err := s.AddSeries(ctx, "Port A", f)
		require.NoError(t, err)
		require.True(t, changed)
	}
	later := newer
	later.Fetched = later.Fetched.Add(time.Hour)
	changed, err := s.AddSeries(ctx, "Port A", later)
	require.NoError(t, err)
	require.False(t, changed, "fetched again unchanged, nothing is written")

	got, err := s.SeriesFor(ctx, "Port A", "the edge", evening().Add(-24*time.Hour), evening())
	require.NoError(t, err)
	require.Equal(t, []models.Series{newer}, got)
	got, err = s.SeriesFor(ctx, "Port A", "the edge", evening().Add(-24*time.Hour), evening().Add(-time.Hour))
	require.NoError(t, err)
	require.Equal(t, []models.Series{old}, got, "as it was then")
	got, err = s.SeriesFor(ctx, "Port B", "the edge", time.Unix(0, 0), evening())
	require.NoError(t, err)
	require.Empty(t, got)

	// The same run with an hour less and another value.
	grown := series(evening(), 4)
	grown.Hours[2].Gust = models.Known(20 * units.Knot)
	changed, err = s.AddSeries(ctx, "Port A", grown)
	require.NoError(t, err)
	require.True(t, changed)
	got, err = s.SeriesFor(ctx, "Port A", "the edge", evening(), evening())
	require.NoError(t, err)
	require.Equal(t, []models.Series{grown}, got)
}

func TestPairs(t *testing.T) {
	s, ctx := open(t), t.Context()
	run := evening()
	_, err := s.AddSeries(ctx, "Port A", series(run, 5))
	require.NoError(t, err)
	second := series(run.Add(2*time.Hour), 2)
	_, err = s.AddSeries(ctx, "Port A", second)
	require.NoError(t, err)
	report := func(after time.Duration, wind, sea models.Opt[float64]) models.Observation {
		return models.Observation{
			Station: "XAMP1", At: run.Add(after), From: models.Provenance{Source: "ndbc", Fetched: run},
			Wind: models.MapOpt(wind, func(v float64) units.Speed { return units.Speed(v) }), Sea: models.MapOpt(sea, func(v float64) units.Length { return units.Length(v) }),
		}
	}
	none, v := models.Unknown[float64](), models.Known[float64]
	_, err = s.AddObservations(ctx, []models.Observation{
		report(110*time.Minute, v(7), none),            // 10 min before hour 2
		report(125*time.Minute, v(8), none),            // 5 min after it: nearer
		report(95*time.Minute, none, v(1.2)),           // the sea 25 min before hour 2
		report(3*time.Hour+31*time.Minute, v(9), none), // too late for hour 3, in time for hour 4
	})
	require.NoError(t, err)
	type row struct {
		run, lead string
		wind      models.Opt[units.Speed]
		sea       models.Opt[units.Length]
		windAt    string
	}
	collect := func(q store.PairQuery) (got []row) {
		for p, err := range s.Pairs(ctx, q) {
			require.NoError(t, err)
			at := ""
			if w, ok := p.WindAt.Get(); ok {
				at = w.Format("15:04")
			}
			got = append(got, row{p.Run.Format("15:04"), p.Lead.String(), p.Observed.Wind, p.Observed.Sea, at})
		}
		return got
	}
	q := store.PairQuery{Port: "Port A", Ground: "the edge", Station: "XAMP1", Span: always()}
	eight, nine, sea := models.Known(units.Speed(8)), models.Known(units.Speed(9)), models.Known(units.Length(1.2))
	want := []row{
		{"22:00", "2h0m0s", eight, sea, "00:05"},
		{"22:00", "4h0m0s", nine, models.Unknown[units.Length](), "01:31"},
		{"00:00", "0s", eight, sea, "00:05"},
	}
	require.Equal(t, want, collect(q))
	q.Source = "other"
	require.Empty(t, collect(q))
	q.Source, q.Station = "", "other"
	require.Empty(t, collect(q))
	q.Station, q.Window = "XAMP1", time.Minute
	require.Empty(t, collect(q))
	for range s.Pairs(ctx, store.PairQuery{Port: "Port A", Ground: "the edge", Station: "XAMP1", Span: always()}) {
		break // leaves no connection behind
	}
	cancelled, cancel := context.WithCancel(ctx)
	cancel()
	for _, err := range s.Pairs(cancelled, q) {
		require.ErrorIs(t, err, context.Canceled)
	}
}

func call() store.Call {
	return store.Call{
		Port: "Port A", Ground: "the edge", Confidence: models.Likely, Agreement: 0.84,
		Standing: models.Standing{
			Made: evening(), Date: day(0), Going: true, Tactic: models.TacticKite, Timing: []models.Timing{models.BackEarly},
			Leave: models.Known(evening().Add(14 * time.Hour)), Back: models.Unknown[time.Time](),
			Actions: []models.CharterAction{models.CharterShorten}, Safety: true, WorstRide: models.RideRough, Sea: models.Known(units.Length(1.5)),
		},
		Document: []byte(`{"schema":"forecastd.call.v1","charter":{"message":"Dear guests"}}`), Outlook: []byte(`{"schema":"forecastd.outlook.v1"}`),
	}
}

func TestCalls(t *testing.T) {
	s, ctx := open(t), t.Context()
	id, err := s.AddCall(ctx, call())
	require.NoError(t, err)
	again, err := s.AddCall(ctx, call())
	require.NoError(t, err)
	require.Equal(t, id, again)
	got, err := s.Call(ctx, id)
	require.NoError(t, err)
	want := call()
	want.ID = id
	require.Equal(t, want, got)

	later := call()
	later.Standing.Made, later.Standing.Going, later.Standing.Tactic = evening().Add(8*time.Hour), false, models.TacticStayIn
	_, err = s.AddCall(ctx, later)
	require.NoError(t, err)
	list, err := s.Calls(ctx, "Port A", day(0), 10)
	require.NoError(t, err)
	require.Len(t, list, 2)
	require.Equal(t, later.Standing, list[0].Standing)
	require.Equal(t, want.Standing, list[1].Standing)
	list, err = s.Calls(ctx, "Port A", day(0), 1)
	require.NoError(t, err)
	require.Len(t, list, 1)
	list, err = s.CallsBetween(ctx, "Port A", models.Interval{Start: evening(), End: evening().Add(time.Hour)})
	require.NoError(t, err)
	require.Len(t, list, 1)

	// The second trip of the day is called in the same second.
	second := call()
	second.Booking = "second"
	other, err := s.AddCall(ctx, second)
	require.NoError(t, err)
	require.NotEqual(t, id, other)
	got, err = s.Call(ctx, other)
	require.NoError(t, err)
	require.Equal(t, "second", got.Booking)

	_, err = s.Call(ctx, 99)
	require.ErrorIs(t, err, store.ErrNotFound)
	spoiled := call()
	spoiled.Document = []byte("{")
	_, err = s.AddCall(ctx, spoiled)
	require.ErrorContains(t, err, "its document is no JSON")
}

func TestReports(t *testing.T) {
	s, ctx := open(t), t.Context()
	today := day(-1) // evening is on the 18th at the port too
	add := func(r store.Report) {
		t.Helper()
		r.Port = "Port A"
		_, err := s.AddReport(ctx, r)
		require.NoError(t, err)
	}
	add(store.Report{Seen: evening().Add(-30 * time.Hour), Until: evening().Add(20 * time.Hour), By: "captain", Note: "at the bar", Water: models.Known(models.WaterDirty),
		FishOnTop: models.Known(today.AddDays(-1)), EdgeDepth: models.Known(140 * units.Foot), InletHazardFrom: models.Known(models.Clock{Hour: 14})})
	add(store.Report{Seen: evening().Add(-2 * time.Hour), Until: evening().Add(time.Hour), Water: models.Known(models.WaterBlueEdge), BaitShowering: models.Known(false)})
	add(store.Report{Seen: evening().Add(-50 * time.Hour), Until: evening(), EdgeInReach: models.Known(true)})             // aged out
	add(store.Report{Seen: evening().Add(time.Minute), Until: evening().Add(time.Hour), EdgeInReach: models.Known(false)}) // not said yet

	got, oldest, err := s.ReportsAt(ctx, "Port A", evening(), today)
	require.NoError(t, err)
	require.Equal(t, models.Reports{
		Water: models.Known(models.WaterBlueEdge), BaitShowering: models.Known(false), FishOnTop: models.Known(models.SeenYesterday),
		EdgeDepth: models.Known(140 * units.Foot), InletHazardFrom: models.Known(models.Clock{Hour: 14}),
	}, got)
	require.Equal(t, models.Known(evening().Add(-30*time.Hour)), oldest)

	got, _, err = s.ReportsAt(ctx, "Port A", evening().Add(3*time.Hour), today.AddDays(1))
	require.NoError(t, err)
	require.Equal(t, models.Known(models.WaterDirty), got.Water, "the newer word has aged out")
	require.False(t, got.FishOnTop.Known(), "the day before yesterday is no news")

	got, oldest, err = s.ReportsAt(ctx, "Port B", evening(), today)
	require.NoError(t, err)
	require.Equal(t, models.Reports{}, got)
	require.False(t, oldest.Known())

	list, err := s.Reports(ctx, "Port A", always())
	require.NoError(t, err)
	require.Len(t, list, 4)
	require.Equal(t, "at the bar", list[2].Note)

	n, err := s.TakeBack(ctx, "Port A", store.SaidFishOnTop, evening())
	require.NoError(t, err)
	require.Equal(t, 1, n)
	got, _, err = s.ReportsAt(ctx, "Port A", evening().Add(time.Second), today)
	require.NoError(t, err)
	require.False(t, got.FishOnTop.Known())
	_, err = s.TakeBack(ctx, "Port A", "water", evening())
	require.Error(t, err)
}

func TestOverrides(t *testing.T) {
	s, ctx := open(t), t.Context()
	o := store.Override{Port: "Port A", Override: models.Override{What: "small craft advisory", Why: "flat in the lee"}, By: "captain", From: evening(), Until: evening().Add(24 * time.Hour)}
	id, err := s.AddOverride(ctx, o)
	require.NoError(t, err)
	o.ID = id
	hold := func(from, to time.Duration) []store.Override {
		list, err := s.Overrides(ctx, "Port A", models.Interval{Start: evening().Add(from), End: evening().Add(to)})
		require.NoError(t, err)
		return list
	}
	require.Equal(t, []store.Override{o}, hold(12*time.Hour, 20*time.Hour))
	require.Empty(t, hold(24*time.Hour, 30*time.Hour))
	require.Empty(t, hold(-24*time.Hour, 0))
	require.NoError(t, s.WithdrawOverride(ctx, id, evening().Add(time.Hour)))
	require.Empty(t, hold(12*time.Hour, 20*time.Hour))
	require.ErrorIs(t, s.WithdrawOverride(ctx, id, evening()), store.ErrNotFound)

	o.Why = ""
	_, err = s.AddOverride(ctx, o)
	require.ErrorContains(t, err, "it must say what, why and until when")
}

func TestPenAndLog(t *testing.T) {
	s, ctx := open(t), t.Context()
	pen, err := s.Pen(ctx, "Port A", evening())
	require.NoError(t, err)
	require.False(t, pen.Known())
	first := models.Pen{Counted: evening(), Stock: []models.BaitStock{{Kind: "goggle-eye", Count: 24, Source: models.BaitHooked, Caught: models.Known(day(-3))}, {Kind: "pilchard", Count: 60, Source: models.BaitNetted}}}
	second := models.Pen{Counted: evening().Add(time.Hour), Stock: []models.BaitStock{{Kind: "goggle-eye", Count: 9, Source: models.BaitSeasoned}}}
	for _, p := range []models.Pen{first, second, second} {
		require.NoError(t, s.AddBaitCount(ctx, "Port A", p))
	}
	pen, err = s.Pen(ctx, "Port A", evening().Add(2*time.Hour))
	require.NoError(t, err)
	require.Equal(t, models.Known(second), pen)
	pen, err = s.Pen(ctx, "Port A", evening().Add(time.Minute))
	require.NoError(t, err)
	require.Equal(t, models.Known(first), pen)

	e := store.LogEntry{Port: "Port A", Date: day(0), Written: evening(), By: "captain", Ground: "the edge", Tactic: models.TacticKite, Ride: models.Known(models.RideEasy),
		Left: models.Known(evening()), Sea: models.Known(units.Length(1)), FishOnTop: models.Known(true), FishCaught: models.Known(0), Note: "slow"}
	e.ID, err = s.AddLogEntry(ctx, e)
	require.NoError(t, err)
	bare := store.LogEntry{Port: "Port A", Date: day(1), Written: evening()}
	bare.ID, err = s.AddLogEntry(ctx, bare)
	require.NoError(t, err)
	got, err := s.Log(ctx, "Port A", day(0), day(1))
	require.NoError(t, err)
	require.Equal(t, []store.LogEntry{e, bare}, got)
}

func TestRuns(t *testing.T) {
	s, ctx := open(t), t.Context()
	add := func(job string, due time.Time, outcome models.RunOutcome) int64 {
		r := models.Run{Job: job, Trigger: models.RunScheduled, Due: due, Started: due.Add(time.Second)}
		id, err := s.BeginRun(ctx, r)
		require.NoError(t, err)
		if outcome == "" {
			return id
		}
		r.ID, r.Ended, r.Outcome, r.Account = id, models.Known(due.Add(time.Minute)), outcome, []byte(`{"asked": 3}`)
		if outcome != models.RunOK {
			r.Error = "no source answers"
		}
		require.NoError(t, s.EndRun(ctx, r))
		got, err := s.Run(ctx, id)
		require.NoError(t, err)
		require.Equal(t, r, got)
		return id
	}
	last := func(job string, notAfter time.Time) models.Opt[time.Time] {
		due, err := s.LastSuccess(ctx, job, notAfter)
		require.NoError(t, err)
		return due
	}
	require.False(t, last("evening", evening()).Known())
	add("evening", evening(), models.RunOK)
	add("evening", evening().Add(24*time.Hour), models.RunFailed)
	add("evening", evening().AddDate(9, 0, 0), models.RunOK)
	cut := add("evening", evening().Add(48*time.Hour), "")
	require.Equal(t, models.Known(evening()), last("evening", evening().AddDate(1, 0, 0)))
	require.False(t, last("morning", evening()).Known())

	n, err := s.CloseRuns(ctx)
	require.NoError(t, err)
	require.Equal(t, 1, n)
	got, err := s.Run(ctx, cut)
	require.NoError(t, err)
	require.Equal(t, models.RunCutOff, got.Outcome)
	list, err := s.Runs(ctx, "", 3)
	require.NoError(t, err)
	require.Len(t, list, 3)
	require.Equal(t, cut, list[0].ID)

	id, err := s.BeginRun(ctx, models.Run{Job: "odd", Due: evening(), Started: evening()})
	require.NoError(t, err)
	require.NoError(t, s.EndRun(ctx, models.Run{ID: id, Outcome: models.RunOK, Account: []byte("no JSON")}))
	got, err = s.Run(ctx, id)
	require.NoError(t, err)
	require.JSONEq(t, `"no JSON"`, string(got.Account))
	require.ErrorIs(t, s.EndRun(ctx, models.Run{ID: 999}), store.ErrNotFound)
}

func TestFloatPlan(t *testing.T) {
	s, ctx := open(t), t.Context()
	p := store.FloatPlan{Port: "Port A", Date: day(0), Boat: "Invented", Ground: "the edge", People: models.Known(5),
		Leave: evening(), Back: evening().Add(8 * time.Hour), Overdue: evening().Add(9 * time.Hour)}
	require.NoError(t, s.PlanFloat(ctx, p))
	require.NoError(t, s.MarkFloat(ctx, p, store.FloatLeft, evening()))
	require.NoError(t, s.MarkFloat(ctx, p, store.FloatLeft, evening().Add(time.Hour)))
	require.NoError(t, s.MarkFloat(ctx, p, store.FloatOverdue, evening().Add(9*time.Hour)))
	p.Left, p.ToldOverdue = models.Known(evening()), models.Known(evening().Add(9*time.Hour))
	got, err := s.FloatPlans(ctx, p.Port, p.Date)
	require.NoError(t, err)
	require.Equal(t, []store.FloatPlan{p}, got)

	require.NoError(t, s.PlanFloat(ctx, p), "the same again")
	got, err = s.FloatPlans(ctx, p.Port, p.Date)
	require.NoError(t, err)
	require.Equal(t, []store.FloatPlan{p}, got)
	p.Back, p.Overdue, p.ToldOverdue = p.Back.Add(time.Hour), p.Overdue.Add(time.Hour), models.Unknown[time.Time]()
	require.NoError(t, s.PlanFloat(ctx, p))
	open, err := s.OpenFloatPlans(ctx)
	require.NoError(t, err)
	require.Equal(t, []store.FloatPlan{p}, open, "new times are told anew")
	require.NoError(t, s.CheckInFloat(ctx, p, "the captain", evening().Add(9*time.Hour)))
	open, err = s.OpenFloatPlans(ctx)
	require.NoError(t, err)
	require.Empty(t, open)

	require.ErrorIs(t, s.CheckInFloat(ctx, p, "somebody else", evening().Add(10*time.Hour)), store.ErrNotFound, "once")
	got, err = s.FloatPlans(ctx, p.Port, p.Date)
	require.NoError(t, err)
	require.Equal(t, "the captain", got[0].CheckedInBy)
	require.Equal(t, models.Known(evening().Add(9*time.Hour)), got[0].CheckedIn)

	// A second trip of the day has a plan of its own.
	second := store.FloatPlan{Port: p.Port, Date: p.Date, Booking: "second", Boat: p.Boat, Ground: p.Ground,
		Leave: p.Back.Add(time.Hour), Back: p.Back.Add(5 * time.Hour), Overdue: p.Back.Add(6 * time.Hour)}
	require.NoError(t, s.PlanFloat(ctx, second))
	require.NoError(t, s.MarkFloat(ctx, second, store.FloatCalledOff, evening()))
	got, err = s.FloatPlans(ctx, p.Port, p.Date)
	require.NoError(t, err)
	require.Len(t, got, 2)
	require.False(t, got[0].CalledOff.Known())
	require.True(t, got[1].CalledOff.Known())

	require.ErrorIs(t, s.MarkFloat(ctx, store.FloatPlan{Port: "Port B", Date: p.Date}, store.FloatLeft, evening()), store.ErrNotFound)
	require.ErrorContains(t, s.MarkFloat(ctx, p, "date", evening()), "there is no event")
	p.Overdue = p.Back.Add(-time.Minute)
	require.ErrorContains(t, s.PlanFloat(ctx, p), "in that order")
}
