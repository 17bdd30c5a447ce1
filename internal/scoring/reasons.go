package scoring

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// mostReasons is how many reasons a call gives.
const mostReasons = 3

// reasons are the three that matter most, the gravest first.
func (s *site) reasons(v *view) []models.Phrase {
	var list []models.Phrase
	switch {
	case v.refused.Key != "":
		return []models.Phrase{v.refused}
	case !v.plan.going:
		list = s.whyIn(v)
	default:
		if s.soft {
			if c, ok := s.passed(v); ok {
				list = append(list, models.Say("reason.captain_decides", c.why))
			}
		}
		list = append(list, s.whyTactic(v)...)
		list = append(list, s.whyTimes(v)...)
		list = append(list, s.thunderNamed(v)...)
		list = append(list, s.slowFish(s.fished(v, modeKite, modeHelium, modeEither))...)
		if kites := s.fished(v, modeKite, modeHelium, modeEither); len(kites) > 0 && s.grade(meanKite(kites)) < models.GradeFair {
			list = append(list, hardKite(kites)...)
		}
		list = append(list, s.whyRide(v)...)
		list = append(list, s.whyNotOther(v)...)
	}
	return list[:min(len(list), mostReasons)]
}

// passes tells whether anything in the booked trip would keep a charter in.
func (s *site) passes(v *view) bool {
	return slices.ContainsFunc(v.inTrip(), closing.passable)
}

// passed is the gravest closing that a fixed-date event passes over.
func (s *site) passed(v *view) (closing, bool) {
	return closedAt(v.plan.leave, v.plan.back, v.closings)
}

// inTrip returns the closings that touch the booked trip, the gravest first,
// one of each cause, with the margin before an official product's onset.
func (v *view) inTrip() []closing {
	var out []closing
	list := slices.Clone(v.closings)
	slices.SortStableFunc(list, func(a, b closing) int {
		if a.cause != b.cause {
			return int(a.cause) - int(b.cause)
		}
		return a.from - b.from
	})
	for _, c := range list {
		if c.from-c.margin < v.trip.end && v.trip.start < c.to && (len(out) == 0 || out[len(out)-1].cause != c.cause) {
			out = append(out, c)
		}
	}
	return out
}

// whyIn says why the boat stays in.
func (s *site) whyIn(v *view) []models.Phrase {
	var list []models.Phrase
	for _, c := range v.inTrip() {
		if c.from <= v.trip.start {
			list = append(list, c.why)
		} else {
			list = append(list, models.Say("reason.from", s.begins(c), c.why))
		}
	}
	if len(list) == 0 {
		list = append(list, s.whyNone(v))
		list = append(list, s.weakest(v)...)
	} else if s.worthLeft(v) && !barred(v.closings) {
		list = append(list, models.Say("reason.too_short", time.Duration(v.trip.least)*time.Minute))
	}
	return list
}

// whyNone says why the boat stays in though no hour of the trip is closed.
func (s *site) whyNone(v *view) models.Phrase {
	runs, of := v.answers.Runs.Courses, len(v.courses)
	if s.nothing(v) && s.enough(runs, of) {
		return models.Say("reason.nothing_there", models.Word(s.grade(meanKite(s.booked(v))).String()))
	}
	if until := s.clearUntil(v.trip.start, v.courses); until < v.trip.end {
		return models.Say("reason.members_past_never", s.told(until))
	}
	if s.enough(runs, of) {
		return models.Say("reason.nothing_to_fish")
	}
	soaked := 0
	for _, c := range v.courses {
		if s.spoilt(c, &v.trip) {
			soaked++
		}
	}
	if 2*soaked > of-runs {
		return models.Say("reason.soaked", soaked, of)
	}
	return models.Say("reason.few_run", runs, of)
}

// booked are the hours that lie in the booked trip.
func (s *site) booked(v *view) []*hour {
	var hours []*hour
	for i := range v.hours {
		if v.hours[i].from >= v.trip.start && v.hours[i].to <= v.trip.end {
			hours = append(hours, &v.hours[i])
		}
	}
	return hours
}

