// Package draw makes pictures as SVG text: plain lines on two axes, readable
// in black and white, on a dark page and by a screen reader. It does no I/O.
package draw

import (
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Plot is a small picture of lines over two axes. Lines are told apart by
// their strokes and by a word at their end, never by colour alone.
type Plot struct {
	// Title and Description are read out by a screen reader; the title is
	// also drawn.
	Title, Description string
	X, Y               Axis
	Lines              []Line
	// Marks are single points: published values beside our own line.
	Marks []Mark
	// Square keeps one unit of x as long as one unit of y.
	Square bool
}

// Axis is one axis. With Min and Max both zero the range is taken from what is
// drawn.
type Axis struct {
	// Label names what is on the axis, with its unit.
	Label    string
	Min, Max float64
	// Every is the distance between two ticks; 0 is left to the drawing.
	Every float64
}

// Line is one curve.
type Line struct {
	// Name is written at the end of the line.
	Name   string
	Points []Point
}

// Point is a point in the units of the axes. A point that is not a finite
// number breaks its line.
type Point struct{ X, Y float64 }

// Mark is a point with no line.
type Mark struct{ Point }

// ErrNothing is returned for a plot without a finite point.
var ErrNothing = errors.New("nothing to draw")

// The paper, in SVG user units.
const (
	width, height            = 640.0, 380.0
	left, right, top, bottom = 58.0, 118.0, 44.0, 52.0
	lineHeight               = 15.0
)

// SVG returns the drawing. The same plot always gives the same text.
func (p Plot) SVG() ([]byte, error) {
	x, y, err := p.ranges()
	if err != nil {
		return nil, fmt.Errorf("draw %q: %w", p.Title, err)
	}
	f := frame{x: x, y: y, paper: plotPaper()}
	var b strings.Builder
	id := fnv.New32a()
	id.Write([]byte(p.Title)) // so that two plots on one page do not share their ids
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" class="plot" viewBox="0 0 %s %s" role="img" aria-labelledby="t%x d%[3]x">`+"\n",
		num(width), num(height), id.Sum32())
	fmt.Fprintf(&b, "<title id=\"t%x\">%s</title>\n<desc id=\"d%[1]x\">%[3]s</desc>\n",
		id.Sum32(), escape(p.Title), escape(p.Description))
	b.WriteString(style)
	fmt.Fprintf(&b, `<text class="h" x="%s" y="22">%s</text>`+"\n", num(left), escape(p.Title))
	f.axes(&b, p.X.Label, p.Y.Label)
	for i, l := range p.Lines {
		fmt.Fprintf(&b, `<path class="l" stroke-dasharray="%s" d="%s"/>`+"\n", dash(i), f.path(l.Points))
	}
	for _, m := range p.Marks {
		if finite(m.Point) {
			fmt.Fprintf(&b, `<circle class="m" cx="%s" cy="%s" r="3.5"/>`+"\n", num(f.px(m.X)), num(f.py(m.Y)))
		}
	}
	f.names(&b, p.Lines)
	b.WriteString("</svg>\n")
	return []byte(b.String()), nil
}

// style draws in ink on paper, and in chalk on a dark page.
const style = `<style>.plot{background:#fff;color:#1b1b1b;font:12px system-ui,sans-serif}` +
	`.plot text{fill:currentColor}.plot .h{font-weight:600;font-size:14px}.plot .e{text-anchor:end}.plot .c{text-anchor:middle}` +
	`.plot .l{fill:none;stroke:currentColor;stroke-width:1.8;stroke-linejoin:round}` +
	`.plot .a{fill:none;stroke:currentColor;stroke-width:1}.plot .g{stroke:currentColor;stroke-width:.5;opacity:.25}` +
	`.plot .m{fill:#fff;stroke:currentColor;stroke-width:1.4}` +
	`@media(prefers-color-scheme:dark){.plot{background:#161616;color:#eee}.plot .m{fill:#161616}}</style>` + "\n"

// dash is the stroke of the nth line; solid first.
func dash(n int) string {
	d := [...]string{"none", "7 4", "2 3", "10 3 2 3", "14 5", "1 5"}
	return d[n%len(d)]
}

// span is the range of an axis with its ticks.
type span struct{ min, max, every float64 }

// frame maps the units of the axes onto a part of the paper.
type frame struct {
	x, y  span
	paper box
}

// plotPaper is what the margins of a plot leave.
func plotPaper() box { return box{left, top, width - right, height - bottom} }

func (f frame) px(v float64) float64 {
	return f.paper.x0 + (v-f.x.min)/(f.x.max-f.x.min)*(f.paper.x1-f.paper.x0)
}

func (f frame) py(v float64) float64 {
	return f.paper.y1 - (v-f.y.min)/(f.y.max-f.y.min)*(f.paper.y1-f.paper.y0)
}

// reach is how far the finite points lie apart.
func (p Plot) reach() (x, y span, err error) {
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	see := func(q Point) {
		if finite(q) {
			x0, x1 = min(x0, q.X), max(x1, q.X)
			y0, y1 = min(y0, q.Y), max(y1, q.Y)
		}
	}
	for _, l := range p.Lines {
		for _, q := range l.Points {
			see(q)
		}
	}
	for _, m := range p.Marks {
		see(m.Point)
	}
	if math.IsInf(x0, 1) {
		return x, y, ErrNothing
	}
	return span{min: x0, max: x1}, span{min: y0, max: y1}, nil
}

func (p Plot) ranges() (x, y span, err error) {
	x, y, err = p.reach()
	if err != nil {
		return x, y, err
	}
	x, y = p.X.span(x.min, x.max), p.Y.span(y.min, y.max)
	if p.Square {
		square(&x, &y)
	}
	return x, y, nil
}

