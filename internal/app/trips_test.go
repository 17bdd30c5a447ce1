package app_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/models"
	"forecastd/internal/store"
)

// twoTrips are a morning with a family and an afternoon with old hands, with
// the boat half an hour at the dock between them.
const twoTrips = `
charters:
  bookings:
    - {name: the Larsens, date: 2027-01-19, start: "11:30", end: "16:30", party: experienced, guests: 3, contact: larsens@example.com}
    - {name: the Okafors, date: 2027-01-19, start: "07:00", end: "11:00", party: family, guests: 4, contact: okafors@example.com}
`

// coastWith is the app on the invented coast, with a store.
func coastWith(t *testing.T, more string, coast invented) (*app.App, *store.Store) {
	t.Helper()
	st, err := app.OpenStore(t.Context(), t.TempDir(), false, coast.now, nil)
	require.NoError(t, err)
	a, err := app.New(app.Options{Config: daemonConfig(t, more), Now: coast.now, Transport: coast, Store: st, Logger: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Stop(context.Background())) })
	return a, st
}

// closedFrom is a coast with a small craft advisory on 19 January 2027 from an
// hour of the port's clock until the evening.
func closedFrom(t *testing.T, now func() time.Time, hour int) invented {
	t.Helper()
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	return invented{now: now, warned: func(time.Time) (onset, ends time.Time, ok bool) {
		return time.Date(2027, 1, 19, hour, 0, 0, 0, zone), time.Date(2027, 1, 19, 23, 0, 0, 0, zone), true
	}}
}

func clock(c models.Call, at models.Opt[time.Time]) string {
	v, ok := at.Get()
	if !ok {
		return "never"
	}
	return v.In(c.Port.Zone).Format("15:04")
}

func TestADayWithTwoTripsHasTwoCalls(t *testing.T) {
	a, st := coastWith(t, twoTrips, invented{now: evening})
	list, kept, err := a.CallsByHand(t.Context(), app.CallRequest{})
	require.NoError(t, err)
	require.NoError(t, kept)
	require.Len(t, list, 2)
	first, second := list[0], list[1]
	require.NoError(t, first.Fault)
	require.NoError(t, second.Fault)
	require.Equal(t, models.Family, first.Call.Trip.Party)
	require.Equal(t, models.Experienced, second.Call.Trip.Party)
	require.Equal(t, "the Okafors", first.Booking.Or(app.Booked{}).Name)
	require.Equal(t, models.Known(3), second.Call.Trip.Guests)

	// The boat is an hour at the dock between them, the default of the limits;
	// the family is not brought home early for the trip after it.
	require.Equal(t, "11:00", clock(first.Call, first.Call.Back))
	require.Equal(t, "12:00", clock(second.Call, second.Call.Leave))
	require.Contains(t, strings.Join(gapsOf(first), "\n"), "2027-01-19: the trips 07:00 to 11:00 and 11:30 to 16:30 leave the boat 30 min at the dock, and it takes 60")

	// One letter: what is of the day stands in it once.
	text := app.CallsText(list, false)
	for _, once := range []string{"Official warnings: none", "2 trips", "the Okafors: KITE, AS BOOKED", "the Larsens: KITE, START LATER", "Sun, tide and inlet", "Stations now", "\nSources\n", "To load tonight"} {
		require.Equal(t, 1, strings.Count(text, once), "%s in\n%s", once, text)
	}
	require.Equal(t, 2, strings.Count(text, "The hours ("))
	require.Less(t, strings.Index(text, "Official warnings: none"), strings.Index(text, "2 trips"))

	// A document a line, each a whole call.
	doc, err := app.CallsJSON(list, false)
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSpace(string(doc)), "\n")
	require.Len(t, lines, 2)
	var starts []string
	for _, l := range lines {
		var call struct {
			Schema string
			Trip   struct{ Start string }
		}
		require.NoError(t, json.Unmarshal([]byte(l), &call))
		require.Equal(t, "forecastd.call.v1", call.Schema)
		starts = append(starts, call.Trip.Start)
	}
	require.Equal(t, []string{"07:00", "11:30"}, starts)

	calls, err := st.Calls(t.Context(), demoPort, day(t, "2027-01-19"), 10)
	require.NoError(t, err)
	require.Len(t, calls, 2)
	require.NotEqual(t, calls[0].Booking, calls[1].Booking)
	require.NotContains(t, calls[0].Booking+calls[1].Booking, "Okafor", "guests are not named in what outlives their erasure")
	told, err := a.Explain(t.Context(), "last")
	require.NoError(t, err)
	require.Contains(t, told, "07:00 to 11:00")
	require.Contains(t, told, "11:30 to 16:30")

	// What-if keeps the other trip where it is.
	text, err = second.WhatIf([]string{"wind +1kn"}, a.Limits())
	require.NoError(t, err)
	require.NotContains(t, text, "leave 11:30")

	// Bait is loaded for both trips, rods once.
	both, alone := app.LoadLists(list), app.LoadLists(list[:1])
	require.Contains(t, both, "2 trips")
	require.Equal(t, strings.Count(alone, "kite rod"), strings.Count(both, "kite rod"))
	require.Equal(t, 1, strings.Count(both, "goggle-eye, runner or herring"))
}

