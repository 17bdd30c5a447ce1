package scoring_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
)

func TestTripsThatCannotBePlannedAreRefusedWithAReason(t *testing.T) {
	for _, x := range []struct {
		name, key string
		change    func(o *models.Outlook)
	}{
		{"over midnight", "refused.over_midnight", func(o *models.Outlook) { o.Trip.Start, o.Trip.End = models.Clock{Hour: 20}, models.Clock{Hour: 2} }},
		{"no hours", "refused.no_hours", func(o *models.Outlook) { o.Middle.Hours = nil }},
		{"hours of another day", "refused.no_hours", func(o *models.Outlook) { o.Date = o.Date.AddDays(3) }},
		{"run too long", "refused.run_too_long", func(o *models.Outlook) { o.Ground.Run = 4 * time.Hour }},
	} {
		t.Run(x.name, func(t *testing.T) {
			o := fairDay(t)
			x.change(&o)
			c := judge(o)
			require.Equal(t, models.TacticStayIn, c.Tactic)
			require.Equal(t, x.key, c.Reasons[0].Key)
		})
	}
}

func TestEmptyOutlook(t *testing.T) {
	c := scoring.Judge(models.Outlook{}, models.DefaultLimits(), scoring.With{})
	require.Equal(t, models.TacticStayIn, c.Tactic)
	require.NotEmpty(t, c.Reasons)
	require.Contains(t, keysOf(c.Missing), "missing.warnings")
}

func TestUnknownSeasAreRoughAndLessSure(t *testing.T) {
	o := with(fairDay(t), func(h *models.Hour) { h.Sea, h.Period = models.Opt[units.Length]{}, models.Opt[float64]{} })
	c := judge(o)
	require.Equal(t, models.RideRough, hourAt(t, c, 10).Ride)
	require.Less(t, c.Answers.Runs.Share, judge(fairDay(t)).Answers.Runs.Share, "some of the seas that may run there let nobody out")
	require.Contains(t, keysWithin(c.Missing), "missing.costs")
	require.Contains(t, keysWithin(c.Missing), "missing.seas")
	ch, _ := c.Charter.Get()
	require.Contains(t, ch.Actions, models.CharterRoughNote)
	require.Contains(t, keysOf(ch.Message), "guests.sea_unknown")
}

// What is drawn is told on its own, and what it costs where that is more than a
// course or two; what is judged as unknown is told in one line.
func TestSmallLacksAreOneLine(t *testing.T) {
	o := complete(fairDay(t))
	o.HistoryDays = 30
	o.Reports = models.Reports{}
	o = with(o, func(h *models.Hour) {
		h.InletCurrent, h.DirectionSpread = models.Opt[units.Speed]{}, models.Opt[float64]{}
		h.Air, h.Water = models.Opt[units.Temperature]{}, models.Opt[units.Temperature]{}
		h.Visibility, h.Thunder = models.Known(10*units.NauticalMile), models.Opt[float64]{}
	})
	c := judge(o)
	require.Len(t, c.Missing, 2)
	require.Contains(t, keysWithin(c.Missing[:1]), "missing.thunder")
	require.Equal(t, "missing.small", c.Missing[1].Key)
	for _, k := range []string{"inlet", "direction", "temperatures", "edge", "water", "season", "showering"} {
		require.Contains(t, keysWithin(c.Missing[1:]), "missing."+k)
	}
}

