package scoring_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
)

// The rules of trade.md 8.3, over random outlooks. They are ours; no outside
// source.

const (
	kn = units.Knot
	ft = units.Foot
)

func newYork(t interface{ Fatalf(string, ...any) }) *time.Location {
	z, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatalf("%v", err)
	}
	return z
}

func between(t *rapid.T, lo, hi float64, label string) float64 {
	return math.Round(rapid.Float64Range(lo, hi).Draw(t, label)*10) / 10
}

// maybe draws a value that is unknown one time in twenty.
func maybe(t *rapid.T, lo, hi float64, label string) models.Opt[float64] {
	if rapid.IntRange(0, 19).Draw(t, label+" known") == 0 {
		return models.Unknown[float64]()
	}
	return models.Known(between(t, lo, hi, label))
}

func speedOf(v models.Opt[float64]) models.Opt[units.Speed] {
	return models.MapOpt(v, func(x float64) units.Speed { return units.Speed(x) * kn })
}

func lengthOf(v models.Opt[float64]) models.Opt[units.Length] {
	return models.MapOpt(v, func(x float64) units.Length { return units.Length(x) * ft })
}

// anHour draws one hour; what it lacks is unknown.
func anHour(t *rapid.T) models.Hour {
	w := between(t, 0, 32, "wind")
	h := models.Hour{
		Wind: models.Known(units.Speed(w) * kn), WindFrom: models.Known(units.From(between(t, 0, 359, "from"))),
		Gust: speedOf(models.MapOpt(maybe(t, 0, 15, "gust spread"), func(s float64) float64 { return w + s })),
		Sea:  lengthOf(maybe(t, 0, 9, "sea")), Period: maybe(t, 3, 12, "period"),
		SeaIncludesCurrent: models.Known(rapid.Bool().Draw(t, "includes current")),
		InletCurrent:       speedOf(maybe(t, -3, 3, "inlet")),
		Current:            speedOf(maybe(t, 0, 3.5, "current")), CurrentToward: models.Known(units.Toward(between(t, 0, 359, "toward"))),
		Cloud: maybe(t, 0, 100, "cloud"), Rain: maybe(t, 0, 100, "rain"), Thunder: maybe(t, 0, 60, "thunder"),
		DirectionSpread: maybe(t, 0, 90, "spread"),
	}
	if rapid.IntRange(0, 9).Draw(t, "fog") == 0 {
		h.Visibility = models.Known(units.Length(between(t, 0.1, 2, "visibility")) * units.NauticalMile)
	} else {
		h.Visibility = models.Known(10 * units.NauticalMile)
	}
	return h
}