// What the morning takes out of the pen is not there for the afternoon.
func TestTheSecondTripCountsOnWhatTheFirstLeaves(t *testing.T) {
	a, _ := coastWith(t, twoTrips, invented{now: evening})
	_, err := a.Bait(t.Context(), "", models.Tally{Kind: "goggle-eye", Count: 60, Source: models.BaitSeasoned})
	require.NoError(t, err)
	list, _, err := a.CallsByHand(t.Context(), app.CallRequest{})
	require.NoError(t, err)
	first, ok := list[0].Call.Bait.Get()
	require.True(t, ok)
	second, ok := list[1].Call.Bait.Get()
	require.True(t, ok)
	held, want, next := models.BaitCount{Hardy: 59}, first.Needed.Or(models.BaitCount{}), second.Needed.Or(models.BaitCount{})
	require.Equal(t, models.Known(held), first.InPen, "60, less a day's loss of 1 %")
	require.Equal(t, models.Known(models.BaitCount{Delicate: want.Delicate}), first.Short)
	left := held.Less(want)
	require.Positive(t, left.Hardy)
	require.Equal(t, models.Known(left), second.InPen)
	require.Equal(t, models.Known(models.BaitCount{Hardy: next.Hardy - left.Hardy, Delicate: next.Delicate}), second.Short)
	require.Contains(t, oneLine(app.CallsText(list, false)), fmt.Sprintf("the trip before takes %d hardy and %d delicate baits: %d hardy baits are counted on for this one", want.Hardy, want.Delicate, left.Hardy))
}

func gapsOf(c app.Called) (out []string) {
	for _, g := range c.Outlook.Missing {
		out = append(out, g.What+": "+g.Why)
	}
	return out
}

func TestOneTripIsPicked(t *testing.T) {
	a, _ := coastWith(t, twoTrips, invented{now: evening})
	for which, start := range map[string]int{"1": 7, "2": 11, "the okafors": 7, "the Larsens": 11} {
		list, err := a.CallsFor(t.Context(), app.CallRequest{Trip: which})
		require.NoError(t, err)
		require.Len(t, list, 1)
		require.Equal(t, start, list[0].Call.Trip.Start.Hour, which)
	}
	_, err := a.CallsFor(t.Context(), app.CallRequest{Trip: "3"})
	require.ErrorContains(t, err, `-trip "3" is not one trip of 2027-01-19: write the number or the name of 1 (07:00 to 11:00, the Okafors) or 2 (11:30 to 16:30, the Larsens)`)
	_, err = a.CallsFor(t.Context(), app.CallRequest{Trip: "1", Date: day(t, "2027-01-20")})
	require.ErrorContains(t, err, "nothing is booked on 2027-01-20")
}

// An advisory from 13:00 is no matter of the morning, which is back before it
// by the 90 minutes of the rule; only the afternoon stays in.
func TestAWarningForTheAfternoonClosesOnlyThat(t *testing.T) {
	a, _ := coastWith(t, twoTrips, closedFrom(t, evening, 13))
	list, err := a.CallsFor(t.Context(), app.CallRequest{})
	require.NoError(t, err)
	require.Len(t, list, 2)
	first, second := list[0].Call, list[1].Call
	require.NotEqual(t, models.TacticStayIn, first.Tactic)
	require.LessOrEqual(t, clock(first, first.Back), "11:30")
	require.Equal(t, models.TacticStayIn, second.Tactic)
	// It is called off, with a free day to offer instead.
	require.Equal(t, []models.CharterAction{models.CharterMove}, second.Charter.Or(models.CharterCall{}).Actions)
	require.NotContains(t, first.Charter.Or(models.CharterCall{}).Actions, models.CharterMove)
	text := app.CallsText(list, false)
	require.Equal(t, 1, strings.Count(text, "SMALL CRAFT ADVISORY, "), text)
	require.Contains(t, text, "the Larsens: STAY IN")
}

