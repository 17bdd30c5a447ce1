package scoring_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
)

// fairDay is an expert day that goes as booked, 07:30 to 14:00.
func fairDay(t testing.TB) models.Outlook { return expertOutlook(t, 2) }

func judge(o models.Outlook) models.Call {
	return scoring.Judge(o, models.DefaultLimits(), scoring.With{})
}

func clockOf(c models.Call, v models.Opt[time.Time]) string {
	at, ok := v.Get()
	if !ok {
		return ""
	}
	return at.In(c.Port.Zone).Format("15:04")
}

func onset(o models.Outlook, clock string) time.Time {
	c, _ := models.ParseClock(clock)
	return c.On(o.Date, o.Port.Zone)
}

// The product table of design.md 6. Codes: NWS Directive 10-1703 (from
// memory). back is when the boat is inside, for a product that starts at
// 13:00 and a trip booked 07:30 to 14:00; empty where nobody leaves.
func TestOfficialProducts(t *testing.T) {
	for _, x := range []struct {
		name, event, vtec string
		back              string
	}{
		{"advisory by code", "", "/O.NEW.KMFL.SC.Y.0012.270211T1800Z-270212T1100Z/", "11:30"},
		{"advisory by name", "Small Craft Advisory", "", "11:30"},
		{"hazardous seas", "Small Craft Advisory For Hazardous Seas", "/O.NEW.KMFL.SW.Y.0012.270211T1800Z-270212T1100Z/", "11:30"},
		{"gale warning", "Gale Warning", "/O.NEW.KMFL.GL.W.0003.270211T1800Z-270212T1100Z/", ""},
		{"gale watch", "Gale Watch", "/O.NEW.KMFL.GL.A.0003.270211T1800Z-270212T1100Z/", "11:30"},
		{"hazardous seas watch", "Hazardous Seas Watch", "", "11:30"},
		{"tropical storm watch", "Tropical Storm Watch", "", ""},
		{"special marine warning", "Special Marine Warning", "", "11:30"},
		{"anything else", "Marine Ashfall Advisory", "/O.NEW.KMFL.MH.Y.0003.270211T1800Z-270212T1100Z/", "11:30"},
		{"unheard of", "Kraken Advisory", "", "11:30"},
		{"caution headline", "Small Craft Should Exercise Caution", "", "14:00"},
		{"rip currents", "Rip Current Statement", "/O.NEW.KMFL.RP.S.0003.270211T1800Z-270212T1100Z/", "14:00"},
		{"high surf", "High Surf Advisory", "", "14:00"},
		{"coastal flood", "Coastal Flood Advisory", "", "14:00"},
		{"heat", "Heat Advisory", "", "14:00"},
		{"cancelled", "Small Craft Advisory", "/O.CAN.KMFL.SC.Y.0012.000000T0000Z-270212T1100Z/", "14:00"},
		{"storm surge is no storm", "Storm Surge Warning", "", "14:00"},
	} {
		t.Run(x.name, func(t *testing.T) {
			o := fairDay(t)
			o.Warnings = models.Known([]models.Warning{{Event: x.event, VTEC: x.vtec, Onset: onset(o, "13:00")}})
			c := judge(o)
			require.Equal(t, x.back, clockOf(c, c.Back))
			require.True(t, c.Warnings.Known(), "shown whatever it does")
		})
	}
}

func TestProductsInForceAtLeaving(t *testing.T) {
	for event, goes := range map[string]bool{
		"Small Craft Advisory": false, "Gale Watch": false, "Storm Warning": false, "Hurricane Watch": false, "Dense Fog Advisory": false,
		"High Surf Warning": true, "Air Quality Alert": true,
	} {
		o := fairDay(t)
		o.Warnings = models.Known([]models.Warning{{Event: event, Onset: onset(o, "00:00")}})
		c := judge(o)
		require.Equal(t, goes, c.Tactic != models.TacticStayIn, event)
		if !goes {
			require.False(t, c.Leave.Known() || c.Back.Known())
			ch, ok := c.Charter.Get()
			require.True(t, ok)
			require.Contains(t, ch.Actions, models.CharterMove)
		}
	}
}

