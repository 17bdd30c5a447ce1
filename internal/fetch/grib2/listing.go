package grib2

import (
	"fmt"
	"strings"
	"time"
)

// Listing is one field as a line of a list or a JSON object. What is unknown
// or cannot be had is nil.
type Listing struct {
	Message         int      `json:"message"`
	Field           int      `json:"field"`
	Discipline      int      `json:"discipline"`
	Category        int      `json:"category"`
	Number          int      `json:"number"`
	SurfaceType     *int     `json:"surface_type"`
	SurfaceValue    *float64 `json:"surface_value"`
	Run             *string  `json:"run"` // RFC 3339, as start and end
	Start           *string  `json:"start"`
	End             *string  `json:"end"`
	GridTemplate    int      `json:"grid_template"`
	PackingTemplate int      `json:"packing_template"`
	Ni              *int     `json:"ni"`
	Nj              *int     `json:"nj"`
	Count           int      `json:"count"` // all grid points, the missing ones included
	Missing         *int     `json:"missing"`
	Min             *float64 `json:"min"`
	Mean            *float64 `json:"mean"`
	Max             *float64 `json:"max"`
	ValueAt         *float64 `json:"value_at"`
	Name            string   `json:"name"`

	process Process
	how     How
	asked   bool
}

// List describes the field and summarises its values; at, if not nil, asks for
// the value there too. With an error the Listing holds what could be had.
func (f *Field) List(at *Point) (Listing, error) {
	l := Listing{
		Message: f.Message, Field: f.Index,
		Discipline: f.Discipline, Category: f.Category, Number: f.Number,
		Run: optStamp(f.Run), Start: optStamp(f.Start), End: optStamp(f.End),
		GridTemplate: f.GridTemplate, PackingTemplate: f.PackingTemplate,
		Count: f.Count, Name: f.Name(), process: f.Process,
	}
	if f.Surface1.Type != missing8 {
		l.SurfaceType = &f.Surface1.Type
	}
	if !f.Surface1.Missing {
		l.SurfaceValue = &f.Surface1.Value
	}
	if f.Grid != nil {
		l.Ni, l.Nj = &f.Grid.Ni, &f.Grid.Nj
	}
	s, err := f.Stats()
	if err != nil {
		return l, err
	}
	l.Missing = &s.Missing
	if s.Missing < s.Count {
		l.Min, l.Mean, l.Max = optFinite(s.Min), optFinite(s.Mean), optFinite(s.Max)
	}
	if f.Grid == nil {
		return l, f.badGrid
	}
	if at != nil {
		v, err := f.At(at.Lat, at.Lon)
		if err != nil {
			return l, err
		}
		l.how, l.asked = v.How, true
		if x, ok := v.Get(); ok {
			l.ValueAt = optFinite(x)
		}
	}
	return l, nil
}

// String is the listing on one line: what, on which surface, which run, for
// when, on which grid, how packed, and the summary.
func (l Listing) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d.%d  %s (%d-%d-%d)", l.Message, l.Field, l.Name, l.Discipline, l.Category, l.Number)
	if l.SurfaceType != nil {
		fmt.Fprintf(&b, "  %s", surfaceText(*l.SurfaceType, l.SurfaceValue))
	}
	fmt.Fprintf(&b, "  run %s  %s", text(l.Run), l.window())
	fmt.Fprintf(&b, "  grid 3.%d", l.GridTemplate)
	if l.Ni != nil {
		fmt.Fprintf(&b, " %d × %d", *l.Ni, *l.Nj)
	}
	fmt.Fprintf(&b, "  packing 5.%d  count %d", l.PackingTemplate, l.Count)
	if l.Missing == nil {
		b.WriteString("  values unknown")
	} else {
		fmt.Fprintf(&b, "  missing %d  min %s  mean %s  max %s", *l.Missing, number(l.Min), number(l.Mean), number(l.Max))
	}
	if l.asked {
		fmt.Fprintf(&b, "  there %s (%s)", number(l.ValueAt), l.how)
	}
	return b.String()
}

func (l Listing) window() string {
	if l.Start == nil || l.End == nil {
		return "valid at an unknown time"
	}
	what, ok := map[Process]string{
		Average: "average", Accumulation: "accumulation", Maximum: "maximum", Minimum: "minimum", Sum: "sum",
	}[l.process]
	switch {
	case l.process == Instant:
		return "valid " + *l.Start
	case !ok:
		what = fmt.Sprintf("process %d", l.process)
	}
	return fmt.Sprintf("%s %s to %s", what, *l.Start, *l.End)
}

// surfaceText names the fixed surfaces of code table 4.5 that are common at
// sea.
func surfaceText(kind int, value *float64) string {
	name, unit := fmt.Sprintf("surface %d", kind), ""
	switch kind {
	case 1:
		return "surface"
	case 100:
		name, unit = "isobaric surface", " Pa"
	case 101:
		return "mean sea level"
	case 103:
		name, unit = "above ground", " m"
	case 160:
		name, unit = "below sea level", " m"
	case 10, 200:
		return "entire atmosphere"
	case 241:
		name = "ordered sequence"
	}
	if value == nil {
		return name
	}
	return fmt.Sprintf("%s %g%s", name, *value, unit)
}

func optStamp(t time.Time) *string {
	if t.IsZero() {
		return nil
	}
	s := stamp(t)
	return &s
}

func optFinite(v float64) *float64 {
	if !finite(v) {
		return nil
	}
	return &v
}

func number(v *float64) string {
	if v == nil {
		return "none"
	}
	return fmt.Sprintf("%.6g", *v)
}

func text(s *string) string {
	if s == nil {
		return "unknown"
	}
	return *s
}
