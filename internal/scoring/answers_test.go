package scoring_test

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
	"forecastd/internal/testdata"
	"forecastd/internal/words"
)

// TestNothingWorseMakesTheTripRunOftener: more wind, sea or thunder, a warning
// or an earlier front never raise the share of courses in which the trip runs.
func TestNothingWorseMakesTheTripRunOftener(t *testing.T) {
	t.Parallel()
	steady := func(t *rapid.T) models.Outlook {
		// A sea without a direction is taken from the wind's, which is the
		// surer the more it blows.
		return with(complete(anOutlook(t)), func(h *models.Hour) { h.SeaFrom = models.Known(h.WindFrom.Or(0)) })
	}
	for name, worse := range map[string]func(t *rapid.T, o models.Outlook) models.Outlook{
		"wind": func(t *rapid.T, o models.Outlook) models.Outlook {
			return whatIf(t, o, fmt.Sprintf("wind +%.1fkn", between(t, 0.1, 12, "more")))
		},
		"sea": func(t *rapid.T, o models.Outlook) models.Outlook {
			return whatIf(t, o, fmt.Sprintf("sea +%.1fft", between(t, 0.1, 6, "more")))
		},
		"thunder": func(t *rapid.T, o models.Outlook) models.Outlook {
			return whatIf(t, o, fmt.Sprintf("thunder +%.1f", between(t, 0.1, 80, "more")))
		},
		"rain": func(t *rapid.T, o models.Outlook) models.Outlook {
			return whatIf(t, o, fmt.Sprintf("rain +%.1f", between(t, 0.1, 80, "more")))
		},
	} {
		rule(t, name, func(t *rapid.T) {
			o := steady(t)
			require.LessOrEqual(t, quick(worse(t, o)).Answers.Runs.Courses, quick(o).Answers.Runs.Courses)
		})
	}
	rule(t, "an earlier front", func(t *rapid.T) {
		o := steady(t)
		fair := o.Middle.Hours[0]
		fair.Wind, fair.Gust, fair.Sea, fair.Period = models.Known(12*kn), models.Known(15*kn), models.Known(2*ft), models.Known(6.0)
		fair.Thunder, fair.Rain, fair.Visibility = models.Known(0.0), models.Known(0.0), models.Known(10*units.NauticalMile)
		front := func(hour int) models.Outlook {
			i := 0
			return with(o, func(h *models.Hour) {
				at := h.At
				*h = fair
				h.At = at
				if i >= hour {
					h.Wind, h.Gust, h.Sea = models.Known(24*kn), models.Known(32*kn), models.Known(6*ft)
				}
				i++
			})
		}
		late := rapid.IntRange(1, 14).Draw(t, "late")
		early := rapid.IntRange(0, late).Draw(t, "early")
		require.LessOrEqual(t, quick(front(early)).Answers.Runs.Courses, quick(front(late)).Answers.Runs.Courses)
	})
}

func whatIf(t interface{ Fatalf(string, ...any) }, o models.Outlook, text string) models.Outlook {
	c, err := scoring.ParseChange(text)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return scoring.WhatIf(o, c)
}

// A warning raises no word and no share of going, whatever it does to the plan.
func TestAWarningMakesNothingSurer(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o := anOutlook(t)
		b := o
		list, _ := o.Warnings.Get()
		b.Warnings = models.Known(append(append([]models.Warning(nil), list...), aWarning(t, o.Date.Start(o.Port.Zone))))
		ca, cb := quick(o), quick(b)
		require.LessOrEqual(t, cb.Answers.Runs.Courses, ca.Answers.Runs.Courses)
		if cb.Tactic == models.TacticStayIn {
			return
		}
		require.NotEqual(t, models.TacticStayIn, ca.Tactic)
		require.LessOrEqual(t, cb.Answers.Hours.Courses, ca.Answers.Hours.Courses)
		require.LessOrEqual(t, cb.Answers.Tactic.Courses, ca.Answers.Tactic.Courses)
		require.LessOrEqual(t, rank(cb.Confidence), rank(ca.Confidence))
	})
}

