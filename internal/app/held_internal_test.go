package app

import (
	"encoding/json"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
)

const heldText = `
ports:
  - name: Port Amparo
    at: 27.2000 N, 79.9000 W
    zone: America/New_York
    shore_normal: 90 deg
    grounds:
      - {name: the Shelf edge, at: "27.2 N, 79.83 W", depth: 150 ft, run: 20 min}
    zones: [{id: AMZ997, for: trip}]
boat: {name: Second Light, kind: center console, length: 39 ft, tower: 20 ft, crew: 3}
kites:
  - {name: light, min: 6 kn, max: 15 kn}
  - {name: all-round, min: 9 kn, max: 22 kn}
people:
  - {name: the captain, role: captain, address: captain@example.com, what: [evening call]}
sources:
  contact: captain@example.com
`

func heldEvening() time.Time { return time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC) }

// heldApp is an App at an instant with what was gathered for it: ten days of a
// made-up series.
func heldApp(t *testing.T, now *time.Time) (*App, gathered) {
	t.Helper()
	cfg, err := config.Load("forecastd.yaml", []byte(heldText))
	require.NoError(t, err)
	a, err := New(Options{Config: cfg, Now: func() time.Time { return *now }})
	require.NoError(t, err)
	port, ground, err := a.place("", "")
	require.NoError(t, err)
	g := gathered{port: port, ground: ground, mem: a.remember(t.Context(), port, ground)}
	run := heldEvening().Add(-4 * time.Hour)
	s := models.Series{Source: "gfs-wave", Ground: ground.Name, Run: run, Fetched: heldEvening()}
	for n := range 264 {
		s.Hours = append(s.Hours, models.Hour{
			At: run.Add(time.Duration(n) * time.Hour), Wind: models.Known(units.Speed(8+n%11) * units.Knot), WindFrom: models.Known(units.From(90)),
			Gust: models.Known(units.Speed(11+n%11) * units.Knot), Sea: models.Known(3 * units.Foot), Period: models.Known(6.0),
		})
	}
	g.data.Series = []models.Series{s}
	g.data.Warnings = models.Known([]models.Warning{})
	return a, g
}

// callOf is the call of the day after tomorrow.
func callOf(t *testing.T, a *App, g gathered) models.Call {
	t.Helper()
	trip := a.cfg.Charters.Usual
	date := models.DateOf(a.now(), g.port.Zone).AddDays(2)
	r := ready{
		dayTrip: dayTrip{port: g.port, ground: g.ground, trip: trip, slot: slot{port: g.port.Name, ground: g.ground.Name, date: date}},
		g:       g, days: a.shortDays(g, 1), outlook: a.outlook(g, date, trip),
	}
	c, err := a.called(r, 0, scoring.With{Days: r.days, Unbooked: true, Told: r.told})
	require.NoError(t, err)
	return c
}

// A look with nothing new answers what judging it anew would, and does not
// judge.
func TestALookWithNothingNewIsHeld(t *testing.T) {
	now := heldEvening()
	a, g := heldApp(t, &now)
	first := callOf(t, a, g)
	now = now.Add(17 * time.Minute)
	g.data.Series[0].Fetched = now
	g.data.From = []models.Provenance{{Source: "gfs-wave", Fetched: now}}
	g.data.Observations = []models.Observation{{Station: "XAMP1", At: now.Add(-time.Minute), Wind: models.Known(9 * units.Knot)}}
	again := callOf(t, a, g)
	require.Same(t, &first.Hours[0], &again.Hours[0], "judged again")

	fresh, _ := heldApp(t, &now)
	require.Equal(t, callOf(t, fresh, g), again)
	require.Equal(t, now, again.Made)

	// Two days from now a day comes into the reach of warnings.
	now = now.Add(3 * time.Hour)
	require.Equal(t, heldDays(t, &now, g), a.shortDays(g, 1))
	// And tomorrow's morning another is told in clock times.
	now = heldEvening().Add(-10 * time.Hour)
	before := a.shortDays(g, 1)
	require.Equal(t, heldDays(t, &now, g), before)
	now = heldEvening()
	require.Equal(t, heldDays(t, &now, g), a.shortDays(g, 1))
}

func heldDays(t *testing.T, now *time.Time, g gathered) []models.DayOutlook {
	t.Helper()
	fresh, _ := heldApp(t, now)
	return fresh.shortDays(g, 1)
}

