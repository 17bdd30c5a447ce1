package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"forecastd/internal/draw"
	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
)

// invented is a day off an invented coast, steady from its first hour to its
// last, with a forecast made the evening before.
func invented(h models.Hour) outlook.Input {
	zone := time.FixedZone("", -5*60*60)
	date := models.Date{Year: 2027, Month: 1, Day: 19}
	made := date.Start(zone).Add(-7 * time.Hour)
	s := models.Series{Source: "invented", Ground: "the edge", Run: made}
	for i := range 36 {
		h.At = made.Add(time.Duration(i) * time.Hour)
		s.Hours = append(s.Hours, h)
	}
	return outlook.Input{
		Now: made, Date: date,
		Port:     models.Port{Name: "Port A", At: models.Position{Lat: 25.8, Lon: -80.1}, Zone: zone, ShoreNormal: 90},
		Ground:   models.Ground{Name: "the edge", At: models.Position{Lat: 25.8, Lon: -80.06}, Depth: 150 * units.Foot, Run: 20 * time.Minute},
		Boat:     models.Boat{Kind: models.CenterConsole, Length: 39 * units.Foot, Tower: 20 * units.Foot, HeliumAboard: true, Crew: 3},
		Trip:     models.Trip{Kind: models.Charter, Party: models.Mixed, ForHire: known(true), Start: models.Clock{Hour: 7}, End: models.Clock{Hour: 15}},
		Reports:  models.Reports{EdgeInReach: known(true), Water: known(models.WaterBlueEdge), Season: known(models.SeasonPeak), BaitShowering: known(false)},
		Warnings: known([]models.Warning{}), Series: []models.Series{s},
	}
}

// fairHour is an hour of an easy day.
func fairHour() models.Hour {
	return models.Hour{
		Wind: known(14 * kn), WindFrom: known(units.From(60)), Gust: known(18 * kn), DirectionSpread: known(20.0),
		Sea: known(2.5 * units.Foot), Period: known(6.0), SeaFrom: known(units.From(90)), SeaIncludesCurrent: known(true),
		InletCurrent: known(0.5 * kn), Current: known(1.5 * kn), CurrentToward: known(units.Toward(0)),
		Cloud: known(30.0), Rain: known(10.0), Thunder: known(0.0), Visibility: known(10 * units.NauticalMile),
		Air: known(units.Fahrenheit(70)), Water: known(units.Fahrenheit(75)),
	}
}

func judged(o models.Outlook) models.Call {
	return scoring.Judge(o, models.DefaultLimits(), scoring.With{Quick: true})
}

// sweepPlot shows how the share of the scenarios that let a trip run falls as
// one input grows, and where the verdict turns.
func sweepPlot(what, label string, from, to, by float64, set func(h *models.Hour, x float64)) draw.Plot {
	goes, stays := draw.Line{Name: "goes"}, draw.Line{Name: "stays in"}
	for x := from; x <= to+1e-9; x += by {
		h := fairHour()
		set(&h, x)
		c := judged(outlook.Build(invented(h)))
		p := draw.Point{X: x, Y: 100 * c.Answers.Runs.Share}
		if c.Tactic == models.TacticStayIn {
			stays.Points = append(stays.Points, p)
		} else {
			goes.Points = append(goes.Points, p)
		}
	}
	if n := len(goes.Points); n > 0 && len(stays.Points) > 0 {
		goes.Points = append(goes.Points, stays.Points[0])
	}
	return draw.Plot{
		Title:       "Will it run, by " + what,
		Description: fmt.Sprintf("Share of 64 forecast scenarios that let an eight hour charter run, over the forecast %s of a steady day; the line changes where the verdict turns.", what),
		X:           draw.Axis{Label: label}, Y: draw.Axis{Label: "runs, of 100 scenarios", Max: 100},
		Lines: []draw.Line{goes, stays},
	}
}

func doubtWind() draw.Plot {
	return sweepPlot("wind", "mean wind, kn (gusts three tenths more)", 8, 24, 0.5, func(h *models.Hour, x float64) {
		h.Wind, h.Gust = known(units.Speed(x)*kn), known(units.Speed(1.3*x)*kn)
	})
}

func doubtSea() draw.Plot {
	return sweepPlot("sea", "sea, ft (6 s)", 1, 7, 0.25, func(h *models.Hour, x float64) { h.Sea = known(units.Length(x) * units.Foot) })
}

func doubtThunder() draw.Plot {
	return sweepPlot("thunder", "chance of thunder all day, percent", 0, 80, 2.5, func(h *models.Hour, x float64) { h.Thunder = known(x) })
}

// doubtReliability holds what was said of running against how often it came,
// over simulated days whose errors are those assumed, and 1.5 times too large
// and too small.
func doubtReliability() draw.Plot {
	p := draw.Plot{
		Title:       "Said and came: will it run",
		Description: "Simulated days: share said against share that came, with the errors assumed, with errors 1.5 times as large, and 1.5 times as small.",
		X:           draw.Axis{Label: "said, of 100", Max: 100}, Y: draw.Axis{Label: "came, of 100", Max: 100}, Square: true,
	}
	for _, w := range []struct {
		name   string
		factor float64
	}{{"as assumed", 1}, {"1.5 times", 1.5}, {"1/1.5", 1 / 1.5}} {
		p.Lines = append(p.Lines, draw.Line{Name: w.name, Points: reliability(w.factor)})
	}
	return p
}

func reliability(factor float64) []draw.Point {
	const forecasts, days, bins = 100, 20, 5
	var n, said, came [bins]float64
	rng := rand.New(rand.NewPCG(3, 4))
	for range forecasts {
		h := fairHour()
		w := units.Speed(9+14*rng.Float64()) * kn
		h.Wind, h.Gust = known(w), known(w*units.Speed(1.2+0.3*rng.Float64()))
		h.Sea, h.Thunder = known(units.Length(1+5*rng.Float64())*units.Foot), known(35*rng.Float64())
		in := invented(h)
		o := outlook.Build(in)
		share := judged(o).Answers.Runs.Share
		bin := min(int(share*bins), bins-1)
		in.Courses = days
		in.Errors = func(_ string, lead time.Duration) outlook.ErrorSize {
			e := outlook.Assumed(lead)
			e.Wind, e.Sea, e.Shift = e.Wind*units.Speed(factor), e.Sea*factor, time.Duration(float64(e.Shift)*factor)
			return e
		}
		for _, day := range outlook.Build(in).Members {
			one := o
			one.Members = []models.Member{day}
			n[bin], said[bin] = n[bin]+1, said[bin]+share
			came[bin] += judged(one).Answers.Runs.Share
		}
	}
	var out []draw.Point
	for i := range bins {
		if n[i] > 0 {
			out = append(out, draw.Point{X: math.Round(1000*said[i]/n[i]) / 10, Y: math.Round(1000*came[i]/n[i]) / 10})
		}
	}
	return out
}