// To learn that an unknown input is harmful never makes the trip run oftener;
// that it is harmless never less often is rule 13.
func TestHarmfulNewsNeverMakesTheTripRunOftener(t *testing.T) {
	t.Parallel()
	for name, x := range map[string]struct{ forget, harmful func(h *models.Hour) }{
		"gusts":      {func(h *models.Hour) { h.Gust = models.Opt[units.Speed]{} }, func(h *models.Hour) { h.Gust = models.Known(h.Wind.Or(0) + 40*kn) }},
		"seas":       {func(h *models.Hour) { h.Sea = models.Opt[units.Length]{} }, func(h *models.Hour) { h.Sea, h.Period = models.Known(20*ft), models.Known(4.0) }},
		"thunder":    {func(h *models.Hour) { h.Thunder = models.Opt[float64]{} }, func(h *models.Hour) { h.Thunder = models.Known(100.0) }},
		"rain":       {func(h *models.Hour) { h.Rain = models.Opt[float64]{} }, func(h *models.Hour) { h.Rain = models.Known(100.0) }},
		"visibility": {func(h *models.Hour) { h.Visibility = models.Opt[units.Length]{} }, func(h *models.Hour) { h.Visibility = models.Known(0.1 * units.NauticalMile) }},
	} {
		rule(t, name, func(t *rapid.T) {
			o := complete(anOutlook(t))
			a, b := with(o, x.forget), with(o, x.harmful)
			require.LessOrEqual(t, quick(b).Answers.Runs.Courses, quick(a).Answers.Runs.Courses)
		})
	}
}

// The name of a port is no weather.
func TestRenamingAPortChangesNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a := anOutlook(t)
		b := a
		b.Port.Name, b.Ground.Name, b.Boat.Name = rapid.String().Draw(t, "port"), rapid.String().Draw(t, "ground"), "another"
		ca, cb := quick(a), quick(b)
		require.Equal(t, ca.Answers, cb.Answers)
		require.Equal(t, []any{ca.Tactic, ca.Leave, ca.Back, ca.Hours}, []any{cb.Tactic, cb.Leave, cb.Back, cb.Hours})
	})
}

// sweep judges a steady day with one input moved step by step.
func sweep(t testing.TB, from, to, by float64, set func(h *models.Hour, x float64)) (at []float64, calls []models.Call) {
	for x := from; x <= to+1e-9; x += by {
		o := stock(t, models.Date{Year: 2027, Month: 1, Day: 19}, fairWind())
		hoursOf(&o, 0, 24, func(h *models.Hour) { set(h, x) })
		at, calls = append(at, x), append(calls, quick(o))
	}
	return at, calls
}

func sweeps() map[string]struct {
	from, to, by float64
	set          func(h *models.Hour, x float64)
} {
	return map[string]struct {
		from, to, by float64
		set          func(h *models.Hour, x float64)
	}{
		"wind": {8, 24, 0.5, func(h *models.Hour, x float64) {
			h.Wind, h.Gust = models.Known(units.Speed(x)*kn), models.Known(units.Speed(1.3*x)*kn)
		}},
		"sea":     {1, 7, 0.25, func(h *models.Hour, x float64) { h.Sea = models.Known(units.Length(x) * ft) }},
		"thunder": {0, 80, 2.5, func(h *models.Hour, x float64) { h.Thunder = models.Known(x) }},
	}
}

// Over a sweep of an input the share that runs falls, smoothly but for a
// course's step, and the verdict turns at most once.
func TestSweepsAreSmoothAndTurnOnce(t *testing.T) {
	for name, x := range sweeps() {
		t.Run(name, func(t *testing.T) {
			at, calls := sweep(t, x.from, x.to, x.by, x.set)
			turns := 0
			for i, c := range calls {
				t.Logf("%s %5.2f: runs %.2f %-20s %s", name, at[i], c.Answers.Runs.Share, c.Tactic, c.Confidence)
				if i == 0 {
					continue
				}
				before := calls[i-1]
				require.LessOrEqual(t, c.Answers.Runs.Courses, before.Answers.Runs.Courses, "at %v", at[i])
				require.Less(t, before.Answers.Runs.Share-c.Answers.Runs.Share, 0.2, "no cliff at %v", at[i])
				if (c.Tactic == models.TacticStayIn) != (before.Tactic == models.TacticStayIn) {
					turns++
				}
			}
			require.LessOrEqual(t, turns, 1)
			require.NotEqual(t, models.TacticStayIn, calls[0].Tactic)
			require.Equal(t, models.TacticStayIn, calls[len(calls)-1].Tactic)
		})
	}
}

