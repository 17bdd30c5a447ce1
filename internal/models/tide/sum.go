package tide

import (
	"fmt"
	"math"
	"time"
)

// Constituent is one harmonic constant of a station: its amplitude (metres
// for heights, metres per second for streams) and its Greenwich phase (NOAA's
// phase_GMT) in degrees.
type Constituent struct {
	Name             string
	Amplitude, Phase float64
}

// check tells whether constants can be summed at all.
func check(cs []Constituent) error {
	if len(cs) == 0 {
		return fmt.Errorf("the station has no harmonic constants")
	}
	for _, c := range cs {
		if _, ok := harmonicNamed(c.Name); !ok {
			return fmt.Errorf("the constituent %q is not one of the 37 that are known", c.Name)
		}
		if !(math.Abs(c.Amplitude) <= 50) || !(math.Abs(c.Phase) <= 720) {
			return fmt.Errorf("the constituent %s has an impossible amplitude %g or phase %g", c.Name, c.Amplitude, c.Phase)
		}
	}
	return nil
}

// term is one cosine of a year: amplitude, speed in radians an hour, phase in
// radians at the start of the year.
type term struct{ a, w, phase float64 }

// argument returns V0+u in degrees, V at the start of a year and u at its
// middle, and f at its middle.
func (c harmonic) argument(l longitudes, o orbit) (v0u, f float64) {
	n := c.node(o)
	v := math.Mod(c.t*180+c.s*l.s+c.h*l.h+c.p*l.p+c.p1*l.p1+c.constant+n.u/rad, 360)
	if v < 0 {
		v += 360
	}
	return v, n.f
}

// sum adds up the cosines of a station, year by year.
type sum struct {
	mean  float64
	cs    []Constituent
	years map[int][]term
}

func newSum(mean float64, cs []Constituent) *sum {
	return &sum{mean: mean, cs: cs, years: map[int][]term{}}
}

func (s *sum) year(y int) []term {
	if ts, ok := s.years[y]; ok {
		return ts
	}
	l, o := longitudesAt(startOf(y)), orbitOf(y)
	ts := make([]term, 0, len(s.cs))
	for _, c := range s.cs {
		h, ok := harmonicNamed(c.Name)
		if !ok || c.Amplitude == 0 {
			continue
		}
		v, f := h.argument(l, o)
		ts = append(ts, term{f * c.Amplitude, h.speed() * rad, (v - c.Phase) * rad})
	}
	s.years[y] = ts
	return ts
}

// at returns the value and its change an hour at t.
func (s *sum) at(t time.Time) (value, slope float64) {
	t = t.UTC()
	hours := t.Sub(startOf(t.Year())).Hours()
	value = s.mean
	for _, x := range s.year(t.Year()) {
		sin, cos := math.Sincos(x.w*hours + x.phase)
		value += x.a * cos
		slope -= x.a * x.w * sin
	}
	return value, slope
}

// step is how far apart the sum is looked at: the quickest constituent, M8,
// takes three hours.
const step = 10 * time.Minute

// zeros calls found for each instant between start and end where f changes
// sign, in order of time, telling whether it rises. f's last value is handed
// on, so that start itself is not counted twice.
func zeros(start, end time.Time, f func(time.Time) float64, found func(at time.Time, rises bool)) {
	t0, f0 := start, f(start)
	for t0.Before(end) {
		t1 := t0.Add(step)
		if t1.After(end) {
			t1 = end
		}
		f1 := f(t1)
		if (f0 < 0) != (f1 < 0) {
			a, b := t0, t1
			for b.Sub(a) > 100*time.Millisecond {
				mid := a.Add(b.Sub(a) / 2)
				if (f(mid) < 0) == (f0 < 0) {
					a = mid
				} else {
					b = mid
				}
			}
			found(b.UTC(), f0 < 0)
		}
		t0, f0 = t1, f1
	}
}

// span checks a window of time.
func span(start, end time.Time) error {
	switch {
	case !end.After(start):
		return fmt.Errorf("the window ends at %s, not after its start", end.UTC().Format(time.RFC3339))
	case end.Sub(start) > 400*24*time.Hour:
		return fmt.Errorf("the window is longer than 400 days")
	}
	return year(start, end)
}

func year(ts ...time.Time) error {
	for _, t := range ts {
		if y := t.UTC().Year(); y < MinYear || y > MaxYear {
			return fmt.Errorf("the year %d is outside %d to %d", y, MinYear, MaxYear)
		}
	}
	return nil
}
