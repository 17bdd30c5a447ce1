package nws

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// GridpointName is the name of the source of the official forecast.
const GridpointName = models.SourceGridpoint

// Grid is the service's own forecast for one cell of its grid.
type Grid struct {
	Office string // "MFL"
	X, Y   int
	// Updated is when the office last changed the grid.
	Updated time.Time
	// Valid is what the grid says it covers.
	Valid models.Interval
	// Hours are the full hours that have any value, in order.
	Hours []models.Hour
	// NoSea says that the cell holds no sea forecast but a filler.
	NoSea bool
	// Lost are the layers of wind and sea that the grid should hold and that
	// can't be read, by their names for people, and why.
	Lost []models.Gap
	// Notes tell what could not be read or was left out.
	Notes []string
}

// longestGrid bounds the hours of a grid; real ones have under 200.
const longestGrid = 31 * 24

// ParseGridpoint reads the raw grid data of one cell. Values that the service
// made from whole knots, feet or degrees Fahrenheit are turned back into
// these exactly. An hour that no interval covers is unknown, as is a null, a
// value that can't be, and the sea of a cell on land, which carries a filler
// of zero. The time is for intervals written with NOW.
func ParseGridpoint(body []byte, now time.Time) (Grid, error) {
	var doc struct{ Properties object }
	if err := json.Unmarshal(body, &doc); err != nil {
		return Grid{}, fmt.Errorf("read gridpoint: %w", err)
	}
	p := doc.Properties
	if p == nil || p["validTimes"] == nil {
		return Grid{}, errors.New("read gridpoint: the answer has no validTimes")
	}
	valid, err := ParseInterval(p.text("validTimes"), now)
	if err != nil {
		return Grid{}, fmt.Errorf("read gridpoint: validTimes: %w", err)
	}
	if valid.Duration() > longestGrid*time.Hour {
		return Grid{}, fmt.Errorf("read gridpoint: validTimes covers %s, which is no forecast", valid.Duration())
	}
	updated, ok := p.time("updateTime").Get()
	if !ok {
		return Grid{}, errors.New("read gridpoint: updateTime is missing or no time")
	}
	x, okX := p.integer("gridX").Get()
	y, okY := p.integer("gridY").Get()
	if !okX || !okY {
		return Grid{}, errors.New("read gridpoint: gridX and gridY are missing or no numbers")
	}
	g := Grid{Office: p.line("gridId"), X: x, Y: y, Updated: updated, Valid: valid}
	g.readHours(p, now)
	if len(g.Hours) == 0 {
		return Grid{}, errors.New("read gridpoint: no layer has a value within validTimes")
	}
	return g, nil
}

// Series is the grid as a forecast for a ground.
func (g Grid) Series(ground string, fetched time.Time) models.Series {
	return models.Series{
		Source: GridpointName, Ground: ground, Run: g.Updated, Fetched: fetched,
		Hours: g.Hours, Official: true, Notes: g.Notes,
	}
}

// integer reads a number, or a string that holds one: the service writes the
// indices of its grid both ways.
func (o object) integer(name string) models.Opt[int] {
	var n json.Number
	if json.Unmarshal(o[name], &n) != nil {
		return models.Unknown[int]()
	}
	i, err := strconv.Atoi(n.String())
	if err != nil {
		return models.Unknown[int]()
	}
	return models.Known(i)
}

// needed are the layers that a call is made of.
func needed() map[string]string {
	return map[string]string{
		"windSpeed": "wind", "windGust": "gusts", "windDirection": "wind direction",
		"waveHeight": "sea", "wavePeriod": "period", "waveDirection": "direction of the sea",
	}
}