// anOutlook draws a day off a coast that looks east: four blocks of three
// hours and more, as the expert days have.
func anOutlook(t *rapid.T) models.Outlook {
	zone := newYork(t)
	date := models.Date{Year: 2027, Month: time.Month(rapid.IntRange(1, 12).Draw(t, "month")), Day: rapid.IntRange(1, 28).Draw(t, "day")}
	start := date.Start(zone)
	o := models.Outlook{
		Made: start.Add(-7 * time.Hour), Date: date,
		Port:   models.Port{Name: "Port A", At: models.Position{Lat: 25.8, Lon: -80.1}, Zone: zone, ShoreNormal: 90},
		Ground: models.Ground{Name: "the edge", At: models.Position{Lat: 25.8, Lon: -80.05}, Depth: 150 * ft, Run: time.Duration(rapid.IntRange(10, 60).Draw(t, "run")) * time.Minute},
		Boat: models.Boat{
			Kind: models.CenterConsole, Length: units.Length(rapid.IntRange(25, 45).Draw(t, "length")) * ft, Tower: 20 * ft,
			HeliumAboard: rapid.Bool().Draw(t, "helium"), Crew: rapid.IntRange(1, 4).Draw(t, "crew"),
		},
		Trip: models.Trip{
			Kind:  models.Charter,
			Party: rapid.SampledFrom([]models.Party{models.Experienced, models.Mixed, models.Family}).Draw(t, "party"),
			Start: models.Clock{Hour: rapid.IntRange(6, 9).Draw(t, "start")}, End: models.Clock{Hour: rapid.IntRange(12, 17).Draw(t, "end")},
			ForHire: models.Known(true),
		},
		Reports: models.Reports{
			EdgeInReach: models.Known(rapid.Bool().Draw(t, "edge")),
			Water:       models.Known(rapid.SampledFrom([]models.Water{models.WaterClear, models.WaterCleanGreen, models.WaterBlueEdge, models.WaterDirty}).Draw(t, "water")),
			Season:      models.Known(rapid.SampledFrom([]models.Season{models.SeasonPeak, models.SeasonSpringRun, models.SeasonGood, models.SeasonTailEnd, models.SeasonOff}).Draw(t, "season")),
		},
		Warnings: models.Known([]models.Warning{}),
	}
	if rapid.Bool().Draw(t, "showering") {
		o.Reports.BaitShowering = models.Known(true)
	}
	if s := rapid.SampledFrom([]models.Seen{"", models.SeenToday, models.SeenYesterday}).Draw(t, "seen"); s != "" {
		o.Reports.FishOnTop = models.Known(s)
	}
	for block := range 5 {
		h := anHour(t)
		for i := range 3 {
			h.At = start.Add(time.Duration(5+3*block+i) * time.Hour)
			o.Middle.Hours = append(o.Middle.Hours, h)
		}
	}
	if rapid.IntRange(0, 3).Draw(t, "warned") == 0 {
		o.Warnings = models.Known([]models.Warning{aWarning(t, start)})
	}
	return o
}

func aWarning(t *rapid.T, start time.Time) models.Warning {
	event := rapid.SampledFrom([]string{
		"Small Craft Advisory", "Gale Warning", "Gale Watch", "Special Marine Warning", "Dense Fog Advisory", "Rip Current Statement",
		"Hazardous Seas Watch", "Tropical Storm Watch", "Small Craft Should Exercise Caution", "Marine Weather Statement",
	}).Draw(t, "event")
	onset := start.Add(time.Duration(rapid.IntRange(0, 20*60).Draw(t, "onset")) * time.Minute)
	return models.Warning{Event: event, Onset: onset, Ends: models.Known(onset.Add(time.Duration(rapid.IntRange(1, 24).Draw(t, "lasts")) * time.Hour))}
}

func quick(o models.Outlook) models.Call {
	return scoring.Judge(o, models.DefaultLimits(), scoring.With{Quick: true})
}

// with returns the outlook with every hour changed.
func with(o models.Outlook, f func(h *models.Hour)) models.Outlook {
	hours := make([]models.Hour, len(o.Middle.Hours))
	for i, h := range o.Middle.Hours {
		f(&h)
		hours[i] = h
	}
	o.Middle = models.Member{Hours: hours}
	members := make([]models.Member, len(o.Members))
	for i, m := range o.Members {
		for _, h := range m.Hours {
			f(&h)
			members[i].Hours = append(members[i].Hours, h)
		}
	}
	o.Members = members
	return o
}

// pairs calls f with every hour of two calls.
func pairs(t require.TestingT, a, b models.Call, f func(a, b models.HourCall)) {
	require.Len(t, b.Hours, len(a.Hours))
	for i := range a.Hours {
		f(a.Hours[i], b.Hours[i])
	}
}

func rule(t *testing.T, name string, check func(t *rapid.T)) {
	t.Run(name, func(t *testing.T) {
		t.Parallel()
		rapid.Check(t, check)
	})
}

// labels judges for what does not hang on what else could happen: the labels,
// what is closed, and the plan of the middle member, which stands alone here.
func labels(o models.Outlook) models.Call {
	if len(o.Members) == 0 {
		o.Members = []models.Member{o.Middle}
	}
	return quick(o)
}