func TestBookingsAtTheSameTimeAreStillAProblem(t *testing.T) {
	a, st := coastWith(t, twoTrips, invented{now: evening})
	_, err := st.AddBooking(t.Context(), "calendar", demoPort, models.Booking{
		ID: "x", Name: "the Mwangis", Date: day(t, "2027-01-19"), Trip: models.Trip{Kind: models.Charter, Party: models.Mixed, Start: models.Clock{Hour: 10}, End: models.Clock{Hour: 14}},
	}, evening())
	require.NoError(t, err)
	list, err := a.CallsFor(t.Context(), app.CallRequest{})
	require.NoError(t, err)
	require.Len(t, list, 3)
	gaps := strings.Join(gapsOf(list[0]), "\n")
	require.Contains(t, gaps, "the trips 07:00 to 11:00 and 10:00 to 14:00 want the boat at the same time")
	require.Contains(t, gaps, "the trips 10:00 to 14:00 and 11:30 to 16:30 want the boat at the same time")
	var back time.Time
	for _, c := range list {
		if leave, ok := c.Call.Leave.Get(); ok {
			require.False(t, leave.Before(back.Add(time.Hour)), "the boat is in one place at a time")
			back = c.Call.Back.Or(leave)
		}
	}
}

// The daemon tells a day with two trips in one message, drafts to the guests
// of each by themselves, and keeps a float plan of each.
func TestTheDaemonTellsTwoTrips(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening().Add(-time.Hour))
		bag := &mailbag{now: now}
		text := strings.Replace(daemonText, "drafts, trouble]", "drafts, trouble, float plan]", 1)
		o := serveOptions(t, daemonConfig(t, twoTrips), now, closedFrom(t, now, 13), bag)
		o.Config = loaded(t, text+twoTrips)
		d := start(t, o)
		defer halt(t, d)
		time.Sleep(3 * time.Hour)
		evenings := bag.of(models.NoticeCall)
		require.Len(t, evenings, 1, "one message of the day")
		require.Contains(t, evenings[0].Subject, "07:00 ")
		require.Contains(t, evenings[0].Subject, "11:30 stay in")
		require.Contains(t, evenings[0].HTML, "the Larsens")
		require.LessOrEqual(t, len(evenings[0].Short), 300)

		// Both are changed: the family is told of the ride or the hours, the
		// others that they stay in. Each is asked for by itself.
		drafts := openDrafts(t, o.State, now)
		require.NotEmpty(t, drafts)
		to := map[string]store.Draft{}
		for _, dr := range drafts {
			to[dr.Message.Person] = dr
		}
		require.Len(t, to, len(drafts))
		require.Contains(t, to, "the Larsens")
		require.Len(t, bag.of(models.NoticeDraft), len(drafts))
		require.Empty(t, bag.of(models.NoticeGuests))
		approve(t, o.State, now, to["the Larsens"].ID)
		time.Sleep(10 * time.Minute)
		sent := bag.of(models.NoticeGuests)
		require.Len(t, sent, 1)
		require.Equal(t, "larsens@example.com", sent[0].Routes[0].Address)
		require.Len(t, openDrafts(t, o.State, now), len(drafts)-1, "the other still waits")

		// In the morning one plan is made: the afternoon stays in.
		time.Sleep(time.Until(until(now, time.Date(2027, 1, 19, 12, 30, 0, 0, time.UTC))))
		mornings := bag.of(models.NoticeMorning)
		require.Len(t, mornings, 1)
		require.Contains(t, mornings[0].Text, "the Okafors")
		plans := floatPlans(t, o.State, now)
		require.Len(t, plans, 1)
		require.Len(t, bag.of(models.NoticeFloatPlan), 1, "%v", plans)
		require.Len(t, bag.of(models.NoticeFloatPlan), 1, "those ashore know that it leaves")
		require.Len(t, bag.of(models.NoticeCall), 1, "told once")
	})
}