// Neither the seas nor what is officially said of them: no hour is known to
// keep any limit, and unknown is never taken as good (trade.md 8.3, rule 13).
func TestUnknownSeasUnderUnknownWarningsStayIn(t *testing.T) {
	o := with(fairDay(t), func(h *models.Hour) { h.Sea, h.Period = models.Opt[units.Length]{}, models.Opt[float64]{} })
	o.Warnings = models.Opt[[]models.Warning]{}
	for _, trip := range []models.Trip{o.Trip, {Kind: models.OwnTrip, Start: o.Trip.Start, End: o.Trip.End}} {
		o.Trip = trip
		c := judge(o)
		require.Equal(t, models.TacticStayIn, c.Tactic)
		require.Equal(t, models.Doubtful, c.Confidence, "kept in for what nobody knows, not for what comes")
		require.Equal(t, "closed.no_sea_no_warnings", hourAt(t, c, 10).Closed.Key)
	}
	late := fairDay(t) // 07:30 to 14:00
	late.Warnings = models.Opt[[]models.Warning]{}
	late = with(late, func(h *models.Hour) {
		if !h.At.Before(onset(late, "12:00")) {
			h.Sea = models.Opt[units.Length]{}
		}
	})
	c := judge(late)
	back, ok := c.Back.Get()
	require.True(t, ok)
	require.False(t, back.After(onset(late, "12:00")), "inside while the seas are known: %s", clockOf(c, c.Back))
}

func TestUnknownWindStaysIn(t *testing.T) {
	o := with(fairDay(t), func(h *models.Hour) { h.Wind, h.Gust = models.Opt[units.Speed]{}, models.Opt[units.Speed]{} })
	c := judge(o)
	require.Equal(t, models.TacticStayIn, c.Tactic)
	require.Equal(t, models.Doubtful, c.Confidence)
	require.Equal(t, "closed.no_wind_forecast", hourAt(t, c, 10).Closed.Key)
}

func TestTheForecastEndsBeforeTheTrip(t *testing.T) {
	o := fairDay(t) // 07:30 to 14:00
	var hours []models.Hour
	for _, h := range o.Middle.Hours {
		if h.At.Before(onset(o, "13:00")) {
			hours = append(hours, h)
		}
	}
	o.Middle.Hours = hours
	c := judge(o)
	require.Equal(t, models.TacticKite, c.Tactic)
	back, _ := c.Back.Get()
	require.False(t, back.After(onset(o, "13:30")), "out where nothing is known: %s", clockOf(c, c.Back))
	require.Equal(t, []models.Timing{models.StartEarlier}, c.Timing, "moved, not shortened")
}

func TestNoWindAtAll(t *testing.T) {
	calm := with(fairDay(t), func(h *models.Hour) {
		h.Wind, h.Gust, h.Current, h.Cloud = models.Known(0*kn), models.Known(1*kn), models.Known(0*kn), models.Known(100.0)
	})
	c := judge(calm)
	require.Equal(t, models.GradePoor, hourAt(t, c, 10).Kite, "a balloon holds one kite up")
	require.Equal(t, models.TacticHelium, c.Tactic)
	calm.Boat.HeliumAboard = false
	c = judge(calm)
	require.Equal(t, models.GradeNo, hourAt(t, c, 10).Kite)
	require.Equal(t, models.TacticStayIn, c.Tactic)
	require.Equal(t, "reason.nothing_to_fish", c.Reasons[0].Key)
}

func TestOwnKitesDecide(t *testing.T) {
	o := fairDay(t) // 12 to 14 kn
	o.Kites = []models.Kite{{Name: "small", Min: models.Known(4 * kn), Max: models.Known(9 * kn)}}
	require.Equal(t, models.GradeNo, hourAt(t, judge(o), 10).Kite, "the mean is past it")
	o.Kites = []models.Kite{{Name: "unheard of"}}
	c := judge(o)
	require.Less(t, hourAt(t, c, 10).Kite, models.GradeGood)
	require.False(t, c.Spread.Known())
	o.Kites = []models.Kite{{Name: "big", Min: models.Known(10 * kn), Max: models.Known(30 * kn)}}
	c = judge(o)
	require.Equal(t, models.GradeGood, hourAt(t, c, 10).Kite)
	card, ok := c.Spread.Get()
	require.True(t, ok)
	require.Equal(t, "big", card.Kite)
}

