package draw

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Lanes is a day as lanes over one time axis: how good each hour is is told by
// the height of its step and by a word, what is planned by a thick line, and
// what is official by bars across all lanes.
type Lanes struct {
	// ID begins the ids in the drawing, so that several can stand on a page.
	ID string
	// Title and Description are read out by a screen reader, not drawn.
	Title, Description string
	// Zone is the port's clock.
	Zone *time.Location
	// From and To are the ends of the time axis.
	From, To time.Time
	// Lanes stand below one another, the first on top.
	Lanes []Lane
	Bars  []LaneBar
	// Turns are the turns of tide and stream, each with its mark.
	Turns  []Turn
	Sun    models.SunTimes
	Tactic []Stretch
	// LeaveAt and BackAt stand in place of the plan's clock times, if given.
	LeaveAt, BackAt string
	Now             models.Opt[time.Time]
	Labels          LaneLabels
	// Narrow lays the drawing out for a phone.
	Narrow bool
}

// Lane is one thing judged over the hours.
type Lane struct {
	Name   string
	Levels []Level
}

// Level is one hour of a lane.
type Level struct {
	// At is the hour's start.
	At time.Time
	// Height is 0 to 3; higher is better.
	Height int
	// Word says the same; it is written once for hours alike in a row.
	Word string
	// Closed marks an hour in which nobody fishes.
	Closed bool
}

// LaneBar is what holds across all lanes: an official warning.
type LaneBar struct {
	From, To time.Time
	Words    string
}

// TurnKind is the mark of a turn.
type TurnKind string

// Turns of the tide and of the stream.
const (
	TurnHigh  TurnKind = "high"
	TurnLow   TurnKind = "low"
	TurnSlack TurnKind = "slack"
	TurnFlood TurnKind = "flood"
	TurnEbb   TurnKind = "ebb"
)

// Turn is a high or low water, or a slack or strongest stream. The drawing
// writes its time; Words say what it is.
type Turn struct {
	At    time.Time
	Kind  TurnKind
	Words string
}

// Stretch is a part of the plan.
type Stretch struct {
	From, To time.Time
	Words    string
	// In are the places in Lanes of what is fished; those steps are drawn
	// dark.
	In []int
}

// LaneLabels are the words of the drawing itself. An empty one is not written.
type LaneLabels struct {
	FirstLight, Sunrise, Sunset, LastLight string
	Plan, Leave, Back                      string
	Closed, Now, Tide, Stream              string
	// Warnings heads the bars.
	Warnings string
}

const laneLine = 15.0 // from base line to base line

// lanes is the drawing while it is made.
type lanes struct {
	Lanes
	*paper
	left, right float64 // ends of the time axis on the paper
	y           float64 // where the next row begins
	top, floor  float64 // of the lanes
	step        float64 // height of one level
}

// SVG returns the drawing. The same day always gives the same text.
func (l Lanes) SVG() ([]byte, error) {
	if !l.To.After(l.From) || !slices.ContainsFunc(l.Lanes, func(n Lane) bool {
		return slices.ContainsFunc(n.Levels, func(v Level) bool { return l.shows(v.At, v.At.Add(time.Hour)) })
	}) {
		return nil, fmt.Errorf("draw %q: %w", l.Title, ErrNothing)
	}
	if l.Zone == nil {
		l.Zone = time.UTC
	}
	d := &lanes{Lanes: l, left: 100, right: 936, step: 14}
	d.paper = newPaper(l.ID, l.Title, 960, math.Inf(1))
	if l.Narrow {
		d.w, d.left, d.right, d.step = 360, 8, 352, 12
	}
	d.hatch()
	d.y = 2
	d.bars()
	d.sunWords()
	d.plan()
	d.lanesAndAxis()
	d.turns()
	d.h = math.Ceil(d.y + 4)
	class := "lanes"
	if l.Narrow {
		class = "lanes narrow"
	}
	return d.svg(class, l.Title, l.Description), nil
}