// While the morning is out, the afternoon is still called: an advisory that
// comes then keeps that in.
func TestTheAfternoonTurnsWhileTheMorningIsOut(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening().Add(-time.Hour))
		bag := &mailbag{now: now}
		calm, closed := invented{now: now}, closedFrom(t, now, 13)
		coast := invented{now: now, warned: func(at time.Time) (onset, ends time.Time, ok bool) {
			if at.Before(time.Date(2027, 1, 19, 13, 0, 0, 0, time.UTC)) { // 08:00 at the port
				return onset, ends, false
			}
			return closed.warned(at)
		}}
		require.Nil(t, calm.warned)
		o := serveOptions(t, daemonConfig(t, "daemon: {check_every: 1 h, collect_every: 20 min}\n"+twoTrips), now, coast, bag)
		d := start(t, o)
		defer halt(t, d)
		time.Sleep(time.Until(until(now, time.Date(2027, 1, 19, 15, 0, 0, 0, time.UTC))))
		var turned []delivered
		for _, m := range bag.of(models.NoticeAlert) {
			if strings.HasPrefix(m.Key, "call/") {
				turned = append(turned, m)
			}
		}
		require.Len(t, turned, 1)
		require.Contains(t, turned[0].Subject, "07:00 out, as told; 11:30 stay in")
		require.Contains(t, turned[0].Text, "11:30 to 16:30, the Larsens")
		require.NotContains(t, turned[0].Text, "Trip 1 of 2", "the morning is not called again")
		require.Contains(t, turned[0].Text, "Trip 2 of 2")
		calls := callsOf(t, o.State, now)
		for _, c := range calls {
			if c.Standing.Leave.Known() && c.Standing.Made.After(c.Standing.Leave.Or(time.Time{})) {
				require.Fail(t, "a trip was called after it left", "%v", c.Standing)
			}
		}
	})
}

// Without a word by the time, those ashore are told; with one they are not.
func TestCheckIn(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	at := func(h, m int) time.Time { return time.Date(2027, 1, 19, h, m, 0, 0, zone) }
	now := at(6, 0)
	a, st := coastWith(t, twoTrips, invented{now: func() time.Time { return now }})
	ctx := t.Context()
	_, err = a.CheckIn(ctx, "", models.Date{}, "the captain")
	require.ErrorContains(t, err, "no float plan is kept for 2027-01-19")
	morning := store.FloatPlan{Port: demoPort, Date: day(t, "2027-01-19"), Booking: "b", Boat: "Second Light", Ground: demoGround, Leave: at(7, 0), Back: at(11, 0), Overdue: at(12, 0)}
	afternoon := morning
	afternoon.Booking, afternoon.Leave, afternoon.Back, afternoon.Overdue = "a", at(12, 0), at(16, 30), at(17, 30)
	require.NoError(t, st.PlanFloat(ctx, morning))
	require.NoError(t, st.PlanFloat(ctx, afternoon))
	_, err = a.CheckIn(ctx, "", models.Date{}, "the captain")
	require.ErrorContains(t, err, "the trip of 2027-01-19, 12:00 to 16:30 has not left by its plan")

	now = at(12, 10) // late: the afternoon was to leave already
	told, err := a.CheckIn(ctx, "", models.Date{}, "the captain")
	require.NoError(t, err)
	require.Contains(t, told, "back inside at 12:10 from the trip of 2027-01-19, 07:00 to 11:00: nobody ashore is told that it is overdue")
	require.Contains(t, told, "12:00 to 16:30 is out too: check in again")
	plans, err := st.FloatPlans(ctx, demoPort, morning.Date)
	require.NoError(t, err)
	require.True(t, plans[0].CheckedIn.Known())
	require.Equal(t, "the captain", plans[0].CheckedInBy)
	require.False(t, plans[1].CheckedIn.Known(), "the watch over the afternoon goes on")

	now = time.Date(2027, 1, 20, 0, 40, 0, 0, zone) // after midnight it is the trip of yesterday
	require.NoError(t, st.MarkFloat(ctx, afternoon, store.FloatOverdue, at(17, 30)))
	told, err = a.CheckIn(ctx, "", models.Date{}, "the captain")
	require.NoError(t, err)
	require.Contains(t, told, "those ashore were told that it is overdue, and are told now that it is back")
	_, err = a.CheckIn(ctx, "", models.Date{}, "the captain")
	require.ErrorContains(t, err, "nothing is out")
	_, err = a.CheckIn(ctx, "", day(t, "2027-01-18"), "the captain")
	require.ErrorContains(t, err, "no float plan is kept for 2027-01-18")
}

