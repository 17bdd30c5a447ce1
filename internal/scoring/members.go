package scoring

import (
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
	"forecastd/internal/models/units"
)

// courses is how many ways a lone member is perturbed.
const courses = 31

// perturbed are the ways that the hours could go where only one member is
// known: errors of the size assumed for the lead, held over the day, with a
// sea that follows the wind and weather that comes early or late. They are
// spread evenly over what could happen and use no chance.
func (s *site) perturbed(mid []models.Hour) [][]models.Hour {
	lead := s.instant(s.clock(s.o.Trip.Start)).Sub(s.o.Made)
	size := outlook.Assumed(lead)
	out := make([][]models.Hour, 0, courses)
	out = append(out, mid)
	for i := 1; i < courses; i += 2 {
		n := (i + 1) / 2
		windErr, shift := normal(halton(n, 2)), normal(halton(n, 3))
		seaOwn, current := normal(halton(n, 5)), normal(halton(n, 7))
		for _, sign := range []float64{1, -1} {
			out = append(out, s.blown(mid, size, sign*windErr, sign*shift, sign*seaOwn, sign*current))
		}
	}
	return out
}

// How far the errors go together, and the current's own: our assumptions.
const (
	seaWithWind  = 0.6
	currentError = 0.4 * units.Knot
)

func (s *site) blown(mid []models.Hour, size outlook.ErrorSize, windErr, shift, seaOwn, current float64) []models.Hour {
	late := time.Duration(shift * float64(size.Shift))
	sea := seaWithWind*windErr + math.Sqrt(1-seaWithWind*seaWithWind)*seaOwn
	out := make([]models.Hour, len(mid))
	for i := range mid {
		h := covering(mid, mid[i].At.Add(-late))
		h.At, h.InletCurrent = mid[i].At, mid[i].InletCurrent
		if w, ok := h.Wind.Get(); ok {
			blown := max(w+units.Speed(windErr)*size.Wind, 0)
			h.Gust = models.MapOpt(h.Gust, func(g units.Speed) units.Speed {
				spread := max(g-w, 0)
				if w > units.Knot {
					spread *= min(blown/w, 2)
				}
				return blown + spread
			})
			h.Wind = models.Known(blown)
		}
		h.Sea = models.MapOpt(h.Sea, func(l units.Length) units.Length {
			return l * units.Length(math.Exp(size.Sea*sea))
		})
		h.Current = models.MapOpt(h.Current, func(c units.Speed) units.Speed {
			return max(c+units.Speed(current)*currentError, 0)
		})
		out[i] = h
	}
	return out
}

// covering is the hour that holds at a time, the nearest end of the series
// outside it.
func covering(hours []models.Hour, t time.Time) models.Hour {
	best := hours[0]
	for _, h := range hours {
		if h.At.After(t) {
			break
		}
		best = h
	}
	return best
}

// halton is the n-th number of the Halton sequence, evenly spread in 0 to 1.
func halton(n, base int) float64 {
	f, x := 1.0, 0.0
	for ; n > 0; n /= base {
		f /= float64(base)
		x += f * float64(n%base)
	}
	return x
}

// normal is the standard normal quantile.
func normal(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }

// agreement is the share of members that agree with the plan. For going, a
// member agrees when nothing closes while the boat is out and the call gives
// it most of the best day that could be had; for staying in, when its own
// best day is to stay in.
//
// What closes for the number of members past a never limit is not held
// against the single member: a day kept in for its doubt is a doubtful one.
//
// A share that is not less than bound is answered as bound.
func (s *site) agreement(p *plan, t trip, members [][]hour, bound float64) float64 {
	if len(members) == 0 {
		return 0
	}
	agree := 0
	var d day
	var own []closing
	shared := s.official()
	for _, hours := range members {
		s.dayOf(hours, &d)
		own = append(own[:0], shared...)
		own = s.byHour(hours, false, own)
		if s.agrees(p, &d, t, own) {
			agree++
		}
		if float64(agree)/float64(len(members)) >= bound {
			return bound
		}
	}
	return float64(agree) / float64(len(members))
}

func (s *site) agrees(p *plan, d *day, t trip, own []closing) bool {
	clear := func(int) int { return farFuture }
	if !p.going {
		best := s.search(d, t, own, clear)
		return !best.going
	}
	if !s.safe(p, own) {
		return false
	}
	best := s.search(d, t, own, clear)
	if !best.going {
		return false
	}
	slack := (1 - s.lim.Weights.Agree) * math.Abs(best.day)
	return s.given(d, t, p) >= best.day-slack-1e-9
}

// safe tells whether nothing closes while the boat is out.
func (s *site) safe(p *plan, own []closing) bool {
	for i := range own {
		c := &own[i]
		if !(s.soft && c.passable()) && c.from < p.back && p.leave < c.to {
			return false
		}
	}
	return true
}

// confidence is the word for a share of members.
func confidence(share float64) models.Confidence {
	switch {
	case share >= 0.9-1e-9:
		return models.Sure
	case share >= 0.7-1e-9:
		return models.Likely
	case share >= 0.45-1e-9:
		return models.TossUp
	}
	return models.Doubtful
}
