package scoring_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/scoring"
)

// fortnight tells guests over runs of a forecast, as the daemon does, and
// returns what was told after each run.
type fortnight struct {
	told, last models.Opt[models.Standing]
	news       int
}

func (f *fortnight) run(c models.Call) scoring.Settled {
	now := scoring.StandingOf(c)
	s := scoring.Settle(now, f.told, f.last)
	if s.News {
		f.news++
	}
	f.told, f.last = models.Known(s.Told), models.Known(now)
	return s
}

// aDay judges an expert day with its wind moved and made at some run.
func aDay(t testing.TB, id int, run int, change string) models.Call {
	o := expertOutlook(t, id)
	o.Made = o.Date.Start(o.Port.Zone).Add(-7*time.Hour - 14*24*time.Hour + time.Duration(run)*12*time.Hour)
	if change != "" {
		c, err := scoring.ParseChange(change)
		require.NoError(t, err)
		o = scoring.WhatIf(o, c)
	}
	return scoring.Judge(o, models.DefaultLimits(), scoring.With{Quick: true})
}

func TestAForecastThatWobblesDoesNotWobbleTheGuests(t *testing.T) {
	var f fortnight
	for run := range 28 {
		change := ""
		if run%2 == 1 {
			change = "wind +9kn" // over the captain's own limit all day
		}
		c := aDay(t, 2, run, change)
		require.Equal(t, run%2 == 1, c.Tactic == models.TacticStayIn)
		f.run(c)
	}
	// First told to go, then at once to stay in; the better runs never hold.
	require.Equal(t, 2, f.news)
	told, _ := f.told.Get()
	require.False(t, told.Going)
}

func TestBetterNewsIsToldWhenItHoldsAndWorseAtOnce(t *testing.T) {
	var f fortnight
	weather := []string{"", "wind +9kn", "", "wind +9kn", "", "", "", "wind +9kn", "", ""}
	var news []bool
	for run, change := range weather {
		news = append(news, f.run(aDay(t, 2, run, change)).News)
	}
	require.Equal(t, []bool{true, true, false, false, false, true, false, true, false, true}, news)
}

func TestAChangeOfTacticWaitsForASecondRun(t *testing.T) {
	var f fortnight
	const late = 27 // a run of the last day, when a tactic can be told
	require.True(t, f.run(aDay(t, 8, late, "")).News)
	s := f.run(aDay(t, 8, late+1, "current off"))
	require.True(t, s.Held)
	require.Equal(t, models.TacticKiteSight, s.Told.Tactic)
	s = f.run(aDay(t, 8, late+2, "current off"))
	require.True(t, s.News)
	require.Equal(t, models.TacticKite, s.Told.Tactic)
}

func TestAnOfficialProductIsToldAtTheFirstRunThatShowsIt(t *testing.T) {
	var f fortnight
	f.run(aDay(t, 2, 0, ""))
	o := expertOutlook(t, 2)
	start := o.Date.Start(o.Port.Zone)
	o.Made = start.Add(-time.Hour)
	o.Warnings = models.Known([]models.Warning{{Event: "Small Craft Advisory", Onset: start.Add(12 * time.Hour)}})
	s := f.run(scoring.Judge(o, models.DefaultLimits(), scoring.With{}))
	require.True(t, s.News)
	require.Equal(t, "settle.worse", s.Why.Key)
	require.Contains(t, s.Told.Timing, models.BackEarly)
}

// At most one reversal for each real change: over a fortnight in which the
// forecast really changes three times and wobbles in between, guests hear no
// more than the first word and three changes.
func TestOneReversalForEachRealChange(t *testing.T) {
	var f fortnight
	phases := []bool{true, false, true, false} // goes, stays in, goes, stays in
	run := 0
	for _, goes := range phases {
		for i := range 7 {
			change := ""
			if !goes {
				change = "wind +9kn"
			}
			if goes && i == 4 {
				change = "wind +1kn" // a wobble that changes nothing
			}
			f.run(aDay(t, 2, run, change))
			run++
		}
	}
	require.Equal(t, len(phases), f.news)
}

func TestChangedTellsWhatMoved(t *testing.T) {
	before := scoring.StandingOf(aDay(t, 4, 0, "wind -6kn"))
	o := expertOutlook(t, 4)
	c := scoring.Judge(o, models.DefaultLimits(), scoring.With{Told: models.Known(before)})
	require.NotEmpty(t, c.Changed)
	same := scoring.Judge(o, models.DefaultLimits(), scoring.With{Told: models.Known(scoring.StandingOf(c))})
	require.Equal(t, "changed.nothing", same.Changed[0].Key)
	require.Empty(t, scoring.Judge(o, models.DefaultLimits(), scoring.With{}).Changed)
	require.Equal(t, c.Tactic, same.Tactic, "what was told never changes the call")
}
