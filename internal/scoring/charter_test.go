package scoring_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
)

func actionsOf(t testing.TB, id int) []models.CharterAction {
	ch, ok := judge(expertOutlook(t, id)).Charter.Get()
	require.True(t, ok)
	return ch.Actions
}

func TestCharterActionsOfExpertDays(t *testing.T) {
	for id, want := range map[int][]models.CharterAction{
		1:  {models.CharterGo, models.CharterRoughNote},
		2:  {models.CharterGo},
		4:  {models.CharterStartEarlier, models.CharterShorten},
		5:  {models.CharterMove},
		6:  {models.CharterGo},
		8:  {models.CharterGo, models.CharterRoughNote},
		10: {models.CharterGo},
		11: {models.CharterGo},
		// The expert leaves the rough-ride note out; an hour and a half of a
		// rough ride is told all the same.
		12: {models.CharterStartEarlier, models.CharterShorten, models.CharterRoughNote},
		14: {models.CharterGo},
		15: {models.CharterStartLater},
		18: {models.CharterCancel, models.CharterMove},
	} {
		require.Equal(t, want, actionsOf(t, id), "day %d", id)
	}
}

// A draft for a day with an official product names it and says that single
// waves reach twice the height (design.md 6).
func TestTheDraftNamesTheProductAndTheSingleWaves(t *testing.T) {
	for _, id := range []int{4, 5, 12, 18} {
		c := judge(expertOutlook(t, id))
		ch, _ := c.Charter.Get()
		list, _ := c.Warnings.Get()
		named := 0
		for _, m := range ch.Message {
			if strings.HasPrefix(m.Key, "guests.product") {
				named++
				require.NotEmpty(t, m.Args[0])
			}
		}
		require.Equal(t, len(list), named, "day %d", id)
		require.Contains(t, keysOf(ch.Message), "guests.single_waves")
	}
	o := fairDay(t)
	o.Warnings = models.Opt[[]models.Warning]{}
	ch, _ := judge(o).Charter.Get()
	require.Contains(t, keysOf(ch.Message), "guests.warnings_unknown")
}

func TestGuestsAreToldByTheCaptainsTerms(t *testing.T) {
	o := fairDay(t)
	ch, _ := judge(o).Charter.Get()
	by, _ := ch.TellBy.Get()
	require.Equal(t, models.Clock{Hour: 19}.On(o.Date.AddDays(-1), o.Port.Zone), by)
	at := onset(o, "05:15")
	c := scoring.Judge(o, models.DefaultLimits(), scoring.With{Booking: models.Known(models.Booking{Name: "the Does", TellBy: models.Known(at)})})
	ch, _ = c.Charter.Get()
	require.Equal(t, models.Known(at), ch.TellBy)
	require.Equal(t, "guests.hello_name", ch.Message[0].Key)
}

func TestDaysToOfferAreRankedByComfortThenFishing(t *testing.T) {
	o := expertOutlook(t, 5) // stays in
	day := func(n int, ride models.Ride, fishing float64, free models.Opt[bool]) models.DayOutlook {
		return models.DayOutlook{
			Date: o.Date.AddDays(n), Tactic: models.TacticKite, Out: models.Known(models.Interval{}), Fishing: fishing, Confidence: models.Likely, Wind: models.Known(12 * kn),
			Rides: map[models.Party]models.Ride{models.Mixed: ride}, Free: free,
		}
	}
	yes, no := models.Known(true), models.Known(false)
	days := []models.DayOutlook{
		day(1, models.RideRough, 0.9, yes), day(2, models.RideOK, 0.5, yes), day(3, models.RideOK, 0.8, yes), day(4, models.RideEasy, 0.9, no),
		day(5, models.RideNo, 0.9, yes), {Date: o.Date.AddDays(6), Free: yes},
	}
	doubtful, windless := day(7, models.RideEasy, 0.9, yes), day(8, models.RideEasy, 0.9, yes)
	doubtful.Confidence, windless.Wind = models.Doubtful, models.Unknown[units.Speed]()
	days = append(days, doubtful, windless)
	c := scoring.Judge(o, models.DefaultLimits(), scoring.With{Days: days})
	ch, _ := c.Charter.Get()
	var dates []models.Date
	for _, d := range ch.Offer {
		dates = append(dates, d.Date)
		require.NotEmpty(t, d.Why.Key)
	}
	require.Equal(t, []models.Date{o.Date.AddDays(3), o.Date.AddDays(2), o.Date.AddDays(1)}, dates)
}

