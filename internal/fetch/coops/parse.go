package coops

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// ServiceError is what the service says instead of an answer, with status 200.
type ServiceError struct{ Message string }

// Error repeats the message, without its full stop.
func (e *ServiceError) Error() string {
	return "the service says: " + strings.TrimRight(strings.Join(strings.Fields(e.Message), " "), ".")
}

// Oddity is a kind of row that could not be used, and how many there were.
type Oddity struct {
	What  string
	Count int
}

// String tells the oddity in one line.
func (o Oddity) String() string { return fmt.Sprintf("%d × %s", o.Count, o.What) }

type tally []Oddity

func (t *tally) add(what string) {
	for i := range *t {
		if (*t)[i].What == what {
			(*t)[i].Count++
			return
		}
	}
	*t = append(*t, Oddity{what, 1})
}

// number is a number that may come as one, as a string, empty or null.
type number struct{ models.Opt[float64] }

// UnmarshalJSON reads any of these forms.
func (n *number) UnmarshalJSON(b []byte) error {
	n.Opt = models.Unknown[float64]()
	s := string(b)
	if s == "null" {
		return nil
	}
	if b[0] == '"' {
		if err := json.Unmarshal(b, &s); err != nil {
			return err
		}
		if s = strings.TrimSpace(s); s == "" {
			return nil
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return fmt.Errorf("read %q as a number", s)
	}
	n.Opt = models.Known(v)
	return nil
}

// decode reads a document, which may be in Latin-1, and finds the error that
// may stand in it.
func decode(data []byte, doc any) error {
	data = toUTF8(data)
	var trouble struct {
		Error json.RawMessage `json:"error"`
	}
	if err := json.Unmarshal(data, &trouble); err != nil {
		return fmt.Errorf("read the document: %w", err)
	}
	if trouble.Error != nil {
		var inner struct{ Message string }
		if json.Unmarshal(trouble.Error, &inner) != nil || inner.Message == "" {
			inner.Message = strings.Trim(string(trouble.Error), `"`)
		}
		return &ServiceError{inner.Message}
	}
	if err := json.Unmarshal(data, doc); err != nil {
		return fmt.Errorf("read the document: %w", err)
	}
	return nil
}

// toUTF8 takes text that is not valid UTF-8 for Latin-1, the character set
// that the service declares.
func toUTF8(data []byte) []byte {
	if utf8.Valid(data) {
		return data
	}
	runes := make([]rune, len(data))
	for i, b := range data {
		runes[i] = rune(b)
	}
	return []byte(string(runes))
}

// at reads a time, which carries no zone: we ask in GMT.
func at(s string) (time.Time, bool) {
	t, err := time.ParseInLocation("2006-01-02 15:04", strings.TrimSpace(s), time.UTC)
	return t, err == nil && t.Year() >= 1800 && t.Year() < 2200
}

// Highest tides and streams that can be: the Bay of Fundy has 16 m of range,
// Saltstraumen and Nakwakto 16 to 20 kn at most (from memory).
const (
	tallest = 20 * units.Metre
	fastest = 20 * units.Knot
)

// ParseTides reads predictions of high and low water (interval hilo), whose
// heights are in the unit that was asked for. The document does not say its
// datum. Events are in order of time, each time once; a document without one
// usable event is an error.
func ParseTides(data []byte, unit units.Length) ([]models.TideEvent, []Oddity, error) {
	var doc struct {
		Predictions []struct {
			T    string
			V    number
			Type string
		}
	}
	if err := decode(data, &doc); err != nil {
		return nil, nil, err
	}
	var odd tally
	var out []models.TideEvent
	for _, p := range doc.Predictions {
		t, ok := at(p.T)
		v, known := p.V.Get()
		height := units.Length(v) * unit
		e := models.TideEvent{At: t, Height: height}
		switch strings.TrimSpace(p.Type) {
		case "H", "HH":
			e.Kind = models.HighWater
		case "L", "LL":
			e.Kind = models.LowWater
		}
		switch {
		case !ok:
			odd.add("tide without a readable time")
		case !known:
			odd.add("tide without a height")
		case height < -tallest || height > tallest:
			odd.add("tide of an impossible height")
		case e.Kind == "":
			odd.add("tide that is neither high nor low water")
		default:
			out = append(out, e)
		}
	}
	out = ordered(out, func(e models.TideEvent) time.Time { return e.At })
	if len(out) == 0 {
		return nil, odd, errors.New("find high and low water: there is none in the document")
	}
	return out, odd, nil
}

// currents is a document of predictions of the tidal stream.
type currents struct {
	Current struct {
		Units string
		CP    []struct {
			Type         string
			Time         string
			Velocity     number `json:"Velocity_Major"`
			MeanFloodDir number
			MeanEbbDir   number
		}
	} `json:"current_predictions"`
}

// speedUnit reads the units that a document declares: "feet, knots" or
// "meters, cm/s".
func (c *currents) speedUnit() (units.Speed, error) {
	u := strings.ToLower(c.Current.Units)
	switch {
	case strings.Contains(u, "knots"):
		return units.Knot, nil
	case strings.Contains(u, "cm/s"):
		return units.MetrePerSecond / 100, nil
	}
	return 0, fmt.Errorf("read the units of the stream: %q is neither knots nor cm/s", c.Current.Units)
}

// ParseTurns reads predictions of slack water and of the strongest flood and
// ebb (interval max_slack), in knots or cm/s as the document says. Flood is
// positive, ebb negative; each runs on its own axis. Order and errors are as
// for ParseTides.
func ParseTurns(data []byte) ([]models.StreamEvent, []Oddity, error) {
	var doc currents
	if err := decode(data, &doc); err != nil {
		return nil, nil, err
	}
	if len(doc.Current.CP) == 0 {
		return nil, nil, errors.New("find slack water: there is none in the document")
	}
	unit, err := doc.speedUnit()
	if err != nil {
		return nil, nil, err
	}
	var odd tally
	var out []models.StreamEvent
	for _, p := range doc.Current.CP {
		t, ok := at(p.Time)
		v, known := p.Velocity.Get()
		e := models.StreamEvent{At: t, Speed: units.Speed(v) * unit}
		var axis number
		switch strings.ToLower(strings.TrimSpace(p.Type)) {
		case "slack":
			e.Kind, e.Speed, known = models.Slack, 0, true
		case "flood":
			e.Kind, axis = models.Flood, p.MeanFloodDir
		case "ebb":
			// An ebb without its sign is one all the same.
			e.Kind, e.Speed, axis = models.Ebb, units.Speed(-math.Abs(float64(e.Speed))), p.MeanEbbDir
		}
		if d, ok := axis.Get(); ok && d >= 0 && d <= 360 {
			e.Toward = models.Known(units.Toward(d))
		} else if ok {
			odd.add("stream with an impossible direction")
		}
		switch {
		case !ok:
			odd.add("stream without a readable time")
		case e.Kind == "":
			odd.add("stream that is neither slack, flood nor ebb")
		case !known:
			odd.add("stream without a speed")
		case e.Kind == models.Flood && e.Speed < 0:
			odd.add("flood that runs out")
		case e.Speed < -fastest || e.Speed > fastest:
			odd.add("stream of an impossible speed")
		default:
			out = append(out, e)
		}
	}
	out = ordered(out, func(e models.StreamEvent) time.Time { return e.At })
	if len(out) == 0 {
		return nil, odd, errors.New("find slack water: there is no usable row in the document")
	}
	return out, odd, nil
}

// ParseCourse reads predictions of the tidal stream at even intervals, as
// hours that know only the stream in the inlet, flood positive. Units, order
// and errors are as for ParseTurns.
func ParseCourse(data []byte) ([]models.Hour, []Oddity, error) {
	var doc currents
	if err := decode(data, &doc); err != nil {
		return nil, nil, err
	}
	if len(doc.Current.CP) == 0 {
		return nil, nil, errors.New("find the course of the stream: there is none in the document")
	}
	unit, err := doc.speedUnit()
	if err != nil {
		return nil, nil, err
	}
	var odd tally
	var out []models.Hour
	for _, p := range doc.Current.CP {
		t, ok := at(p.Time)
		v, known := p.Velocity.Get()
		speed := units.Speed(v) * unit
		switch {
		case p.Type != "":
			odd.add("turn of the stream in place of its course")
		case !ok:
			odd.add("stream without a readable time")
		case !known:
			odd.add("stream without a speed")
		case speed < -fastest || speed > fastest:
			odd.add("stream of an impossible speed")
		default:
			out = append(out, models.Hour{At: t, InletCurrent: models.Known(speed)})
		}
	}
	out = ordered(out, func(h models.Hour) time.Time { return h.At })
	if len(out) == 0 {
		return nil, odd, errors.New("find the course of the stream: there is no usable row in the document")
	}
	return out, odd, nil
}

// ordered sorts by time and keeps the last of each time.
func ordered[T any](vs []T, at func(T) time.Time) []T {
	slices.SortStableFunc(vs, func(a, b T) int { return at(a).Compare(at(b)) })
	out := vs[:0]
	for i, v := range vs {
		if i+1 == len(vs) || !at(vs[i+1]).Equal(at(v)) {
			out = append(out, v)
		}
	}
	return slices.Clip(out)
}