func TestRulesOfTheTrade(t *testing.T) {
	t.Parallel()
	rule(t, "1 larger gust spread never raises kite", func(t *rapid.T) {
		o := anOutlook(t)
		more := units.Speed(between(t, 0, 10, "more")) * kn
		o = with(o, func(h *models.Hour) { h.Gust = models.Known(h.Gust.Or(h.Wind.Or(0) + 3*kn)) })
		b := with(o, func(h *models.Hour) { h.Gust = models.Known(h.Gust.Or(0) + more) })
		pairs(t, labels(o), labels(b), func(a, b models.HourCall) { require.LessOrEqual(t, b.Kite, a.Kite) })
	})
	for _, fixed := range []bool{true, false} {
		what := map[bool]string{true: ", gust held", false: ", gust spread held"}[fixed]
		windTo := func(h *models.Hour, w, gust, spread units.Speed) {
			h.Wind, h.Gust = models.Known(w), models.Known(w+spread)
			if fixed {
				h.Gust = models.Known(max(gust, w))
			}
		}
		rising := func(t *rapid.T, lo, hi float64, check func(a, b models.HourCall)) {
			o := anOutlook(t)
			w1, w2 := between(t, lo, hi, "w1"), between(t, lo, hi, "w2")
			low, high := units.Speed(min(w1, w2))*kn, units.Speed(max(w1, w2))*kn
			gust, spread := units.Speed(between(t, lo, hi+12, "gust at"))*kn, units.Speed(between(t, 0, 14, "over"))*kn
			a := with(o, func(h *models.Hour) { windTo(h, low, gust, spread) })
			b := with(o, func(h *models.Hour) { windTo(h, high, gust, spread) })
			pairs(t, labels(a), labels(b), check)
		}
		rule(t, "2 wind 3 to 12 never lowers kite"+what, func(t *rapid.T) {
			rising(t, 3, 12, func(a, b models.HourCall) { require.GreaterOrEqual(t, b.Kite, a.Kite) })
		})
		rule(t, "3 wind 20 to 35 never raises kite"+what, func(t *rapid.T) {
			rising(t, 20, 35, func(a, b models.HourCall) { require.LessOrEqual(t, b.Kite, a.Kite) })
		})
	}
	rule(t, "4 more cloud never raises sight and leaves kite", func(t *rapid.T) {
		o := with(anOutlook(t), func(h *models.Hour) { h.Cloud = models.Known(h.Cloud.Or(20)) })
		more := between(t, 0, 60, "more")
		b := with(o, func(h *models.Hour) { h.Cloud = models.Known(min(h.Cloud.Or(0)+more, 100)) })
		pairs(t, labels(o), labels(b), func(a, b models.HourCall) {
			require.LessOrEqual(t, b.Sight, a.Sight)
			require.Equal(t, a.Kite, b.Kite)
		})
	})
	rule(t, "5 current turned to run with the wind never raises sight or steepness", func(t *rapid.T) {
		o := anOutlook(t)
		against := with(o, func(h *models.Hour) { h.CurrentToward = models.Known(units.Toward(h.WindFrom.Or(0))) })
		along := with(o, func(h *models.Hour) { h.CurrentToward = models.Known(h.WindFrom.Or(0).Toward()) })
		pairs(t, labels(against), labels(along), func(a, b models.HourCall) {
			require.LessOrEqual(t, b.Sight, a.Sight)
			require.LessOrEqual(t, b.Conditions.Steepness.Or(0), a.Conditions.Steepness.Or(0)+1e-9)
			require.LessOrEqual(t, b.Ride, a.Ride)
		})
	})
	rule(t, "6 thunder or a special marine warning ends both", func(t *rapid.T) {
		o := anOutlook(t)
		at := o.Middle.Hours[rapid.IntRange(0, len(o.Middle.Hours)-1).Draw(t, "at")].At
		if rapid.Bool().Draw(t, "by warning") {
			o.Warnings = models.Known([]models.Warning{{Event: "Special Marine Warning", Onset: at.Add(10 * time.Minute), Ends: models.Known(at.Add(50 * time.Minute))}})
		} else {
			o = with(o, func(h *models.Hour) {
				if h.At.Equal(at) {
					h.Thunder = models.Known(between(t, 40, 100, "thunder at"))
				}
			})
		}
		for _, h := range labels(o).Hours {
			if h.At.Equal(at) {
				require.Equal(t, models.GradeNo, h.Kite)
				require.Equal(t, models.GradeNo, h.Sight)
				require.Contains(t, []models.Do{models.DoNoGo, models.DoDock, models.DoInside}, h.Do)
				require.NotEmpty(t, h.Closed.Key)
			}
		}
	})
	rule(t, "7 an alert never improves a label", func(t *rapid.T) {
		o := anOutlook(t)
		b := o
		list, _ := o.Warnings.Get()
		b.Warnings = models.Known(append(append([]models.Warning(nil), list...), aWarning(t, o.Date.Start(o.Port.Zone))))
		pairs(t, labels(o), labels(b), func(a, b models.HourCall) {
			require.LessOrEqual(t, b.Kite, a.Kite)
			require.LessOrEqual(t, b.Sight, a.Sight)
			require.GreaterOrEqual(t, b.Ride, a.Ride)
			require.False(t, a.Closed.Key != "" && b.Closed.Key == "")
		})
	})
	rule(t, "8 shorter period never betters the ride", func(t *rapid.T) {
		o := anOutlook(t)
		p1, p2 := between(t, 2.5, 14, "p1"), between(t, 2.5, 14, "p2")
		a := with(o, func(h *models.Hour) { h.Period = models.Known(max(p1, p2)) })
		b := with(o, func(h *models.Hour) { h.Period = models.Known(min(p1, p2)) })
		pairs(t, labels(a), labels(b), func(a, b models.HourCall) { require.GreaterOrEqual(t, b.Ride, a.Ride) })
	})
	rule(t, "9 low sun makes sight fair at most", func(t *rapid.T) {
		o := anOutlook(t)
		for _, h := range labels(o).Hours {
			if h.Conditions.SunElevation < 20 && o.Reports.FishOnTop.Or("") != models.SeenToday {
				require.LessOrEqual(t, h.Sight, models.GradeFair)
			}
		}
	})
	rule(t, "10 out of season tailing is poor at most", func(t *rapid.T) {
		o := anOutlook(t)
		o.Reports.Season, o.Reports.BaitShowering = models.Known(models.SeasonOff), models.Known(false)
		for _, h := range labels(o).Hours {
			require.LessOrEqual(t, h.Sight, models.GradePoor)
		}
	})
	rule(t, "11 showering bait, clear water and sun need no wind and no current", func(t *rapid.T) {
		o := anOutlook(t)
		o.Reports.BaitShowering, o.Reports.Water = models.Known(true), models.Known(models.WaterClear)
		o.Warnings = models.Known([]models.Warning{})
		wind := units.Speed(between(t, 0, 10, "light")) * kn
		o = with(o, func(h *models.Hour) {
			h.Wind, h.Gust, h.Current, h.Cloud = models.Known(wind), models.Known(wind+2*kn), models.Known(units.Speed(0)), models.Known(10.0)
			h.Rain, h.Thunder, h.Sea, h.Visibility = models.Known(0.0), models.Known(0.0), models.Known(1*ft), models.Known(10*units.NauticalMile)
		})
		for _, h := range labels(o).Hours {
			if h.Conditions.SunElevation >= 35 {
				require.Equal(t, models.GradeGood, h.Sight)
			}
		}
	})
	rule(t, "12 a fixed date changes what is done, never the ride or the warnings", func(t *rapid.T) {
		a := anOutlook(t)
		b := a
		b.Trip.Kind, b.Trip.ForHire = models.Tournament, models.Known(rapid.Bool().Draw(t, "for hire"))
		ca, cb := labels(a), labels(b)
		require.Equal(t, ca.Warnings, cb.Warnings)
		pairs(t, ca, cb, func(a, b models.HourCall) {
			require.Equal(t, a.Ride, b.Ride)
			require.Equal(t, a.Closed, b.Closed)
			require.Equal(t, a.Kite, b.Kite)
		})
	})
	rule(t, "14 back before what closes, by the margin", func(t *rapid.T) {
		c := labels(anOutlook(t))
		back, ok := c.Back.Get()
		if !ok {
			return
		}
		leave, _ := c.Leave.Get()
		lim := models.DefaultLimits()
		list, _ := c.Warnings.Get()
		for _, h := range c.Hours {
			if h.Closed.Key == "" || !h.At.Add(time.Hour).After(leave) {
				continue
			}
			require.True(t, h.At.Add(time.Hour).After(leave))
			from, margin := h.At, lim.OwnMargin
			if h.Closed.Key == "closed.product" {
				margin = lim.OfficialMargin
				for _, w := range list {
					if h.Closed.Args[0] == models.Word(w.Event) && w.Onset.After(h.At) {
						from = w.Onset
					}
				}
			}
			require.False(t, back.After(from.Add(-margin)), "back %s, closed from %s by %v", back, from, h.Closed)
		}
	})
	rule(t, "15 turning coast, wind and water changes nothing but the sun", func(t *rapid.T) {
		o := anOutlook(t)
		by := between(t, 1, 359, "by")
		b := with(o, func(h *models.Hour) {
			h.WindFrom = models.Known(units.From(float64(h.WindFrom.Or(0)) + by))
			h.CurrentToward = models.Known(units.Toward(float64(h.CurrentToward.Or(0)) + by))
		})
		b.Port.ShoreNormal = units.Toward(float64(o.Port.ShoreNormal) + by)
		full := func(o models.Outlook) models.Call { return scoring.Judge(o, models.DefaultLimits(), scoring.With{}) }
		ca, cb := full(o), full(b)
		require.Equal(t, len(ca.Hours), len(cb.Hours))
		pairs(t, ca, cb, func(a, b models.HourCall) {
			require.Equal(t, a.Kite, b.Kite)
			require.Equal(t, a.Ride, b.Ride)
			require.Equal(t, a.Closed.Key, b.Closed.Key)
			for i, f := range a.Factors[scoring.LaneSight] {
				if f.Name != "glare" && f.Name != "sight" {
					require.InDelta(t, f.Value, b.Factors[scoring.LaneSight][i].Value, 1e-6, f.Name)
				}
			}
		})
	})
	rule(t, "16 a helium day without helium is no kite day", func(t *rapid.T) {
		o := anOutlook(t)
		o.Boat.HeliumAboard = false
		wind := units.Speed(between(t, 0, 4.9, "light")) * kn
		o = with(o, func(h *models.Hour) { h.Wind, h.Gust = models.Known(wind), models.Known(wind+2*kn) })
		for _, h := range labels(o).Hours {
			require.Equal(t, models.GradeNo, h.Kite)
		}
	})
	rule(t, "17 same data, same call", func(t *rapid.T) {
		o := anOutlook(t)
		w := scoring.With{}
		require.Equal(t, scoring.Judge(o, models.DefaultLimits(), w), scoring.Judge(o, models.DefaultLimits(), w))
	})
	rule(t, "18 two changes of tactic a day at most", func(t *rapid.T) {
		var last models.Do
		changes := 0
		for _, h := range labels(anOutlook(t)).Hours {
			switch h.Do {
			case models.DoDock, models.DoInside, models.DoNoGo:
				continue
			}
			if last != "" && h.Do != last {
				changes++
			}
			last = h.Do
		}
		require.LessOrEqual(t, changes, 2)
	})
}

