package scoring

import (
	"math"
	"slices"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/sky"
	"forecastd/internal/models/units"
)

// mode is what the boat fishes by.
type mode uint8

const (
	modeKite mode = iota
	modeHelium
	modeSight
	modeEither
	modeCount
)

const (
	// step is the grid of the plan, in minutes.
	step = 15
	// mostChanges is how often a day may change its tactic (trade.md 8.3).
	mostChanges = 2
	// longestDay is how many steps a civil day may have: 25 hours.
	longestDay = 25 * 60 / step
	// leaveEvery is how far apart the leave times lie that are tried.
	leaveEvery = 30
)

// day is what the courses give each step of the civil day, in their mean.
type day struct {
	n     int
	worth [modeCount][longestDay + 1]float64 // an hour's worth, by mode
	cost  [longestDay + 1]float64            // an hour's discomfort
	slow  [longestDay + 1]float64            // how much longer a run takes
	carry [longestDay + 1]float64            // minutes of run that the drift adds
	known [longestDay + 1]bool
	turn  [longestDay + 1]bool // a new hour begins: the worths may change
	// useful tells of each tactic whether the hour is any good for it.
	useful [longestDay + 1][modeCount]bool
	both   [longestDay + 1]bool // kites and sight casting are both good, and much the same
	// sum is the most that the steps before each one can give, and fish what
	// they give by the best tactic of each, in hours, whatever the ride.
	sum, fish [longestDay + 2]float64
}

// How much longer a run takes in a rough sea, and the cruise taken where the
// boat's is not given: common practice, no source.
const (
	roughRun      = 1.15
	usualCruise   = 22 * units.Knot
	usualReset    = 2 * time.Hour
	darkCost      = 0.2 // an hour out in the dark with nothing to see
	needlessGas   = 0.15
	wantsGas      = 0.1
	okShareOfRide = 0.2
	// shortestEvent is the least fishing, in minutes, that an event is worth
	// leaving for: it comes on no other day.
	shortestEvent = 60.0
	// askLater is what it costs to ask guests for a later start at all: a
	// booking before first light is left as it is.
	askLater = 0.25
)

// frame lays on the grid of the plan what does not hang on the courses: what
// is known, how long a run takes.
func (s *site) frame(v *view) {
	d := &v.day
	*d = day{n: min(int(s.day.Duration()/(step*time.Minute)), longestDay)}
	for i := range v.hours {
		h := &v.hours[i]
		from, to := max(h.from, 0), min(h.to, d.n*step)
		if from >= to || !h.c.Wind.Known() {
			continue
		}
		_, slow := s.discomfort(h.ride)
		carry := s.carried(h)
		kite, look := s.grade(h.kite.worth) > models.GradeNo, s.grade(h.look.worth) > models.GradeNo
		both := s.readyForBoth(h)
		d.turn[from/step] = true
		for j := from / step; j*step < to && j < d.n; j++ {
			d.slow[j], d.carry[j], d.known[j] = slow, carry, true
			d.useful[j], d.both[j] = [modeCount]bool{kite, kite, look, kite && look}, both
		}
	}
}

// mean is the mean of the courses for a boat that comes in where each of them
// stops it: from then on that course gives nothing and costs nothing. An hour
// that is no good for a tactic in most of them gives it nothing either: nobody
// leaves for what is called "no".
func (s *site) mean(v *view, stops []int) {
	d := &v.day
	for m := range d.worth {
		clear(d.worth[m][:d.n+1])
	}
	clear(d.cost[:d.n+1])
	share := 1 / float64(len(v.courses))
	for i, c := range v.courses {
		for k := range c {
			x := &c[k]
			from, to := max(int(x.from), 0), min(int(x.to), d.n*step, stops[i])
			for j := from / step; j*step < to; j++ {
				for m := range x.worth {
					d.worth[m][j] += float64(x.worth[m]) * share
				}
				d.cost[j] += float64(x.cost) * share
			}
		}
	}
	for j := range d.n {
		most := 0.0
		d.worth[modeEither][j] = d.either(j)
		for m := range d.worth {
			if !d.useful[j][m] {
				d.worth[m][j] = min(d.worth[m][j], 0)
			}
			if m == 0 || d.worth[m][j] > most {
				most = d.worth[m][j]
			}
		}
		d.sum[j+1] = d.sum[j] + max(most-d.cost[j], 0)*step/60
		d.fish[j+1] = d.fish[j] + most*step/60
	}
}

