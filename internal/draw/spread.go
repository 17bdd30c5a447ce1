package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// SpreadLabels are the words of the two drawings of a spread. An empty one is
// not written.
type SpreadLabels struct {
	// Kite stands beside the kite seen from the side and beside a single one
	// seen from above.
	Kite, LeftKite, RightKite string
	Boat                      string
	// Wind stands at the arrow that shows where the wind blows.
	Wind string
}

// SpreadSide is a spread to scale, seen from the side: downwind, where the
// kites stand, is to the right; the flat lines lie upwind, and rods without a
// distance hang below the boat. Kites that stand alike are drawn once.
type SpreadSide struct {
	// ID begins the ids in the drawing, so that several can stand on a page.
	ID string
	// Title and Description are read out by a screen reader, not drawn.
	Title, Description string
	Spread             models.Spread
	// Tip is the height of the rod tips and the kite reel; 0 is 10 ft.
	Tip units.Length
	// Scale is the reader's unit for all lengths.
	Scale Unit
	// Words tells a position ("long", "flat line") or a side ("left",
	// "right") in the reader's language; nil leaves them as they are.
	Words  func(string) string
	Labels SpreadLabels
	// Narrow lays the drawing out for a phone.
	Narrow bool
}

// SpreadTop is the same spread from above. The reader stands aboard and looks
// downwind, up the paper: left and right are the trade's left and right kite.
type SpreadTop struct {
	// ID begins the ids in the drawing, so that several can stand on a page.
	ID string
	// Title and Description are read out by a screen reader, not drawn.
	Title, Description string
	Spread             models.Spread
	// Tip is the height of the rod tips and the kite reel; 0 is 10 ft.
	Tip units.Length
	// Split is how far each of two kites is led off the wind, degrees; 0 is
	// 15.
	Split float64
	// Scale is the reader's unit for all lengths.
	Scale Unit
	// Words tells a position or a side in the reader's language; nil leaves
	// them as they are.
	Words  func(string) string
	Labels SpreadLabels
	// Narrow lays the drawing out for a phone.
	Narrow bool
}

func told(words func(string) string, s string) string {
	if words == nil {
		return s
	}
	return words(s)
}

// tell writes a length as a whole number of the unit.
func (u Unit) tell(l units.Length) string {
	return label(strconv.FormatFloat(math.Round(float64(l/u.length())), 'f', -1, 64), clean(u.Name))
}

// flown is the kite line of a spread: from the tip it leaves at the angle the
// card gives and bends up to the kite as a parabola does.
type flown struct {
	tip, height float64 // metres
	a, b        float64 // behind = a z + b z², z the height over the tip
}

// hardlyUp is the height over the tips, in metres, under which a kite is as good
// as down.
const hardlyUp = 0.1

func flownBy(s models.Spread, tip units.Length) (flown, bool) {
	if !(tip > 0 && tip < 30*units.Metre) {
		tip = 10 * units.Foot
	}
	f := flown{tip: float64(tip), height: float64(s.Height)}
	z := f.height - f.tip
	if !drawable(f.height, s.Angle, float64(s.KiteLine)) || z < hardlyUp || s.Angle <= 0 || s.Angle >= 90 {
		return f, false
	}
	// No farther than the line lets out reaches; a line too short for the
	// height flies nothing.
	reach := math.Sqrt(float64(s.KiteLine*s.KiteLine) - z*z)
	if !(reach > 0) {
		return f, false
	}
	// Nor does the line run out past its kite and back.
	f.a = min(1/math.Tan(s.Angle*math.Pi/180), 2*reach/z)
	f.b = min(reach-f.a*z, 0) / (z * z)
	return f, true
}

// behind is how far behind the boat the line is at a height over the water.
func (f flown) behind(height float64) float64 {
	z := max(height-f.tip, 0)
	return max(f.a*z+f.b*z*z, 0)
}

// far is a known, finite, not negative length in metres.
func far(l models.Opt[units.Length]) (float64, bool) {
	v, ok := l.Get()
	return float64(v), ok && drawable(float64(v)) && v >= 0
}

func kiteBait(b models.BaitPosition) bool { return b.ClipHeight.Known() }

