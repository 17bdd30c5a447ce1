package scoring

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// knob is one input moved one way, in steps, until the call flips.
type knob struct {
	steps int
	// reach is how many steps the input is likely to move: knobs that flip
	// the call within it are told first.
	reach  float64
	change func(n int) (Change, models.Phrase)
}

// hazy tells whether the day is one on which fog is to be thought of.
func (s *site) hazy(v *view) bool {
	for i := range v.hours {
		if vis, ok := v.hours[i].c.Visibility.Get(); ok && vis < 5*s.lim.FogWait {
			return true
		}
	}
	return false
}

// rainy tells whether it rains in any of the booked hours: then the sky does
// not clear by itself.
func (s *site) rainy(v *view) bool {
	for i := range v.hours {
		h := &v.hours[i]
		if r, ok := h.c.Rain.Get(); ok && atLeast(r, s.lim.RainLowers) && h.to > v.trip.start && h.from < v.trip.end {
			return true
		}
	}
	return false
}

func move(format string, args ...any) Change {
	c, err := ParseChange(fmt.Sprintf(format, args...))
	if err != nil {
		return Change{}
	}
	return c
}

// knobs are the inputs that are moved, each way.
func (s *site) knobs(v *view) []knob {
	kn := func(n int) units.Speed { return units.Speed(n) * units.Knot }
	list := []knob{
		{12, 3.5, func(n int) (Change, models.Phrase) {
			return move("wind +%dkn", n), models.Say("change.wind_more", kn(n))
		}},
		{12, 3.5, func(n int) (Change, models.Phrase) {
			return move("wind -%dkn", n), models.Say("change.wind_less", kn(n))
		}},
		{6, 1, func(n int) (Change, models.Phrase) {
			return move("sea +%dft", n), models.Say("change.sea_more", units.Length(n)*units.Foot)
		}},
		{6, 1, func(n int) (Change, models.Phrase) {
			return move("sea -%dft", n), models.Say("change.sea_less", units.Length(n)*units.Foot)
		}},
		{5, 1, func(n int) (Change, models.Phrase) {
			return move("front %dh earlier", n), models.Say("change.earlier", time.Duration(n)*time.Hour)
		}},
		{5, 1, func(n int) (Change, models.Phrase) {
			return move("front %dh later", n), models.Say("change.later", time.Duration(n)*time.Hour)
		}},
		{6, 2, func(n int) (Change, models.Phrase) {
			return move("thunder +%d", 10*n), models.Say("change.thunder", models.Percent(10*n))
		}},
		{4, 2, func(n int) (Change, models.Phrase) {
			return move("cloud +%d", 20*n), models.Say("change.cloud_more", models.Percent(20*n))
		}},
		{1, 1, func(int) (Change, models.Phrase) { return move("current off"), models.Say("change.no_current") }},
		{1, 1, func(int) (Change, models.Phrase) { return move("current turned"), models.Say("change.current_turned") }},
	}
	if s.rainy(v) {
		list = append(list, knob{4, 1, func(n int) (Change, models.Phrase) {
			return move("rain -%d", 20*n), models.Say("change.rain_less", models.Percent(20*n))
		}})
	} else {
		list = append(list, knob{2, 1, func(n int) (Change, models.Phrase) {
			return move("rain +%d", 20*n), models.Say("change.rain_more", models.Percent(20*n))
		}}, knob{4, 2, func(n int) (Change, models.Phrase) {
			return move("cloud -%d", 20*n), models.Say("change.cloud_less", models.Percent(20*n))
		}})
	}
	closes := func(by cause) bool {
		return slices.ContainsFunc(v.closings, func(c closing) bool { return c.cause == by })
	}
	if closes(byThunder) {
		list = append(list, knob{6, 2, func(n int) (Change, models.Phrase) {
			return move("thunder -%d", 10*n), models.Say("change.thunder_less", models.Percent(10*n))
		}})
	}
	switch {
	case closes(byFog):
		list = append(list, knob{1, 1, func(int) (Change, models.Phrase) { return move("visibility 10nmi"), models.Say("change.fog_lifts") }})
	case s.hazy(v):
		list = append(list, knob{1, 1, func(int) (Change, models.Phrase) { return move("visibility 0.4nmi"), models.Say("change.fog") }})
	}
	return list
}