func (l Lanes) shows(from, to time.Time) bool {
	return to.After(from) && from.Before(l.To) && to.After(l.From)
}

// x is the place of an instant, kept to the axis.
func (d *lanes) x(t time.Time) float64 {
	f := float64(t.Sub(d.From)) / float64(d.To.Sub(d.From))
	return d.left + min(max(f, 0), 1)*(d.right-d.left)
}

// near is the spot for a word below or above a place, moved only as far as
// keeps it over the axis.
func (d *lanes) near(word, attributes string, x, y float64) spot {
	half := widthOf(word, attributes) / 2
	return spot{max(min(x, d.right-half), d.left+half), y, middle}
}

func (d *lanes) clock(t time.Time) string { return t.In(d.Zone).Format("15:04") }

// name writes the name of a row: in the margin, or over it where there is
// none. It tells how far down the row itself begins.
func (d *lanes) name(s string, drop float64) {
	if d.Narrow {
		d.write(fit(s, (d.right-d.left)/boldWider), bold, spot{d.left, d.y + 11, start})
		return
	}
	d.write(fit(s, (d.left-12)/boldWider), bold, spot{d.left - 10, d.y + drop, end})
}

// bars writes what each bar is, with its extent as a bracket below the words.
func (d *lanes) bars() {
	named := false
	for _, b := range d.Bars {
		if !d.shows(b.From, b.To) {
			continue
		}
		if !named {
			d.name(d.Labels.Warnings, 12)
			if d.Narrow && clean(d.Labels.Warnings) != "" {
				d.y += laneLine
			}
			named = true
		}
		x0, x1 := d.x(b.From), d.x(b.To)
		room := d.right - d.left
		for _, line := range wrap(b.Words, room/boldWider, 3) {
			w := widthOf(line, bold)
			x := max(min(x0, d.right-w), d.left)
			d.put(line, bold, spot{x, d.y + 12, start})
			d.y += laneLine
		}
		ends := ""
		if !b.From.Before(d.From) {
			ends += fmt.Sprintf("M%s %sv7", num(x0), num(d.y))
		}
		if !b.To.After(d.To) {
			ends += fmt.Sprintf("M%s %sv7", num(x1), num(d.y))
		}
		d.path(fmt.Sprintf("M%s %sH%s%s", num(x0), num(d.y+3.5), num(x1), ends), `fill="none" stroke="currentColor" stroke-width="2"`)
		d.y += 10
	}
}

// sunWords writes the sun's times over the lanes; its light is shaded later.
func (d *lanes) sunWords() {
	type mark struct {
		at    models.Opt[time.Time]
		label string
		side  anchor
	}
	wrote := false
	row := d.y
	for _, m := range []mark{
		{d.Sun.Rise, d.Labels.Sunrise, start}, {d.Sun.Set, d.Labels.Sunset, end},
		{d.Sun.CivilDawn, d.Labels.FirstLight, end}, {d.Sun.CivilDusk, d.Labels.LastLight, start},
	} {
		at, ok := m.at.Get()
		if !ok || clean(m.label) == "" || at.Before(d.From) || at.After(d.To) {
			continue
		}
		x := d.x(at)
		w := clean(m.label) + " " + d.clock(at)
		if d.write(w, "", spot{x, row + 12, m.side}, d.near(w, "", x, row+12)) {
			wrote = true
		}
	}
	if wrote {
		d.y += laneLine + 3
	}
}