func TestOverridesNeedAReasonAndAreShown(t *testing.T) {
	o := fairDay(t)
	o.Warnings = models.Known([]models.Warning{{Event: "Small Craft Advisory", Onset: onset(o, "00:00")}})
	o.Overrides = []models.Override{{What: "small craft advisory", Why: "flat in the lee all morning"}}
	c := judge(o)
	require.NotEqual(t, models.TacticStayIn, c.Tactic)
	require.Equal(t, o.Overrides, c.Overrides)
	require.Contains(t, keysOf(c.Cautions), "caution.overridden")

	o.Overrides[0].Why = " "
	require.Equal(t, models.TacticStayIn, judge(o).Tactic)

	o.Overrides[0] = models.Override{What: "unknown override", Why: "because"}
	c = judge(o)
	require.Equal(t, models.TacticStayIn, c.Tactic)
	require.Contains(t, keysOf(c.Cautions), "caution.override_not_understood")

	o.Overrides[0] = models.Override{What: "small craft advisory", Why: "flat"}
	o.Warnings = models.Known([]models.Warning{{Event: "Hazardous Seas Warning", Onset: onset(o, "00:00")}})
	require.Equal(t, models.TacticStayIn, judge(o).Tactic, "another product stands")
	o.Overrides[0].What = "hazardous seas warning"
	require.NotEqual(t, models.TacticStayIn, judge(o).Tactic)

	o.Overrides[0] = models.Override{What: "gale warning", Why: "because"}
	o.Warnings = models.Known([]models.Warning{{Event: "Gale Warning", Onset: onset(o, "00:00")}})
	require.Equal(t, models.TacticStayIn, judge(o).Tactic, "nobody goes under a gale warning")
}

func keysOf(ps []models.Phrase) []string {
	var out []string
	for _, p := range ps {
		out = append(out, p.Key)
	}
	return out
}

func TestOwnLimitsCountWithTheFeedUpOrDown(t *testing.T) {
	for _, warnings := range []models.Opt[[]models.Warning]{models.Known([]models.Warning{}), {}} {
		o := with(fairDay(t), func(h *models.Hour) { h.Wind, h.Gust = models.Known(20*kn), models.Known(24*kn) })
		o.Warnings = warnings
		c := judge(o)
		require.Equal(t, models.TacticStayIn, c.Tactic)
		require.Equal(t, "closed.own_wind", c.Hours[3].Closed.Key)
		require.Equal(t, warnings.Known(), c.Warnings.Known())
	}
}

// Of 31 members two or six past a never limit in the same hours are under one
// in five, seven are not; past it in an hour each, six leave four in five clear,
// ten do not (design.md 6: at most one in five past one while out).
func TestNeverLimitsOfThirtyOneMembers(t *testing.T) {
	o := fairDay(t)
	past := func(n int, hour func(i int) string) models.Call {
		o := o
		for i := range 31 {
			m := o.Middle
			if i < n {
				m = with(o, func(h *models.Hour) {
					if h.At.Equal(onset(o, hour(i))) {
						h.Wind, h.Gust = models.Known(25*kn), models.Known(30*kn)
					}
				}).Middle
			}
			o.Members = append(o.Members, m)
		}
		return judge(o)
	}
	same := func(int) string { return "12:00" }
	each := func(i int) string { return []string{"08:00", "09:00", "10:00", "11:00", "12:00"}[i%5] }
	for _, x := range []struct {
		past   int
		hour   func(int) string
		closed bool
		goes   string // back inside
	}{
		{2, same, false, "14:00"}, {6, same, false, "14:00"}, {7, same, true, "11:00"},
		{6, each, false, "14:00"},
	} {
		c := past(x.past, x.hour)
		require.Equal(t, x.closed, hourAt(t, c, 12).Closed.Key != "", "%d past", x.past)
		require.Equal(t, x.goes, clockOf(c, c.Back), "%d past", x.past)
	}
	c := past(10, each)
	require.NotContains(t, c.Timing, models.AsBooked)
	leave, ok := c.Leave.Get()
	require.True(t, ok)
	back, _ := c.Back.Get()
	clear := 31
	for i := range 10 {
		if at := onset(o, each(i)); at.Before(back) && at.Add(time.Hour).After(leave) {
			clear--
		}
	}
	require.GreaterOrEqual(t, float64(clear)/31, 0.8, "moved to where enough of them are clear")
}