// side is the drawing from the side while it is made.
type side struct {
	SpreadSide
	*paper
	line   flown
	up     bool
	scale  float64 // user units for a metre
	x0, y0 float64 // the boat at the water
}

// SVG returns the drawing. The same spread always gives the same text.
func (s SpreadSide) SVG() ([]byte, error) {
	d := &side{SpreadSide: s}
	d.line, d.up = flownBy(s.Spread, s.Tip)
	d.paper = newPaper(s.ID, s.Title, 640, 0)
	class, tall := "spread-side", 400.0
	if s.Narrow {
		d.w, class = 360, "spread-side narrow"
	}
	baits, ok := d.baits()
	if !ok {
		return nil, fmt.Errorf("draw %q: %w", s.Title, ErrNothing)
	}
	downwind, upwind, deep := 0.0, 0.0, 0.0
	if d.up {
		downwind = d.line.behind(d.line.height)
	}
	for _, b := range baits {
		behind, known := far(b.Behind)
		out, hangs := far(b.LineOut)
		switch {
		case known && kiteBait(b):
			downwind = max(downwind, behind)
		case known:
			upwind = max(upwind, behind)
		case hangs:
			deep = max(deep, out)
		}
	}
	height := d.line.tip
	if d.up {
		height = d.line.height
	}
	left, right, head, foot := 40.0, 52.0, 26.0, 4*laneLine+16
	for _, b := range baits {
		if b.Behind.Known() && !kiteBait(b) {
			left = max(left, textWidth(d.called(b)))
		}
	}
	across := max(downwind+upwind, 20)
	d.scale = min((d.w-left-right)/across, tall/(height+deep))
	d.x0 = left + upwind*d.scale + (d.w-left-right-across*d.scale)/2
	d.y0 = head + height*d.scale
	d.h = math.Ceil(d.y0 + max(deep*d.scale+laneLine, foot) + 26)
	d.boat()
	d.kite()
	for _, b := range baits {
		d.hang(b)
	}
	slices.SortStableFunc(baits, func(a, b models.BaitPosition) int { // those farthest out have most room
		return cmp.Compare(b.Behind.Or(0), a.Behind.Or(0))
	})
	for _, b := range baits {
		d.name(b)
	}
	x, tip := d.x0, d.y0-d.line.tip*d.scale
	d.write(fit(s.Labels.Boat, d.w/4), "", spot{x - 6, tip - 6, end}, spot{x - 16, d.y0 - 5, end}, spot{x, tip - 8, middle}, spot{x - 14, d.y0 + 18, end})
	d.scaleBar(8, d.h-20, d.w/3, d.scale, s.Scale)
	return d.svg(class, s.Title, s.Description), nil
}

// baits are the lines with a place, each once where both sides stand alike.
func (d *side) baits() (out []models.BaitPosition, ok bool) {
	type key struct{ position, behind, clip, line string }
	seen := map[key]bool{}
	for _, b := range d.Spread.Positions {
		behind, known := far(b.Behind)
		clip, clipped := far(b.ClipHeight)
		line, hangs := far(b.LineOut)
		if !known && !hangs || kiteBait(b) && !(known && clipped && d.up) {
			continue
		}
		k := key{b.Position, num(behind), num(clip), num(line)}
		if !seen[k] {
			seen[k] = true
			out = append(out, b)
		}
	}
	return out, len(out) > 0 || d.up
}

// twice tells whether a position is drawn at more than one place, so that its
// side has to be told.
func (d *side) twice(position string) bool {
	baits, _ := d.baits()
	n := 0
	for _, b := range baits {
		if b.Position == position {
			n++
		}
	}
	return n > 1
}

// boat draws the water, and the boat with a rod up to the tips; its size is
// not to scale.
func (d *side) boat() {
	d.stroke(2, d.y0, d.w-2, d.y0, `class="water" stroke-width="1" opacity=".6"`)
	d.avoid(2, d.y0, d.w-2, d.y0, 1)
	x, y := d.x0, d.y0
	d.path(fmt.Sprintf("M%s %sh24l-4 10h-16z", num(x-12), num(y-6)), "")
	d.keep(box{x - 12, y - 6, x + 12, y + 4})
	tip := y - d.line.tip*d.scale
	d.stroke(x, y-6, x, tip, `stroke-width="2"`)
	d.avoid(x, y, x, tip, 1)
}

