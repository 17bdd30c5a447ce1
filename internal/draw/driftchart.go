package draw

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// DriftChart is a drift over the ground, with one scale both ways and north
// up.
type DriftChart struct {
	// ID begins the ids in the drawing, so that several can stand on a page.
	ID string
	// Title and Description are read out by a screen reader, not drawn.
	Title, Description string
	// Zone is the port's clock.
	Zone *time.Location
	// Track begins at the start of the set.
	Track []models.DriftPoint
	// StartDepth is the depth at the start; where it is unknown no contour can
	// be placed.
	StartDepth models.Opt[units.Length]
	Band       DepthBand
	// Resets are the times of winding up and running back.
	Resets  []time.Time
	Wind    WindArrow
	Current CurrentArrow
	// Scale is the reader's unit of distance.
	Scale  Unit
	Labels DriftLabels
	// Narrow lays the drawing out for a phone.
	Narrow bool
}

// DepthBand is the band that fishes, on a bottom that falls evenly going
// offshore.
type DepthBand struct {
	Shallow, Deep, Edge Contour
	// Slope is how much the bottom falls per length going offshore (0.02 is 2
	// in 100); Offshore the bearing straight down it, the shore's normal.
	Slope    models.Opt[float64]
	Offshore units.Toward
}

// Contour is a line of one depth along the coast.
type Contour struct {
	Depth models.Opt[units.Length]
	Words string
}

// WindArrow is where the wind comes from; the arrow flies with it.
type WindArrow struct {
	From  models.Opt[units.From]
	Words string
}

// CurrentArrow is where the current goes.
type CurrentArrow struct {
	Toward models.Opt[units.Toward]
	Words  string
}

// DriftLabels are the words of the drawing itself. An empty one is not
// written.
type DriftLabels struct{ Start, End, Reset, North string }

// chart is the drawing while it is made.
type chart struct {
	DriftChart
	*paper
	room  box     // where the ground is drawn
	scale float64 // user units for a metre
	e0    float64 // east of the room's left edge, metres
	n1    float64 // north of its upper edge, metres
}

// SVG returns the drawing. The same drift always gives the same text.
func (c DriftChart) SVG() ([]byte, error) {
	c.Track = slices.Clone(c.Track)
	c.Track = slices.DeleteFunc(c.Track, func(p models.DriftPoint) bool {
		return !drawable(float64(p.East), float64(p.North), float64(p.SpreadRadius))
	})
	if len(c.Track) < 2 {
		return nil, fmt.Errorf("draw %q: %w", c.Title, ErrNothing)
	}
	if c.Zone == nil {
		c.Zone = time.UTC
	}
	d := &chart{DriftChart: c}
	class := "drift"
	if c.Narrow {
		class = "drift narrow"
		d.paper = newPaper(c.ID, c.Title, 360, 420)
		d.room = box{1, 1, 359, 340}
	} else {
		d.paper = newPaper(c.ID, c.Title, 640, 420)
		d.room = box{1, 1, 500, 419}
	}
	d.fit()
	d.ground()
	d.track()
	d.contourWords()
	d.margin()
	return d.svg(class, c.Title, c.Description), nil
}

// fit finds the scale that shows the track with its spread, and the contours
// where they are near.
func (d *chart) fit() {
	e0, e1, n0, n1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	see := func(e, n, r float64) {
		e0, e1, n0, n1 = min(e0, e-r), max(e1, e+r), min(n0, n-r), max(n1, n+r)
	}
	for _, p := range d.Track {
		see(float64(p.East), float64(p.North), max(float64(p.SpreadRadius), 0))
	}
	reach := max(e1-e0, n1-n0, 100)
	for _, k := range []Contour{d.Band.Shallow, d.Band.Deep, d.Band.Edge} {
		if off, ok := d.off(k); ok && math.Abs(off) < reach/2 {
			a := d.Band.Offshore.Degrees() * math.Pi / 180
			see(off*math.Sin(a), off*math.Cos(a), reach/20)
		}
	}
	const edge = 26.0 // for words at the rim
	w, h := d.room.x1-d.room.x0-2*edge, d.room.y1-d.room.y0-2*edge
	d.scale = min(w/max(e1-e0, 1), h/max(n1-n0, 1), 2)
	d.e0 = (e0+e1)/2 - (w/2+edge)/d.scale
	d.n1 = (n0+n1)/2 + (h/2+edge)/d.scale
}