// plan draws the tactic as a thick line with its words above it, and the
// closed hours beside it.
func (d *lanes) plan() {
	parts, shut := d.stretches(), d.shut()
	if len(parts)+len(shut) == 0 {
		return
	}
	d.name(d.Labels.Plan, 20)
	if d.Narrow && clean(d.Labels.Plan) != "" {
		d.y += laneLine
	}
	base, free := d.y+12, d.left // free is where the row's line is free of words
	if len(parts) > 0 {
		first, last := parts[0].From, parts[len(parts)-1].To
		x0, x1 := d.x(first), d.x(last)
		leave, back := label(d.Labels.Leave, cmp.Or(d.LeaveAt, d.clock(first))), label(d.Labels.Back, cmp.Or(d.BackAt, d.clock(last)))
		if d.Narrow { // times on a line of their own
			d.write(leave, "", spot{x0, base, start}, spot{x0, base, middle}, spot{d.left, base, start})
			d.write(back, "", spot{x1, base, end}, spot{x1, base, start}, spot{x1, base, middle}, spot{d.right, base, end})
			base += laneLine
		} else {
			d.write(leave, "", spot{x0 - 5, base + 12, end}, spot{x0, base, start})
			if d.write(back, "", spot{x1 + 5, base + 12, start}) {
				free = x1 + 9 + textWidth(back)
			} else {
				d.write(back, "", spot{x1, base, end})
			}
		}
	}
	d.top = base + 8
	longest := slices.Clone(parts) // they have their words first
	slices.SortStableFunc(longest, func(a, b Stretch) int { return cmp.Compare(b.To.Sub(b.From), a.To.Sub(a.From)) })
	for _, s := range longest {
		a, b := d.x(s.From), d.x(s.To)
		d.write(s.Words, bold, spot{(a + b) / 2, base, middle}, spot{a, base, start}, spot{b, base, end})
	}
	var thick, thin strings.Builder
	for _, s := range parts {
		fmt.Fprintf(&thick, "M%s %sH%s", num(d.x(s.From)+1), num(d.top), num(max(d.x(s.To)-1, d.x(s.From)+1)))
	}
	for _, r := range shut {
		a, b := d.x(r.from), d.x(r.to)
		if b > free {
			fmt.Fprintf(&thin, "M%s %sH%s", num(max(a, free)), num(d.top), num(b))
		}
		d.write(d.Labels.Closed, "", spot{(a + b) / 2, base, middle}, spot{b, base, end}, spot{a, base, start})
	}
	d.path(thick.String(), `class="plan" fill="none" stroke="currentColor" stroke-width="5"`)
	d.path(thin.String(), `class="closed" fill="none" stroke="currentColor" stroke-width="2" stroke-dasharray="3 3"`)
	d.y = d.top + 8
}

// shut are the hours closed in any lane.
func (d *lanes) shut() []run {
	var all []Level
	for _, n := range d.Lanes.Lanes {
		for _, v := range n.Levels {
			if v.Closed {
				all = append(all, Level{At: v.At, Closed: true})
			}
		}
	}
	return d.runs(all)
}

func label(word, value string) string {
	if word = clean(word); word == "" {
		return value
	}
	return word + " " + value
}

// stretches are the parts of the plan in the time shown, in order; those that
// go on alike are one.
func (d *lanes) stretches() []Stretch {
	var out []Stretch
	for _, s := range d.Tactic {
		if d.shows(s.From, s.To) {
			out = append(out, s)
		}
	}
	slices.SortStableFunc(out, func(a, b Stretch) int { return a.From.Compare(b.From) })
	joined := out[:0]
	for _, s := range out {
		if n := len(joined); n > 0 && joined[n-1].To.Equal(s.From) && joined[n-1].Words == s.Words && slices.Equal(joined[n-1].In, s.In) {
			joined[n-1].To = s.To
			continue
		}
		joined = append(joined, s)
	}
	return joined
}