// most is the most that a window can give: whatever the tactics, without
// their changes.
func (d *day) most(w window) float64 {
	first, last := min(max(w.leave/step, 0), d.n), min(max(w.back/step+1, 0), d.n)
	return d.sum[last] - d.sum[first]
}

// worths are an hour's worths by mode.
func (s *site) worths(h *hour, w *[modeCount]float64) {
	k, v := withFish(h.kite.worth, h.fish), h.look.worth
	dark := 0.0
	if h.c.SunElevation < -6 { // no civil twilight
		k, v, dark = 0, 0, darkCost
	}
	w[modeKite], w[modeHelium] = k, k-needlessGas
	if h.kite.helium {
		w[modeKite], w[modeHelium] = k-wantsGas, k
		if !h.kite.bare {
			w[modeKite] = 0
		}
	}
	w[modeSight] = v
	w[modeEither] = max(k, v) // the crew does the better: see either
	for m := range w {
		w[m] -= dark
	}
}

// readyForBoth tells whether the forecast itself has kites and sight casting
// both good, and much the same.
func (s *site) readyForBoth(h *hour) bool {
	k, v := withFish(h.alone.kite, h.fish), h.alone.look
	return min(k, v) >= s.lim.GradeGood && math.Abs(k-v) <= eitherApart
}

// either is the worth of having both ready, which is worth calling where both
// are good and much the same: else it is the poorer of the two, with the other's
// gear aboard.
func (d *day) either(j int) float64 {
	k, v := d.worth[modeKite][j], d.worth[modeSight][j]
	switch {
	case d.both[j]:
		return d.worth[modeEither][j] + eitherBonus
	case k >= v:
		return k - eitherPoorer
	}
	return min(k-eitherPoorer, v)
}

// discomfort is what an hour of this ride costs the party, and how much
// longer a run takes in it.
func (s *site) discomfort(r models.Ride) (cost, slow float64) {
	rough := s.lim.Weights.RoughHour * s.family
	switch r {
	case models.RideEasy:
		return 0, 1
	case models.RideOK:
		return rough * okShareOfRide, 1
	case models.RideRough:
		return rough, roughRun
	case models.RideNo:
	}
	return 2 * rough, roughRun * roughRun
}

// carried is how many minutes of running half a set of drifting adds to the
// run home: the captain resets, and may be at either end of a set.
func (s *site) carried(h *hour) float64 {
	v, ok := h.c.DriftSpeed.Get()
	if !ok {
		return 0
	}
	half := float64(v) * usualReset.Seconds() / 2
	return half / float64(s.o.Boat.Cruise.Or(usualCruise)) / 60
}

// trip is a booked trip in minutes of the day.
type trip struct {
	start, end    int
	fixed         bool // the times are the event's
	linesIn, bell int  // fishing is between them
	run           float64
	least         float64 // minutes of fishing worth leaving for
	earliest      int     // the first leave time that may be asked for
	latest        int
	dusk          int // back inside, unless booked later
	sun           models.SunTimes
}

// trip is the booked trip, worked out once.
func (s *site) trip() trip {
	if s.trips == nil {
		t := s.tripOf()
		s.trips = &t
	}
	return *s.trips
}

func (s *site) tripOf() trip {
	t := trip{
		start: s.clock(s.o.Trip.Start), end: s.clock(s.o.Trip.End),
		linesIn: 0, bell: farFuture, run: max(s.o.Ground.Run.Minutes(), 0),
	}
	t.fixed = s.o.Trip.Kind == models.Tournament
	if c, ok := s.o.Trip.LinesIn.Get(); ok {
		t.linesIn = s.clock(c)
	}
	if c, ok := s.o.Trip.LinesOut.Get(); ok {
		t.bell = s.clock(c)
	}
	booked := float64(t.end-t.start) - 2*t.run
	t.least = min(s.lim.ShortestTrip.Minutes(), 0.75*booked)
	if t.fixed {
		t.least = min(t.least, shortestEvent)
	}
	t.earliest = t.start - int(s.lim.Earliest/time.Minute)
	t.latest = t.start + int(s.lim.Latest/time.Minute)
	t.dusk = farFuture
	sun := sky.SunDay(s.day.Start, s.day.End, s.o.Ground.At)
	t.sun = sun
	if dawn, ok := sun.CivilDawn.Get(); ok {
		// Guests are not asked to come so early that they wait for the light.
		t.earliest = max(t.earliest, min(t.start, s.minute(dawn)-int(t.run)))
	}
	if dusk, ok := sun.CivilDusk.Get(); ok {
		t.dusk = max(t.end, s.minute(dusk))
	}
	return t
}