func (d *chart) px(east float64) float64  { return d.room.x0 + (east-d.e0)*d.scale }
func (d *chart) py(north float64) float64 { return d.room.y0 + (d.n1-north)*d.scale }

// off is how far offshore of the start a contour runs, metres.
func (d *chart) off(k Contour) (float64, bool) {
	depth, ok := k.Depth.Get()
	at, ok2 := d.StartDepth.Get()
	slope, ok3 := d.Band.Slope.Get()
	off := float64(depth-at) / slope
	return off, ok && ok2 && ok3 && slope > 0 && drawable(off, float64(d.Band.Offshore))
}

// clip cuts the room by a half plane: what lies offshore (sign 1) or inshore
// (sign -1) of a line along the coast.
func (d *chart) clip(shape [][2]float64, off, sign float64) [][2]float64 {
	a := d.Band.Offshore.Degrees() * math.Pi / 180
	side := func(p [2]float64) float64 {
		return sign * (p[0]*math.Sin(a) + p[1]*math.Cos(a) - off)
	}
	var out [][2]float64
	for i, p := range shape {
		q := shape[(i+1)%len(shape)]
		sp, sq := side(p), side(q)
		if sp >= 0 {
			out = append(out, p)
		}
		if sp > 0 && sq < 0 || sp < 0 && sq > 0 {
			f := sp / (sp - sq)
			out = append(out, [2]float64{p[0] + f*(q[0]-p[0]), p[1] + f*(q[1]-p[1])})
		}
	}
	return out
}

func (d *chart) rim() [][2]float64 {
	e1, n0 := d.e0+(d.room.x1-d.room.x0)/d.scale, d.n1-(d.room.y1-d.room.y0)/d.scale
	return [][2]float64{{d.e0, n0}, {e1, n0}, {e1, d.n1}, {d.e0, d.n1}}
}

// ground draws the band and the contours, straight along the coast.
func (d *chart) ground() {
	d.rect(d.room, `class="quiet" fill="none" stroke="currentColor" stroke-width=".7" opacity=".5"`)
	shallow, ok := d.off(d.Band.Shallow)
	deep, ok2 := d.off(d.Band.Deep)
	if ok && ok2 && deep > shallow {
		if shape := d.clip(d.clip(d.rim(), shallow, 1), deep, -1); len(shape) > 2 {
			d.path(d.outline(shape), `class="shade" opacity=".1"`)
		}
	}
	for i, k := range []Contour{d.Band.Shallow, d.Band.Deep, d.Band.Edge} {
		off, ok := d.off(k)
		if !ok {
			continue
		}
		ends := d.ends(off)
		if len(ends) != 2 {
			continue
		}
		x0, y0, x1, y1 := d.px(ends[0][0]), d.py(ends[0][1]), d.px(ends[1][0]), d.py(ends[1][1])
		look := `stroke-width="1" stroke-dasharray="5 4"`
		if i == 2 {
			look = `stroke-width="2.5"`
		}
		d.stroke(x0, y0, x1, y1, look)
		d.avoid(x0, y0, x1, y1, 2)
	}
}

// ends are where a contour meets the rim.
func (d *chart) ends(off float64) [][2]float64 {
	shape := d.clip(d.rim(), off, 1)
	a := d.Band.Offshore.Degrees() * math.Pi / 180
	tiny := 1e-6 * (math.Abs(off) + 1/d.scale)
	var ends [][2]float64
	for _, p := range shape {
		if math.Abs(p[0]*math.Sin(a)+p[1]*math.Cos(a)-off) < tiny+1e-3/d.scale {
			ends = append(ends, p)
		}
	}
	return ends
}

// contourWords writes what each contour is, after the words of the track.
func (d *chart) contourWords() {
	for _, k := range []Contour{d.Band.Edge, d.Band.Shallow, d.Band.Deep} {
		off, ok := d.off(k)
		if ends := d.ends(off); ok && len(ends) == 2 {
			d.along(k.Words, d.px(ends[0][0]), d.py(ends[0][1]), d.px(ends[1][0]), d.py(ends[1][1]))
		}
	}
}