// lanesAndAxis draws the lanes with all that runs through them, and the hours
// below.
func (d *lanes) lanesAndAxis() {
	begin := d.y
	if d.top == 0 {
		d.top = begin
	}
	head := laneLine + 2.0 // room for a word over the highest step
	if d.Narrow {
		head = 2*laneLine + 1
	}
	height := head + 3*d.step + 6
	d.floor = begin + height*float64(len(d.Lanes.Lanes)) - 2
	d.light(begin)
	for _, b := range d.Bars {
		if d.shows(b.From, b.To) {
			d.rect(box{d.x(b.From), begin, d.x(b.To), d.floor}, fmt.Sprintf(`class="bar" fill="url(#%s-h)" opacity=".25"`, d.id))
		}
	}
	d.hours()
	parts := d.stretches()
	for _, t := range d.upright(parts) {
		d.avoid(d.x(t), begin, d.x(t), d.floor, 2)
	}
	for i, n := range d.Lanes.Lanes {
		d.y = begin + height*float64(i)
		base := d.y + head + 3*d.step
		d.name(n.Name, head+2*d.step)
		d.lane(i, n, base)
	}
	if len(parts) > 0 {
		marks := fmt.Sprintf("M%s %sV%s", num(d.x(parts[0].From)), num(d.top-4), num(d.floor))
		for _, s := range parts {
			marks += fmt.Sprintf("M%s %sV%s", num(d.x(s.To)), num(d.top-4), num(d.floor))
		}
		d.path(marks, `fill="none" stroke="currentColor" stroke-width="1.5"`)
	}
	d.y = d.floor + laneLine + 4
	if now, ok := d.Now.Get(); ok && !now.Before(d.From) && !now.After(d.To) {
		x := d.x(now)
		d.path(fmt.Sprintf("M%s %sV%s", num(x), num(d.top), num(d.floor+4)), `class="now" fill="none" stroke="currentColor" stroke-width="2" stroke-dasharray="2 4"`)
		w := label(fit(d.Labels.Now, (d.right-d.left)/2), d.clock(now))
		d.put(w, bold, d.near(w, bold, x, d.y+12))
		d.y += laneLine + 2
	}
}

// upright are the times whose marks run through all lanes.
func (d *lanes) upright(parts []Stretch) []time.Time {
	var out []time.Time
	for _, s := range parts {
		out = append(out, s.From, s.To)
	}
	if now, ok := d.Now.Get(); ok {
		out = append(out, now)
	}
	return out
}

// light shades night and twilight.
func (d *lanes) light(begin float64) {
	shade := func(from, to time.Time, opacity string) {
		if d.shows(from, to) {
			d.rect(box{d.x(from), begin, d.x(to), d.floor}, `class="shade" opacity="`+opacity+`"`)
		}
	}
	if rise, ok := d.Sun.Rise.Get(); ok {
		dawn := d.Sun.CivilDawn.Or(rise)
		shade(d.From, dawn, ".12")
		shade(dawn, rise, ".05")
	}
	if set, ok := d.Sun.Set.Get(); ok {
		dusk := d.Sun.CivilDusk.Or(set)
		shade(set, dusk, ".05")
		shade(dusk, d.To, ".12")
	}
}

// hours draws the time axis: a line at each hour that is told.
func (d *lanes) hours() {
	layout := "15:04"
	if d.Narrow {
		layout = "15"
	}
	hour := (d.right - d.left) / d.To.Sub(d.From).Hours()
	every := 24
	for _, n := range []int{1, 2, 3, 4, 6, 12} {
		if hour*float64(n) > textWidth(layout)+6 {
			every = n
			break
		}
	}
	var grid strings.Builder
	first := d.From.In(d.Zone)
	t := time.Date(first.Year(), first.Month(), first.Day(), first.Hour(), 0, 0, 0, d.Zone)
	if hour*24 < 6 { // more days than there is room for
		return
	}
	for ; !t.After(d.To); t = t.Add(time.Hour) {
		if t.Before(d.From) || t.In(d.Zone).Hour()%every != 0 {
			continue
		}
		x := d.x(t)
		fmt.Fprintf(&grid, "M%s %sV%s", num(x), num(d.top+4), num(d.floor+4))
		d.write(t.In(d.Zone).Format(layout), "", spot{x, d.floor + laneLine + 1, middle}, spot{d.right, d.floor + laneLine + 1, end}, spot{d.left, d.floor + laneLine + 1, start})
	}
	d.path(grid.String(), `class="quiet" fill="none" stroke="currentColor" stroke-width=".7" opacity=".3"`)
}