// Going is sure only where errors were learned (design.md 5).
func TestSureOfGoingTakesHistory(t *testing.T) {
	o := fairDay(t)
	for range 31 {
		o.Members = append(o.Members, o.Middle)
	}
	c := judge(o)
	require.Equal(t, models.Likely, c.Confidence)
	require.Contains(t, keysOf(c.Missing), "missing.history")
	o.HistoryDays = 30
	c = judge(o)
	require.NotContains(t, keysOf(c.Missing), "missing.history")
	require.Equal(t, models.Sure, c.Confidence)
}

func TestNeverLimitsCountMembers(t *testing.T) {
	o := fairDay(t)
	strong := with(o, func(h *models.Hour) {
		if !h.At.Before(onset(o, "12:00")) {
			h.Wind, h.Gust = models.Known(26*kn), models.Known(33*kn)
		}
	}).Middle
	count := func(past int) models.Call {
		o := o
		for i := range 10 {
			if i < past {
				o.Members = append(o.Members, strong)
			} else {
				o.Members = append(o.Members, o.Middle)
			}
		}
		return judge(o)
	}
	require.Equal(t, []models.Timing{models.AsBooked}, count(1).Timing, "one in ten")
	c := count(2)
	require.Equal(t, "11:00", clockOf(c, c.Back), "one in five closes the hour, an hour before it the boat is in")
	require.Equal(t, "closed.never_members", hourAt(t, c, 12).Closed.Key)
	require.Equal(t, 10, c.Members)

	// Past a limit in another hour each: no hour is closed, but the trip is
	// not clear in enough members.
	for i := range 10 {
		m := o.Middle
		if i < 4 {
			m = with(o, func(h *models.Hour) {
				if h.At.Equal(onset(o, "10:00").Add(time.Duration(i) * time.Hour)) {
					h.Gust = models.Known(34 * kn)
				}
			}).Middle
		}
		o.Members = append(o.Members, m)
	}
	c = judge(o)
	for _, h := range c.Hours {
		require.Empty(t, h.Closed.Key)
	}
	require.Contains(t, c.Timing, models.BackEarly)
	require.Equal(t, "12:00", clockOf(c, c.Back), "clear in 8 of 10 until the third")
}

func TestInlet(t *testing.T) {
	for _, x := range []struct {
		name   string
		sea    float64
		period float64
		stream models.Opt[units.Speed] // flood positive
		from   units.From
		key    string
	}{
		{"small", 3, 8, models.Known(-3 * kn), 90, ""},
		{"5 ft, ebb unknown", 5, 8, models.Opt[units.Speed]{}, 90, "closed.inlet_unknown_ebb"},
		{"5 ft at slack", 5, 9, models.Known(0 * kn), 90, ""},
		// trade.md 8.2: a 3 kn ebb over 20 ft turns 5 ft/8 s into about 7 ft.
		{"5 ft on a hard ebb", 5, 8, models.Known(-3 * kn), 90, "closed.inlet_sea"},
		{"4.5 ft on an easy ebb", 4.5, 10, models.Known(-1.5 * kn), 90, "closed.inlet_ebb"},
		{"not onshore", 5.5, 8, models.Known(-3 * kn), 160, ""},
		{"onshore within 60 degrees", 5, 8, models.Opt[units.Speed]{}, 149, "closed.inlet_unknown_ebb"},
		{"6.5 ft at any stream", 6.6, 12, models.Known(2 * kn), 90, "closed.inlet_sea"},
	} {
		t.Run(x.name, func(t *testing.T) {
			o := with(fairDay(t), func(h *models.Hour) {
				h.Sea, h.Period, h.SeaFrom = models.Known(units.Length(x.sea)*ft), models.Known(x.period), models.Known(x.from)
				h.InletCurrent = x.stream
			})
			o.Trip.Party = models.Experienced
			o.Boat.Kind, o.Boat.Length = models.Sportfish, 60*ft // rides anything here
			require.Equal(t, x.key, judge(o).Hours[4].Closed.Key)
		})
	}
}