// thunderFrom is the share of courses with thunder while the boat is out from
// which it is named.
const thunderFrom = 0.1

// thunderOut counts the courses that have thunder while the boat is out, and
// tells from when the first of them has it.
func (s *site) thunderOut(v *view) (count, from int) {
	from = farFuture
	for _, c := range v.courses {
		for i := range c {
			x := &c[i]
			if x.shut.has(byThunder) && int(x.to) > v.plan.leave && int(x.from) < v.plan.back {
				count, from = count+1, min(from, int(x.from))
				break
			}
		}
	}
	return count, max(from, v.plan.leave)
}

// thunderNamed names thunder that enough of the courses have while the boat is
// out.
func (s *site) thunderNamed(v *view) []models.Phrase {
	n, from := s.thunderOut(v)
	if float64(n) < thunderFrom*float64(len(v.courses)) || n == 0 {
		return nil
	}
	return []models.Phrase{models.Say("reason.thunder", s.told(from), n, len(v.courses))}
}

// doubt is what guests are told of it: that it is not certain, where the trip
// or its hours are not likely, and thunder that may end it.
func (s *site) doubt(v *view) []models.Phrase {
	var list []models.Phrase
	if share := min(v.answers.Runs.Share, v.answers.Hours.Share); share < s.lim.PlainShare-1e-9 {
		list = append(list, models.Say("guests.doubt"))
	}
	if len(s.thunderNamed(v)) > 0 {
		list = append(list, models.Say("guests.thunder"))
	}
	return list
}

// barred tells whether a product keeps everybody in that has yet to come.
func barred(closings []closing) bool {
	return slices.ContainsFunc(closings, func(c closing) bool { return c.bars })
}

// worthLeft tells whether some open time is left in the trip, though too
// little.
func (s *site) worthLeft(v *view) bool {
	for _, h := range v.hours {
		from, to := h.from, h.to
		if _, closed := closedAt(from, to, v.closings); !closed && from >= v.trip.start && to <= v.trip.end {
			return true
		}
	}
	return false
}

// fished returns the hours in which the boat fishes by one of some modes.
func (s *site) fished(v *view, modes ...mode) []*hour {
	var out []*hour
	for i := range v.hours {
		h := &v.hours[i]
		mid := (h.from + h.to) / 2
		if float64(mid) < v.plan.arrive || float64(mid) > v.plan.depart || mid < v.trip.linesIn || mid > v.trip.bell {
			continue
		}
		if j := mid / step; j >= 0 && j <= longestDay && (len(modes) == 0 || slices.Contains(modes, v.plan.modes[j])) {
			out = append(out, h)
		}
	}
	return out
}

// whyTactic says what the tactic rests on.
func (s *site) whyTactic(v *view) []models.Phrase {
	var list []models.Phrase
	if hours := s.fished(v, modeKite, modeHelium, modeEither); len(hours) > 0 {
		lo, hi, gust := windsOf(hours)
		from := middleHour(hours).c.WindFrom
		key := "reason.kite"
		if by, _ := v.plan.shares(v.trip.linesIn); by[modeHelium] > by[modeKite]+by[modeEither] {
			key = "reason.helium"
		}
		grade := models.Word(s.grade(meanKite(hours)).String())
		if f, ok := from.Get(); ok {
			list = append(list, models.Say(key, f, speeds(lo, hi), gust, grade))
		} else {
			list = append(list, models.Say(key+".no_direction", speeds(lo, hi), gust, grade))
		}
	}
	if hours := s.fished(v, modeSight, modeEither); len(hours) > 0 {
		best := hours[0]
		for _, h := range hours {
			if h.look.worth > best.look.worth {
				best = h
			}
		}
		first := hours[0].from
		for _, h := range hours {
			if h.look.worth >= s.lim.GradeFair {
				first = h.from
				break
			}
		}
		from := s.told(first)
		c := &best.c
		switch best.look.best {
		case showTailing:
			list = append(list, models.Say("reason.tailing", c.WindFrom.Or(0), c.Current.Or(0), c.CurrentToward.Or(0), from))
		case showShower:
			list = append(list, models.Say("reason.shower", from))
		case showJumpers:
			list = append(list, models.Say("reason.jumpers", from))
		default:
			panic(fmt.Sprintf("scoring: nobody has said how to tell show %d", best.look.best))
		}
	}
	return list
}