func (g *Grid) readHours(p object, now time.Time) {
	read := func(name string, q quantity) layer {
		l, notes := readLayer(p[name], name, q, now)
		g.Notes = append(g.Notes, notes...)
		if what := needed()[name]; what != "" && len(l.spans) == 0 {
			switch {
			case len(notes) > 0:
				g.Lost = append(g.Lost, models.Gap{What: GridpointName + ": " + what, Why: notes[0]})
			case name == "windSpeed":
				g.Lost = append(g.Lost, models.Gap{What: GridpointName + ": " + what, Why: "the grid has no value of it"})
			}
		}
		return l
	}
	wind, gust, windFrom := read("windSpeed", speed()), read("windGust", speed()), read("windDirection", bearing())
	sea, period, seaFrom := read("waveHeight", height()), read("wavePeriod", seconds()), read("waveDirection", bearing())
	swell, swellFrom := read("primarySwellHeight", height()), read("primarySwellDirection", bearing())
	windSea := read("windWaveHeight", height())
	cloud, rain, thunder := read("skyCover", percent()), read("probabilityOfPrecipitation", percent()), read("probabilityOfThunder", percent())
	visibility, air := read("visibility", distance()), read("temperature", temperature())
	storms, notes := readThunderWords(p["weather"], now)
	g.Notes = append(g.Notes, notes...)

	if noSea(sea, period, swell, windSea) {
		g.NoSea = true
		g.Notes = append(g.Notes, "the grid has no sea forecast for this cell, only a filler of zero: the sea is unknown, not calm")
		sea, period, seaFrom, swell, swellFrom = layer{}, layer{}, layer{}, layer{}, layer{}
	}
	fromWords, swellPeriods := false, false
	start := g.Valid.Start.Truncate(time.Hour)
	if start.Before(g.Valid.Start) {
		start = start.Add(time.Hour)
	}
	for at := start; at.Before(g.Valid.End); at = at.Add(time.Hour) {
		h := models.Hour{At: at}
		h.Wind = models.MapOpt(wind.at(at), toSpeed)
		h.Gust = models.MapOpt(gust.at(at), toSpeed)
		h.WindFrom = models.MapOpt(windFrom.at(at), toFrom)
		h.Sea = models.MapOpt(sea.at(at), toLength)
		h.SeaFrom = models.MapOpt(seaFrom.at(at), toFrom)
		h.Swell = models.MapOpt(swell.at(at), toLength)
		h.SwellFrom = models.MapOpt(swellFrom.at(at), toFrom)
		// The period is that of the primary swell where there is one (from
		// memory): it is the sea's only while the swell is the higher part.
		h.Period = period.at(at)
		if s, ok := h.Swell.Get(); ok && s > 0 {
			h.SwellPeriod = h.Period
			if w, ok := windSea.at(at).Get(); ok && toLength(w) > s && h.Period.Known() {
				h.Period, swellPeriods = models.Unknown[float64](), true
			}
		}
		if h.Sea.Known() {
			// Official sea forecasts are of the sea as it is, current and all.
			h.SeaIncludesCurrent = models.Known(true)
		}
		h.Cloud, h.Rain, h.Thunder = cloud.at(at), rain.at(at), thunder.at(at)
		if !h.Thunder.Known() {
			h.Thunder = storms.at(at)
			fromWords = fromWords || h.Thunder.Known()
		}
		h.Visibility = models.MapOpt(visibility.at(at), toLength)
		h.Air = models.MapOpt(air.at(at), units.Kelvin)
		if h != (models.Hour{At: at}) {
			g.Hours = append(g.Hours, h)
		}
	}
	if fromWords {
		g.Notes = append(g.Notes, "the grid gives no chance of thunder for some hours; there it is taken from the words of its weather layer")
	}
	if swellPeriods {
		g.Notes = append(g.Notes, "the period given is the swell's; in hours when the wind sea is the higher one, the period of the sea is unknown")
	}
}

func toSpeed(v float64) units.Speed   { return units.Speed(v) }
func toLength(v float64) units.Length { return units.Length(v) }
func toFrom(v float64) units.From     { return units.From(v) }

// noSea tells a land cell: nothing but zeros for the height of the sea, no
// swell and no wind sea, for five days or more or without any period.
func noSea(sea, period, swell, windSea layer) bool {
	if len(sea.spans) == 0 || len(swell.spans) > 0 || len(windSea.spans) > 0 {
		return false
	}
	var covered time.Duration
	for _, s := range sea.spans {
		if s.value > 0 {
			return false
		}
		covered += s.Duration()
	}
	return covered >= 5*24*time.Hour || len(period.spans) == 0
}

// quantity is how the numbers of a layer are read.
type quantity struct {
	// units maps the name of a unit to SI; the empty name is a layer that
	// says none.
	units map[string]func(float64) float64
	// low and high bound what can be, in SI.
	low, high float64
}

func times(k float64) func(float64) float64 { return func(v float64) float64 { return v * k } }

// whole turns a value back into the whole number of units that it was made
// from, if it is within a hundredth of one.
func whole(v, unit float64) float64 {
	if n := math.Round(v / unit); math.Abs(v/unit-n) < 0.01 {
		return n * unit
	}
	return v
}

// speed is in m/s, up to 150 kn; forecasters work in whole knots.
func speed() quantity {
	knot := float64(units.Knot)
	in := func(unit float64) func(float64) float64 {
		return func(v float64) float64 { return whole(v*unit, knot) }
	}
	return quantity{map[string]func(float64) float64{
		"km_h-1": in(1 / 3.6), "m_s-1": in(1), "kn": in(knot), "kt": in(knot), "mi_h-1": in(float64(units.MilePerHour)),
	}, 0, 150 * knot}
}

// height is in metres, up to 30; forecasters work in whole feet.
func height() quantity {
	foot := float64(units.Foot)
	in := func(unit float64) func(float64) float64 {
		return func(v float64) float64 { return whole(v*unit, foot) }
	}
	return quantity{map[string]func(float64) float64{"m": in(1), "ft": in(foot)}, 0, 30}
}

func distance() quantity {
	return quantity{map[string]func(float64) float64{"m": times(1), "km": times(1000), "ft": times(float64(units.Foot)), "mi": times(float64(units.StatuteMile))}, 0, 200e3}
}

// temperature is in kelvin; forecasters work in whole degrees Fahrenheit.
func temperature() quantity {
	fahrenheit := func(f float64) float64 {
		return units.Fahrenheit(whole(f, 1)).Kelvin()
	}
	return quantity{map[string]func(float64) float64{
		"degC": func(c float64) float64 { return fahrenheit(c*1.8 + 32) },
		"degF": fahrenheit,
		"K":    func(k float64) float64 { return fahrenheit(units.Kelvin(k).Fahrenheit()) },
	}, units.Celsius(-70).Kelvin(), units.Celsius(60).Kelvin()}
}

func bearing() quantity {
	return quantity{map[string]func(float64) float64{"degree_(angle)": times(1)}, 0, 360}
}

func percent() quantity {
	return quantity{map[string]func(float64) float64{"percent": times(1), "": times(1)}, 0, 100}
}

// seconds is a wave period; zero stands for none.
func seconds() quantity {
	return quantity{map[string]func(float64) float64{"s": times(1)}, 0.5, 40}
}
