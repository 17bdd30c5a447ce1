package words

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/words/catalogue"
)

// Measures is the reader's system of units.
type Measures string

// Systems of units.
const (
	// Nautical is knots, feet, nautical miles and degrees Fahrenheit.
	Nautical Measures = "nautical"
	// Metric is metres per second, metres, kilometres and degrees Celsius.
	Metric Measures = "metric"
)

// Reader is who is told.
type Reader struct {
	Language Language
	Measures Measures
}

// Teller tells one call to one reader: it knows the reader's language and
// units and the port's clock.
type Teller struct {
	reader    Reader
	catalogue catalogue.Catalogue
	zone      *time.Location
	date      models.Date
}

// NewTeller makes a teller for a call of date on the clock of zone.
func NewTeller(r Reader, zone *time.Location, date models.Date) Teller {
	if zone == nil {
		zone = time.UTC
	}
	c := phrasesOf(r.Language)
	r.Language = Language(c.Code)
	return Teller{reader: r, catalogue: c, zone: zone, date: date}
}

// Language is what the teller tells in.
func (t Teller) Language() Language { return t.reader.Language }

// Say tells a phrase. Places in the text are {0}, {1} and so on.
func (t Teller) Say(p models.Phrase) string {
	if p.Key == "" {
		return ""
	}
	text := t.text(p)
	if len(p.Args) == 0 {
		return text
	}
	pairs := make([]string, 0, 2*len(p.Args))
	for i, a := range p.Args {
		pairs = append(pairs, "{"+strconv.Itoa(i)+"}", t.value(a))
	}
	return strings.NewReplacer(pairs...).Replace(text)
}

// text is a phrase with its places still open; the key itself where the
// catalogue does not have it.
func (t Teller) text(p models.Phrase) string {
	key := p.Key
	if slices.ContainsFunc(p.Args, isPart) {
		if _, ok := t.catalogue.Phrase(key + forParts); ok {
			key += forParts
		}
	}
	c, ok := t.catalogue.Phrase(key)
	if !ok {
		text := p.Key
		for i := range p.Args {
			text += fmt.Sprintf(" {%d}", i)
		}
		return text
	}
	if place, counts := c.Count(); counts && place < len(p.Args) {
		if n, ok := p.Args[place].(int); ok {
			return c.TextFor(n)
		}
	}
	return c.Text()
}

// forParts ends the keys of texts that take a part of the day where the plain
// text takes a clock time.
const forParts = ".part"

func isPart(a any) bool { _, ok := a.(models.DayPart); return ok }

// say tells a phrase of our own.
func (t Teller) say(key string, args ...any) string { return t.Say(models.Say(key, args...)) }

// Word tells one of our own words (a grade, a tactic, a season, a position)
// in the reader's language. A word that is none of ours is told as it is, and
// the name of an official product keeps its own beside ours.
func (t Teller) Word(s string) string {
	if w, ok := t.catalogue.Phrase("word." + s); ok {
		return w.Text()
	}
	return s + t.gloss(s)
}

// Product tells the name of an official product, as it is, large, with what
// it means in the reader's language beside it.
func (t Teller) Product(event string) string { return strings.ToUpper(event) + t.gloss(event) }

// gloss is what the name of an official product means, where the reader's
// language is not the product's: " (aviso de temporal)".
func (t Teller) gloss(event string) string {
	if g, ok := t.catalogue.Phrase(catalogue.Glosses + strings.ToLower(event)); ok {
		return " (" + g.Text() + ")"
	}
	return ""
}

// value tells one value in the reader's units.
func (t Teller) value(a any) string {
	switch v := a.(type) {
	case units.Speed:
		return t.Speed(v)
	case units.Length:
		return t.Length(v)
	case units.From:
		return v.Point()
	case units.Toward:
		return v.Point()
	case units.Temperature:
		return t.Temperature(v)
	case units.Mass:
		if t.reader.Measures == Metric {
			return fmt.Sprintf("%.0f g", v.Kilograms()*1000)
		}
		return v.String()
	case units.Pressure:
		return fmt.Sprintf("%.0f hPa", v.Hectopascals())
	case time.Time:
		return t.Time(v)
	case time.Duration:
		return t.Duration(v)
	case models.Percent:
		return fmt.Sprintf("%.0f %%", float64(v))
	case models.Seconds:
		return fmt.Sprintf("%.0f", float64(v))
	case models.Date:
		return t.Day(v)
	case models.DayPart:
		return t.say("daypart." + strings.ReplaceAll(string(v), " ", "_"))
	case models.Clock:
		return v.String()
	case models.Phrase:
		return t.Say(v)
	case models.Word:
		return t.Word(string(v))
	case float64:
		return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
	case fmt.Stringer:
		return v.String()
	default:
		return fmt.Sprint(v)
	}
}

// Told tells a time of a plan as people are told it (models.Call.Times).
func (t Teller) Told(at any) string { return t.value(at) }

// Speed tells a speed as the reader reads it: whole knots, or metres per
// second with a decimal. Currents and drifts under five knots keep a decimal.
func (t Teller) Speed(v units.Speed) string {
	if t.reader.Measures == Metric {
		return trim(v.MetresPerSecond(), 1) + " m/s"
	}
	if math.Abs(v.Knots()) < 4.95 {
		return trim(v.Knots(), 1) + " kn"
	}
	return trim(v.Knots(), 0) + " kn"
}

// Length tells a height, depth or distance.
func (t Teller) Length(v units.Length) string {
	// Kite lines and depths are told in feet, distances and visibility in
	// miles: they part at a fifth of a mile.
	miles := math.Abs(v.NauticalMiles())
	long := miles >= 0.2
	decimals := 1
	if miles < 1 {
		decimals = 2
	}
	switch {
	case t.reader.Measures == Metric && long:
		return trim(v.Metres()/1000, 1) + " km"
	case t.reader.Measures == Metric:
		return trim(v.Metres(), 1) + " m"
	case long:
		return trim(v.NauticalMiles(), decimals) + " nmi"
	case math.Abs(v.Feet()) < 9.95:
		return trim(v.Feet(), 1) + " ft"
	}
	return trim(v.Feet(), 0) + " ft"
}

// Temperature tells a temperature in whole degrees.
func (t Teller) Temperature(v units.Temperature) string {
	if t.reader.Measures == Metric {
		return trim(v.Celsius(), 0) + " °C"
	}
	return trim(v.Fahrenheit(), 0) + " °F"
}

func trim(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		s = "0"
	}
	return s
}