// whyTimes says what moves the times off the booking.
func (s *site) whyTimes(v *view) []models.Phrase {
	var list []models.Phrase
	p, t := &v.plan, &v.trip
	if p.leave >= t.start+step {
		if c, ok := s.holdsUp(v); ok {
			list = append(list, models.Say("reason.not_before", s.told(p.leave), c.why))
		} else if p.leave <= s.free[0] {
			list = append(list, models.Say("reason.turnaround", s.told(p.leave)))
		} else {
			list = append(list, models.Say("reason.better_later", s.told(p.leave)))
		}
	}
	if p.back > t.end-step {
		return list
	}
	binds, bound := s.bringsBack(v)
	switch {
	case bound:
		list = append(list, models.Say("reason.back_before", s.told(p.back), s.begins(binds), binds.why))
	case s.clearUntil(p.leave, v.courses) <= t.end:
		list = append(list, models.Say("reason.back_members", s.told(p.back), s.told(s.clearUntil(p.leave, v.courses))))
	case p.back >= s.minute(t.sun.Set.Or(s.instant(farFuture))):
		list = append(list, models.Say("reason.back_dark", s.told(p.back)))
	default:
		list = append(list, models.Say("reason.back_fishing", s.told(p.back)))
	}
	if p.leave <= t.start-step {
		list = append(list, models.Say("reason.earlier", s.told(p.leave)))
	}
	return list
}

// holdsUp is the closing that keeps the boat from leaving as booked.
func (s *site) holdsUp(v *view) (closing, bool) {
	return closedAt(v.trip.start, v.plan.leave, v.closings)
}

// bringsBack is the closing that asks for the earliest return, if the plan
// comes back for it.
func (s *site) bringsBack(v *view) (closing, bool) {
	var binds closing
	found := false
	for _, c := range v.closings {
		if c.from <= v.plan.leave || s.soft && c.passable() {
			continue
		}
		by, than := c.from-c.margin, binds.from-binds.margin
		if !found || by < than || by == than && c.cause < binds.cause {
			binds, found = c, true
		}
	}
	return binds, found && v.plan.back >= binds.from-binds.margin-2*step
}

// whyRide tells the worst ride while the boat is out.
func (s *site) whyRide(v *view) []models.Phrase {
	worst := s.worstOut(v)
	if worst == nil {
		return nil
	}
	c := &worst.c
	sea, ok := c.LocalSea.Get()
	if !ok {
		return []models.Phrase{models.Say("reason.ride_unknown")}
	}
	word := models.Word(worst.ride.String())
	if period, ok := c.Period.Get(); ok {
		return []models.Phrase{models.Say("reason.ride", word, sea, models.Seconds(period))}
	}
	return []models.Phrase{models.Say("reason.ride_no_period", word, sea)}
}

// worstOut is the hour with the worst ride while the boat is out, the highest
// sea among equals.
func (s *site) worstOut(v *view) *hour {
	var worst *hour
	for i := range v.hours {
		h := &v.hours[i]
		if h.to <= v.plan.leave || h.from >= v.plan.back {
			continue
		}
		if worst == nil || h.ride > worst.ride || h.ride == worst.ride && h.c.LocalSea.Or(0) > worst.c.LocalSea.Or(0) {
			worst = h
		}
	}
	return worst
}

// whyNotOther says what the other tactic lacks.
func (s *site) whyNotOther(v *view) []models.Phrase {
	by, _ := v.plan.shares(v.trip.linesIn)
	if by[modeSight]+by[modeEither] == 0 {
		return s.weakSight(s.fished(v))
	}
	if by[modeKite]+by[modeHelium]+by[modeEither] == 0 {
		return s.weakKite(s.fished(v))
	}
	return nil
}