// along writes a word beside a line, near one of its ends.
func (d *chart) along(word string, x0, y0, x1, y1 float64) {
	word = fit(word, (d.room.x1-d.room.x0)/3)
	var spots []spot
	for _, f := range []float64{0.03, 0.97, 0.1, 0.9, 0.2, 0.8, 0.3, 0.7, 0.5} {
		x, y := x0+f*(x1-x0), y0+f*(y1-y0)
		y = max(min(y, d.room.y1-4), d.room.y0+12)
		if math.Abs(x1-x0) > math.Abs(y1-y0) { // lies flat: over or under it
			spots = append(spots, spot{x + 4, y - 4, start}, spot{x - 4, y - 4, end}, spot{x + 4, y + 13, start}, spot{x - 4, y + 13, end})
			continue
		}
		spots = append(spots, spot{x + 4, y, start}, spot{x - 4, y, end})
	}
	d.write(word, "", d.inside(word, "", spots)...)
}

// inside keeps the spots whose words stay in the room.
func (d *chart) inside(word, attributes string, spots []spot) []spot {
	return slices.DeleteFunc(spots, func(s spot) bool { return !boxOf(s, clean(word), attributes).within(d.room) })
}

func (d *chart) outline(shape [][2]float64) string {
	var b strings.Builder
	for i, p := range shape {
		b.WriteByte("ML"[min(i, 1)])
		b.WriteString(num(d.px(p[0])) + " " + num(d.py(p[1])))
	}
	b.WriteByte('Z')
	return b.String()
}

// at is the boat's place at an instant on the track.
func (d *chart) at(t time.Time) (x, y, r float64, ok bool) {
	for i := 1; i < len(d.Track); i++ {
		a, b := d.Track[i-1], d.Track[i]
		if t.Before(a.At) || t.After(b.At) || !b.At.After(a.At) {
			continue
		}
		f := float64(t.Sub(a.At)) / float64(b.At.Sub(a.At))
		mix := func(u, v units.Length) float64 { return float64(u) + f*float64(v-u) }
		return d.px(mix(a.East, b.East)), d.py(mix(a.North, b.North)), d.scale * max(mix(a.SpreadRadius, b.SpreadRadius), 0), true
	}
	return 0, 0, 0, false
}

// track draws the way with its hours, and the doubt of the place as circles.
func (d *chart) track() {
	var way strings.Builder
	for i, p := range d.Track {
		x, y := d.px(float64(p.East)), d.py(float64(p.North))
		way.WriteByte("ML"[min(i, 1)])
		way.WriteString(num(x) + " " + num(y))
	}
	first, last := d.Track[0], d.Track[len(d.Track)-1]
	marks := d.hours(first.At, last.At)
	for _, t := range append(slices.Clone(marks), last.At) {
		if x, y, r, ok := d.at(t); ok && r > 3 {
			d.circle(x, y, r, `class="spread" fill="none" stroke="currentColor" stroke-width=".8" opacity=".55"`)
		}
	}
	for i := 1; i < len(d.Track); i++ {
		d.avoid(d.px(float64(d.Track[i-1].East)), d.py(float64(d.Track[i-1].North)),
			d.px(float64(d.Track[i].East)), d.py(float64(d.Track[i].North)), 4)
	}
	d.path(way.String(), `class="track" fill="none" stroke="currentColor" stroke-width="3" stroke-linejoin="round"`)
	x0, y0 := d.px(float64(first.East)), d.py(float64(first.North))
	x1, y1 := d.px(float64(last.East)), d.py(float64(last.North))
	d.circle(x0, y0, 5, "")
	d.beside(label(d.Labels.Start, d.clock(first.At)), bold, x0, y0)
	d.head(x1, y1, d.heading(), 9, true)
	for _, t := range d.Resets {
		if x, y, _, ok := d.at(t); ok {
			d.path(fmt.Sprintf("M%s %sh10v10h-10z", num(x-5), num(y-5)), `fill="none" stroke="currentColor" stroke-width="2"`)
			d.beside(label(d.Labels.Reset, d.clock(t)), "", x, y)
		}
	}
	d.beside(label(d.Labels.End, d.clock(last.At)), bold, x1, y1)
	for _, t := range marks {
		if x, y, _, ok := d.at(t); ok {
			d.circle(x, y, 3.5, "")
			d.beside(d.clock(t), "", x, y)
		}
	}
}

func (d *chart) clock(t time.Time) string { return t.In(d.Zone).Format("15:04") }

// hours are the whole hours between two instants, or fewer of them where
// there are many.
func (d *chart) hours(from, to time.Time) []time.Time {
	local := from.In(d.Zone)
	t := time.Date(local.Year(), local.Month(), local.Day(), local.Hour(), 0, 0, 0, d.Zone)
	every := time.Duration(max(1, math.Ceil(to.Sub(from).Hours()/8))) * time.Hour
	var out []time.Time
	for ; t.Before(to); t = t.Add(every) {
		if t.After(from) {
			out = append(out, t)
		}
	}
	return out
}

