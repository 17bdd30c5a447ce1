package app_test

import (
	"context"
	"errors"
	"io"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/demo"
	"forecastd/internal/fetch/replay"
	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
	"forecastd/internal/models/units"
	"forecastd/internal/store"
)

const (
	demoPort   = "Port Amparo"
	demoGround = "the Shelf edge"
)

// keeping is the demo with a store, and with what changes the configuration.
func keeping(t *testing.T, now func() time.Time, change ...func(*config.Config, *app.Options)) (*app.App, *store.Store) {
	t.Helper()
	cfg, err := config.Load(demo.ConfigName, demo.Config())
	require.NoError(t, err)
	st, err := app.OpenStore(t.Context(), t.TempDir(), false, now, nil)
	require.NoError(t, err)
	o := app.Options{Config: cfg, Now: now, Demo: true, Store: st}
	o.Transport, err = replay.Open(demo.Recording(), now)
	require.NoError(t, err)
	for _, f := range change {
		f(cfg, &o)
	}
	a, err := app.New(o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Stop(context.Background())) })
	return a, st
}

func day(t *testing.T, s string) models.Date {
	t.Helper()
	d, err := models.ParseDate(s)
	require.NoError(t, err)
	return d
}

func outlookOf(t *testing.T, a *app.App, s string) models.Outlook {
	t.Helper()
	c, err := a.CallFor(t.Context(), app.CallRequest{Date: day(t, s)})
	require.NoError(t, err)
	return c.Outlook
}

// A word counts for the days whose eve comes before it has aged out (36 hours,
// two civil days for fish, one day for the inlet).
func TestReportsGoIntoTheCallsTheyStillCountFor(t *testing.T) {
	now := evening()
	a, _ := keeping(t, func() time.Time { return now })
	for _, said := range []string{"fish-on-top today", "showering yes", "edge in 140 ft", "water blue edge", "inlet from 13:00"} {
		_, err := a.Report(t.Context(), "", strings.Fields(said), "test")
		require.NoError(t, err, said)
	}
	now = now.Add(time.Minute)
	tomorrow := outlookOf(t, a, "2027-01-19").Reports
	require.Equal(t, models.Known(models.SeenToday), tomorrow.FishOnTop)
	require.Equal(t, models.Known(true), tomorrow.BaitShowering)
	require.Equal(t, models.Known(models.WaterBlueEdge), tomorrow.Water)
	require.InDelta(t, 140, tomorrow.EdgeDepth.Or(0).Feet(), 1e-9)
	require.Equal(t, models.Known(models.Clock{Hour: 13}), tomorrow.InletHazardFrom)
	require.True(t, tomorrow.Season.Known(), "the calendar's")

	after := outlookOf(t, a, "2027-01-20").Reports
	require.Equal(t, models.Known(models.SeenYesterday), after.FishOnTop)
	require.Equal(t, models.Known(true), after.BaitShowering, "23 hours and 59 minutes old on its eve")
	require.False(t, after.InletHazardFrom.Known(), "it was said of the 19th")

	third := outlookOf(t, a, "2027-01-21").Reports
	require.False(t, third.FishOnTop.Known())
	require.False(t, third.BaitShowering.Known())
	require.False(t, third.Water.Known())
}

func TestAnOverrideHoldsForTripsThatEndByThen(t *testing.T) {
	now := evening()
	a, _ := keeping(t, func() time.Time { return now })
	zone := a.Config().Ports[0].Zone
	_, err := a.Override(t.Context(), "", "own limit", "experienced crew", models.Known(time.Date(2027, 1, 19, 15, 0, 0, 0, zone)))
	require.NoError(t, err)
	_, err = a.Override(t.Context(), "", "ride", "they asked", models.Known(time.Date(2027, 1, 19, 14, 59, 0, 0, zone)))
	require.NoError(t, err)
	require.Equal(t, []models.Override{{What: "own limit", Why: "experienced crew"}}, outlookOf(t, a, "2027-01-19").Overrides, "the trip ends at 15:00")
	require.Empty(t, outlookOf(t, a, "2027-01-20").Overrides)
}

