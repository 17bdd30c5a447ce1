package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"time"

	"forecastd/internal/draw"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
)

// calibration is what `make calibrate` found: what was said on the days of an
// invented world, and how often it came.
type calibration struct {
	Days    int
	Answers []struct {
		Question, Errors string
		Words            map[models.Confidence]tally
		Tenths           []tally
	}
}

// tally is on how many days something was said, the mean share said, and how
// often it came.
type tally struct {
	Days       int
	Said, Came float64
}

func calibrated(root string) (calibration, error) {
	var c calibration
	b, err := os.ReadFile(filepath.Join(root, "internal", "scoring", "testdata", "calibration.json"))
	if err != nil {
		return c, fmt.Errorf("what make calibrate found: %w", err)
	}
	if err := json.Unmarshal(b, &c); err != nil {
		return c, fmt.Errorf("what make calibrate found: %w", err)
	}
	return c, nil
}

// judgement are the figures of docs/judgement.md.
func judgement(c calibration) map[string]draw.Plot {
	figures := map[string]draw.Plot{}
	for _, q := range []struct{ question, title, of string }{
		{"runs", "Will the trip run: said and come", "the trip ran"},
		{"hours", "Are these the hours: said and come", "the hours held"},
		{"tactic", "Is this the tactic: said and come", "the tactic was right"},
		{"stays", "Staying in: said and come", "staying in was right"},
	} {
		figures["judgement-"+q.question] = c.plot(q.question, q.title, q.of)
	}
	for _, s := range sweeps() {
		figures["judgement-"+s.name] = s.plot()
	}
	return figures
}

// fewDays is how many days a point needs to be drawn.
const fewDays = 20

func (c calibration) plot(question, title, came string) draw.Plot {
	p := draw.Plot{
		Title: title,
		Description: fmt.Sprintf("How often %s against the share of forecast scenarios that said so, over %d days of an invented world: with errors as the call assumes them "+
			"(circles), with errors that it assumes 1.5 times too large, and 1.5 times too small, beside the line of calls that can be taken at their word. Tenths of the share with fewer than %d days are left out.", came, c.Days, fewDays),
		X:     draw.Axis{Label: "share said", Min: 0, Max: 1, Every: 0.2},
		Y:     draw.Axis{Label: "came", Min: 0, Max: 1, Every: 0.2},
		Lines: []draw.Line{{Name: "at its word", Points: []draw.Point{{}, {X: 1, Y: 1}}}},
	}
	for _, a := range c.Answers {
		if a.Question != question {
			continue
		}
		l := draw.Line{Name: a.Errors}
		for _, t := range a.Tenths {
			if t.Days >= fewDays {
				l.Points = append(l.Points, draw.Point{X: t.Said, Y: t.Came})
			}
		}
		if a.Errors == "right" {
			for _, q := range l.Points {
				p.Marks = append(p.Marks, draw.Mark{Point: q})
			}
			continue
		}
		p.Lines = append(p.Lines, l)
	}
	return p
}

// sweep is one input of a charter day turned up from little to much, with
// everything else as it is.
type sweep struct {
	name, title, label, unit string
	from, to, every, tick    float64
	set                      func(h *models.Hour, x float64)
}

// called is what the call of one day of a sweep says.
type called struct {
	x     float64
	going bool
	// runs, hours and tactic are counts of courses of `of`.
	runs, hours, tactic, of int
	call                    string // its tactic and timing
}

func sweeps() []sweep {
	return []sweep{
		{"wind", "The mean wind turned up", "mean wind (kn), gusts 1.25 of it, sea 2.5 ft", "kn", 8, 24, 0.5, 2, func(h *models.Hour, x float64) {
			h.Wind, h.Gust = known(units.Speed(x)*kn), known(units.Speed(1.25*x)*kn)
		}},
		{"sea", "The sea turned up", "sea (ft) at 6 s, wind 13 kn", "ft", 1, 7, 0.25, 1, func(h *models.Hour, x float64) {
			h.Sea = known(units.Length(x) * units.Foot)
		}},
		{"thunder", "The chance of thunder turned up", "chance of thunder in every hour (%), wind 13 kn", "%", 0, 80, 2.5, 10, func(h *models.Hour, x float64) {
			h.Thunder = known(x)
		}},
	}
}