func (d *side) kite() {
	if !d.up {
		return
	}
	f := d.line
	z := f.height - f.tip
	x, y := d.x0+f.behind(f.height)*d.scale, d.y0-f.height*d.scale
	d.path(fmt.Sprintf("M%s %sQ%s %s %s %s", num(d.x0), num(d.y0-f.tip*d.scale),
		num(d.x0+f.a*z/2*d.scale), num(d.y0-(f.tip+z/2)*d.scale), num(x), num(y)),
		`fill="none" stroke="currentColor" stroke-width="1.5"`)
	for i := range 20 {
		h := f.tip + z*float64(i)/20
		d.avoid(d.x0+f.behind(h)*d.scale, d.y0-h*d.scale, d.x0+f.behind(h+z/20)*d.scale, d.y0-(h+z/20)*d.scale, 2)
	}
	d.mark(x, y)
	at, room := spot{x - 14, y + 4, end}, x-14
	if d.w-x-14 > room {
		at, room = spot{x + 14, y + 4, start}, d.w-x-14
	}
	for _, l := range append(wrap(d.Labels.Kite, room/boldWider, 2), d.Scale.tell(d.Spread.Height)) {
		d.write(l, bold, at)
		at.y += laneLine
	}
}

// mark draws a kite; its size is not to scale.
func (p *paper) mark(x, y float64) {
	p.path(fmt.Sprintf("M%s %sl9 9l-9 9l-9 -9z", num(x), num(y-9)), "")
	p.keep(box{x - 9, y - 9, x + 9, y + 9})
}

// place is where a bait is on the paper.
func (d *side) place(b models.BaitPosition) (x, y float64) {
	behind, known := far(b.Behind)
	switch {
	case known && kiteBait(b):
		return d.x0 + behind*d.scale, d.y0
	case known:
		return d.x0 - behind*d.scale, d.y0
	}
	out, _ := far(b.LineOut)
	return d.x0, d.y0 + out*d.scale
}

// hang draws a line with its clip and its bait.
func (d *side) hang(b models.BaitPosition) {
	x, y := d.place(b)
	if clip, ok := far(b.ClipHeight); ok {
		clip = min(clip, d.line.height)
		cx, cy := d.x0+d.line.behind(clip)*d.scale, d.y0-clip*d.scale
		d.circle(cx, cy, 3, "")
		d.stroke(cx, cy, x, y, `stroke-width="1" stroke-dasharray="4 2"`)
		d.avoid(cx, cy, x, y, 1)
	} else {
		tip := d.y0 - d.line.tip*d.scale
		d.stroke(d.x0, tip, x, y, `stroke-width="1" stroke-dasharray="4 2"`)
		d.avoid(d.x0, tip, x, y, 1)
	}
	d.bait(x, y)
}

// bait draws a bait; its size is not to scale.
func (p *paper) bait(x, y float64) {
	p.path(fmt.Sprintf("M%s %sa5 3 0 1 0 0 .1l4 -3v6z", num(x+5), num(y)), "")
	p.keep(box{x - 6, y - 4, x + 10, y + 4})
}

// called is a bait's position, with its side where both are drawn.
func (d *side) called(b models.BaitPosition) string {
	word := told(d.Words, b.Position)
	if b.Side != "" && d.twice(b.Position) {
		word = label(told(d.Words, b.Side), clean(word))
	}
	return fit(word, 0.42*d.w)
}

// name writes what hangs there and how far, and how high its clip is.
func (d *side) name(b models.BaitPosition) {
	x, y := d.place(b)
	word := d.called(b)
	behind, known := far(b.Behind)
	if !known {
		out, _ := far(b.LineOut)
		d.write(word+" "+d.Scale.tell(units.Length(out)), "", spot{x + 14, y + 4, start}, spot{x - 10, y + 4, end})
		return
	}
	way := []anchor{middle, start, end}
	if !kiteBait(b) { // flat lines stand close: away from one another
		way = []anchor{start, middle, end}
		if d.outermost(b) {
			way = []anchor{end, middle, start}
		}
	}
	d.under(word, d.Scale.tell(units.Length(behind)), x, y, way)
	if clip, ok := far(b.ClipHeight); ok {
		at := min(clip, d.line.height)
		cx, cy := d.x0+d.line.behind(at)*d.scale, d.y0-at*d.scale
		d.write(d.Scale.tell(units.Length(clip)), "", spot{cx - 8, cy, end}, spot{cx + 8, cy + 4, start}, spot{cx + 8, cy - 6, start})
	}
}