func TestDaysAheadNameTheFront(t *testing.T) {
	base := expertOutlook(t, 2)
	zone := base.Port.Zone
	// South-east, then south-west ahead of a front that passes in the morning
	// of the third day, then north-west, north and north-east behind it.
	from := []units.From{135, 200, 315, 0, 45}
	var outlooks []models.Outlook
	for d, f := range from {
		o := base
		o.Date = base.Date.AddDays(d)
		o.Middle.Hours = nil
		for at := o.Date.Start(zone); at.Before(o.Date.AddDays(1).Start(zone)); at = at.Add(time.Hour) {
			h := base.Middle.Hours[5]
			h.At, h.WindFrom = at, models.Known(f)
			if d == 2 && at.In(zone).Hour() < 8 {
				h.WindFrom = models.Known(units.From(240))
			}
			o.Middle.Hours = append(o.Middle.Hours, h)
		}
		outlooks = append(outlooks, o)
	}
	days := scoring.Days(outlooks, models.DefaultLimits(), func(d models.Date) models.Opt[bool] { return models.Known(d != base.Date) })
	require.Len(t, days, 5)
	require.Empty(t, days[0].Front.Key)
	require.Equal(t, "front.ahead", days[1].Front.Key)
	require.Equal(t, "front.passes", days[2].Front.Key)
	require.Equal(t, 8, days[2].Front.Args[0].(time.Time).In(zone).Hour())
	require.Equal(t, models.Say("front.behind", models.Word("first")), days[3].Front)
	require.Equal(t, models.Say("front.behind", models.Word("second")), days[4].Front)
	for i, d := range days {
		require.Equal(t, models.Known(i != 0), d.Free)
		require.Equal(t, models.TacticKite, d.Tactic)
		require.Len(t, d.KiteWindows, 1)
		require.LessOrEqual(t, d.Rides[models.Experienced], d.Rides[models.Family])
		require.InDelta(t, 13, d.Wind.Or(0).Knots(), 1)
	}
}

// What is official of a day, where the wind comes from and how hard it gusts
// are known in short as they are in the day's own call.
func TestDaysAheadCarryWarningsWindAndReach(t *testing.T) {
	o := fairDay(t)
	hoursOf(&o, 0, 24, func(h *models.Hour) {
		h.WindFrom, h.Gust = models.Known(units.From(45)), models.Known(19*kn)
	})
	product(&o, "Rip Current Statement", "/O.NEW.KMFL.RP.S.0001.270119T1100Z-270120T0300Z/", "05:00", 20*time.Hour)
	product(&o, "Small Craft Advisory", "/O.NEW.KMFL.SC.Y.0012.270119T2100Z-270120T0300Z/", "19:00", 5*time.Hour)
	product(&o, "Gale Watch", "/O.NEW.KMFL.GL.A.0012.270124T2100Z-270125T0300Z/", "19:00", 0)
	list, _ := o.Warnings.Get()
	list[2].Onset, list[2].Ends = o.Date.AddDays(2).Start(o.Port.Zone), models.Unknown[time.Time]()
	o.Made = o.Date.AddDays(-1).Start(o.Port.Zone).Add(17 * time.Hour)

	d := scoring.Days([]models.Outlook{o}, models.DefaultLimits(), nil)[0]
	var events []string
	held, known := d.Warnings.Get()
	require.True(t, known)
	for _, w := range held {
		events = append(events, w.Event)
	}
	require.Equal(t, []string{"Small Craft Advisory", "Rip Current Statement"}, events, "the gravest first, and only those of the day")
	require.InDelta(t, 45, d.WindFrom.Or(0).Degrees(), 1)
	require.Equal(t, models.Known(19*kn), d.Gust)
	require.False(t, d.PastWarnings)

	o.Warnings = models.Unknown[[]models.Warning]()
	o.Made = o.Date.AddDays(-3).Start(o.Port.Zone)
	d = scoring.Days([]models.Outlook{o}, models.DefaultLimits(), nil)[0]
	require.False(t, d.Warnings.Known())
	require.True(t, d.PastWarnings)
}