func TestTheLastCountOfThePenGoesIntoTheCall(t *testing.T) {
	a, _ := keeping(t, evening)
	_, err := a.Bait(t.Context(), "", models.Tally{Kind: "goggle-eye"})
	require.NoError(t, err)
	c, err := a.CallFor(t.Context(), app.CallRequest{})
	require.NoError(t, err)
	plan, ok := c.Call.Bait.Get()
	require.True(t, ok)
	require.Equal(t, models.Known(models.BaitCount{}), plan.InPen, "the count is newer than the configuration's 60")
}

// What people were told is what the daemon called; a call made by hand in
// between told nobody else, and must not swallow news.
func TestCallsMadeByHandAreNotWhatPeopleWereTold(t *testing.T) {
	a, st := keeping(t, evening)
	put := func(made time.Time, going, asked bool) {
		t.Helper()
		tactic := models.TacticStayIn
		if going {
			tactic = models.TacticKite
		}
		_, err := st.AddCall(t.Context(), store.Call{Port: demoPort, Ground: demoGround, Asked: asked, Document: []byte("{}"), Standing: models.Standing{
			Made: made, Date: day(t, "2027-01-19"), Going: going, Tactic: tactic}})
		require.NoError(t, err)
	}
	changed := func() string {
		t.Helper()
		c, err := a.CallFor(t.Context(), app.CallRequest{})
		require.NoError(t, err)
		require.NotEmpty(t, c.Call.Changed)
		return c.Call.Changed[0].Key
	}
	put(evening().Add(-time.Hour), true, true)
	require.NotEqual(t, "changed.now_out", changed(), "without a daemon the last call by hand is compared with")
	put(evening().Add(-3*time.Hour), false, false)
	require.Equal(t, "changed.now_out", changed(), "people were told to stay in")
}

func TestACallByHandIsKeptWithItsRun(t *testing.T) {
	a, st := keeping(t, evening)
	list, kept, err := a.CallsByHand(t.Context(), app.CallRequest{})
	require.Len(t, list, 1)
	c := list[0]
	require.NoError(t, err)
	require.NoError(t, kept)
	calls, err := st.Calls(t.Context(), demoPort, c.Call.Date, 10)
	require.NoError(t, err)
	require.Len(t, calls, 1)
	require.True(t, calls[0].Asked)
	require.Equal(t, c.Call.Tactic, calls[0].Standing.Tactic)
	full, err := st.Call(t.Context(), calls[0].ID)
	require.NoError(t, err)
	again, err := app.CallOutlookFile(full.Outlook, a.Limits(), models.Unknown[time.Time]())
	require.NoError(t, err)
	require.Equal(t, c.Call.Tactic, again.Call.Tactic, "what is kept gives the same call")
	series, err := st.SeriesFor(t.Context(), demoPort, demoGround, evening().AddDate(0, 0, -3), evening())
	require.NoError(t, err)
	require.NotEmpty(t, series)
	text, err := a.Explain(t.Context(), "last")
	require.NoError(t, err)
	require.Contains(t, text, "nws gridpoint, state fresh")
}