// A day with the change to summer time has 23 hours, one with the change back
// 25: times stay on the port's clock.
func TestDaysOfTwentyThreeAndTwentyFiveHours(t *testing.T) {
	for _, date := range []models.Date{{Year: 2027, Month: 3, Day: 14}, {Year: 2027, Month: 11, Day: 7}} {
		base := fairDay(t)
		o := base
		o.Date, o.Made = date, date.Start(o.Port.Zone).Add(-7*time.Hour)
		o.Middle.Hours = nil
		for at := date.Start(o.Port.Zone); at.Before(date.AddDays(1).Start(o.Port.Zone)); at = at.Add(time.Hour) {
			h := base.Middle.Hours[5]
			h.At = at
			o.Middle.Hours = append(o.Middle.Hours, h)
		}
		c := judge(o)
		require.Len(t, c.Hours, int(date.Interval(o.Port.Zone).Duration()/time.Hour))
		require.Equal(t, "07:30", clockOf(c, c.Leave))
		require.Equal(t, "14:00", clockOf(c, c.Back))
	}
}

func TestTwoTripsADayLeaveTimeToTurnRound(t *testing.T) {
	o := fairDay(t)
	o.Trip.Start, o.Trip.End = models.Clock{Hour: 12, Minute: 30}, models.Clock{Hour: 17}
	c := scoring.Judge(o, models.DefaultLimits(), scoring.With{After: models.Known(onset(o, "12:00"))})
	require.Equal(t, "13:00", clockOf(c, c.Leave), "an hour after the boat is back")
	o.Trip.Start, o.Trip.End = models.Clock{Hour: 7}, models.Clock{Hour: 12}
	c = scoring.Judge(o, models.DefaultLimits(), scoring.With{Before: models.Known(onset(o, "12:30"))})
	require.Equal(t, "11:30", clockOf(c, c.Back))
}

func TestHeadCountAndFuel(t *testing.T) {
	o := fairDay(t)
	o.Trip.Guests = models.Known(7)
	require.Contains(t, keysOf(judge(o).Cautions), "caution.over_six")
	o.Boat.Passengers = models.Known(12)
	require.NotContains(t, keysOf(judge(o).Cautions), "caution.over_six")
	o.Boat.Passengers = models.Known(6)
	require.Contains(t, keysOf(judge(o).Cautions), "caution.too_many_guests")
	o.Boat.FuelPerHour, o.Boat.FuelUsable = models.Known(200.0), models.Known(100.0)
	require.Contains(t, keysOf(judge(o).Cautions), "caution.fuel")
	o.Boat.FuelUsable = models.Known(900.0)
	require.NotContains(t, keysOf(judge(o).Cautions), "caution.fuel")
}