// Whatever else changes is judged.
func TestWhatIsNewIsJudged(t *testing.T) {
	for name, change := range map[string]func(a *App, g *gathered){
		"a later run":    func(_ *App, g *gathered) { g.data.Series[0].Run = g.data.Series[0].Run.Add(6 * time.Hour) },
		"one value":      func(_ *App, g *gathered) { g.data.Series[0].Hours[40].Sea = models.Known(5 * units.Foot) },
		"one is unknown": func(_ *App, g *gathered) { g.data.Series[0].Hours[40].Gust = models.Unknown[units.Speed]() },
		"an hour less":   func(_ *App, g *gathered) { g.data.Series[0].Hours = g.data.Series[0].Hours[:200] },
		"a second series": func(_ *App, g *gathered) {
			g.data.Series = append(g.data.Series, g.data.Series[0])
			g.data.Series[1].Source = "gfs"
		},
		"warnings unknown": func(_ *App, g *gathered) { g.data.Warnings = models.Unknown[[]models.Warning]() },
		"a warning": func(_ *App, g *gathered) {
			g.data.Warnings = models.Known([]models.Warning{{Event: "Gale Warning", Phenomenon: "GL", Significance: "W", Onset: heldEvening()}})
		},
		"a gap": func(_ *App, g *gathered) { g.data.Lacks = []models.Gap{{What: "ndbc", Why: "down"}} },
		"a text": func(_ *App, g *gathered) {
			g.data.Texts = []models.OfficialText{{Zone: "AMZ997", Body: "Winds 10 knots."}}
		},
		"the inlet's stream": func(_ *App, g *gathered) {
			g.data.Inlet = []models.Hour{{At: heldEvening().Add(40 * time.Hour), InletCurrent: models.Known(-2 * units.Knot)}}
		},
		"a tide": func(_ *App, g *gathered) {
			g.data.Tides = []models.TideEvent{{Kind: models.HighWater, At: heldEvening().Add(40 * time.Hour)}}
		},
		"warm water measured": func(_ *App, g *gathered) {
			g.data.Observations = []models.Observation{{Station: "XAMP1", At: heldEvening().Add(-time.Hour), Water: models.Known(units.Celsius(25))}}
		},
		"a report": func(_ *App, g *gathered) {
			g.mem.reports = func(models.Date) models.Reports { return models.Reports{EdgeInReach: models.Known(true)} }
		},
		"an override": func(_ *App, g *gathered) {
			g.mem.overrides = func(models.Date, models.Trip) []models.Override {
				return []models.Override{{What: "inlet", Why: "seen from the pier"}}
			}
		},
		"something learned": func(_ *App, g *gathered) {
			g.mem.learned.Lessons = []Lesson{{Source: "gfs-wave", Day: 2, Wind: Measure{Days: 400, Spread: 1, Bias: 0.5}}}
		},
		"a limit":     func(a *App, _ *gathered) { a.cfg.Limits.InletSector += 10 },
		"the boat":    func(a *App, _ *gathered) { a.cfg.Boat.Length += units.Foot },
		"a kite":      func(a *App, _ *gathered) { a.cfg.Kites = a.cfg.Kites[:1] },
		"the trip":    func(a *App, _ *gathered) { a.cfg.Charters.Usual.Start.Hour++ },
		"the depth":   func(_ *App, g *gathered) { g.ground.Depth += units.Foot },
		"the run out": func(_ *App, g *gathered) { g.ground.Run += 10 * time.Minute },
		"a bait count": func(_ *App, g *gathered) {
			g.mem.pen = models.Known(models.Pen{Counted: heldEvening()})
		},
	} {
		t.Run(name, func(t *testing.T) {
			now := heldEvening()
			a, g := heldApp(t, &now)
			days, _ := a.digestDays(g, models.DateOf(now, g.port.Zone), 1)
			first := heldCallDigest(t, a, g)
			change(a, &g)
			changed, sure := a.digestDays(g, models.DateOf(now, g.port.Zone), 1)
			require.True(t, sure)
			require.NotEqual(t, first, heldCallDigest(t, a, g))
			if name != "a bait count" { // it is of a call alone
				require.NotEqual(t, days, changed)
			}
		})
	}
}

func heldCallDigest(t *testing.T, a *App, g gathered) digest {
	t.Helper()
	date := models.DateOf(a.now(), g.port.Zone).AddDays(2)
	r := ready{dayTrip: dayTrip{port: g.port, ground: g.ground, trip: a.cfg.Charters.Usual, slot: slot{date: date}}, g: g}
	d, sure := a.digestCall(r, scoring.With{Pen: g.mem.pen})
	require.True(t, sure)
	return d
}

// Every value of an hour counts, also those that come to be added.
func TestEachValueOfAnHourIsNews(t *testing.T) {
	base, sure := digestOf(models.Hour{})
	require.True(t, sure)
	for i := range reflect.TypeFor[models.Hour]().NumField() {
		var h models.Hour
		f := reflect.ValueOf(&h).Elem().Field(i)
		for _, v := range []string{"0", "false", `"2027-01-20T12:00:00Z"`} {
			if json.Unmarshal([]byte(v), f.Addr().Interface()) == nil {
				break
			}
		}
		d, _ := digestOf(h)
		require.NotEqual(t, base, d, "%s known, be it 0, is not unknown", reflect.TypeFor[models.Hour]().Field(i).Name)
	}
}

// What can't be compared is never held.
func TestAFunctionIsNeverTheSame(t *testing.T) {
	_, sure := digestOf(outlook.Input{Errors: func(string, time.Duration) outlook.ErrorSize { return outlook.ErrorSize{} }})
	require.False(t, sure)
}

// The days that are past are not kept, nor more answers than a bound.
func TestHeldAnswersAreBounded(t *testing.T) {
	h := newHeld[int](100)
	place, today := [2]string{"Port Amparo", "the Shelf edge"}, models.Date{Year: 2027, Month: time.January, Day: 19}
	h.put(place, asked{date: today}, digest{1}, 7, today)
	got, ok := h.get(place, asked{date: today}, digest{1})
	require.True(t, ok)
	require.Equal(t, 7, got)
	h.put(place, asked{date: today.AddDays(1)}, digest{1}, 8, today.AddDays(1))
	_, ok = h.get(place, asked{date: today}, digest{1})
	require.False(t, ok)
	for n := range 5 * mostHeld {
		h.put(place, asked{date: today.AddDays(n + 2)}, digest{1}, n, today)
	}
	require.LessOrEqual(t, len(h.places[place]), mostHeld)
	for n := range 500 {
		h.put([2]string{"Port " + string(rune('A'+n))}, asked{date: today}, digest{2}, n, today)
		kept := 0
		for _, answers := range h.places {
			kept += len(answers)
		}
		require.Equal(t, kept, h.count)
		require.LessOrEqual(t, kept, 100, "of all places together")
	}
}
