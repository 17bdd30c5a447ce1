package scoring

import (
	"cmp"
	"math"
	"slices"

	"forecastd/internal/models"
)

// answer counts the courses for the three questions, and names the least of
// those that the verdict rests on.
func (s *site) answer(c *models.Call, v *view) {
	a := s.count(v)
	// What is official makes nothing surer, whatever it does to the plan.
	s.capByNoProducts(&a, v)
	n := len(v.courses)
	for _, x := range []*models.Answer{&a.Runs, &a.Hours, &a.Tactic} {
		x.Of = n
		if n > 0 {
			x.Share = float64(x.Courses) / float64(n)
		}
		x.Word = confidence(x.Share)
		if x.Word == models.Sure && s.o.HistoryDays == 0 && (v.plan.going || x == &a.Runs) {
			x.Word = models.Likely
		}
	}
	least := a.Hours
	for _, x := range []models.Answer{a.Tactic, a.Runs} {
		if x.Courses < least.Courses && (v.plan.going || x != a.Runs) {
			least = x
		}
	}
	c.Answers, c.Agreeing, c.Agreement, c.Confidence = a, least.Courses, least.Share, least.Word
	if !v.plan.going && slices.ContainsFunc(v.inTrip(), func(c closing) bool { return c.cause == byNoData }) {
		c.Confidence = models.Doubtful // kept in for what nobody knows
	}
	c.Stops, v.answers = s.stopped(v), a
}

// capped tells whether a word is held down for want of history.
func (s *site) capped(a models.Answers, v *view) bool {
	if !v.plan.going || s.o.HistoryDays > 0 {
		return false
	}
	return min(a.Runs.Share, a.Hours.Share, a.Tactic.Share) >= sureFrom
}

// count counts the courses that say yes.
func (s *site) count(v *view) models.Answers {
	var a models.Answers
	if v.refused.Key != "" {
		a.Hours.Courses, a.Tactic.Courses = len(v.courses), len(v.courses)
		return a
	}
	windows := s.asBookedOrLater(v)
	for _, c := range v.courses {
		runs := s.runs(v, c, windows)
		if runs {
			a.Runs.Courses++
		}
		if !v.plan.going {
			if s.rightIn(v, c, windows) {
				a.Hours.Courses++
				a.Tactic.Courses++
			}
			continue
		}
		if at, _ := s.stop(c, v.plan.leave); at >= v.plan.back && !(s.spoiltByFog(c, v)) {
			a.Hours.Courses++
		}
		if s.fits(v, c) {
			a.Tactic.Courses++
		}
	}
	return a
}

// asBookedOrLater are the leave times that a trip may be said to run with: as
// booked, or as much later as guests may be asked to wait. To leave earlier
// takes knowing the evening before what comes: it counts where an official
// product leaves no room for a trip otherwise.
func (s *site) asBookedOrLater(v *view) []window {
	list := s.windows(v.trip, v.official, func(int) int { return farFuture })
	late := slices.DeleteFunc(slices.Clone(list), func(w window) bool { return w.leave < v.trip.start })
	for _, w := range late {
		if float64(w.back-w.leave)-2*v.trip.run >= v.trip.least {
			return late
		}
	}
	return list
}

// running counts the courses that let the trip run.
func (s *site) running(v *view) int {
	windows, n := s.asBookedOrLater(v), 0
	for _, c := range v.courses {
		if s.runs(v, c, windows) {
			n++
		}
	}
	return n
}

// runs tells whether a course lets a trip run at one of some leave times.
func (s *site) runs(v *view, c course, windows []window) bool {
	for _, w := range windows {
		if at, _ := s.stop(c, w.leave); s.runsIn(v, c, w, at) {
			return true
		}
	}
	return false
}

// rightIn tells whether a course keeps the boat in for what comes in it, not
// for what nobody knows.
func (s *site) rightIn(v *view, c course, windows []window) bool {
	s.supposing = true
	runs := s.runs(v, c, windows)
	s.supposing = false
	return !runs || s.nothing(v) || !s.worthIn(v, c)
}

// worthIn tells whether the booked hours of a course hold anything worth
// leaving for.
func (s *site) worthIn(v *view, c course) bool {
	kites, sight, hours := s.gives(c, float64(v.trip.start)+v.trip.run, float64(v.trip.end)-v.trip.run)
	return hours > 0 && max(kites, sight) >= s.lim.Weights.WorthLeaving*hours
}

// gives is what a stretch of a course gives to one tactic all through, in
// hours of perfect fishing.
func (s *site) gives(c course, from, to float64) (kites, sight, hours float64) {
	for i := range c {
		x := &c[i]
		in := (min(float64(x.to), to) - max(float64(x.from), from)) / 60
		if in <= 0 {
			continue
		}
		hours += in
		kites += in * x.kites()
		sight += in * float64(x.worth[modeSight])
	}
	return kites, sight, hours
}

// kites is what an hour gives a crew that puts the balloon on or takes it off
// as the day comes.
func (x *slot) kites() float64 { return float64(max(x.worth[modeKite], x.worth[modeHelium])) }