// A fresh day is not called off for what may come; one that is forecast at the
// captain's limit is.
func TestAFreshDayIsStillFished(t *testing.T) {
	x := sweeps()["wind"]
	at, calls := sweep(t, 16, 21, 1, x.set)
	for i, c := range calls {
		require.Equal(t, at[i] < 20, c.Tactic != models.TacticStayIn, "%v kn: %s, runs %.2f", at[i], c.Tactic, c.Answers.Runs.Share)
	}
}

// finding reads a file of cases/findings.
func foundDay(t testing.TB, name string) models.Outlook {
	b, err := os.ReadFile(filepath.Join(testdata.Cases(t), "findings", name+".json"))
	require.NoError(t, err)
	o, err := words.ReadOutlook(b)
	require.NoError(t, err)
	return o
}

// Thunder of 39 percent is thunder in four courses of ten: it is in the
// answers, in the reasons and in the guests' draft, and one percent more does
// not turn all of it.
func TestThunderIsInTheDoubt(t *testing.T) {
	o := foundDay(t, "conf_thunder39")
	c := judge(o)
	require.NotEqual(t, models.TacticStayIn, c.Tactic)
	require.InDelta(t, 0.61, c.Answers.Runs.Share, 0.1)
	require.Equal(t, models.TossUp, c.Confidence)
	require.Contains(t, keysOf(c.Reasons), "reason.thunder")
	ch, _ := c.Charter.Get()
	require.Contains(t, keysOf(ch.Message), "guests.doubt")
	require.Contains(t, keysOf(ch.Message), "guests.thunder")
	require.Equal(t, "cause.thunder", c.Stops[0].By.Key)

	more := judge(whatIf(t, o, "thunder +2"))
	require.InDelta(t, c.Answers.Runs.Share, more.Answers.Runs.Share, 0.04, "a step of the verdict is none of the answers")
}

// A hundredth of a mile of visibility changes next to nothing.
func TestVisibilityIsInTheDoubt(t *testing.T) {
	a, b := judge(foundDay(t, "conf_vis1.0")), judge(foundDay(t, "conf_vis0.99"))
	require.InDelta(t, a.Answers.Runs.Courses, b.Answers.Runs.Courses, 2)
	require.NotEqual(t, models.Sure, a.Answers.Hours.Word)
}

// A chance of rain is no steady rain: no step from sure to stay in over ten
// percent of it.
func TestAChanceOfRainIsSpells(t *testing.T) {
	o := foundDay(t, "rain65_cloud95")
	before := 65
	for _, percent := range []float64{45, 50, 55, 60, 65, 70, 75, 80} {
		c := judge(with(o, func(h *models.Hour) { h.Rain = models.Known(percent) }))
		require.LessOrEqual(t, c.Answers.Runs.Courses, before, "%v %%", percent)
		if before < 65 {
			require.LessOrEqual(t, before-c.Answers.Runs.Courses, 10, "%v %%", percent)
		}
		before = c.Answers.Runs.Courses
	}
	require.Equal(t, models.TacticStayIn, judge(with(o, func(h *models.Hour) { h.Rain = models.Known(100.0) })).Tactic)
}

// It does not go with guests where hardly any course lets it, and says the
// doubt where it may not.
func TestGuestsAreNotTakenOnAFewCourses(t *testing.T) {
	t.Parallel()
	lowest := judge(foundDay(t, "lowagree_s3_13_wind_-0.25"))
	if lowest.Tactic != models.TacticStayIn {
		require.GreaterOrEqual(t, lowest.Answers.Runs.Share, 0.45)
	}
	rapid.Check(t, func(t *rapid.T) {
		c := scoring.Judge(anOutlook(t), models.DefaultLimits(), scoring.With{})
		if c.Tactic == models.TacticStayIn {
			return
		}
		require.GreaterOrEqual(t, c.Answers.Runs.Share, 0.45-1e-9)
		ch, _ := c.Charter.Get()
		if c.Answers.Runs.Share < 0.7-1e-9 {
			require.Contains(t, keysOf(ch.Message), "guests.doubt")
		}
	})
}

func TestAnAdvisoryDoesNotMakeTheDaySurer(t *testing.T) {
	base, warned := judge(foundDay(t, "warnup_12_base")), judge(foundDay(t, "warnup_12_WSCA_14-24"))
	require.LessOrEqual(t, warned.Agreeing, base.Agreeing)
	require.LessOrEqual(t, rank(warned.Confidence), rank(base.Confidence))
}