// The calendar of the demo's charters on a server, read as its address.
func TestBookingsComeFromACalendarAddressAndAFile(t *testing.T) {
	const ics = "BEGIN:VCALENDAR\nVERSION:2.0\nPRODID:-//invented//EN\nBEGIN:VEVENT\nUID:a1@example.com\nDTSTAMP:20270101T000000Z\n" +
		"CATEGORIES:Charter\nSUMMARY:the Haddads\nDTSTART;TZID=America/New_York:20270122T080000\nDTEND;TZID=America/New_York:20270122T140000\nDESCRIPTION:party: family\nEND:VEVENT\nEND:VCALENDAR\n"
	down := false
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "guests.csv"), []byte("date;name;guests\n2027-01-23;the Ikedas;3\n"), 0o600))
	a, _ := keeping(t, evening, func(cfg *config.Config, o *app.Options) {
		cfg.Charters.Calendar = models.Known("https://example.com/secret/calendar.ics")
		cfg.Charters.CSV = models.Known("guests.csv")
		o.Dir = dir
		recording := o.Transport
		o.Transport = transportFunc(func(r *http.Request) (*http.Response, error) {
			if r.URL.Host != "example.com" {
				return recording.RoundTrip(r)
			}
			if down {
				return nil, errors.New("no route")
			}
			return &http.Response{StatusCode: http.StatusOK, Header: http.Header{"Content-Type": {"text/calendar"}}, ContentLength: int64(len(ics)), Body: io.NopCloser(strings.NewReader(ics)), Request: r}, nil
		})
	})
	for range 2 { // seen again it is not doubled
		list, problems, err := a.Charters(t.Context(), "")
		require.NoError(t, err)
		require.Empty(t, problems)
		require.Len(t, list, 3)
		require.Equal(t, "2027-01-22 08:00 to 14:00, the Haddads, family charter", list[1].String())
		require.Equal(t, "2027-01-23 07:00 to 15:00, the Ikedas, mixed charter, 3 guests", list[2].String())
	}
	down = true
	list, problems, err := a.Charters(t.Context(), "")
	require.NoError(t, err)
	require.Len(t, list, 3, "what was booked before still is")
	require.Len(t, problems, 1)
	require.NotContains(t, problems[0], "secret", "such addresses are keys")
	days, _, err := a.Days(t.Context(), "", "")
	require.NoError(t, err)
	for _, d := range days {
		if d.Date == day(t, "2027-01-22") || d.Date == day(t, "2027-01-23") {
			require.Equal(t, models.Known(false), d.Free, "a booked day is not offered")
		}
	}
}

func TestAMovedBookingOfAPastDayStays(t *testing.T) {
	now := evening()
	a, _ := keeping(t, func() time.Time { return now })
	_, err := a.MoveCharter(t.Context(), "", "party of four", day(t, "2027-01-25"), models.Unknown[models.Clock](), models.Unknown[models.Clock](), "north wind")
	require.NoError(t, err)
	now = now.AddDate(0, 0, 4) // the day that the configuration has it on is past
	list, _, err := a.Charters(t.Context(), "")
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Equal(t, store.Moved, list[0].State)
}

// lessons keeps n daily runs of a source for the demo's ground whose wind is
// wrong by err at 10 m, against reports of its pier at 12 m, and whose sea is
// right. The exponent is the power law's of Hsu1994, for no temperatures are
// reported.
func lessons(t *testing.T, st *store.Store, source string, n, hours int, last time.Time, err units.Speed) {
	t.Helper()
	at12 := units.Speed(8 * math.Pow(12.0/10, 0.11))
	var obs []models.Observation
	for i := range n {
		run := last.AddDate(0, 0, -i)
		f := models.Series{Source: source, Ground: demoGround, Run: run, Fetched: run}
		for h := range hours {
			at := run.Add(time.Duration(h) * time.Hour)
			f.Hours = append(f.Hours, models.Hour{At: at, Wind: models.Known(8 + err), WindFrom: models.Known(units.From(90)), Sea: models.Known(1 * units.Metre)})
			obs = append(obs, models.Observation{Station: "XAMP1", At: at, Wind: models.Known(at12), Averaging: models.Known(2 * time.Minute), From: models.Provenance{Source: "ndbc", Fetched: at}},
				models.Observation{Station: "49997", At: at, Sea: models.Known(1 * units.Metre), From: models.Provenance{Source: "ndbc", Fetched: at}})
		}
		_, e := st.AddSeries(t.Context(), demoPort, f)
		require.NoError(t, e)
	}
	_, e := st.AddObservations(t.Context(), obs)
	require.NoError(t, e)
}