// fits tells whether the plan's tactic gives most of what the best one would
// in a course, over the same hours: one of the two all through, or one and
// then the other.
func (s *site) fits(v *view, c course) bool {
	p := &v.plan
	from, to := max(p.arrive, float64(v.trip.linesIn)), p.depart
	allKites, allSight, hours := s.gives(c, from, to)
	if hours <= 0 {
		return false
	}
	w := &s.lim.Weights
	best := max(allKites, allSight)
	given, sofarKites, sofarSight := -w.Change*float64(p.changes), 0.0, 0.0
	for i := range c {
		x := &c[i]
		in := (min(float64(x.to), to) - max(float64(x.from), from)) / 60
		if in <= 0 {
			continue
		}
		kites, sight := x.kites(), float64(x.worth[modeSight])
		given += in * s.asRun(p, x, kites, sight)
		sofarKites, sofarSight = sofarKites+in*kites, sofarSight+in*sight
		turn := w.Change + w.SetKites.Hours()*max(kites, 0)
		best = max(best, sofarKites+allSight-sofarSight-turn, sofarSight+allKites-sofarKites-turn)
	}
	return given >= best-(1-w.Agree)*math.Abs(best)-slowDay*hours
}

// slowDay is the worth of an hour up to which two tactics are not told apart:
// of two slow ones neither is wrong.
const slowDay = 0.05

// asRun is what a slot gives the plan's tactic of most of it; with either in
// hand the crew does the better.
func (s *site) asRun(p *plan, x *slot, kites, sight float64) float64 {
	j := min(max(int(x.from+x.to)/2/step, 0), longestDay)
	if float64(j*step) < p.arrive {
		j = min(int(p.arrive)/step, longestDay)
	}
	if float64(j*step) >= p.depart {
		j = max(int(p.depart-1)/step, 0)
	}
	switch p.modes[j] {
	case modeKite, modeHelium:
		return kites
	case modeEither:
		return max(kites, sight)
	case modeSight, modeCount:
	}
	return sight
}

func (s *site) spoiltByFog(c course, v *view) bool { return s.spoilt(c, &v.trip) }

// capByNoProducts holds the answers to what they would be with fewer of the
// products that bind, so that one more of them never makes the day surer.
func (s *site) capByNoProducts(a *models.Answers, v *view) {
	var bind []int
	for i, w := range s.products {
		if !cancelled(w) && w.Rule() != models.ProductShown && w.During(s.day) {
			bind = append(bind, i)
		}
	}
	if len(bind) == 0 {
		return
	}
	lists := s.lists()
	for _, without := range fewer(bind) {
		o := s.o
		kept := make([]models.Warning, 0, len(s.products))
		for i, w := range s.products {
			if !slices.Contains(without, i) {
				kept = append(kept, w)
			}
		}
		if o.Warnings.Known() {
			o.Warnings = models.Known(kept)
		} else {
			o.Stood = kept
		}
		q := newSite(o, s.lim)
		q.free, q.suns, q.unbooked, q.behind = s.free, s.suns, s.unbooked, s.behind
		q.worked, q.lifted = s.worked, s.lifted
		b := q.count(q.viewOf(o.Middle.Hours, lists, false))
		a.Runs.Courses = min(a.Runs.Courses, b.Runs.Courses)
		if !v.plan.going {
			continue
		}
		a.Hours.Courses = min(a.Hours.Courses, b.Hours.Courses)
		a.Tactic.Courses = min(a.Tactic.Courses, b.Tactic.Courses)
	}
}

// mostProducts is how many products all subsets of are looked at; of more,
// each alone and all together.
const mostProducts = 3

// fewer are the sets of products to leave out.
func fewer(bind []int) [][]int {
	var out [][]int
	if len(bind) <= mostProducts {
		for bits := 1; bits < 1<<len(bind); bits++ {
			var set []int
			for k, i := range bind {
				if bits>>k&1 == 1 {
					set = append(set, i)
				}
			}
			out = append(out, set)
		}
		return out
	}
	for _, i := range bind {
		out = append(out, []int{i})
	}
	return append(out, bind)
}

// stopped are what ends the trip in the courses in which it does not run to
// its end, the commonest first.
func (s *site) stopped(v *view) []models.Stop {
	if v.refused.Key != "" {
		return nil
	}
	leave, back := v.trip.start, v.trip.end
	if v.plan.going {
		leave, back = v.plan.leave, v.plan.back
	}
	type group struct {
		by    cause
		at    []int
		which []int
	}
	var list []group
	for i, c := range v.courses {
		at, by := s.stop(c, leave)
		if at >= back {
			continue
		}
		k := slices.IndexFunc(list, func(g group) bool { return g.by == by })
		if k < 0 {
			k, list = len(list), append(list, group{by: by})
		}
		list[k].at, list[k].which = append(list[k].at, at), append(list[k].which, i+1)
	}
	slices.SortStableFunc(list, func(a, b group) int {
		return cmp.Or(cmp.Compare(len(b.which), len(a.which)), cmp.Compare(a.by, b.by))
	})
	out := make([]models.Stop, 0, len(list))
	for _, g := range list {
		slices.Sort(g.at)
		out = append(out, models.Stop{By: models.Say("cause." + g.by.String()), From: s.instant(g.at[len(g.at)/2]), Courses: g.which})
	}
	return out
}

// The shares from which a word is said (design.md 6).
const (
	sureFrom   = 0.9 - 1e-9
	likelyFrom = 0.7 - 1e-9
	tossUpFrom = 0.45 - 1e-9
)

// confidence is the word for a share of the courses.
func confidence(share float64) models.Confidence {
	switch {
	case share >= sureFrom:
		return models.Sure
	case share >= likelyFrom:
		return models.Likely
	case share >= tossUpFrom:
		return models.TossUp
	}
	return models.Doubtful
}