// run is hours in a row that are alike.
type run struct {
	from, to time.Time
	height   int
	word     string
	closed   bool
}

// alike tells whether s goes on where r ends, as good and with the same word.
func (r run) alike(s run) bool {
	return r.height == s.height && r.word == s.word && r.to.Equal(s.from)
}

func (d *lanes) runs(levels []Level) []run {
	levels = slices.Clone(levels)
	slices.SortStableFunc(levels, func(a, b Level) int { return a.At.Compare(b.At) })
	var out []run
	for i, v := range levels {
		to := v.At.Add(time.Hour)
		if i+1 < len(levels) && levels[i+1].At.Before(to) {
			to = levels[i+1].At
		}
		if !d.shows(v.At, to) {
			continue
		}
		r := run{v.At, to, min(max(v.Height, 0), 3), clean(v.Word), v.Closed}
		if n := len(out); n > 0 && out[n-1].alike(r) && out[n-1].closed == r.closed {
			out[n-1].to = to
			continue
		}
		out = append(out, r)
	}
	return out
}

// lane draws the steps of one lane on its base line, and the words over them.
func (d *lanes) lane(place int, n Lane, base float64) {
	runs := d.runs(n.Levels)
	var area, edge, shut strings.Builder
	for i, r := range runs {
		x0, x1, y := d.x(r.from), d.x(r.to), base-d.step*float64(r.height)
		if r.closed {
			fmt.Fprintf(&shut, "M%s %sH%s", num(x0), num(y), num(x1))
			continue
		}
		fmt.Fprintf(&area, "M%s %sV%sH%sV%sZ", num(x0), num(base), num(y), num(x1), num(base))
		if i > 0 && runs[i-1].to.Equal(r.from) && !runs[i-1].closed {
			fmt.Fprintf(&edge, "V%sH%s", num(y), num(x1))
		} else {
			fmt.Fprintf(&edge, "M%s %sH%s", num(x0), num(y), num(x1))
		}
	}
	d.path(area.String(), `class="step" opacity=".15"`)
	d.fished(place, runs, base)
	d.path(edge.String(), `fill="none" stroke="currentColor" stroke-width="2"`)
	d.path(shut.String(), `fill="none" stroke="currentColor" stroke-width="2" stroke-dasharray="3 3"`)
	d.stroke(d.left, base, d.right, base, `stroke-width=".7" opacity=".6"`)
	d.laneWords(runs, base)
}

// fished darkens what the plan fishes.
func (d *lanes) fished(place int, runs []run, base float64) {
	var area strings.Builder
	for _, s := range d.stretches() {
		if !slices.Contains(s.In, place) {
			continue
		}
		for _, r := range runs {
			x0, x1 := max(d.x(s.From), d.x(r.from)), min(d.x(s.To), d.x(r.to))
			if x1 > x0 && r.height > 0 && !r.closed {
				fmt.Fprintf(&area, "M%s %sV%sH%sV%sZ", num(x0), num(base), num(base-d.step*float64(r.height)), num(x1), num(base))
			}
		}
	}
	d.path(area.String(), `class="fished" opacity=".45"`)
}

