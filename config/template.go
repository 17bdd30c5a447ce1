package config

import (
	"bytes"
	_ "embed"
	"fmt"
	"math"
	"strconv"
	"strings"
	"text/template"
	"time"
	"unicode"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

//go:embed template.yaml.tmpl
var templateText string

// Place is what could be looked up about a place. What is empty or unknown
// becomes a blank in the configuration.
type Place struct {
	// At is the port: the mouth of its inlet.
	At   models.Position
	Name string
	// Zone is the IANA time zone.
	Zone        string
	ShoreNormal models.Opt[units.Toward]
	// Ground, Depth and Run are where the boat fishes.
	Ground     models.Opt[models.Position]
	Depth      models.Opt[units.Length]
	Run        models.Opt[time.Duration]
	Gridpoint  models.Opt[Gridpoint]
	Zones      []FoundZone
	TextOffice string
	Stations   []FoundStation
	Tide       models.Opt[FoundPrediction]
	Current    models.Opt[FoundPrediction]
	// Contact is the e-mail address for the User-Agent.
	Contact string
	// Why tells for a key of the configuration ("zones", "tide") why it was
	// not found: "no connection to api.weather.gov".
	Why map[string]string
}

// FoundZone is an official zone at or near the place.
type FoundZone struct {
	ID, Name string
	Use      ZoneUse
}

// FoundStation is a station near the place.
type FoundStation struct {
	ID, Name   string
	Distance   units.Length
	Uses       []StationUse
	Anemometer models.Opt[units.Length]
}

// NeedsAnemometer tells whether the height of the anemometer matters.
func (s FoundStation) NeedsAnemometer() bool {
	st := Station{Uses: s.Uses}
	return s.Anemometer.Known() || st.For(StationWind) || st.For(StationUpwind)
}

// FoundPrediction is a station with tide or current predictions. Bin counts
// for currents only.
type FoundPrediction struct {
	ID, Name string
	Distance units.Length
	Bin      int
	// Later is how much later the place is than the station.
	Later time.Duration
}

// Template writes a commented configuration for a place. Load takes it as
// soon as no blank is left; until then each blank is an error that says what
// to fill in.
func Template(p Place) ([]byte, error) {
	t, err := template.New("configuration").Funcs(template.FuncMap{
		"known":  knownValue,
		"plot":   plot,
		"quote":  quote,
		"note":   note,
		"away":   away,
		"feet":   func(l units.Length) string { return fmt.Sprintf("%s ft", number(math.Round(l.Feet()))) },
		"metres": func(l units.Length) string { return fmt.Sprintf("%.1f m", l.Metres()) },
		"deg":    func(b units.Toward) string { return fmt.Sprintf("%.0f deg", b.Degrees()) },
		"span":   span(math.MinInt64, math.MaxInt64).show,
		"why": func(key, cure string) string {
			if w := p.Why[key]; w != "" {
				return oneLine(w) + "; " + cure
			}
			return cure
		},
	}).Parse(templateText)
	if err != nil {
		return nil, fmt.Errorf("read the configuration's template: %w", err)
	}
	var b bytes.Buffer
	if err := t.Execute(&b, p); err != nil {
		return nil, fmt.Errorf("write a configuration for %s: %w", p.At, err)
	}
	return b.Bytes(), nil
}

// knownValue opens an Opt for the template: nil where it is unknown.
func knownValue(o any) any {
	switch v := o.(type) {
	case models.Opt[units.Toward]:
		return orNil(v)
	case models.Opt[units.Length]:
		return orNil(v)
	case models.Opt[models.Position]:
		return orNil(v)
	case models.Opt[time.Duration]:
		return orNil(v)
	case models.Opt[Gridpoint]:
		return orNil(v)
	case models.Opt[FoundPrediction]:
		return orNil(v)
	}
	return nil
}

// orNil returns a pointer, so that a known zero counts as known.
func orNil[T any](o models.Opt[T]) any {
	if v, ok := o.Get(); ok {
		return &v
	}
	return nil
}

// plot writes a position as Load reads it.
func plot(p models.Position) string {
	ns, ew := "N", "E"
	if p.Lat < 0 {
		ns = "S"
	}
	lon := math.Remainder(p.Lon, 360)
	if lon < 0 {
		ew = "W"
	}
	return fmt.Sprintf("%.4f %s, %.4f %s", math.Abs(p.Lat), ns, math.Abs(lon), ew)
}

// quote writes foreign text as a YAML value.
func quote(s string) string {
	plain := func(r rune) bool {
		return r < unicode.MaxASCII && (unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune("/_@.-", r))
	}
	if s != "" && unicode.IsLetter(rune(s[0])) && strings.IndexFunc(s, func(r rune) bool { return !plain(r) }) < 0 {
		return s
	}
	return strconv.Quote(oneLine(s))
}

// note writes foreign text as a comment at the end of a line.
func note(s string) string {
	if s = oneLine(s); s == "" {
		return ""
	}
	return "   # " + s
}

func away(name string, d units.Length) string {
	if d > 0 {
		return strings.TrimPrefix(fmt.Sprintf("%s, %.0f nmi off", name, d.NauticalMiles()), ", ")
	}
	return name
}

// oneLine makes foreign text safe for one line.
func oneLine(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == '\u2028' || r == '\u2029' || r == '\ufeff' || r == unicode.ReplacementChar {
			return ' '
		}
		return r
	}, s)
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > 120 {
		s = string(r[:120])
	}
	return s
}