func TestWhatIf(t *testing.T) {
	o := expertOutlook(t, 1)
	for text, want := range map[string]func(a, b models.Hour){
		"wind +5kn":   func(a, b models.Hour) { require.InDelta(t, 5, (b.Wind.Or(0) - a.Wind.Or(0)).Knots(), 1e-9) },
		"wind 10":     func(a, b models.Hour) { require.InDelta(t, 10, b.Wind.Or(0).Knots(), 1e-9) },
		"gust -2kn":   func(a, b models.Hour) { require.InDelta(t, -2, (b.Gust.Or(0) - a.Gust.Or(0)).Knots(), 1e-9) },
		"sea +2ft":    func(a, b models.Hour) { require.InDelta(t, 2, (b.Sea.Or(0) - a.Sea.Or(0)).Feet(), 1e-9) },
		"sea 1m":      func(a, b models.Hour) { require.InDelta(t, 1, b.Sea.Or(0).Metres(), 1e-9) },
		"current off": func(a, b models.Hour) { require.Zero(t, b.Current.Or(1)) },
		"current turned": func(a, b models.Hour) {
			require.InDelta(t, 180, units.Apart(a.CurrentToward.Or(0), b.CurrentToward.Or(0)), 1e-9)
		},
		"thunder +20":       func(a, b models.Hour) { require.InDelta(t, 20, b.Thunder.Or(0), 1e-9) },
		"cloud 200":         func(a, b models.Hour) { require.InDelta(t, 100, b.Cloud.Or(0), 1e-9) },
		"visibility 0.5nmi": func(a, b models.Hour) { require.InDelta(t, 0.5, b.Visibility.Or(0).NauticalMiles(), 1e-9) },
		"period 8s":         func(a, b models.Hour) { require.InDelta(t, 8, b.Period.Or(0), 1e-9) },
	} {
		c, err := scoring.ParseChange(text)
		require.NoError(t, err, text)
		got := scoring.WhatIf(o, c)
		for i := range o.Middle.Hours {
			want(o.Middle.Hours[i], got.Middle.Hours[i])
		}
	}
	later, err := scoring.ParseChange("front 3h later")
	require.NoError(t, err)
	got := scoring.WhatIf(o, later).Middle.Hours
	require.Equal(t, o.Middle.Hours[4].Wind, got[7].Wind)
	require.Equal(t, o.Middle.Hours[7].At, got[7].At)
	none, err := scoring.ParseChange("helium off")
	require.NoError(t, err)
	require.False(t, scoring.WhatIf(o, none).Boat.HeliumAboard)
	for _, bad := range []string{"", "wind", "wind fast", "wind +5 furlongs", "front 3h", "front soon later", "moon +1", "wind +1e999", "current sideways"} {
		_, err := scoring.ParseChange(bad)
		require.Error(t, err, bad)
	}
}

func FuzzParseChange(f *testing.F) {
	for _, s := range []string{"wind +5kn", "front 3h later", "current off", "thunder +20%", "visibility 0.5nmi", "sea -", "wind +"} {
		f.Add(s)
	}
	o := models.Outlook{Middle: models.Member{Hours: []models.Hour{{At: time.Unix(0, 0), Wind: models.Known(5 * kn), Gust: models.Known(9 * kn)}}}}
	f.Fuzz(func(t *testing.T, s string) {
		c, err := scoring.ParseChange(s)
		if err != nil {
			return
		}
		w, ok := scoring.WhatIf(o, c).Middle.Hours[0].Wind.Get()
		require.True(t, ok)
		require.GreaterOrEqual(t, w, units.Speed(0))
	})
}

// What would change the call does change it, and nothing nearer does.
func TestWhatWouldChangeTheCallChangesIt(t *testing.T) {
	o := expertOutlook(t, 8)
	c := judge(o)
	more := models.Phrase{}
	for _, p := range c.WouldChange {
		if inner, ok := p.Args[0].(models.Phrase); ok && inner.Key == "change.wind_more" {
			more = inner
		}
	}
	require.NotEmpty(t, more.Key)
	by := more.Args[0].(units.Speed)
	moved := func(by units.Speed) models.Call {
		return judge(with(o, func(h *models.Hour) {
			ratio := (h.Wind.Or(0) + by) / h.Wind.Or(0)
			h.Gust = models.Known(h.Wind.Or(0) + by + (h.Gust.Or(0)-h.Wind.Or(0))*ratio)
			h.Wind = models.Known(h.Wind.Or(0) + by)
		}))
	}
	require.Equal(t, c.Tactic, moved(by-1*kn).Tactic)
	require.NotEqual(t, c.Tactic, moved(by).Tactic)
}

func TestReasonsAreThreeAtMost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := quick(anOutlook(t))
		require.NotEmpty(t, c.Reasons)
		require.LessOrEqual(t, len(c.Reasons), 3)
		if c.Tactic == models.TacticStayIn {
			require.NotContains(t, []string{"reason.kite", "reason.tailing"}, c.Reasons[0].Key)
		}
	})
}