func TestDaysAndCallAgree(t *testing.T) {
	for _, x := range expertDays(t) {
		o := expertOutlook(t, x.ID)
		c := judge(o)
		d := scoring.Days([]models.Outlook{o}, models.DefaultLimits(), nil)[0]
		require.Equal(t, c.Tactic, d.Tactic)
		require.Equal(t, c.Confidence, d.Confidence)
		require.Equal(t, c.Leave.Known(), d.Out.Known())
		require.Equal(t, !c.Leave.Known(), d.Closed.Key != "")
		if c.Tactic == models.TacticKite {
			require.NotEmpty(t, append(d.KiteWindows, d.KiteFlown...), "%s: a kite is called for at some time", x.ID)
		}
	}
}

func TestBaitAgainstThePen(t *testing.T) {
	o := fairDay(t) // a kite day of six and a half hours: 60 hardy, 24 delicate (trade.md 5.5)
	ask := func(pen models.Pen) models.BaitPlan {
		b, ok := scoring.Judge(o, models.DefaultLimits(), scoring.With{Pen: models.Known(pen)}).Bait.Get()
		require.True(t, ok)
		return b
	}
	counted := o.Date.AddDays(-10).Start(o.Port.Zone).Add(12 * time.Hour)
	b := ask(models.Pen{Counted: counted, Stock: []models.BaitStock{{Kind: "goggle-eye", Count: 100, Source: models.BaitSeasoned}}})
	require.Equal(t, models.Known(models.BaitCount{Hardy: 60, Delicate: 24}), b.Needed)
	require.Equal(t, models.Known(models.BaitCount{Hardy: 90}), b.InPen, "seasoned: 1 % a day for ten days")
	require.Equal(t, models.Known(models.BaitCount{Delicate: 24}), b.Short, "no hardy bait stands in for a delicate one")
	b = ask(models.Pen{Counted: counted, Stock: []models.BaitStock{{Kind: "herring", Count: 100, Source: models.BaitHooked, Caught: models.Known(o.Date.AddDays(-10))}}})
	require.Equal(t, models.Known(models.BaitCount{Hardy: 62}), b.InPen, "fresh: 7.5 % a day for five days, then 1.5 %")
	require.Equal(t, models.Known(models.BaitCount{Delicate: 24}), b.Short)
	require.Contains(t, keysOf(b.Notes), "bait.short")
	stop := b.Notes[len(b.Notes)-1]
	require.Equal(t, "bait.stop_before", stop.Key)
	require.Equal(t, []any{onset(o, "06:00"), onset(o, "07:30")}, stop.Args, "90 min before leaving (trade.md 5.2)")
	o.Warnings = models.Known([]models.Warning{{Event: "Small Craft Advisory", Onset: onset(o, "03:00"), Ends: models.Known(onset(o, "06:30"))}})
	b = ask(models.Pen{Counted: counted})
	stop = b.Notes[len(b.Notes)-1]
	require.Equal(t, "bait.stop_within", stop.Key, "no bait stop in a closed hour")
	o = fairDay(t)
	b = ask(models.Pen{Counted: counted, Stock: []models.BaitStock{{Kind: "pilchard", Count: 100, Source: models.BaitNetted}}})
	require.Equal(t, models.Known(models.BaitCount{}), b.InPen)
	none, _ := judge(o).Bait.Get()
	require.False(t, none.InPen.Known())
	require.Contains(t, keysOf(none.Notes), "bait.pen_unknown")
}