// heading is where the last leg of the track goes.
func (d *chart) heading() units.Toward {
	for i := len(d.Track) - 1; i > 0; i-- {
		a, b := d.Track[i-1], d.Track[i]
		v := units.Vector{East: units.Speed(b.East - a.East), North: units.Speed(b.North - a.North)}
		if to, ok := v.Toward(); ok {
			return to
		}
	}
	return 0
}

// beside writes a word near a place.
func (d *chart) beside(word, attributes string, x, y float64) {
	word = fit(word, (d.room.x1-d.room.x0)/2)
	spots := []spot{
		{x + 9, y + 4, start}, {x - 9, y + 4, end}, {x, y - 10, middle}, {x, y + 20, middle},
		{x + 9, y + 18, start}, {x - 9, y + 18, end}, {x + 9, y - 10, start}, {x - 9, y - 10, end},
	}
	d.write(word, attributes, d.inside(word, attributes, spots)...)
}

// margin draws north, the wind, the current and the scale beside the ground,
// or under it on a phone.
func (d *chart) margin() {
	type place struct{ x, y float64 }
	north, wind, current, bar := place{570, 40}, place{570, 138}, place{570, 248}, place{512, 390}
	room := 124.0
	if d.Narrow {
		north, wind, current, bar = place{24, 376}, place{96, 366}, place{212, 366}, place{276, 386}
		room = 112
	}
	d.arrow(north.x, north.y, 0, 26, true)
	d.write(d.Labels.North, bold, spot{north.x, north.y + 28, middle})
	words := func(s string, p place) {
		for i, l := range wrap(s, room, 2) {
			d.write(l, "", spot{p.x, p.y + 36 + laneLine*float64(i), middle})
		}
	}
	if from, ok := d.Wind.From.Get(); ok && drawable(float64(from)) {
		d.arrow(wind.x, wind.y, from.Toward(), 34, false)
	}
	words(d.Wind.Words, wind)
	if to, ok := d.Current.Toward.Get(); ok && drawable(float64(to)) {
		d.arrow(current.x, current.y, to, 34, true)
	}
	words(d.Current.Words, current)
	d.scaleBar(bar.x, bar.y, d.w-bar.x-8, d.scale, d.Scale)
}

// arrow draws a stream as an arrow through a place: filled for what carries
// the boat, open and dashed for the wind.
func (d *chart) arrow(x, y float64, to units.Toward, length float64, filled bool) {
	s, c := math.Sincos(to.Degrees() * math.Pi / 180)
	h := length / 2
	look := `stroke-width="2"`
	if !filled {
		look = `stroke-width="2" stroke-dasharray="5 3"`
	}
	d.stroke(x-h*s, y+h*c, x+h*s, y-h*c, look)
	d.head(x+h*s, y-h*c, to, 9, filled)
}

// head draws an arrow's head with its point at a place.
func (p *paper) head(x, y float64, to units.Toward, size float64, filled bool) {
	a := to.Degrees() * math.Pi / 180
	var at [2][2]float64
	for i, turn := range []float64{2.7, -2.7} {
		at[i] = [2]float64{x + size*math.Sin(a+turn), y - size*math.Cos(a+turn)}
	}
	d := fmt.Sprintf("M%s %sL%s %sL%s %s", num(at[0][0]), num(at[0][1]), num(x), num(y), num(at[1][0]), num(at[1][1]))
	if filled {
		p.path(d+"Z", "")
		return
	}
	p.path(d, `fill="none" stroke="currentColor" stroke-width="2"`)
}

// scaleBar draws a round length in the reader's unit that fits into a room;
// scale is user units for a metre.
func (p *paper) scaleBar(x, y, room, scale float64, u Unit) {
	one := float64(u.length()) * scale
	if !(one > 0) || math.IsInf(one, 0) {
		return
	}
	n := tick(room / one / 2.5)
	if n*one > room {
		return
	}
	w := n * one
	p.path(fmt.Sprintf("M%s %sv5h%sv-5", num(x), num(y-5), num(w)), `fill="none" stroke="currentColor" stroke-width="1.5"`)
	word := label(strconv.FormatFloat(n, 'f', -1, 64), clean(u.Name))
	p.write(fit(word, room), "", spot{x, y + 14, start})
}