// A boat that checks in is not overdue; one that does not is, trip by trip.
func TestOverdueIsToldUnlessCheckedIn(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening())
		bag := &mailbag{now: now}
		o := serveOptions(t, nil, now, invented{now: now}, bag)
		o.Config = loaded(t, strings.Replace(daemonText, "drafts, trouble]", "drafts, trouble, float plan]", 1)+twoTrips)
		d := start(t, o)
		defer halt(t, d)
		time.Sleep(time.Until(until(now, time.Date(2027, 1, 19, 16, 30, 0, 0, time.UTC)))) // 11:30 at the port
		require.Len(t, floatPlans(t, o.State, now), 2)
		with(t, o.State, now, func(a *app.App) {
			_, err := a.CheckIn(t.Context(), "", models.Date{}, "the captain")
			require.NoError(t, err)
		})
		time.Sleep(time.Until(until(now, time.Date(2027, 1, 19, 23, 30, 0, 0, time.UTC)))) // 18:30
		var left, overdue []string
		var asked []delivered
		for _, m := range bag.of(models.NoticeFloatPlan) {
			switch sort, _, _ := strings.Cut(m.Key, "/"); sort {
			case "overdue":
				if overdue = append(overdue, m.Key); len(overdue) == 1 {
					require.Len(t, asked, 1, "the boat is asked before those ashore are alarmed")
					require.InDelta(t, 30, m.at.Sub(asked[0].at).Minutes(), 5)
				}
			case "are you back":
				asked = append(asked, m)
			default:
				left = append(left, m.Key)
			}
		}
		require.Contains(t, asked[0].Text, "check in")
		require.Len(t, left, 2)
		require.NotEqual(t, left[0], left[1], "a key for each trip")
		require.NotEmpty(t, overdue, "nobody checked in from the afternoon")
		for _, key := range overdue {
			require.Equal(t, overdue[0], key, "the morning checked in")
		}
	})
}

// until carries an instant of the shifted clock to the bubble's own.
func until(now func() time.Time, at time.Time) time.Time { return time.Now().Add(at.Sub(now())) }

func loaded(t testing.TB, text string) *config.Config {
	t.Helper()
	c, err := config.Load("forecastd.yaml", []byte(text))
	require.NoError(t, err)
	return c
}

// with opens the daemon's store beside it, as a command does.
func with(t testing.TB, state string, now func() time.Time, do func(*app.App)) {
	t.Helper()
	st, err := app.OpenStore(t.Context(), state, true, now, nil)
	require.NoError(t, err)
	a, err := app.New(app.Options{Config: daemonConfig(t, twoTrips), Now: now, Transport: offline(), Store: st, Logger: slog.New(slog.NewTextHandler(io.Discard, nil))})
	require.NoError(t, err)
	do(a)
	require.NoError(t, a.Stop(context.Background()))
}

func openDrafts(t testing.TB, state string, now func() time.Time) (list []store.Draft) {
	t.Helper()
	with(t, state, now, func(a *app.App) {
		var err error
		list, err = a.Drafts(t.Context())
		require.NoError(t, err)
	})
	return list
}

func approve(t testing.TB, state string, now func() time.Time, id string) {
	t.Helper()
	with(t, state, now, func(a *app.App) {
		_, err := a.AnswerDraft(t.Context(), id, true, "test")
		require.NoError(t, err)
	})
}

// reading reads the daemon's store beside it.
func reading[T any](t testing.TB, state string, now func() time.Time, read func(*store.Store) (T, error)) T {
	t.Helper()
	st, err := app.OpenStore(t.Context(), state, true, now, nil)
	require.NoError(t, err)
	defer st.Close()
	v, err := read(st)
	require.NoError(t, err)
	return v
}

func floatPlans(t testing.TB, state string, now func() time.Time) []store.FloatPlan {
	return reading(t, state, now, func(st *store.Store) ([]store.FloatPlan, error) {
		return st.FloatPlans(t.Context(), demoPort, models.Date{Year: 2027, Month: 1, Day: 19})
	})
}

func callsOf(t testing.TB, state string, now func() time.Time) []store.Call {
	return reading(t, state, now, func(st *store.Store) ([]store.Call, error) {
		return st.Calls(t.Context(), demoPort, models.Date{Year: 2027, Month: 1, Day: 19}, 200)
	})
}
