package drift

import (
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Input is wind and current from an instant on. It holds until the next.
type Input struct {
	At      time.Time
	Wind    models.Opt[units.Speed] // at 10 m
	From    models.Opt[units.From]
	Current models.Opt[units.Speed]
	Toward  models.Opt[units.Toward]
}

// InputOf takes the drift's input from an hour.
func InputOf(h models.Hour) Input {
	return Input{At: h.At, Wind: h.Wind, From: h.WindFrom, Current: h.Current, Toward: h.CurrentToward}
}

// vectors returns wind and current, or the reason why they are not known. A
// calm needs no direction.
func (in Input) vectors() (wind, current units.Vector, from units.From, why string) {
	w, ok := in.Wind.Get()
	if !ok {
		return wind, current, 0, "wind is unknown"
	}
	from, ok = in.From.Get()
	if !ok && w > 0 {
		return wind, current, 0, "wind direction is unknown"
	}
	c, ok := in.Current.Get()
	if !ok {
		return wind, current, from, "current is unknown"
	}
	to, ok := in.Toward.Get()
	if !ok && c != 0 {
		return wind, current, from, "current direction is unknown"
	}
	return units.WindVector(w, from), units.FlowVector(c, to), from, ""
}

// Ellipse is where the boat may be: one standard deviation along its longest
// and its shortest axis.
type Ellipse struct {
	Major, Minor units.Length
	// Axis is the bearing of the major axis, in [0, 180).
	Axis units.Toward
}

// Radius is the root-mean-square of the two axes.
func (e Ellipse) Radius() units.Length {
	return units.Length(math.Sqrt(float64(e.Major*e.Major+e.Minor*e.Minor) / 2))
}

// Point is a place on the track, counted from its start.
type Point struct {
	At          time.Time
	East, North units.Length
	Spread      Ellipse
}

// Track is a drift over the ground.
type Track struct {
	// Points begins at the start and has one point at the end of each input.
	Points []Point
	// Distance and Bearing are from the start to the last point. Bearing is
	// unknown where the boat has not moved.
	Distance units.Length
	Bearing  models.Opt[units.Toward]
	// Path is the length of the track itself.
	Path units.Length
	// Outside says why part of the track lies outside the leeway trials;
	// empty inside.
	Outside string
	// Why says what was unknown where the track stops before the last
	// input; empty where it is whole.
	Why string
}

// currentDoubt is the standard deviation taken for a current, per component:
// an assumption. Currents at the shelf break are the least certain input.
const currentDoubt = 0.25 * units.MetrePerSecond

// Run drifts a craft over the ground. Each input holds until the next one,
// the last as long as the one before it, or an hour if it stands alone. The
// track stops at the first input that is not wholly known or not later than
// the one before, and says why.
//
// The spread has four sources, each held through the whole drift: the scatter
// of the trials down the wind and across it, growing with the wind as
// (1/2 + W/20) with W in m/s; which of the two courses across the wind the
// boat settles on; and the doubt of the current. Means go down the wind, as
// left and right are equally likely.
//
// Reference: AllenPlourde1999; the growth of the scatter with the wind as in
// BreivikAllen2008.
func Run(c Craft, hours []Input, seaAnchor bool) Track {
	var t Track
	if len(hours) == 0 {
		t.Why = "no hours are given"
		return t
	}
	t.Points = make([]Point, 1, len(hours)+1)
	t.Points[0].At = hours[0].At
	var d doubt
	for i, in := range hours {
		lasts, ok := holds(hours, i)
		if !ok {
			t.Why = "hours are not in order of time"
			break
		}
		wind, current, from, why := in.vectors()
		if why != "" {
			t.Why = why
			break
		}
		m := Leeway(c, wind.Speed(), from, seaAnchor)
		ground := Ground(m.Mean, current)
		if t.Outside == "" {
			t.Outside = m.Outside
		}
		last := t.Points[len(t.Points)-1]
		s := lasts.Seconds()
		d.add(c, m, wind.Speed(), s)
		p := Point{
			At:     in.At.Add(lasts),
			East:   last.East + units.Length(float64(ground.East)*s),
			North:  last.North + units.Length(float64(ground.North)*s),
			Spread: d.ellipse(c),
		}
		t.Points = append(t.Points, p)
		t.Path += units.Length(float64(ground.Speed()) * s)
	}
	end := t.Points[len(t.Points)-1]
	t.Distance, t.Bearing = polar(end.East, end.North)
	return t
}

// holds tells how long input i lasts.
func holds(hours []Input, i int) (time.Duration, bool) {
	switch {
	case i+1 < len(hours):
		d := hours[i+1].At.Sub(hours[i].At)
		return d, d > 0
	case i > 0:
		d := hours[i].At.Sub(hours[i-1].At)
		return d, d > 0
	}
	return time.Hour, true
}

// doubt sums, per source of error, how far one standard deviation of it has
// carried the boat.
type doubt struct {
	downE, downN   float64 // per unit of the scatter down the wind, s
	crossE, crossN float64 // per unit of the scatter across, s
	sideE, sideN   float64 // by the choice of side, m
	secs           float64
}

func (d *doubt) add(c Craft, m Motion, wind units.Speed, s float64) {
	d.secs += s
	if m.Down <= 0 {
		return // no wind, no direction and no leeway
	}
	// Unit vectors down the wind and to its right.
	e, n := float64(m.Mean.East/m.Down), float64(m.Mean.North/m.Down)
	g := (0.5 + float64(wind)/20) * s
	d.downE += e * g
	d.downN += n * g
	d.crossE += n * g
	d.crossN -= e * g
	d.sideE += n * float64(m.Cross) * s
	d.sideN -= e * float64(m.Cross) * s
}

func (d *doubt) ellipse(c Craft) Ellipse {
	var ee, nn, en float64
	for _, v := range [...][2]float64{
		{d.downE * float64(c.DownScatter), d.downN * float64(c.DownScatter)},
		{d.crossE * float64(c.CrossScatter), d.crossN * float64(c.CrossScatter)},
		{d.sideE, d.sideN},
		{float64(currentDoubt) * d.secs, 0},
		{0, float64(currentDoubt) * d.secs},
	} {
		ee += v[0] * v[0]
		nn += v[1] * v[1]
		en += v[0] * v[1]
	}
	mid, half := (ee+nn)/2, math.Hypot((ee-nn)/2, en)
	axis := math.Atan2(2*en, nn-ee) / 2 * 180 / math.Pi // from north, clockwise
	if axis < 0 {
		axis += 180
	}
	return Ellipse{
		Major: units.Length(math.Sqrt(mid + half)),
		Minor: units.Length(math.Sqrt(max(mid-half, 0))),
		Axis:  units.Toward(axis),
	}
}

func polar(east, north units.Length) (units.Length, models.Opt[units.Toward]) {
	to, ok := units.Vector{East: units.Speed(east), North: units.Speed(north)}.Toward()
	d := units.Length(math.Hypot(float64(east), float64(north)))
	if !ok {
		return d, models.Unknown[units.Toward]()
	}
	return d, models.Known(to)
}