// outermost tells whether no flat line lies farther out.
func (d *side) outermost(b models.BaitPosition) bool {
	own, _ := far(b.Behind)
	return !slices.ContainsFunc(d.Spread.Positions, func(o models.BaitPosition) bool {
		behind, ok := far(o.Behind)
		return ok && !kiteBait(o) && behind > own
	})
}

// under writes two words below a place, lower where others stand, with a line
// that leads there.
func (p *paper) under(a, b string, x, y float64, way []anchor) {
	a, b = clean(a), clean(b)
	half := max(textWidth(a), textWidth(b)) / 2
	for tier := range 3 {
		lead := 2 * laneLine * float64(tier)
		for _, w := range way {
			at := x
			switch w {
			case start:
				at += half - 4
			case end:
				at -= half - 4
			}
			at = max(min(at, p.w-half-1), half+1)
			first, second := spot{at, y + 18 + lead, middle}, spot{at, y + 18 + laneLine - 1 + lead, middle}
			if !p.free(boxOf(first, a, ""), true) || !p.free(boxOf(second, b, ""), true) {
				continue
			}
			if tier > 0 {
				p.stroke(x, y+5, x, y+lead+5, `class="quiet" stroke-width=".7" opacity=".6"`)
			}
			p.put(a, "", first)
			p.put(b, "", second)
			return
		}
	}
}

// above is the drawing from above while it is made.
type above struct {
	SpreadTop
	*paper
	line   flown
	scale  float64
	x0, y0 float64 // the boat
}

// SVG returns the drawing. The same spread always gives the same text.
func (s SpreadTop) SVG() ([]byte, error) {
	d := &above{SpreadTop: s}
	class, tall := "spread-top", 360.0
	d.paper = newPaper(s.ID, s.Title, 640, 0)
	words := 150.0 // room for them on either side
	if s.Narrow {
		d.w, class, words = 360, "spread-top narrow", 96
	}
	up := false
	d.line, up = flownBy(s.Spread, s.Tip)
	kiteAt := d.line.behind(d.line.height)
	downwind, upwind, wide := 0.0, 0.0, 0.0
	see := func(p [2]float64) {
		downwind, upwind, wide = max(downwind, p[1]), max(upwind, -p[1]), max(wide, math.Abs(p[0]))
	}
	var placed, ready []models.BaitPosition
	for _, b := range s.Spread.Positions {
		if behind, ok := far(b.Behind); ok && (up || !kiteBait(b)) {
			see(d.at(b, behind))
			placed = append(placed, b)
		} else if !kiteBait(b) {
			ready = append(ready, b)
		}
	}
	if len(placed) == 0 && !up {
		return nil, fmt.Errorf("draw %q: %w", s.Title, ErrNothing)
	}
	if up {
		sin, cos := math.Sincos(d.split() * math.Pi / 180)
		see([2]float64{kiteAt * sin, kiteAt * cos})
	}
	d.scale = min(tall/max(downwind+upwind, 20), (d.w/2-words)/max(wide, 1))
	d.x0, d.y0 = d.w/2, 24+downwind*d.scale
	d.h = math.Ceil(d.y0 + max(upwind*d.scale+30, laneLine*float64(len(ready))+24) + 30)
	d.boat(ready)
	if up {
		d.kites(kiteAt)
	}
	for _, b := range placed {
		d.lay(b)
	}
	d.wind()
	d.scaleBar(8, d.h-20, d.w/3, d.scale, s.Scale)
	return d.svg(class, s.Title, s.Description), nil
}

// sideways is -1 to the left, 1 to the right, 0 between.
func sideways(b models.BaitPosition) float64 {
	switch b.Side {
	case "left":
		return -1
	case "right":
		return 1
	}
	return 0
}

func (d *above) split() float64 {
	switch {
	case d.Spread.Kites < 2:
		return 0
	case !drawable(d.Split) || d.Split <= 0 || d.Split > 80:
		return 15
	}
	return d.Split
}

