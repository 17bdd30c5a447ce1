package notify

import (
	"math"
	"slices"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Expected is what the call took for granted at a station at one instant, on
// the terms of its reports: wind at the height of its anemometer.
type Expected struct {
	At       time.Time
	Wind     models.Opt[units.Speed]
	WindFrom models.Opt[units.From]
	Gust     models.Opt[units.Speed]
	Sea      models.Opt[units.Length]
	Pressure models.Opt[units.Pressure]
}

// Station is an upwind station: what it reports and what was expected there,
// each in order of time.
type Station struct {
	Name     string
	Reports  []models.Observation
	Expected []Expected
}

// Verdict is how a report stands against what was expected.
type Verdict string

// Verdicts.
const (
	AsSaid Verdict = "as said"
	// Ahead: what was said for later is there already; Behind: what was said
	// for earlier is there only now.
	Ahead  Verdict = "ahead"
	Behind Verdict = "behind"
	More   Verdict = "more"
	Less   Verdict = "less"
	// Elsewhere: as much wind as was said, from another side.
	Elsewhere Verdict = "from elsewhere"
	// NotSaid: nothing was expected of it.
	NotSaid Verdict = "not said"
)

// Item is one quantity of a comparison.
type Item struct {
	What string // "wind", "gust", "sea", "pressure"
	// Now and Said hold a units.Speed, units.Length or units.Pressure; Said
	// is nil where nothing was expected. NowFrom and SaidFrom are for the
	// wind.
	Now, Said         any
	NowFrom, SaidFrom models.Opt[units.From]
	Verdict           Verdict
}

// Comparison is one station now against the call.
type Comparison struct {
	Station string
	At      time.Time
	Items   []Item
	// Early is by how much the weather is ahead of the call, negative where
	// it is behind; unknown where no shift in time explains what is seen.
	Early models.Opt[time.Duration]
	// Tendency is the change of pressure over the last three hours.
	Tendency models.Opt[units.Pressure]
}

const (
	// staleAfter is how old a report may be to tell of now.
	staleAfter = 2 * time.Hour
	// A shift in time is looked for within six hours, and told from one hour
	// on.
	farthestShift, shiftStep, leastShift = 6 * time.Hour, 30 * time.Minute, time.Hour
)

// Compare holds a station's newest report against what was expected. ok is
// false where there is no report of the last two hours. What counts as said is
// common practice, no source: wind and gust to 3 kn or a fifth, seas to a foot
// or a quarter, pressure to 1.5 hPa.
func Compare(s Station, now time.Time) (c Comparison, ok bool) {
	var o models.Observation
	for _, r := range s.Reports {
		if !r.At.After(now) && now.Sub(r.At) <= staleAfter {
			o, ok = merge(o, r), true
		}
	}
	if !ok {
		return Comparison{}, false
	}
	c = Comparison{Station: s.Name, At: o.At, Tendency: tendency(s.Reports, o)}
	said := at(s.Expected, o.At)
	c.Items = items(o, said)
	if miss(o, said).worst <= 1 {
		return c, true
	}
	best, shift := math.Inf(1), time.Duration(0)
	for d := leastShift; d <= farthestShift; d += shiftStep {
		for _, d := range []time.Duration{d, -d} {
			if m := miss(o, at(s.Expected, o.At.Add(d))); m.n > 0 && m.worst <= 1 && m.mean < best-1e-9 {
				best, shift = m.mean, d
			}
		}
	}
	if shift == 0 {
		return c, true
	}
	c.Early = models.Known(shift)
	verdict := Ahead
	if shift < 0 {
		verdict = Behind
	}
	for i := range c.Items {
		if v := c.Items[i].Verdict; v != AsSaid && v != NotSaid {
			c.Items[i].Verdict = verdict
		}
	}
	return c, true
}

// FrontTime is when the front that was said for a time is to be expected now:
// moved by the middle of what the stations show. ok is false where none shows
// a shift.
func FrontTime(said time.Time, list []Comparison) (at time.Time, ok bool) {
	var shifts []time.Duration
	for _, c := range list {
		if d, ok := c.Early.Get(); ok {
			shifts = append(shifts, d)
		}
	}
	if len(shifts) == 0 {
		return said, false
	}
	slices.Sort(shifts)
	return said.Add(-shifts[len(shifts)/2]), true
}

// merge lays a newer report over an older one: stations tell wind and waves
// at different times.
func merge(old, o models.Observation) models.Observation {
	if !o.Wind.Known() {
		o.Wind, o.WindFrom, o.Gust = old.Wind, old.WindFrom, old.Gust
	}
	o.Sea = o.Sea.Else(old.Sea)
	o.Pressure = o.Pressure.Else(old.Pressure)
	return o
}

// tendency is the pressure now less that of three hours ago, give or take
// half an hour.
func tendency(list []models.Observation, now models.Observation) models.Opt[units.Pressure] {
	p, ok := now.Pressure.Get()
	if !ok {
		return models.Unknown[units.Pressure]()
	}
	best, off := models.Unknown[units.Pressure](), 31*time.Minute
	for _, o := range list {
		before, ok := o.Pressure.Get()
		if d := (now.At.Sub(o.At) - 3*time.Hour).Abs(); ok && d < off {
			best, off = models.Known(p-before), d
		}
	}
	return best
}

// at reads the expected values at an instant, straight between the hours.
func at(list []Expected, t time.Time) Expected {
	i, exact := slices.BinarySearchFunc(list, t, func(e Expected, t time.Time) int { return e.At.Compare(t) })
	if exact {
		return list[i]
	}
	if i == 0 || i == len(list) || list[i].At.Sub(list[i-1].At) > 3*time.Hour {
		return Expected{At: t}
	}
	a, b := list[i-1], list[i]
	k := float64(t.Sub(a.At)) / float64(b.At.Sub(a.At))
	e := Expected{At: t, Wind: between(a.Wind, b.Wind, k), Gust: between(a.Gust, b.Gust, k), Sea: between(a.Sea, b.Sea, k), Pressure: between(a.Pressure, b.Pressure, k)}
	va, okA := vector(a.Wind, a.WindFrom)
	vb, okB := vector(b.Wind, b.WindFrom)
	if okA && okB {
		if from, ok := va.Scale(1 - k).Add(vb.Scale(k)).From(); ok {
			e.WindFrom = models.Known(from)
		}
	}
	return e
}

func between[T ~float64](a, b models.Opt[T], k float64) models.Opt[T] {
	x, okX := a.Get()
	y, okY := b.Get()
	if !okX || !okY {
		return models.Unknown[T]()
	}
	return models.Known(x + T(k)*(y-x))
}

func vector(s models.Opt[units.Speed], f models.Opt[units.From]) (units.Vector, bool) {
	speed, ok := s.Get()
	from, okFrom := f.Get()
	return units.WindVector(speed, from), ok && okFrom
}

// misfit is how far a report is off, in units of what counts as said.
type misfit struct {
	worst, mean float64
	n           int
}

func miss(o models.Observation, e Expected) misfit {
	var m misfit
	add := func(x float64) {
		m.worst = max(m.worst, x)
		m.mean += x * x
		m.n++
	}
	if x, ok := off(o.Wind, e.Wind, speedTolerance); ok {
		a, okA := vector(o.Wind, o.WindFrom)
		b, okB := vector(e.Wind, e.WindFrom)
		if okA && okB {
			x = math.Max(math.Abs(x), float64(a.Sub(b).Speed()/(2*speedTolerance(e.Wind.Or(0)))))
		}
		add(math.Abs(x))
	}
	if x, ok := off(o.Gust, e.Gust, speedTolerance); ok {
		add(math.Abs(x))
	}
	if x, ok := off(o.Sea, e.Sea, seaTolerance); ok {
		add(math.Abs(x))
	}
	if x, ok := off(o.Pressure, e.Pressure, pressureTolerance); ok {
		add(math.Abs(x))
	}
	if m.n > 0 {
		m.mean /= float64(m.n)
	}
	return m
}

func speedTolerance(v units.Speed) units.Speed        { return max(3*units.Knot, v/5) }
func seaTolerance(v units.Length) units.Length        { return max(units.Foot, v/4) }
func pressureTolerance(units.Pressure) units.Pressure { return 1.5 * units.Hectopascal }

// off is how far a value is from what was said, in tolerances.
func off[T ~float64](now, said models.Opt[T], tolerance func(T) T) (float64, bool) {
	n, okN := now.Get()
	s, okS := said.Get()
	if !okN || !okS {
		return 0, false
	}
	return float64((n - s) / tolerance(s)), true
}

func items(o models.Observation, e Expected) []Item {
	var out []Item
	if v, ok := o.Wind.Get(); ok {
		i := item("wind", v, e.Wind, speedTolerance)
		i.NowFrom, i.SaidFrom = o.WindFrom, e.WindFrom
		a, okA := vector(o.Wind, o.WindFrom)
		b, okB := vector(e.Wind, e.WindFrom)
		if i.Verdict == AsSaid && okA && okB && a.Sub(b).Speed() > 2*speedTolerance(e.Wind.Or(0)) {
			i.Verdict = Elsewhere
		}
		out = append(out, i)
	}
	if v, ok := o.Gust.Get(); ok {
		out = append(out, item("gust", v, e.Gust, speedTolerance))
	}
	if v, ok := o.Sea.Get(); ok {
		out = append(out, item("sea", v, e.Sea, seaTolerance))
	}
	if v, ok := o.Pressure.Get(); ok {
		out = append(out, item("pressure", v, e.Pressure, pressureTolerance))
	}
	return out
}

func item[T ~float64](what string, now T, said models.Opt[T], tolerance func(T) T) Item {
	i := Item{What: what, Now: now, Verdict: NotSaid}
	x, ok := off(models.Known(now), said, tolerance)
	if !ok {
		return i
	}
	i.Said = said.Or(0)
	switch {
	case x > 1:
		i.Verdict = More
	case x < -1:
		i.Verdict = Less
	default:
		i.Verdict = AsSaid
	}
	return i
}
