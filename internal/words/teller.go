package words

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Language is the reader's language.
type Language string

// Languages that the catalogue has.
const (
	English Language = "en"
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
	catalogue map[string]string
	zone      *time.Location
	date      models.Date
}

// NewTeller makes a teller for a call of date on the clock of zone.
func NewTeller(r Reader, zone *time.Location, date models.Date) Teller {
	if zone == nil {
		zone = time.UTC
	}
	return Teller{reader: r, catalogue: english(), zone: zone, date: date}
}

// HasPhrase tells whether the catalogue of a language has a key.
func HasPhrase(_ Language, key string) bool {
	_, ok := english()[key]
	return ok
}

// Say tells a phrase. Places in the text are {0}, {1} and so on.
func (t Teller) Say(p models.Phrase) string {
	if p.Key == "" {
		return ""
	}
	text, ok := t.catalogue[p.Key]
	if !ok {
		text = p.Key
		for i := range p.Args {
			text += fmt.Sprintf(" {%d}", i)
		}
	}
	if len(p.Args) == 0 {
		return text
	}
	pairs := make([]string, 0, 2*len(p.Args))
	for i, a := range p.Args {
		pairs = append(pairs, "{"+strconv.Itoa(i)+"}", t.value(a))
	}
	return strings.NewReplacer(pairs...).Replace(text)
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
		return Duration(v)
	case models.Percent:
		return fmt.Sprintf("%.0f %%", float64(v))
	case models.Date:
		return t.Day(v)
	case models.Clock:
		return v.String()
	case models.Phrase:
		return t.Say(v)
	case models.Word:
		if s, ok := t.catalogue["word."+string(v)]; ok {
			return s
		}
		return string(v)
	case float64:
		return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64)
	case fmt.Stringer:
		return v.String()
	default:
		return fmt.Sprint(v)
	}
}

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

// Time tells an instant on the port's clock, with the day where it is not the
// day called.
func (t Teller) Time(v time.Time) string {
	l := v.In(t.zone)
	if models.DateOf(v, t.zone) == t.date {
		return l.Format("15:04")
	}
	return l.Format("Mon 15:04")
}

// Day tells a civil day.
func (t Teller) Day(d models.Date) string {
	return time.Date(d.Year, d.Month, d.Day, 12, 0, 0, 0, time.UTC).Format("Mon 2 January")
}

// Duration tells a span of time: "45 min", "2 h", "2 h 30 min", "3 days".
func Duration(d time.Duration) string {
	d = d.Round(time.Minute)
	h, m := int(d.Hours()), int(d.Minutes())%60
	switch {
	case h >= 48:
		return fmt.Sprintf("%d days", int(math.Round(d.Hours()/24)))
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d h %02d min", h, m)
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