// weakest says what both tactics lack in the booked hours.
func (s *site) weakest(v *view) []models.Phrase {
	hours := s.booked(v)
	return append(s.weakKite(hours), s.weakSight(hours)...)
}

func (s *site) weakKite(hours []*hour) []models.Phrase {
	lack, ok := kiteLack(hours)
	if !ok {
		return nil
	}
	return []models.Phrase{models.Say("reason.not_kite." + lack)}
}

// hardKite says what makes it hard to fish kites that are flown all the same.
// How much wind there is has been said.
func hardKite(hours []*hour) []models.Phrase {
	lack, ok := kiteLack(hours)
	if !ok || lack == "wind" {
		return nil
	}
	return []models.Phrase{models.Say("reason.hard_kite." + lack)}
}

// kiteLack is what the kites lack most in the middle of some hours.
func kiteLack(hours []*hour) (lack string, ok bool) {
	h := middleHour(hours)
	if h == nil {
		return "", false
	}
	worst := 0
	for i, p := range h.kite.part {
		if p < h.kite.part[worst] {
			worst = i
		}
	}
	return kiteLacks()[worst], h.kite.part[worst] <= 0.6
}

// weakSight names what keeps fish down or out of sight, in the order of how
// much a captain would say it.
func (s *site) weakSight(hours []*hour) []models.Phrase {
	h := middleHour(hours)
	if h == nil || h.look.worth >= s.lim.GradeFair {
		return nil
	}
	p := &h.look.part
	for _, f := range []struct {
		part int
		key  string
	}{
		{sightOpposed, "opposed"}, {sightCurrent, "current"}, {sightWind, "wind"}, {sightFaces, "faces"}, {sightCloud, "cloud"},
		{sightEdge, "edge"}, {sightSeason, "season"}, {sightWater, "water"}, {sightGlare, "glare"}, {sightSun, "sun"}, {sightCast, "cast"},
	} {
		if p[f.part] < 0.5 {
			return []models.Phrase{models.Say("reason.not_sight." + f.key)}
		}
	}
	return nil
}

// middleHour is the hour in the middle of a list, nil for none.
func middleHour(hours []*hour) *hour {
	if len(hours) == 0 {
		return nil
	}
	return hours[len(hours)/2]
}

// speeds tells a range of speeds, or one where they round to the same.
func speeds(lo, hi units.Speed) models.Phrase {
	if math.Round(lo.Knots()) == math.Round(hi.Knots()) {
		return models.Say("range.one", hi)
	}
	return models.Say("range.two", lo, hi)
}

func windsOf(hours []*hour) (lo, hi units.Speed, gusts models.Phrase) {
	most, all, any := units.Speed(0), true, false
	lo = units.Speed(math.Inf(1))
	for _, h := range hours {
		w := h.c.Wind.Or(0)
		lo, hi = min(lo, w), max(hi, w)
		g, ok := h.c.Gust.Get()
		all = all && ok
		if ok {
			most, any = max(most, g), true
		}
	}
	switch {
	case !any:
		gusts = models.Say("gusts.unknown")
	case !all:
		gusts = models.Say("gusts.in_part", most)
	default:
		gusts = models.Say("gusts.to", most)
	}
	return lo, hi, gusts
}

// meanKite is the mean worth of the kites over some hours.
func meanKite(hours []*hour) float64 {
	sum := 0.0
	for _, h := range hours {
		sum += h.kite.worth
	}
	return sum / float64(max(len(hours), 1))
}