// charterDay is an invented charter, called at noon of the day before: a mixed
// party on a 39 ft centre console, 13 kn from the east, 2.5 ft at 6 s.
func charterDay(set func(h *models.Hour)) models.Outlook {
	zone := time.FixedZone("UTC-5", -5*3600)
	date := models.Date{Year: 2027, Month: 1, Day: 19}
	start := date.Start(zone)
	o := models.Outlook{
		Made: start.Add(-12 * time.Hour), Date: date, HistoryDays: 60,
		Port:   models.Port{Name: "Port A", At: models.Position{Lat: 25.8, Lon: -80.1}, Zone: zone, ShoreNormal: 90},
		Ground: models.Ground{Name: "the edge", At: models.Position{Lat: 25.8, Lon: -80.05}, Depth: 150 * units.Foot, Run: 30 * time.Minute},
		Boat:   models.Boat{Kind: models.CenterConsole, Length: 39 * units.Foot, Tower: 20 * units.Foot, HeliumAboard: true, Crew: 3},
		Trip:   models.Trip{Kind: models.Charter, Party: models.Mixed, Start: models.Clock{Hour: 7}, End: models.Clock{Hour: 15}, ForHire: known(true)},
		Reports: models.Reports{
			EdgeInReach: known(true), Water: known(models.WaterBlueEdge), Season: known(models.SeasonGood),
		},
		Warnings: known([]models.Warning{}),
	}
	for hour := 4; hour < 21; hour++ {
		h := models.Hour{
			At: start.Add(time.Duration(hour) * time.Hour), Wind: known(13 * kn), Gust: known(16 * kn), WindFrom: known(units.From(90)), DirectionSpread: known(15.0),
			Sea: known(2.5 * units.Foot), Period: known(6.0), SeaFrom: known(units.From(90)), SeaIncludesCurrent: known(true), InletCurrent: known(0 * kn),
			Current: known(1.5 * kn), CurrentToward: known(units.Toward(0)), Cloud: known(30.0), Rain: known(5.0), Thunder: known(0.0),
			Visibility: known(10 * units.NauticalMile), Air: known(units.Celsius(24)), Water: known(units.Celsius(25)),
		}
		set(&h)
		o.Middle.Hours = append(o.Middle.Hours, h)
	}
	return o
}

// days are how many days a sweep has.
func (s sweep) days() int { return int(math.Round((s.to-s.from)/s.every)) + 1 }

// day calls the nth day of a sweep, so many days ahead.
func (s sweep) day(n, ahead int, lim models.Limits) called {
	x := s.from + float64(n)*s.every
	o := charterDay(func(h *models.Hour) { s.set(h, x) })
	o.Made = o.Made.Add(-time.Duration(ahead-1) * 24 * time.Hour)
	c := scoring.Judge(o, lim, scoring.With{Quick: true})
	return called{
		x: x, going: c.Leave.Known(), of: c.Members, call: fmt.Sprint(c.Tactic, c.Timing),
		runs: c.Answers.Runs.Courses, hours: c.Answers.Hours.Courses, tactic: c.Answers.Tactic.Courses,
	}
}

// run calls the days of a sweep.
func (s sweep) run(ahead int, lim models.Limits) []called {
	out := make([]called, s.days())
	for n := range out {
		out[n] = s.day(n, ahead, lim)
	}
	return out
}

func (s sweep) plot() draw.Plot {
	days := s.run(1, models.DefaultLimits())
	line := func(name string, y func(c called) (int, bool)) draw.Line {
		l := draw.Line{Name: name}
		for _, c := range days {
			v, ok := y(c)
			p := draw.Point{X: c.x, Y: float64(v) / float64(c.of)}
			if !ok {
				p.Y = math.NaN()
			}
			l.Points = append(l.Points, p)
		}
		return l
	}
	p := draw.Plot{
		Title: s.title,
		Description: "The share of forecast scenarios in which the trip of an invented charter runs, and those in which the hours and the tactic called are right, " +
			"as one input of the forecast is turned up. Hours and tactic are drawn as long as the boat goes. Circles stand where the call changes from going to staying in.",
		X: draw.Axis{Label: s.label, Min: s.from, Max: s.to, Every: s.tick}, Y: draw.Axis{Label: "share", Min: 0, Max: 1, Every: 0.2},
		Lines: []draw.Line{
			line("runs", func(c called) (int, bool) { return c.runs, true }),
			line("hours", func(c called) (int, bool) { return c.hours, c.going }),
			line("tactic", func(c called) (int, bool) { return c.tactic, c.going }),
		},
	}
	for i := 1; i < len(days); i++ {
		if days[i].going != days[i-1].going {
			p.Marks = append(p.Marks, draw.Mark{Point: draw.Point{X: days[i].x, Y: float64(days[i].runs) / float64(days[i].of)}})
		}
	}
	return p
}