// plan is a day settled: when to leave, what by, when to be back.
type plan struct {
	going       bool
	leave, back int
	arrive      float64 // on the ground
	depart      float64 // off the ground
	modes       [longestDay + 1]mode
	value       float64 // hours of perfect fishing, all costs taken off
	day         float64 // the same without what other times cost the guests
	fished      float64 // hours
	fishing     float64 // their worth
	changes     int
}

// window bounds one try: leave, and the latest back.
type window struct{ leave, back int }

// windows are the leave times that may be tried, with the latest back of
// each.
func (s *site) windows(t trip, closings []closing, clear func(leave int) int) []window {
	var leaves []int
	if t.fixed {
		leaves = []int{t.start}
	} else {
		leaves = append(leaves, t.start)
		for l := t.start - leaveEvery; l >= t.earliest; l -= leaveEvery {
			leaves = append(leaves, l)
		}
		latest := t.latest
		for _, c := range closings {
			if c.cause == byFog && c.to <= t.start+(t.end-t.start)/2 {
				latest = max(latest, c.to+c.wait) // fog may be waited out to half the trip
			}
		}
		for l := t.start + leaveEvery; l <= latest; l += leaveEvery {
			leaves = append(leaves, l)
		}
	}
	var out []window
	if s.free[0] > t.start && s.free[0] <= t.latest {
		leaves = append(leaves, s.free[0])
	}
	for _, l := range leaves {
		back, ok := limit(l, closings, s.soft)
		if !ok || l < s.free[0] {
			continue
		}
		back = min(back, l+t.end-t.start, t.dusk, clear(l), s.free[1])
		if t.fixed {
			back = min(back, t.end)
		}
		if back > l {
			out = append(out, window{l, back})
		}
	}
	return out
}

// outlasts tells whether fog closes more than half of the booked trip.
func outlasts(t trip, closings []closing) bool {
	shut := 0
	for _, c := range closings {
		if c.cause == byFog {
			shut += max(0, min(c.to, t.end)-max(c.from, t.start))
		}
	}
	return 2*shut > t.end-t.start
}

// search finds the plan that is best in the mean over the courses among those
// that enough of them let run, by dynamic programming over steps, modes and
// changes.
func (s *site) search(v *view) plan {
	best := plan{}
	if outlasts(v.trip, v.closings) && !s.lifts[byFog] || s.nothing(v) {
		return best
	}
	if !s.enough(s.running(v), len(v.courses)) {
		return best
	}
	var table lanes
	stops, before := make([]int, len(v.courses)), make([]int, len(v.courses))
	for _, w := range s.windows(v.trip, v.closings, func(leave int) int { return s.clearUntil(leave, v.courses) }) {
		runs := 0
		for i, c := range v.courses {
			stops[i], _ = s.stop(c, w.leave)
			if s.runsIn(v, c, w, stops[i]) {
				runs++
			}
		}
		if !s.enough(runs, len(v.courses)) {
			continue
		}
		if !slices.Equal(stops, before) {
			s.mean(v, stops)
			copy(before, stops)
		}
		if best.going && v.day.most(w)-s.shiftCost(w.leave-v.trip.start) <= best.value {
			continue
		}
		p := s.bestIn(&v.day, v.trip, w, &table)
		if p.going && (!best.going || p.value > best.value+1e-9) {
			best = p
		}
	}
	return best
}

// enough tells whether a trip that so many courses let run is called on. A
// fixed-date event is the captain's own decision.
func (s *site) enough(runs, of int) bool {
	return s.soft || float64(runs) >= s.lim.GoShare*float64(of)-1e-9
}

// runsIn tells whether a trip in a window fishes at least the shortest trip
// before a course stops it. The run is taken as it is in a fair sea, so that
// nothing but what stops the boat counts.
func (s *site) runsIn(v *view, c course, w window, stop int) bool {
	t := &v.trip
	if stop <= w.leave || s.spoilt(c, t) {
		return false
	}
	start := max(float64(w.leave)+t.run, float64(t.linesIn))
	depart := min(float64(min(w.back, stop))-t.run, float64(t.bell))
	return depart-start >= t.least-1e-9
}