// laneWords writes one word over each run, where it does not meet a higher
// step. Where there is no room for it the word is left out if it stands
// elsewhere at the same height, and else goes to the top of the lane. The
// longest runs come first.
func (d *lanes) laneWords(runs []run, base float64) {
	var told []run // whether closed or open, a word is told once
	for _, r := range runs {
		if n := len(told); n > 0 && told[n-1].alike(r) {
			told[n-1].to = r.to
			continue
		}
		told = append(told, r)
	}
	order := slices.Clone(told)
	slices.SortStableFunc(order, func(a, b run) int { return cmp.Compare(b.to.Sub(b.from), a.to.Sub(a.from)) })
	type sign struct {
		height int
		word   string
	}
	written := map[sign]bool{}
	for _, r := range order {
		x0, x1, y := d.x(r.from), d.x(r.to), base-d.step*float64(r.height)-4
		var spots []spot
		for _, f := range []float64{.5, .35, .65, .2, .8} {
			spots = append(spots, spot{x0 + f*(x1-x0), y, middle})
		}
		spots = append(spots, spot{x1 - 2, y, end}, spot{x0 + 2, y, start})
		spots = slices.DeleteFunc(spots, func(s spot) bool { return !d.clear(told, r, boxOf(s, r.word, "")) })
		if top := base - 3*d.step - 4; !written[sign{r.height, r.word}] {
			spots = append(spots, spot{(x0 + x1) / 2, top, middle}, spot{x1, top, end}, spot{x0, top, start})
		}
		if d.write(r.word, "", spots...) {
			written[sign{r.height, r.word}] = true
		}
	}
}

// clear tells whether a word over a run stays on the axis and off the steps
// of higher neighbours.
func (d *lanes) clear(runs []run, own run, b box) bool {
	return b.x0 >= d.left-1 && b.x1 <= d.right+1 && !slices.ContainsFunc(runs, func(r run) bool {
		return d.x(r.from) < b.x1 && d.x(r.to) > b.x0 && r.height > own.height
	})
}

// turns draws tide and stream below the hours.
func (d *lanes) turns() {
	row := func(name string, kinds ...TurnKind) {
		var list []Turn
		for _, t := range d.Turns {
			if slices.Contains(kinds, t.Kind) && !t.At.Before(d.From) && !t.At.After(d.To) {
				list = append(list, t)
			}
		}
		if len(list) == 0 {
			return
		}
		slices.SortStableFunc(list, func(a, b Turn) int { return a.At.Compare(b.At) })
		d.y += 6
		d.name(name, 12)
		if d.Narrow && clean(name) != "" {
			d.y += laneLine
		}
		y := d.y + 7
		d.stroke(d.left, y, d.right, y, `class="quiet" stroke-width=".7" opacity=".4"`)
		for _, t := range list {
			d.turn(t, y)
		}
		d.y = y + 9 + 2*laneLine
	}
	row(d.Labels.Tide, TurnHigh, TurnLow)
	row(d.Labels.Stream, TurnSlack, TurnFlood, TurnEbb)
}

// turn draws one mark: a peak, a trough, a bar, or an arrow with the stream;
// flood runs in, to the right.
func (d *lanes) turn(t Turn, y float64) {
	x := d.x(t.At)
	x = max(min(x, d.right-6), d.left+6)
	switch t.Kind {
	case TurnHigh:
		d.path(fmt.Sprintf("M%s %sl6 10h-12z", num(x), num(y-5)), "")
	case TurnLow:
		d.path(fmt.Sprintf("M%s %sl6 -10h-12z", num(x), num(y+5)), `fill="none" stroke="currentColor"`)
	case TurnSlack:
		d.path(fmt.Sprintf("M%s %sv10", num(x), num(y-5)), `stroke="currentColor" stroke-width="3"`)
	case TurnFlood:
		d.path(fmt.Sprintf("M%s %sl11 5l-11 5z", num(x-5), num(y-5)), "")
	case TurnEbb:
		d.path(fmt.Sprintf("M%s %sl-11 5l11 5z", num(x+5), num(y-5)), `fill="none" stroke="currentColor"`)
	}
	if clock := d.clock(t.At); d.write(clock, "", d.near(clock, "", x, y+18)) {
		d.write(t.Words, "", d.near(clean(t.Words), "", x, y+18+laneLine-2))
	}
}
