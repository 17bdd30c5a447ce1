package draw

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Compare is what was forecast beside what was observed, over time.
type Compare struct {
	// ID begins the ids in the drawing, so that several can stand on a page.
	ID string
	// Title and Description are read out by a screen reader, not drawn.
	Title, Description string
	// Zone is the port's clock.
	Zone *time.Location
	// Forecast is drawn dashed, Observed solid; an unknown value is a gap.
	Forecast, Observed []Sample
	// ForecastName and ObservedName are written beside samples of the strokes.
	ForecastName, ObservedName string
	// Value names what is on the upright axis, with its unit.
	Value string
	// Day tells a day in the reader's language at each midnight; nil writes
	// month and day as numbers.
	Day func(time.Time) string
	// Longest is the longest step between two samples of one line: over it
	// lies a gap. 0 is three hours.
	Longest time.Duration
	// Narrow lays the drawing out for a phone.
	Narrow bool
}

// Sample is a value at a time, in the unit that Value names.
type Sample struct {
	At    time.Time
	Value models.Opt[float64]
}

// SVG returns the drawing. The same values always give the same text.
func (c Compare) SVG() ([]byte, error) {
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	first, ok := c.first()
	if !ok {
		return nil, fmt.Errorf("draw %q: %w", c.Title, ErrNothing)
	}
	p := newPaper(c.ID, c.Title, 640, 280)
	f := frame{paper: box{44, 42, 628, 236}}
	class := "compare"
	if c.Narrow {
		p.w, p.h = 360, 260
		f.paper = box{36, 42, 352, 216}
		class = "compare narrow"
	}
	lines := []Line{{Points: c.points(c.Forecast, first)}, {Points: c.points(c.Observed, first)}}
	x, y, err := Plot{Lines: lines}.reach()
	if err != nil {
		return nil, fmt.Errorf("draw %q: %w", c.Title, err)
	}
	if !(x.max > x.min) {
		x.min, x.max = x.min-1, x.max+1
	}
	f.x = x
	f.y = Axis{}.span(min(y.min, 0), max(y.max, 1))
	c.axes(p, f, first)
	for i, l := range lines {
		d, dots := f.path(f.thin(l.Points)), f.alone(l.Points)
		look := `fill="none" stroke="currentColor" stroke-width="2" stroke-linejoin="round"`
		if i == 0 {
			look += ` stroke-dasharray="6 4"`
		}
		p.path(d, look)
		for _, q := range dots {
			p.circle(f.px(q.X), f.py(q.Y), 2, "")
		}
	}
	c.key(p, f)
	return p.svg(class, c.Title, c.Description), nil
}

// first is the earliest instant with a value.
func (c Compare) first() (time.Time, bool) {
	var first time.Time
	ok := false
	for _, list := range [][]Sample{c.Forecast, c.Observed} {
		for _, s := range list {
			if v, known := s.Value.Get(); known && drawable(v) && (!ok || s.At.Before(first)) {
				first, ok = s.At, true
			}
		}
	}
	return first, ok
}

// points counts time in hours from the first value. A gap breaks the line.
func (c Compare) points(list []Sample, first time.Time) []Point {
	longest := c.Longest
	if longest <= 0 {
		longest = 3 * time.Hour
	}
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b Sample) int { return a.At.Compare(b.At) })
	gap := Point{math.NaN(), math.NaN()}
	var out []Point
	for i, s := range list {
		v, ok := s.Value.Get()
		if i > 0 && s.At.Sub(list[i-1].At) > longest {
			out = append(out, gap)
		}
		if !ok || !drawable(v) {
			out = append(out, gap)
			continue
		}
		out = append(out, Point{s.At.Sub(first).Hours(), v})
	}
	return out
}

// thin leaves out points that stand on the paper where the one before stands.
func (f frame) thin(points []Point) []Point {
	var out []Point
	for _, q := range points {
		if n := len(out); n > 0 && math.Abs(f.px(q.X)-f.px(out[n-1].X)) < 1 && math.Abs(f.py(q.Y)-f.py(out[n-1].Y)) < 1 {
			continue
		}
		out = append(out, q)
	}
	return out
}

// axes draws the port's clock below and the values beside.
func (c Compare) axes(p *paper, f frame, first time.Time) {
	r := f.paper
	var grid strings.Builder
	for _, v := range f.y.ticks() {
		fmt.Fprintf(&grid, "M%s %sH%s", num(r.x0), num(f.py(v)), num(r.x1))
		p.write(f.y.say(v), "", spot{r.x0 - 6, f.py(v) + 4, end})
	}
	hour := (r.x1 - r.x0) / (f.x.max - f.x.min)
	every := 0
	for _, n := range []int{1, 2, 3, 6, 12, 24} {
		if hour*float64(n) > textWidth("15")+12 {
			every = n
			break
		}
	}
	begin := first.Add(time.Duration(f.x.min * float64(time.Hour)))
	local := begin.In(c.Zone)
	t := time.Date(local.Year(), local.Month(), local.Day(), local.Hour(), 0, 0, 0, c.Zone)
	for last := first.Add(time.Duration(f.x.max * float64(time.Hour))); !t.After(last); t = t.Add(time.Hour) {
		h := t.In(c.Zone).Hour()
		if t.Before(begin) || hour*24 < 6 || h != 0 && (every == 0 || h%every != 0) {
			continue
		}
		x := f.px(t.Sub(first).Hours())
		fmt.Fprintf(&grid, "M%s %sV%s", num(x), num(r.y0), num(r.y1))
		if every > 0 && every < 24 {
			p.write(t.In(c.Zone).Format("15"), "", spot{x, r.y1 + 16, middle})
		}
		if h == 0 {
			p.write(c.day(t), "", spot{x, r.y1 + 32, middle}, spot{r.x1, r.y1 + 32, end}, spot{r.x0, r.y1 + 32, start})
		}
	}
	p.path(grid.String(), `class="quiet" fill="none" stroke="currentColor" stroke-width=".6" opacity=".3"`)
	p.path(fmt.Sprintf("M%s %sV%sH%s", num(r.x0), num(r.y0), num(r.y1), num(r.x1)), `fill="none" stroke="currentColor"`)
	p.write(fit(c.Value, p.w/2), "", spot{4, r.y0 - 10, start})
}

func (c Compare) day(t time.Time) string {
	if c.Day == nil {
		return t.In(c.Zone).Format("01-02")
	}
	return c.Day(t)
}

// key shows which stroke is which, over the lines.
func (c Compare) key(p *paper, f frame) {
	x, y := f.paper.x1, 14.0
	for i, name := range []string{c.ObservedName, c.ForecastName} {
		name = fit(name, p.w/2-52)
		x -= textWidth(name)
		p.write(name, "", spot{x, y + 4, start})
		look := `stroke-width="2"`
		if i == 1 {
			look += ` stroke-dasharray="6 4"`
		}
		p.stroke(x-32, y, x-6, y, look)
		x -= 46
	}
}