// spoilt tells whether fog or a soaking rain takes more than half of the
// booked trip.
func (s *site) spoilt(c course, t *trip) bool {
	fog, rain := 0, 0
	for i := range c {
		x := &c[i]
		in := min(int(x.to), t.end) - max(int(x.from), t.start)
		if in <= 0 {
			continue
		}
		if x.shut.has(byFog) {
			fog += in
		}
		if x.soaked {
			rain += in
		}
	}
	return 2*max(fog, rain) > t.end-t.start
}

// lanes is the table of the dynamic programme.
type lanes struct {
	value [longestDay + 2][modeCount][mostChanges + 1]float64
	from  [longestDay + 2][modeCount][mostChanges + 1]mode // the mode before
}

const never = -1e9

// bestIn finds the best plan that leaves at one time.
func (s *site) bestIn(d *day, t trip, w window, tb *lanes) plan {
	arrive := float64(w.leave) + t.run*d.slowAt(w.leave)
	start := max(arrive, float64(t.linesIn))
	first := int(start) / step
	if first < 0 || first >= d.n {
		return plan{}
	}
	for m := range modeCount {
		for c := range mostChanges + 1 {
			tb.value[first][m][c] = never
		}
		tb.value[first][m][0] = 0
	}
	shift := s.shiftCost(w.leave - t.start)
	worthBy := s.worthBy(d, t, start, min(d.departBy(w.back, t.run), float64(t.bell)))
	best, bestAt := plan{}, 0
	var bestMode mode
	bestChanges := 0
	for i := first; i < d.n; i++ {
		if i > first && d.turn[i] {
			s.switchModes(d, i, tb)
		}
		// A trip may end in this step: at its end, or where the window or the
		// bell falls in it.
		ground := min(d.departBy(w.back, t.run), float64(t.bell))
		depart := min(float64((i+1)*step), ground)
		share := (depart - max(float64(i*step), start)) / 60
		if share <= 0 || !d.known[i] {
			break
		}
		back := min(float64(w.back), math.Ceil((depart+d.home(depart, t.run))/5-1e-9)*5)
		if t.fixed && ground-depart < 1e-9 {
			back = float64(w.back) // an event's boat stays out to its time
		}
		fished := depart - start
		last := i+1 >= d.n || !d.known[i+1] || ground-depart < 1e-9
		// An event is fished to its bell, whatever the last hours are worth.
		if fished >= t.least-1e-9 && depart >= worthBy-1e-9 && (!t.fixed || last) {
			late := s.lim.Weights.Cut * max(0, float64(t.end-t.start)-(back-float64(w.leave))) / 60
			for m := range modeCount {
				for c := range mostChanges + 1 {
					v := tb.value[i][m][c]
					if v <= never {
						continue
					}
					total := v + share*(d.worth[m][i]-d.cost[i]) - shift - late
					if !best.going || total > best.value+1e-9 {
						best.going, best.value, best.day = true, total, total+shift
						best.back, best.depart, best.fished = int(back), depart, fished/60
						bestAt, bestMode, bestChanges = i, m, c
					}
				}
			}
		}
		full := (min(float64((i+1)*step), 1e9) - max(float64(i*step), start)) / 60
		for m := range modeCount {
			for c := range mostChanges + 1 {
				v := tb.value[i][m][c]
				if v > never {
					v += full * (d.worth[m][i] - d.cost[i])
				}
				tb.value[i+1][m][c], tb.from[i+1][m][c] = v, m
			}
		}
		if depart >= ground-1e-9 {
			break
		}
	}
	if !best.going {
		return best
	}
	best.leave, best.arrive, best.changes = w.leave, arrive, bestChanges
	m, c := bestMode, bestChanges
	for i := bestAt; i >= first; i-- {
		best.modes[i] = m
		share := (min(float64((i+1)*step), best.depart) - max(float64(i*step), start)) / 60
		best.fishing += share * d.worth[m][i]
		if before := tb.from[i][m][c]; i > first && before != m {
			m, c = before, c-1
		}
	}
	if !d.fishes(&best, start, first) {
		return plan{}
	}
	return best
}

