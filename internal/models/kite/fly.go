package kite

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Flight is how a kite flies in one wind.
type Flight struct {
	// Elevation is the angle of the line at the boat, Top at the kite.
	Elevation, Top float64
	// Tension is the greatest pull in the line, which is at the kite; Pull
	// is the pull at the boat, N.
	Tension, Pull float64
	// Height and Behind place the kite against the boat.
	Height, Behind units.Length
	// Clips places the clips, in the line's order.
	Clips []Place
	// Holds tells whether the kite stands at a useful angle within the
	// working load; Why says why not.
	Holds bool
	Why   string
}

// LeastElevation is the angle of the line at the boat under which a kite no
// longer carries its baits: common practice, no source.
const LeastElevation = 30

// Fly returns how a kite described by size and mass stands in a wind at its
// own height, on a line with its clips. The line is solved along its length.
// A kite without size and mass does not fly, and Why says so: its captain's
// range is all that is known of it (see Window).
//
// Validity: winds up to about 25 m/s, fabric dry. The wind along the line is
// taken as that at the kite.
//
// Reference: NASAKite for kite and line weight; Hoerner1965 for the cross-flow
// drag of a cylinder.
func Fly(k models.Kite, wind units.Speed, line Line) Flight {
	return FlyHelium(k, models.Unknown[Balloon](), wind, line)
}

// FlyHelium is Fly with a balloon on the back of the kite.
func FlyHelium(k models.Kite, b models.Opt[Balloon], wind units.Speed, line Line) Flight {
	s, ok := newSail(k, b)
	if !ok {
		return Flight{Why: "the kite's size or mass is not given"}
	}
	q := pressure(max(wind, 0))
	tx, tz := q*s.drag, q*s.lift+s.rise
	h := line.solve(tx, tz, q, true)
	f := Flight{
		Top:     math.Atan2(tz, tx) * 180 / math.Pi,
		Tension: h.top, Pull: math.Hypot(h.tx, h.tz),
		Height: h.end.Height, Behind: h.end.Behind, Clips: h.clips,
		Elevation: math.Atan2(h.tz, h.tx) * 180 / math.Pi,
	}
	load := loadOf(k, line)
	switch {
	case h.tz <= 0 || f.Elevation < LeastElevation:
		f.Why = "too little wind to hold the kite and its baits up"
		f.Height = max(f.Height, 0) // on the water, not under it
	case load > 0 && f.Tension > load:
		f.Why = "pull is over the line's working load"
	default:
		f.Holds = true
	}
	return f
}

// loadOf is the working load that counts: the lesser of kite's and line's.
func loadOf(k models.Kite, line Line) float64 {
	load := line.Load
	if own, ok := k.Line.Get(); ok && own > 0 {
		load = own
	}
	return load
}

// Range is the winds at the kite between which it can be flown: Min is met by
// the lulls, Max by the gusts.
type Range struct {
	Min, Max units.Speed
	// Own marks a range that the captain gave.
	Own bool
}

// Window returns the winds at the kite between which it holds on a line. The
// captain's own Min and Max stand before what is computed. It is unknown for
// a kite described neither by size and mass nor by a whole range of its own.
//
// The minimum is where the line at the boat sinks to LeastElevation, with the
// drag of the line taken at that angle: a closed form, within 3 % of Fly's
// whole line (tested). The maximum, where the pull reaches the working load,
// is exact. A kite without a working load takes that of the line.
func Window(k models.Kite, line Line) models.Opt[Range] {
	return WindowHelium(k, models.Unknown[Balloon](), line)
}

// WindowHelium is Window with a balloon on the back of the kite. The captain's
// own Min is for the bare kite and does not count then; of a kite known only by
// his range it tells size and weight (see Sized).
func WindowHelium(k models.Kite, b models.Opt[Balloon], line Line) models.Opt[Range] {
	own, ownMin := k.Min.Get()
	_, ballooned := b.Get()
	ownMin = ownMin && !ballooned
	ownMax, haveMax := k.Max.Get()
	s, sized := newSail(k, b)
	if !sized && ballooned {
		// What the captain's own range says of its size and weight: a balloon
		// carries little of a kite for heavy air.
		like, ok := Sized(k, line).Get()
		if !ok {
			return models.Unknown[Range]()
		}
		s, sized = newSail(like, b)
		k = like
	}
	if !sized && !(ownMin && haveMax) {
		return models.Unknown[Range]()
	}
	r := Range{Min: own, Max: ownMax, Own: ownMin || haveMax}
	if !ownMin {
		r.Min = s.least(line)
	}
	if !haveMax {
		r.Max = s.most(loadOf(k, line))
	}
	return models.Known(r)
}

// least is the wind that holds the line at LeastElevation at the boat.
func (s sail) least(l Line) units.Speed {
	tan := math.Tan(LeastElevation * math.Pi / 180)
	need, give := l.need(tan)-s.rise, s.give(l, tan)
	switch {
	case need <= 0:
		return 0
	case give <= 0:
		return units.Speed(math.Inf(1))
	}
	return speedAt(need / give)
}

// need is what the line and its baits take from the lift, N.
func (l Line) need(tan float64) float64 {
	n := float64(l.Weight) * gravity * float64(l.Out)
	for _, c := range l.Clips {
		n += c.Down - tan*c.Back
	}
	return n
}

// give is the lift over what the drag of kite and line takes at the angle, per
// unit of dynamic pressure, m². The line's share is sin²/cos of its drag area.
func (s sail) give(l Line, tan float64) float64 {
	cos := 1 / math.Hypot(1, tan)
	sin := tan * cos
	return s.lift - s.drag*tan - normalDrag*float64(l.Diameter)*float64(l.Out)*sin*sin/cos
}

// most is the wind at which the pull at the kite reaches the load.
func (s sail) most(load float64) units.Speed {
	if !(load > 0) {
		return units.Speed(math.Inf(1))
	}
	// (q drag)² + (q lift + rise)² = load²
	a := s.drag*s.drag + s.lift*s.lift
	b := s.lift * s.rise
	c := s.rise*s.rise - load*load
	if c > 0 {
		return 0 // the balloon alone pulls harder
	}
	return speedAt((-b + math.Sqrt(b*b-a*c)) / a)
}