// cautions are the usual ones, where they apply.
func (s *site) cautions(v *view, c *models.Call) []models.Phrase {
	list := []models.Phrase{}
	if !s.o.Warnings.Known() {
		list = append(list, models.Say("caution.warnings_unknown"))
	}
	list = append(list, models.Say("caution.official"))
	for _, o := range s.o.Overrides {
		switch {
		case strings.TrimSpace(o.Why) == "":
			list = append(list, models.Say("caution.override_no_reason", o.What))
		case len(overridden(o.What)) == 0 && !s.namesAny(o.What):
			list = append(list, models.Say("caution.override_not_understood", o.What))
		default:
			list = append(list, models.Say("caution.overridden", o.What, o.Why))
		}
	}
	if s.soft && v.plan.going {
		if cl, ok := s.passed(v); ok {
			list = append(list, models.Say("caution.event", cl.why), models.Say("caution.charters_stay_in"))
		}
	}
	if s.o.Trip.Kind == models.OwnTrip {
		list = append(list, models.Say("caution.own_trip"))
	}
	if sea, ok := s.fromElsewhere(v); ok {
		list = append(list, models.Say("caution.sea_elsewhere", sea))
	}
	out := v.plan.going
	if out {
		kites := len(s.fished(v, modeKite, modeHelium, modeEither)) > 0
		thunder, unknown := false, false
		ebb := false
		for i := range v.hours {
			h := &v.hours[i]
			if h.to <= v.plan.leave || h.from >= v.plan.back+120 {
				continue
			}
			p, ok := h.c.Thunder.Get()
			thunder = thunder || ok && p > 0
			unknown = unknown || !ok
			stream, okStream := h.c.InletCurrent.Get()
			ebb = ebb || (!okStream || stream < 0) && h.c.InletSea.Or(1) > 2*units.Foot
		}
		if thunder || unknown {
			list = append(list, models.Say("caution.thunder"), models.Say("caution.radar"))
		}
		if kites {
			list = append(list, models.Say("caution.aircraft"))
			list = append(list, s.airfields()...)
		}
		if c.Tactic == models.TacticHelium || s.usesHelium(v) {
			list = append(list, models.Say("caution.helium"))
		}
		if ebb {
			list = append(list, models.Say("caution.inlet"))
		}
		if w := s.worstOut(v); w != nil && w.ride >= models.RideRough {
			list = append(list, models.Say("caution.single_waves"))
		}
	}
	list = append(list, s.fuel(v)...)
	list = append(list, s.headCount()...)
	return append(list, models.Say("caution.captain"))
}

// namesAny tells whether a text names a product that an override may lift.
func (s *site) namesAny(what string) bool {
	return slices.ContainsFunc(s.products, func(w models.Warning) bool { return w.Rule() == models.ProductAdvisory && names(what, w) })
}

func (s *site) usesHelium(v *view) bool {
	by, _ := v.plan.shares(v.trip.linesIn)
	return by[modeHelium] > 0
}

// fuelOut is the share of the usable fuel that the runs may take: a third out,
// a third home, a third kept (common practice, no source).
const fuelOut = 2.0 / 3

// fuel checks the runs, with what the drift adds, against the tank.
func (s *site) fuel(v *view) []models.Phrase {
	rate, ok1 := s.o.Boat.FuelPerHour.Get()
	usable, ok2 := s.o.Boat.FuelUsable.Get()
	if !ok1 || !ok2 || !v.plan.going {
		return nil
	}
	runs := (v.plan.arrive - float64(v.plan.leave) + float64(v.plan.back) - v.plan.depart) / 60
	if burn := runs * rate; burn > fuelOut*usable {
		return []models.Phrase{models.Say("caution.fuel", math.Round(burn), math.Round(usable))}
	}
	return nil
}

// sixPack is how many paying guests an uninspected vessel may carry (46 USC
// 2101, from memory).
const sixPack = 6

// headCount checks the guests against the boat's papers.
func (s *site) headCount() []models.Phrase {
	guests, ok := s.o.Trip.Guests.Get()
	if !ok || !s.o.Trip.ForHire.Or(true) {
		return nil
	}
	if may, ok := s.o.Boat.Passengers.Get(); ok {
		if guests > may {
			return []models.Phrase{models.Say("caution.too_many_guests", guests, may)}
		}
		return nil
	}
	if guests > sixPack {
		return []models.Phrase{models.Say("caution.over_six", guests)}
	}
	return nil
}

// kiteLacks names what a kite hour lacks, in the order of its factors.
func kiteLacks() [kiteFactorCount]string {
	return [...]string{"wind", "gust", "gust", "direction", "rain", "thunder", "slip", "sea", "crew", "set"}
}