// square widens the axis that has more paper than it needs.
func square(x, y *span) {
	paperX, paperY := width-left-right, height-top-bottom
	perX, perY := (x.max-x.min)/paperX, (y.max-y.min)/paperY
	per := max(perX, perY)
	x.max = x.min + per*paperX
	y.max = y.min + per*paperY
	every := max(x.every, y.every)
	x.every, y.every = every, every
}

func (a Axis) span(lo, hi float64) span {
	s := span{a.Min, a.Max, a.Every}
	fitted := s.min == 0 && s.max == 0
	if fitted {
		s.min, s.max = lo, hi
	}
	if !(s.max > s.min) {
		s.min, s.max = s.min-1, s.min+1
	}
	if s.every <= 0 {
		s.every = tick((s.max - s.min) / 6)
	}
	if fitted {
		s.min = math.Floor(s.min/s.every+1e-9) * s.every
		s.max = math.Ceil(s.max/s.every-1e-9) * s.every
	}
	return s
}

// tick rounds a distance up to 1, 2 or 5 times a power of ten.
func tick(d float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(d)))
	for _, k := range []float64{1, 2, 5} {
		if k*p >= d*(1-1e-9) {
			return k * p
		}
	}
	return 10 * p
}

func (f frame) axes(b *strings.Builder, x, y string) {
	x0, x1, y0, y1 := left, width-right, height-bottom, top
	for _, v := range f.x.ticks() {
		fmt.Fprintf(b, `<path class="g" d="M%s %sV%s"/><text class="c" x="%s" y="%s">%s</text>`+"\n",
			num(f.px(v)), num(y0), num(y1), num(f.px(v)), num(y0+17), f.x.say(v))
	}
	for _, v := range f.y.ticks() {
		fmt.Fprintf(b, `<path class="g" d="M%s %sH%s"/><text class="e" x="%s" y="%s">%s</text>`+"\n",
			num(x0), num(f.py(v)), num(x1), num(x0-6), num(f.py(v)+4), f.y.say(v))
	}
	fmt.Fprintf(b, `<path class="a" d="M%s %sV%sH%s"/>`+"\n", num(x0), num(y1), num(y0), num(x1))
	fmt.Fprintf(b, `<text class="c" x="%s" y="%s">%s</text>`+"\n", num((x0+x1)/2), num(y0+38), escape(x))
	fmt.Fprintf(b, `<text x="6" y="%s">%s</text>`+"\n", num(y1-8), escape(y))
}

func (s span) ticks() []float64 {
	var out []float64
	for i := math.Ceil(s.min/s.every - 1e-9); i*s.every <= s.max+s.every*1e-9; i++ {
		out = append(out, i*s.every)
	}
	return out
}

// say writes a tick with as many decimals as its distance needs.
func (s span) say(v float64) string {
	decimals := max(0, int(math.Ceil(-math.Log10(s.every)-1e-9)))
	t := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(t, "-0.") == "" {
		t = strings.TrimPrefix(t, "-")
	}
	return t
}

// path draws a line, lifting the pen where a point is not finite or lies
// outside the axes.
func (f frame) path(points []Point) string {
	var b strings.Builder
	pen := false
	for _, q := range points {
		if !finite(q) || q.X < f.x.min || q.X > f.x.max || q.Y < f.y.min || q.Y > f.y.max {
			pen = false
			continue
		}
		c := byte('L')
		if !pen {
			c = 'M'
		}
		b.WriteByte(c)
		b.WriteString(num(f.px(q.X)) + " " + num(f.py(q.Y)))
		pen = true
	}
	return b.String()
}

// alone are the points with a lifted pen on both sides, which no line shows.
func (f frame) alone(points []Point) []Point {
	pen := func(i int) bool { return i >= 0 && i < len(points) && finite(points[i]) }
	var out []Point
	for i, q := range points {
		if pen(i) && !pen(i-1) && !pen(i+1) {
			out = append(out, q)
		}
	}
	return out
}

// names writes each line's name at its end, pushed apart where they meet.
func (f frame) names(b *strings.Builder, lines []Line) {
	type tag struct {
		x, y float64
		name string
	}
	var tags []tag
	for _, l := range lines {
		for _, q := range slices.Backward(l.Points) {
			if l.Name != "" && finite(q) && q.X >= f.x.min && q.X <= f.x.max && q.Y >= f.y.min && q.Y <= f.y.max {
				tags = append(tags, tag{f.px(q.X) + 5, f.py(q.Y) + 4, l.Name})
				break
			}
		}
	}
	slices.SortStableFunc(tags, func(a, b tag) int {
		switch {
		case a.y < b.y:
			return -1
		case a.y > b.y:
			return 1
		}
		return 0
	})
	for i := 1; i < len(tags); i++ {
		if math.Abs(tags[i].x-tags[i-1].x) < right {
			tags[i].y = max(tags[i].y, tags[i-1].y+lineHeight)
		}
	}
	floor := height - bottom - 4 // clear of the ticks
	for i, t := range slices.Backward(tags) {
		if t.y > floor {
			tags[i].y = floor
			floor -= lineHeight
		}
	}
	for _, t := range tags {
		fmt.Fprintf(b, `<text x="%s" y="%s">%s</text>`+"\n", num(t.x), num(t.y), escape(t.name))
	}
}

func finite(q Point) bool {
	return !math.IsNaN(q.X+q.Y) && !math.IsInf(q.X, 0) && !math.IsInf(q.Y, 0)
}