// at is a bait's place in metres, to the right and downwind of the boat: kite
// baits on the bearing of their kite, flat lines upwind.
func (d *above) at(b models.BaitPosition, behind float64) [2]float64 {
	bearing := d.split() * sideways(b)
	if !kiteBait(b) {
		bearing = 180 - 30*sideways(b)
	}
	s, c := math.Sincos(bearing * math.Pi / 180)
	return [2]float64{behind * s, behind * c}
}

// boat draws it beam on to the wind, with what is kept ready aboard or hangs
// below.
func (d *above) boat(ready []models.BaitPosition) {
	x, y := d.x0, d.y0
	d.path(fmt.Sprintf("M%s %sh30q12 2 16 7q-4 5 -16 7h-30z", num(x-22), num(y-7)), "")
	d.keep(box{x - 22, y - 8, x + 25, y + 8})
	lines := []string{d.Labels.Boat}
	for _, b := range ready {
		w := told(d.Words, b.Position)
		if out, ok := far(b.LineOut); ok {
			w = clean(w) + " " + d.Scale.tell(units.Length(out))
		}
		if !slices.Contains(lines, w) {
			lines = append(lines, w)
		}
	}
	yy := y + 4
	for _, l := range lines {
		if d.write(fit(l, d.w/2-40), "", spot{x + 32, yy, start}, spot{x - 30, yy, end}) {
			yy += laneLine
		}
	}
}

func (d *above) kites(at float64) {
	sides := []models.BaitPosition{{}}
	names := []string{d.Labels.Kite}
	if d.Spread.Kites > 1 {
		sides = []models.BaitPosition{{Side: "left"}, {Side: "right"}}
		names = []string{d.Labels.LeftKite, d.Labels.RightKite}
	}
	for i, b := range sides {
		bearing := d.split() * sideways(b) * math.Pi / 180
		x, y := d.x0+at*math.Sin(bearing)*d.scale, d.y0-at*math.Cos(bearing)*d.scale
		d.stroke(d.x0, d.y0, x, y, `stroke-width="1.5"`)
		d.avoid(d.x0, d.y0, x, y, 2)
		d.mark(x, y)
		left, right := spot{x - 14, y + 4, end}, spot{x + 14, y + 4, start}
		if b.Side != "left" {
			left, right = right, left
		}
		d.write(fit(names[i], (d.x0-math.Abs(x-d.x0)-16)/boldWider), bold, left, right)
	}
}

func (d *above) lay(b models.BaitPosition) {
	behind, _ := far(b.Behind)
	p := d.at(b, behind)
	x, y := d.x0+p[0]*d.scale, d.y0-p[1]*d.scale
	fromX, fromY := d.x0, d.y0
	if clip, ok := far(b.ClipHeight); ok { // blown back from under its clip
		f := min(d.line.behind(min(clip, d.line.height))/max(behind, 1), 1)
		fromX, fromY = d.x0+p[0]*d.scale*f, d.y0-p[1]*d.scale*f
		d.circle(fromX, fromY, 2, "")
	}
	d.stroke(fromX, fromY, x, y, `stroke-width="1" stroke-dasharray="4 2"`)
	d.avoid(fromX, fromY, x, y, 1)
	d.bait(x, y)
	w := told(d.Words, b.Position)
	w = fit(label(w, d.Scale.tell(units.Length(behind))), d.w/2-20)
	left, right := spot{x - 10, y + 4, end}, spot{x + 14, y + 4, start}
	if b.Side == "left" {
		d.write(w, "", left, spot{left.x, y + 14, end}, spot{left.x, y - 8, end}, right)
		return
	}
	d.write(w, "", right, spot{right.x, y + 14, start}, spot{right.x, y - 8, start}, left)
}

// wind draws an arrow up the paper.
func (d *above) wind() {
	if clean(d.Labels.Wind) == "" {
		return
	}
	x, y := d.w-16, d.h-16
	d.stroke(x, y, x, y-34, `stroke-width="2" stroke-dasharray="5 3"`)
	d.head(x, y-34, 0, 9, false)
	d.write(fit(d.Labels.Wind, d.w/2), "", spot{x - 12, y, end})
}