// rank orders confidence from doubtful up.
func rank(c models.Confidence) int {
	return map[models.Confidence]int{models.Doubtful: 0, models.TossUp: 1, models.Likely: 2, models.Sure: 3}[c]
}

// complete puts a value wherever one is unknown.
func complete(o models.Outlook) models.Outlook {
	return with(o, func(h *models.Hour) {
		h.Gust = models.Known(h.Gust.Or(h.Wind.Or(0) + 4*kn))
		h.Sea, h.Period = models.Known(h.Sea.Or(2*ft)), models.Known(h.Period.Or(6))
		h.InletCurrent, h.Current = models.Known(h.InletCurrent.Or(0)), models.Known(h.Current.Or(1*kn))
		h.Cloud, h.Rain, h.Thunder = models.Known(h.Cloud.Or(30)), models.Known(h.Rain.Or(10)), models.Known(h.Thunder.Or(5))
		h.DirectionSpread = models.Known(h.DirectionSpread.Or(20))
	})
}

// TestUnknownIsNeverTakenAsGood is rule 13: a call without an input is never
// better than the call with a harmless value of it, is less sure, and says so.
func TestUnknownIsNeverTakenAsGood(t *testing.T) {
	t.Parallel()
	inputs := []struct {
		key              string
		harmless, forget func(h *models.Hour)
	}{
		{"missing.gusts", func(h *models.Hour) { h.Gust = models.Known(h.Wind.Or(0) + 2*kn) }, func(h *models.Hour) { h.Gust = models.Opt[units.Speed]{} }},
		{"missing.thunder", func(h *models.Hour) { h.Thunder = models.Known(0.0) }, func(h *models.Hour) { h.Thunder = models.Opt[float64]{} }},
		{"missing.rain", func(h *models.Hour) { h.Rain = models.Known(0.0) }, func(h *models.Hour) { h.Rain = models.Opt[float64]{} }},
		{"missing.cloud", func(h *models.Hour) { h.Cloud = models.Known(0.0) }, func(h *models.Hour) { h.Cloud = models.Opt[float64]{} }},
		{"missing.visibility", func(h *models.Hour) { h.Visibility = models.Known(10 * units.NauticalMile) }, func(h *models.Hour) { h.Visibility = models.Opt[units.Length]{} }},
		{"missing.direction", func(h *models.Hour) { h.DirectionSpread = models.Known(5.0) }, func(h *models.Hour) { h.DirectionSpread = models.Opt[float64]{} }},
		{"missing.seas", func(h *models.Hour) {
			h.Sea, h.Period, h.SeaIncludesCurrent = models.Known(1*ft), models.Known(9.0), models.Known(true)
		}, func(h *models.Hour) { h.Sea = models.Opt[units.Length]{} }},
		{"missing.period", func(h *models.Hour) { h.Sea, h.Period = models.Known(h.Sea.Or(2*ft)), models.Known(9.0) }, func(h *models.Hour) { h.Period = models.Opt[float64]{} }},
		{"missing.wind", func(h *models.Hour) { h.Wind, h.Gust = models.Known(14*kn), models.Known(17*kn) }, func(h *models.Hour) { h.Wind = models.Opt[units.Speed]{} }},
	}
	for _, x := range inputs {
		rule(t, x.key, func(t *rapid.T) {
			o := complete(anOutlook(t))
			o.Members = members(o, []float64{0, 0.3, -0.3, 0.7, -0.7, 1.2, -1.2}, 1)
			o = with(o, x.harmless) // in every member: known, it has no spread of its own
			for _, other := range inputs[:rapid.IntRange(0, len(inputs)).Draw(t, "others")] {
				if other.key != x.key && rapid.IntRange(0, 1).Draw(t, other.key) == 0 {
					o = with(o, other.forget)
				}
			}
			b := with(o, x.forget)
			ca, cb := quick(o), quick(b)
			require.Contains(t, keysWithin(cb.Missing), x.key)
			if cb.Tactic != models.TacticStayIn {
				require.NotEqual(t, models.TacticStayIn, ca.Tactic, "goes for want of knowing")
			}
			require.LessOrEqual(t, cb.Answers.Runs.Courses, ca.Answers.Runs.Courses)
			pairs(t, ca, cb, func(a, b models.HourCall) {
				require.LessOrEqual(t, b.Kite, a.Kite)
				require.LessOrEqual(t, b.Sight, a.Sight)
				if x.key == "missing.seas" || x.key == "missing.period" {
					require.GreaterOrEqual(t, b.Ride, a.Ride)
				}
			})
		})
	}
	rule(t, "warnings", func(t *rapid.T) {
		o := anOutlook(t)
		o.Warnings = models.Known([]models.Warning{})
		b := o
		b.Warnings = models.Opt[[]models.Warning]{}
		ca, cb := quick(o), scoring.Judge(b, models.DefaultLimits(), scoring.With{})
		require.Contains(t, keysWithin(cb.Missing[:1]), "missing.warnings")
		require.Equal(t, "caution.warnings_unknown", cb.Cautions[0].Key)
		require.False(t, cb.Warnings.Known())
		if cb.Tactic != models.TacticStayIn { // staying in is no better call
			require.NotEqual(t, models.TacticStayIn, ca.Tactic, "goes for want of knowing")
		}
		require.LessOrEqual(t, cb.Answers.Runs.Courses, ca.Answers.Runs.Courses)
	})
}