func TestFog(t *testing.T) {
	fogUntil := func(clock string, vis float64) models.Call {
		o := fairDay(t) // 07:30 to 14:00
		return judge(with(o, func(h *models.Hour) {
			if h.At.Before(onset(o, clock)) {
				h.Visibility = models.Known(units.Length(vis) * units.NauticalMile)
			}
		}))
	}
	require.Equal(t, "07:30", clockOf(fogUntil("07:00", 0.3), fogUntil("07:00", 0.3).Leave))
	require.Contains(t, fogUntil("09:00", 0.3).Timing, models.StartLater)
	require.Contains(t, fogUntil("09:00", 0.9).Timing, models.StartLater)
	require.NotContains(t, fogUntil("09:00", 2.2).Timing, models.StartLater, "under 1 nmi in few of the courses")
	require.Equal(t, models.TacticStayIn, fogUntil("12:00", 0.9).Tactic, "it outlasts half the trip")
}

func TestFixedDateUnderAnAdvisory(t *testing.T) {
	o := expertOutlook(t, 17)
	c := judge(o)
	require.Equal(t, models.TacticKite, c.Tactic)
	require.True(t, c.CaptainDecides)
	require.Equal(t, "reason.captain_decides", c.Reasons[0].Key)
	require.Contains(t, keysOf(c.Cautions), "caution.charters_stay_in")
	require.False(t, c.Charter.Known())
	h := hourAt(t, c, 10)
	require.Equal(t, models.DoKite, h.Do)
	require.Equal(t, "closed.product", h.Closed.Key, "closed stays filled")
	require.Equal(t, models.DoDock, hourAt(t, c, 7).Do, "before lines in")

	o.Trip.ForHire = models.Known(true)
	require.Equal(t, models.TacticStayIn, judge(o).Tactic, "passengers for hire")
	o.Trip.ForHire = models.Opt[bool]{}
	require.Equal(t, models.TacticStayIn, judge(o).Tactic, "unknown counts as for hire")

	o.Trip.ForHire = models.Known(false)
	o.Warnings = models.Known([]models.Warning{{Event: "Gale Warning", Onset: onset(o, "00:00")}})
	require.Equal(t, models.TacticStayIn, judge(o).Tactic, "nobody")

	o.Trip.Kind = models.OwnTrip
	o.Warnings = models.Known([]models.Warning{{Event: "Small Craft Advisory", Onset: onset(o, "00:00")}})
	c = judge(o)
	require.Equal(t, models.TacticStayIn, c.Tactic, "own trips are judged as charters")
	require.True(t, c.CaptainDecides)
	require.False(t, c.Charter.Known())
}

// A feed that can't be read ends nothing: what stood when it was last read
// closes what it closed, and the rest is unknown. What stood under a feed that
// can be read does not count.
func TestWhatStoodBindsWhileTheFeedIsUnknown(t *testing.T) {
	o := fairDay(t)
	product := models.Warning{Event: "Small Craft Advisory", Onset: onset(o, "13:00")}
	o.Warnings = models.Known([]models.Warning{product})
	listed := judge(o)
	o.Warnings, o.Stood = models.Unknown[[]models.Warning](), []models.Warning{product}
	stood := judge(o)
	require.Equal(t, clockOf(listed, listed.Back), clockOf(stood, stood.Back))
	require.False(t, stood.Warnings.Known())
	require.Len(t, stood.Stood, 1)
	o.Warnings = models.Known([]models.Warning{})
	over := judge(o)
	require.Equal(t, "14:00", clockOf(over, over.Back))
	require.Empty(t, over.Stood)
}