// Nobody leaves for hours that are all called "no".
func TestNobodyLeavesForHoursGradedNo(t *testing.T) {
	t.Parallel()
	c := judge(foundDay(t, "contra_7_Bnohelium"))
	check := func(t require.TestingT, c models.Call) {
		if c.Tactic == models.TacticStayIn {
			return
		}
		for _, h := range c.Hours {
			switch {
			case h.Do == models.DoSight && h.Sight > models.GradeNo, h.Do == models.DoEither && max(h.Sight, h.Kite) > models.GradeNo,
				(h.Do == models.DoKite || h.Do == models.DoHeliumKite) && h.Kite > models.GradeNo:
				return
			}
		}
		t.Errorf("%s in hours that are all graded no", c.Tactic)
		t.FailNow()
	}
	check(t, c)
	rapid.Check(t, func(t *rapid.T) {
		o := anOutlook(t)
		o.Trip.Start, o.Trip.End = models.Clock{Hour: 7}, models.Clock{Hour: 15}
		check(t, quick(o))
	})
}

// The kite call is not blind to fish: it says slow, and an unbooked day with
// everything against it stays in for it.
func TestFishIsAJudgementOfItsOwn(t *testing.T) {
	all, none := foundDay(t, "fish_all"), foundDay(t, "fish_none")
	good, slow := judge(all), judge(none)
	require.Equal(t, models.FishGood, hourAt(t, good, 10).Fish)
	require.Equal(t, models.FishSlow, hourAt(t, slow, 10).Fish)
	require.Equal(t, hourAt(t, good, 10).Kite, hourAt(t, slow, 10).Kite, "the kites fly the same")
	require.Equal(t, good.Answers.Runs, slow.Answers.Runs, "the trip runs the same")
	require.Equal(t, models.TacticKite, slow.Tactic, "guests are fished with all the same")
	require.Contains(t, keysOf(slow.Reasons), "reason.slow")
	require.NotContains(t, keysOf(good.Reasons), "reason.slow")

	unbooked := func(o models.Outlook) models.Call {
		return scoring.Judge(o, models.DefaultLimits(), scoring.With{Unbooked: true})
	}
	require.Equal(t, models.TacticKite, unbooked(all).Tactic)
	c := unbooked(none)
	require.Equal(t, models.TacticStayIn, c.Tactic)
	require.Equal(t, "reason.nothing_there", c.Reasons[0].Key)
	require.Equal(t, models.Word("good"), c.Reasons[0].Args[0])
}

// The fish touch neither safety nor ride.
func TestFishTouchesNeitherSafetyNorRide(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		a := anOutlook(t)
		b := a
		b.Reports = models.Reports{Season: models.Known(models.SeasonOff), EdgeInReach: models.Known(false), Water: models.Known(models.WaterDirty)}
		ca, cb := quick(a), quick(b)
		require.Equal(t, ca.Answers.Runs, cb.Answers.Runs)
		pairs(t, ca, cb, func(a, b models.HourCall) {
			require.Equal(t, a.Ride, b.Ride)
			require.Equal(t, a.Closed, b.Closed)
			require.Equal(t, a.Kite, b.Kite)
		})
	})
}

// What would change a split day is told: somewhere within the sweep it turns.
func TestWhatWouldChangeASplitDayIsTold(t *testing.T) {
	for _, name := range []string{"conf_thunder39", "lowagree_s3_13_wind_-0.25", "rain65_cloud95", "warnup_12_base", "conf_vis1.0"} {
		require.NotEmpty(t, judge(foundDay(t, name)).WouldChange, name)
	}
}

// Hours six apart are joined, as the models give them at long leads.
func TestSixHourlyHoursAreJoined(t *testing.T) {
	o := stock(t, models.Date{Year: 2027, Month: 1, Day: 19}, fairWind())
	var kept []models.Hour
	for _, h := range o.Middle.Hours {
		if (h.At.Hour()+1)%6 == 0 || len(kept) == 0 && h.At.Hour() >= 11 {
			kept = append(kept, h)
		}
	}
	last := kept[len(kept)-1]
	last.At = last.At.Add(6 * time.Hour)
	o.Middle.Hours = append(kept, last)
	c := judge(o)
	require.Equal(t, models.TacticKite, c.Tactic)
	back, _ := c.Back.Get()
	require.False(t, back.Before(onset(o, "14:00")))
}