// members makes members around the middle one, each as far off as its error
// times scale.
func members(o models.Outlook, errors []float64, scale float64) []models.Member {
	var out []models.Member
	for _, e := range errors {
		m := with(o, func(h *models.Hour) {
			by := units.Speed(e*scale) * 3 * kn
			w := max(h.Wind.Or(0)+by, 0)
			h.Gust = models.MapOpt(h.Gust, func(g units.Speed) units.Speed { return max(g+by, w) })
			h.Wind = models.Known(w)
			h.Sea = models.MapOpt(h.Sea, func(s units.Length) units.Length { return s * units.Length(math.Exp(0.2*e*scale)) })
		})
		out = append(out, m.Middle)
	}
	return out
}

func errorsOf(t *rapid.T, n int) []float64 {
	return rapid.SliceOfN(rapid.Float64Range(-1.5, 1.5), n, n).Draw(t, "errors")
}

func TestTheNumberOfMembersDoesNotBias(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o := complete(anOutlook(t)) // what is unknown would be drawn by the course's number
		o.Members = members(o, errorsOf(t, rapid.IntRange(1, 12).Draw(t, "n")), 1)
		b := o
		for range rapid.IntRange(1, 3).Draw(t, "copies") {
			b.Members = append(append([]models.Member(nil), b.Members...), o.Members...)
		}
		ca, cb := quick(o), quick(b)
		require.InDelta(t, ca.Agreement, cb.Agreement, 1e-9)
		require.Equal(t, ca.Tactic, cb.Tactic)
		require.Equal(t, ca.Leave, cb.Leave)
		require.Equal(t, ca.Back, cb.Back)
	})
}

func TestNeverSureOfGoingWithoutHistory(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c := quick(anOutlook(t))
		if c.Tactic != models.TacticStayIn {
			require.NotEqual(t, models.Sure, c.Confidence)
		}
	})
}

func TestEveryHourOfTheDateIsTold(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o := anOutlook(t)
		c := quick(o)
		require.Len(t, c.Hours, len(o.Middle.Hours))
		for _, h := range c.Hours {
			if h.Closed.Key != "" {
				require.Equal(t, models.DoNoGo, h.Do)
			}
			if c.Tactic == models.TacticStayIn {
				require.Contains(t, []models.Do{models.DoDock, models.DoNoGo}, h.Do)
			}
		}
		if c.Tactic == models.TacticStayIn {
			require.False(t, c.Leave.Known() || c.Back.Known())
			require.Empty(t, c.Timing)
		}
		require.NotEmpty(t, c.Reasons)
		require.False(t, strings.Contains(string(c.Tactic), "%"))
	})
}