// fishes tells whether a plan fishes most of any hour that is good for what it
// does in it: half an hour at the edge of a poor one is not left for.
func (d *day) fishes(p *plan, start float64, first int) bool {
	const most = 30.0 // minutes
	good := 0.0
	for i := first; i < d.n && float64(i*step) < p.depart; i++ {
		if d.turn[i] {
			good = 0
		}
		if d.useful[i][p.modes[i]] {
			good += min(float64((i+1)*step), p.depart) - max(float64(i*step), start)
		}
		if good >= most-1e-9 {
			return true
		}
	}
	return false
}

// worthBy is the first minute by which a boat that fishes from start has had
// fishing worth leaving for: a stretch at least as long as the trip's least,
// with the best tactic of each hour worth enough on average. Where there is
// none until the end it is the far future. A longer day never has less, and how
// rough it is has no part in it.
func (s *site) worthBy(d *day, t trip, start, end float64) float64 {
	least := max(t.least, step)
	over := func(x float64) float64 { return d.fishUntil(x) - s.lim.Weights.WorthLeaving*x/60 }
	by := float64(farFuture)
	try := func(from, to float64) {
		if from >= start && to <= end && to < by && over(to)-over(from) >= -1e-9 {
			by = to
		}
	}
	// A best stretch begins and ends where a step does, or is the shortest.
	first := int(math.Ceil(start / step))
	next, lowest := first, over(start)
	upTo := func(to float64) {
		for ; float64(next*step) <= to-least; next++ {
			lowest = min(lowest, over(float64(next*step)))
		}
		if start <= to-least && to < by && over(to)-lowest >= -1e-9 {
			by = to
		}
		try(to-least, to)
	}
	try(start, start+least)
	for k := first; k <= d.n && float64(k*step) <= end; k++ {
		try(float64(k*step), float64(k*step)+least)
		upTo(float64(k * step))
	}
	upTo(end)
	return by
}

// fishUntil is what the best tactic of each hour gives until a minute of the
// day, in hours of perfect fishing.
func (d *day) fishUntil(minute float64) float64 {
	i := int(minute) / step
	if i < 0 || i >= d.n {
		return d.fish[min(max(i, 0), d.n)]
	}
	return d.fish[i] + (minute/step-float64(i))*(d.fish[i+1]-d.fish[i])
}

// switchModes lets a tactic change at the start of step i. Within an hour
// nothing changes, so that the best change comes at the start of one.
func (s *site) switchModes(d *day, i int, tb *lanes) {
	// Kites are wound in before the boat runs to look for fish, and set out
	// before they fish.
	w := &s.lim.Weights
	kites := max(d.worth[modeKite][i], d.worth[modeHelium][i], 0)
	windIn, setOut := w.Change+w.WindInKites.Hours()*kites, w.Change+w.SetKites.Hours()*kites
	now := tb.value[i]
	for c := 1; c <= mostChanges; c++ {
		for to := range modeCount {
			for from := range modeCount {
				if from == to || now[from][c-1] <= never {
					continue
				}
				cost := w.Change
				if to == modeSight {
					cost = windIn
				} else if from == modeSight {
					cost = setOut
				}
				if v := now[from][c-1] - cost; v > tb.value[i][to][c]+1e-9 {
					tb.value[i][to][c], tb.from[i][to][c] = v, from
				}
			}
		}
	}
}

// shiftCost is what it costs to ask guests for another hour.
func (s *site) shiftCost(minutes int) float64 {
	w := &s.lim.Weights
	switch {
	case minutes < 0:
		halves := float64(-minutes) / 30
		return w.Earlier * halves * halves
	case minutes > 0:
		return askLater + w.Later*float64(minutes)/60
	}
	return 0
}

func (d *day) slowAt(minute int) float64 {
	i := minute / step
	if i < 0 || i >= d.n || d.slow[i] == 0 {
		return 1
	}
	return d.slow[i]
}

// home is how many minutes the run home takes for a boat that leaves the
// ground at a minute.
func (d *day) home(depart, run float64) float64 {
	i := min(max(int(depart)/step, 0), d.n-1)
	return run*d.slowAt(int(depart)) + d.carry[i]
}

// departBy is the latest minute to leave the ground for being back by one.
func (d *day) departBy(back int, run float64) float64 {
	t := float64(back)
	return t - d.home(t-d.home(t, run), run)
}