func TestLearningTakesTheAssumptionsPlaceOnceThereIsEnough(t *testing.T) {
	last := time.Date(2027, 1, 17, 0, 0, 0, 0, time.UTC)
	learn := func(n int) app.Learned {
		a, st := keeping(t, evening)
		require.Equal(t, "XAMP1", a.Config().Ports[0].Stations[0].ID)
		require.InDelta(t, 12, float64(a.Config().Ports[0].Stations[0].Anemometer.Or(0)), 1e-9)
		lessons(t, st, "gfs-wave", n, 24, last, 3)
		all, err := a.Learn(t.Context())
		require.NoError(t, err)
		require.Equal(t, demoGround, all[0].Ground)
		return all[0]
	}
	few := learn(29)
	require.Equal(t, outlook.Assumed(time.Hour), few.Errors("gfs-wave", time.Hour), "29 days are too few")
	require.Equal(t, 29, few.Lessons[0].Wind.Days)

	enough := learn(30)
	require.Equal(t, []int{2}, enough.Averaging)
	x := enough.Lessons[0]
	require.Equal(t, 1, x.Day)
	require.Equal(t, 30*8, x.Wind.Hours, "every third hour")
	// A decaying average b = (1-w) b + w e with w = 0.02 of 30 equal errors of
	// 3 m/s is 3 (1 - 0.98^30) (closed form; Cui2012 for the average).
	bias := 3 * (1 - math.Pow(0.98, 30))
	require.InDelta(t, 3, x.Wind.Mean, 1e-9, "carried to 10 m")
	require.InDelta(t, bias, x.Wind.Bias, 1e-9)
	e := enough.Errors("gfs-wave", 20*time.Hour)
	require.InDelta(t, bias, float64(e.WindBias), 1e-9)
	require.InDelta(t, 3-bias, float64(e.Wind), 1e-9, "what the bias leaves")
	require.InDelta(t, 0.08, e.Sea, 1e-9, "a station is not the ground: never taken for exact")
	require.Equal(t, outlook.Assumed(20*time.Hour).Shift, e.Shift)
	require.Equal(t, outlook.Assumed(30*time.Hour), enough.Errors("gfs-wave", 30*time.Hour), "of the second day nothing was learned")
	require.Equal(t, outlook.Assumed(time.Hour), enough.Errors("hrrr", time.Hour))
}

func TestTheOutlookUsesWhatWasLearned(t *testing.T) {
	a, st := keeping(t, evening)
	last := time.Date(2027, 1, 17, 0, 0, 0, 0, time.UTC)
	require.Zero(t, outlookOf(t, a, "2027-01-19").HistoryDays)
	all, err := a.Learn(t.Context())
	require.NoError(t, err)
	require.Empty(t, all[0].Lessons)
	for _, source := range []string{"gfs-wave", "nws gridpoint"} {
		lessons(t, st, source, 40, 24, last, 0)
	}
	all, err = a.Learn(t.Context())
	require.NoError(t, err)
	day19 := day(t, "2027-01-19").Interval(time.UTC)
	series := func(run time.Time, sources ...string) (list []models.Series) {
		for _, s := range sources {
			list = append(list, models.Series{Source: s, Ground: demoGround, Run: run, Hours: []models.Hour{{At: day19.Start.Add(12 * time.Hour), Wind: models.Known(units.Speed(8))}}})
		}
		return list
	}
	require.Equal(t, 40, all[0].HistoryDays(series(day19.Start, "gfs-wave", "nws gridpoint"), demoGround, day19))
	require.Zero(t, all[0].HistoryDays(series(day19.Start, "gfs-wave", "hrrr"), demoGround, day19), "one of them is still assumed")
	require.Zero(t, all[0].HistoryDays(series(day19.Start.AddDate(0, 0, -1), "gfs-wave"), demoGround, day19), "at that lead nothing was learned")
}

func TestACallRestsOnHistoryOnceThereIsEnough(t *testing.T) {
	a, st := keeping(t, evening)
	before, _ := keeping(t, evening)
	for _, source := range []string{"gfs-wave", "nws gridpoint"} {
		lessons(t, st, source, 40, 72, time.Date(2027, 1, 15, 0, 0, 0, 0, time.UTC), 0)
	}
	o := outlookOf(t, a, "2027-01-19")
	require.GreaterOrEqual(t, o.HistoryDays, 30)
	assumed := outlookOf(t, before, "2027-01-19")
	require.Zero(t, assumed.HistoryDays)
	said := func(a *app.App) bool {
		c, err := a.CallFor(t.Context(), app.CallRequest{})
		require.NoError(t, err)
		return strings.Contains(c.Text(false), "assumed until 30 days")
	}
	require.True(t, said(before), "the assumption is named")
	require.False(t, said(a))
	require.Less(t, spread(o), spread(assumed), "forecasts that were never wrong leave less doubt")
	require.Equal(t, assumed.Middle, o.Middle, "without bias the best guess is the same")
}