// New moon 2027-02-06, full moon 2027-02-20 (from memory; the sky room checks
// its moon against published tables).
func TestBaitNightsAreDarkAndQuiet(t *testing.T) {
	o := expertOutlook(t, 2)
	o.Date = models.Date{Year: 2027, Month: 2, Day: 3}
	night := func(day int, wind float64) models.DayOutlook {
		return models.DayOutlook{Date: models.Date{Year: 2027, Month: 2, Day: day}, Wind: models.Known(units.Speed(wind) * kn)}
	}
	b, ok := scoring.Judge(o, models.DefaultLimits(), scoring.With{Days: []models.DayOutlook{
		night(4, 8), night(5, 9), night(6, 16), night(7, 18), night(8, 17),
	}}).Bait.Get()
	require.True(t, ok)
	require.Equal(t, []models.Date{{Year: 2027, Month: 2, Day: 4}, {Year: 2027, Month: 2, Day: 5}}, b.Nights)
	require.Equal(t, models.Known(models.Date{Year: 2027, Month: 2, Day: 5}), b.LastGood)
	b, _ = scoring.Judge(o, models.DefaultLimits(), scoring.With{Days: []models.DayOutlook{night(19, 5), night(20, 5)}}).Bait.Get()
	require.Empty(t, b.Nights, "a full moon")
}

func TestLoadListPicksFromTheCaptainsGear(t *testing.T) {
	o := fairDay(t)
	o.Kites = []models.Kite{
		{Name: "big red", Min: models.Known(6 * kn), Max: models.Known(28 * kn)},
		{Name: "storm", Min: models.Known(20 * kn), Max: models.Known(40 * kn)},
	}
	c := scoring.Judge(o, models.DefaultLimits(), scoring.With{Gear: []models.Gear{
		{Kind: models.GearKite, Name: "big red", Count: 3, Stow: "forward locker"},
		{Kind: models.GearKite, Name: "storm", Count: 2, Stow: "garage"},
		{Kind: models.GearKiteRod, Name: "electric kite rod", Count: 2, Stow: "rod rack"},
		{Kind: models.GearRod, Name: "long rod", Count: 2, Stow: "rod rack", Position: "long"},
		{Kind: models.GearSafety, Name: "ditch bag", Count: 1, Stow: "console"},
	}})
	byName := map[string]models.LoadItem{}
	for _, i := range c.Load {
		require.NotEmpty(t, i.What)
		require.Positive(t, i.Count)
		byName[i.What] = i
	}
	require.Equal(t, models.LoadItem{What: "kite: big red", Count: 3, Stow: "forward locker"}, byName["kite: big red"], "two up and a spare")
	require.NotContains(t, byName, "kite: storm")
	require.Equal(t, "rod rack", byName["electric kite rod"].Stow)
	require.Equal(t, 2, byName["electric kite rod"].Count)
	require.Equal(t, "rod rack", byName["long rod"].Stow)
	require.Contains(t, byName, "ditch bag")
	require.Equal(t, 8, byName["release clip"].Count, "six that fly and two to spare")
	require.Empty(t, judge(expertOutlook(t, 5)).Load, "nothing goes aboard for a day in")
}