// mostFlips is how many things that would change the call are told.
const mostFlips = 6

// flips moves each input until the call flips, and names the nearest flips:
// one for each way, those that the weather may well do first.
func (s *site) flips(v *view) []models.Phrase {
	if v.refused.Key != "" || len(v.hours) == 0 {
		return nil
	}
	base, lists := s.looked(v)
	type flip struct {
		far float64
		say models.Phrase
	}
	var found []flip
	for _, k := range s.knobs(v) {
		seen := map[int]outcome{}
		to := func(n int) outcome {
			o, ok := seen[n]
			if !ok {
				change, _ := k.change(n)
				o = s.supposed(change, lists)
				seen[n] = o
			}
			return o
		}
		if n, ok := nearest(k.steps, func(n int) bool { return !to(n).same(base) }); ok {
			_, say := k.change(n)
			found = append(found, flip{float64(n) / k.reach, models.Say("change.to", say, s.outcomePhrase(base, to(n)))})
		}
	}
	slices.SortStableFunc(found, func(a, b flip) int { return cmp.Compare(a.far, b.far) })
	var out []models.Phrase
	for i := 0; i < len(found) && i < mostFlips; i++ {
		out = append(out, found[i].say)
	}
	if len(s.official()) > 0 && !v.plan.going && !s.soft {
		out = append(out, models.Say("change.product_ends"))
	}
	return out
}

// lookedAt is every how many of the courses the search looks at.
const lookedAt = 4

// looked is what the call comes to and the courses that the search looks at:
// some of them, where they come to the same call as all.
func (s *site) looked(v *view) (outcome, [][]models.Hour) {
	base, lists := s.outcomeOf(v), s.lists()
	if len(lists) < 8*lookedAt {
		return base, lists
	}
	some := sparse(lists, lookedAt)
	if b := s.outcomeOf(s.viewOf(s.o.Middle.Hours, some, false)); b.same(base) {
		return b, some
	}
	return base, lists
}

// nearest is the least of 1 to most steps at which a call has flipped, sought
// by halving where the farthest step flips it.
func nearest(most int, flipped func(n int) bool) (int, bool) {
	if !flipped(most) {
		return 0, false
	}
	low, high := 0, most
	for high-low > 1 {
		if mid := (low + high) / 2; flipped(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return high, true
}

// outcome is what a call comes to, for telling one from another.
type outcome struct {
	going       bool
	tactic      models.Tactic
	leave, back int
	slow        bool // nothing is worth much, whatever the tactic
}

// outcomeOf is what the call of a view comes to.
func (s *site) outcomeOf(v *view) outcome {
	return outcome{v.plan.going, s.tactic(v), v.plan.leave, v.plan.back, s.slow(&v.plan)}
}

// supposed is what the call comes to with a change made in every course, all
// that is not the hours' own left as it is.
func (s *site) supposed(c Change, lists [][]models.Hour) outcome {
	return s.outcomeOf(s.viewOf(c.on(s.o.Middle.Hours), c.onCourses(s.o.Middle.Hours, lists), false))
}

// nearTimes is how far times may lie apart and still be the same call.
const nearTimes = 45

// same tells whether two outcomes are the same call: of two slow days the
// tactic is not worth telling apart.
func (o outcome) same(b outcome) bool {
	if o.going != b.going || o.tactic != b.tactic && !(o.slow && b.slow) {
		return false
	}
	return !o.going || abs(o.leave-b.leave) < nearTimes && abs(o.back-b.back) < nearTimes
}

func abs(n int) int { return max(n, -n) }

func (s *site) outcomePhrase(from, to outcome) models.Phrase {
	leave, back := s.toldOr(to.leave, s.o.Trip.Start), s.toldOr(to.back, s.o.Trip.End)
	switch {
	case !to.going:
		return models.Say("outcome.stay_in")
	case !from.going:
		return models.Say("outcome.go", models.Word(to.tactic), leave, back)
	case from.tactic != to.tactic:
		return models.Say("outcome.tactic", models.Word(to.tactic))
	case abs(to.back-from.back) >= nearTimes && abs(to.leave-from.leave) >= nearTimes:
		return models.Say("outcome.times", leave, back)
	case abs(to.back-from.back) >= nearTimes:
		return models.Say("outcome.back", back)
	}
	return models.Say("outcome.leave", leave)
}