// spread is how far the members' winds lie apart at most, at any hour.
func spread(o models.Outlook) (most units.Speed) {
	for i := range o.Middle.Hours {
		lo, hi := units.Speed(math.Inf(1)), units.Speed(math.Inf(-1))
		for _, m := range o.Members {
			w := m.Hours[i].Wind.Or(0)
			lo, hi = min(lo, w), max(hi, w)
		}
		most = max(most, hi-lo)
	}
	return most
}

func TestScoreHoldsCallsAgainstStationAndLog(t *testing.T) {
	now := evening()
	a, st := keeping(t, func() time.Time { return now })
	empty, err := a.Score(t.Context(), "", "", 60)
	require.NoError(t, err)
	require.Contains(t, a.ScoreText(empty), "no forecast hour has met a report yet")

	// Ten days called kite with nine in ten, of which nine were fished so.
	for i := range 10 {
		d := day(t, "2027-01-08").AddDays(i)
		_, err := st.AddCall(t.Context(), store.Call{Port: demoPort, Ground: demoGround, Confidence: models.Sure, Agreement: 0.9, Document: []byte("{}"),
			Standing: models.Standing{Made: d.AddDays(-1).Start(time.UTC).Add(22 * time.Hour), Date: d, Going: true, Tactic: models.TacticKite}})
		require.NoError(t, err)
		fished := models.TacticHelium // with a kite, too
		if i == 4 {
			fished = models.TacticStayIn
		}
		_, err = a.Log(t.Context(), app.LogRequest{Date: d, Tactic: fished})
		require.NoError(t, err)
	}
	s, err := a.Score(t.Context(), "", "", 60)
	require.NoError(t, err)
	require.Equal(t, 10, s.Told)
	require.Len(t, s.Words, 1)
	require.Equal(t, app.WordScore{Word: models.Sure, N: 10, Said: s.Words[0].Said, Came: 9, Share: 0.9}, s.Words[0])
	require.InDelta(t, 0.9, s.Words[0].Said, 1e-12)
	p, ok := s.Brier.Get()
	require.True(t, ok)
	// By hand: nine of 0.1² and one of 0.9², over ten.
	require.InDelta(t, (9*0.01+0.81)/10, p.Score, 1e-12)
	require.InDelta(t, 0, p.Reliability, 1e-12)
	require.Contains(t, a.ScoreText(s), "fewer than 30 days tell little yet")

	// A kept call, the day after, against the pier: a wind that came exactly
	// as the middle member had it leaves no error but the members' spread.
	list, kept, err := a.CallsByHand(t.Context(), app.CallRequest{})
	require.Len(t, list, 1)
	c := list[0]
	require.NoError(t, err)
	require.NoError(t, kept)
	var obs []models.Observation
	for _, h := range c.Outlook.Middle.Hours {
		w, ok := h.Wind.Get()
		require.True(t, ok)
		obs = append(obs, models.Observation{Station: "XAMP1", At: h.At, Wind: models.Known(units.Speed(float64(w) * math.Pow(1.2, 0.11))), From: models.Provenance{Source: "ndbc", Fetched: h.At}})
	}
	_, err = st.AddObservations(t.Context(), obs)
	require.NoError(t, err)
	now = now.AddDate(0, 0, 1)
	s, err = a.Score(t.Context(), "", "", 60)
	require.NoError(t, err)
	require.Len(t, s.Outlooks, 1)
	require.Equal(t, 1, s.Outlooks[0].Ahead)
	require.Equal(t, len(obs), s.Outlooks[0].Hours)
	require.InDelta(t, 0, float64(s.Outlooks[0].Middle), 1e-6)
	require.Positive(t, float64(s.Outlooks[0].CRPS))
}