func TestLoadListTakesWhatThereIsAndSaysWhatIsShort(t *testing.T) {
	o := fairDay(t)
	o.Kites = []models.Kite{{Name: "big red", Min: models.Known(8 * kn), Max: models.Known(25 * kn)}}
	load := func(gear ...models.Gear) map[string]models.LoadItem {
		byName := map[string]models.LoadItem{}
		for _, i := range scoring.Judge(o, models.DefaultLimits(), scoring.With{Gear: gear}).Load {
			byName[strings.TrimSpace(i.What+" "+i.Position)] = i
		}
		return byName
	}
	items := load(
		models.Gear{Kind: models.GearKite, Name: "big red", Count: 2, Stow: "forward locker"},
		models.Gear{Kind: models.GearClip, Name: "clip", Count: 4},
		models.Gear{Kind: models.GearRod, Name: "rod", Count: 1},
	)
	require.Equal(t, models.LoadItem{What: "kite: big red", Count: 2, Short: 1, Stow: "forward locker"}, items["kite: big red"], "two up, none to spare")
	require.Equal(t, models.LoadItem{What: "clip", Count: 4, Short: 4}, items["clip"], "six that fly and two to spare")
	rods, short := 0, 0
	for _, i := range items {
		if i.What == "rod" || strings.HasPrefix(i.What, "rod, ") {
			rods, short = rods+i.Count, short+i.Short
		}
	}
	require.Equal(t, 1, rods, "one rod goes to one place")
	require.Positive(t, short)
	require.Zero(t, load()["kite: big red"].Short, "without a list nothing is known to be short")
}

func TestFirstSet(t *testing.T) {
	o := fairDay(t) // wind ENE 12, current N 1.2
	c := judge(o)
	d, ok := c.Drift.Get()
	require.True(t, ok)
	require.Equal(t, 160*ft, d.StartDepth, "the edge as reported")
	require.Greater(t, d.Speed, 1*kn)
	require.InDelta(t, 0, float64(units.Apart(d.Toward, 340)), 20, "north, a little to the west")
	require.InDelta(t, 12*0.06, d.Slip.Knots(), 0.05, "USCG-CG-D-08-99: 5.55 % down and 2.27 % across")
	require.NotEmpty(t, d.Track)
	o.Reports.EdgeDepth = models.Opt[units.Length]{}
	o.Ground.Shallow, o.Ground.Deep, o.Ground.Slope = models.Known(100*ft), models.Known(250*ft), models.Known(0.05)
	d, _ = judge(o).Drift.Get()
	require.Equal(t, 250*ft, d.StartDepth, "onshore: deep, and drift in")
	across, ok := d.AcrossBand.Get()
	require.True(t, ok)
	reset, _ := d.ResetEvery.Get()
	require.LessOrEqual(t, reset, max(across, 2*time.Hour))
	require.False(t, judge(expertOutlook(t, 5)).Drift.Known())
}

// A trip may lack the one sort of bait and not the other; what it does not use
// is not missed.
func TestShortOfWhatIsWanted(t *testing.T) {
	o := fairDay(t)
	ask := func(stock ...models.BaitStock) models.BaitPlan {
		pen := models.Pen{Counted: o.Date.Start(o.Port.Zone), Stock: stock}
		b, ok := scoring.Judge(o, models.DefaultLimits(), scoring.With{Pen: models.Known(pen)}).Bait.Get()
		require.True(t, ok)
		return b
	}
	b := ask(models.BaitStock{Kind: "goggle-eye", Count: 194})
	require.Equal(t, models.Known(models.BaitCount{Delicate: 24}), b.Short, "194 hardy and no delicate against 60 and 24")
	b = ask(models.BaitStock{Kind: "gogs", Count: 60}, models.BaitStock{Kind: "whitebait", Count: 24})
	require.Equal(t, models.Known(models.BaitCount{}), b.Short)
	o.Trip.Kind = models.Tournament // 120 hardy, and no other is used
	b = ask(models.BaitStock{Kind: "goggle-eye", Count: 120})
	require.Equal(t, models.Known(models.BaitCount{}), b.Short)
	b = ask(models.BaitStock{Kind: "goggle-eye", Count: 20}, models.BaitStock{Kind: "pilchard", Count: 500})
	require.Equal(t, models.Known(models.BaitCount{Hardy: 100}), b.Short)
}
