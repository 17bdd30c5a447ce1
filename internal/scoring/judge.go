package scoring

import (
	"slices"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/spread"
)

// With is what a call looks at beside the outlook. The zero value works.
type With struct {
	// Told is what was last told about the day, and Runs are the results of
	// earlier runs for it, oldest first.
	Told models.Opt[models.Standing]
	Runs []models.Standing
	// Booking is the day's booking, for its guests, terms and count.
	Booking models.Opt[models.Booking]
	// Unbooked tells that nothing is booked: it is the usual trip that is
	// called, there are no guests to tell anything, and it wants something to
	// fish for.
	Unbooked bool
	// Days are the days ahead, to offer instead.
	Days []models.DayOutlook
	// Pen is what baits are held, Gear the captain's own, Spread his table
	// of marks and tackle.
	Pen    models.Opt[models.Pen]
	Gear   []models.Gear
	Spread models.Opt[spread.Table]
	// After is when the boat is back from an earlier trip of the day, Before
	// when it leaves on a later one.
	After, Before models.Opt[time.Time]
	// Taken is how many baits the earlier trips of the day take out of the
	// pen.
	Taken models.BaitCount
	// Quick leaves out what is only told, for days ahead and what-if.
	Quick bool
}

// Judge makes the call of an outlook's day.
func Judge(o models.Outlook, lim models.Limits, with With) models.Call {
	s := newSite(o, lim)
	c := models.Call{
		Made: o.Made, Date: o.Date, Port: o.Port, Ground: o.Ground, Boat: o.Boat, Trip: o.Trip,
		Warnings: s.o.Warnings, Stood: s.o.Stood, Texts: o.Texts, Overrides: o.Overrides,
		Tides: o.Tides, Streams: o.Streams, Sources: o.Sources, Demo: o.Demo,
		CaptainDecides: o.Trip.Kind == models.OwnTrip, Unbooked: with.Unbooked,
	}
	turn := int(lim.Turnaround / time.Minute)
	if at, ok := with.After.Get(); ok {
		s.free[0] = s.minute(at) + turn
	}
	if at, ok := with.Before.Get(); ok {
		s.free[1] = s.minute(at) - turn
	}
	s.unbooked, s.behind = with.Unbooked || o.Trip.Kind == models.OwnTrip, behind(with.Days, o.Date)
	v := s.view(!with.Quick)
	c.Members = len(v.courses)
	c.CaptainDecides = c.CaptainDecides || s.soft && s.passes(v)
	c.Sun = v.trip.sun
	s.settle(&c, v, with)
	return c
}

// Again is a call that was made before, for an outlook that differs from the
// one it was made of in nothing but when it is and when things were fetched.
// What is new in it is told against what was told since.
func Again(c models.Call, o models.Outlook, lim models.Limits, with With) models.Call {
	c.Made, c.Sources = o.Made, o.Sources
	c.Changed = newSite(o, lim).changed(&c, with)
	return c
}

// view is an outlook worked through: what the call is told from.
type view struct {
	trip     trip
	hours    []hour   // the middle course, with the median grades of all
	courses  []course // what may come
	closings []closing
	official []closing // those of the official products
	plan     plan
	answers  models.Answers
	refused  models.Phrase // why no plan can be made at all
	day      day
}

// view works an outlook through.
func (s *site) view(full bool) *view {
	lists := s.lists()
	if full {
		s.worked = newWorked(lists)
	}
	return s.viewOf(s.o.Middle.Hours, lists, full)
}

// viewOf works other hours through, with all else of the outlook as it is.
func (s *site) viewOf(mid []models.Hour, lists [][]models.Hour, full bool) *view {
	v := &view{trip: s.trip()}
	v.hours = s.work(mid, full, nil)
	v.courses = s.judgeAll(lists, v.hours)
	s.close(v)
	return v
}

// close finds what is closed and plans the day between.
func (s *site) close(v *view) {
	v.official = s.official()
	v.closings = slices.Concat(v.official, s.label(v))
	switch {
	case v.trip.end <= v.trip.start:
		v.refused = models.Say("refused.over_midnight", s.o.Trip.Start, s.o.Trip.End)
	case len(v.hours) == 0:
		v.refused = models.Say("refused.no_hours")
	case float64(v.trip.end-v.trip.start) <= 2*v.trip.run:
		v.refused = models.Say("refused.run_too_long", s.o.Ground.Run)
	}
	if v.refused.Key != "" {
		return
	}
	s.frame(v)
	v.plan = s.search(v)
}

// settle turns a view into the call.
func (s *site) settle(c *models.Call, v *view, with With) {
	s.answer(c, v)
	c.Missing = s.missing(c, v, with.Quick)
	if s.capped(c.Answers, v) {
		c.Missing = append(c.Missing, models.Say("missing.history"))
	}
	c.Tactic = s.tactic(v)
	c.Timing = s.timing(v)
	if v.plan.going {
		c.Leave, c.Back = models.Known(s.instant(v.plan.leave)), models.Known(s.instant(v.plan.back))
	}
	c.Hours = s.hourCalls(v, !with.Quick)
	c.Reasons = s.reasons(v)
	if with.Quick {
		return
	}
	c.WouldChange = s.flips(v)
	c.Cautions = s.cautions(v, c)
	c.Charter = s.charter(v, c, with)
	c.Spread, c.Drift = s.spread(v, with), s.firstSet(v)
	c.Bait = s.bait(v, c, with)
	c.Load = s.load(v, c, with)
	c.Changed = s.changed(c, with)
}

// hourCalls tells every hour of the date.
func (s *site) hourCalls(v *view, full bool) []models.HourCall {
	out := make([]models.HourCall, 0, len(v.hours))
	for i := range v.hours {
		h := &v.hours[i]
		if h.span.Start.Before(s.day.Start) {
			continue
		}
		hc := models.HourCall{
			At: h.span.Start, Kite: s.grade(h.kite.worth), Sight: s.grade(h.look.worth), Ride: h.ride, Fish: fishGrade(h.fish), Conditions: h.c,
		}
		from, to := h.from, h.to
		cl, closed := closedAt(from, to, v.closings)
		if closed {
			hc.Closed = cl.why
		}
		hc.Do = s.do(v, from, to, closed && !(s.soft && s.allPassable(from, to, v.closings)))
		if full {
			hc.Factors = s.factors(h)
		}
		out = append(out, hc)
	}
	return out
}

// allPassable tells whether a fixed-date event may pass over all that closes
// an hour.
func (s *site) allPassable(from, to int, closings []closing) bool {
	for _, c := range closings {
		if c.from < to && from < c.to && !c.passable() {
			return false
		}
	}
	return true
}

// do is what fills most of an hour.
func (s *site) do(v *view, from, to int, closed bool) models.Do {
	p := &v.plan
	switch {
	case closed:
		return models.DoNoGo
	case !p.going:
		return models.DoDock
	}
	start := max(p.arrive, float64(v.trip.linesIn))
	overlap := func(a, b float64) float64 { return max(0, min(b, float64(to))-max(a, float64(from))) }
	spent := map[models.Do]float64{
		models.DoDock:   overlap(-farFuture, start),
		models.DoInside: overlap(p.depart, farFuture),
	}
	for i := int(start) / step; float64(i*step) < p.depart && i <= longestDay; i++ {
		spent[p.modes[i].do()] += overlap(max(float64(i*step), start), min(float64((i+1)*step), p.depart))
	}
	best := models.DoDock
	for _, d := range []models.Do{models.DoInside, models.DoEither, models.DoSight, models.DoHeliumKite, models.DoKite} {
		if spent[d] >= spent[best]-1e-9 && spent[d] > 0 {
			best = d
		}
	}
	return best
}

func (m mode) do() models.Do {
	return [...]models.Do{models.DoKite, models.DoHeliumKite, models.DoSight, models.DoEither}[m]
}

// spans of a plan's fishing, by mode.
func (p *plan) shares(linesIn int) (by [modeCount]float64, order []mode) {
	start := max(p.arrive, float64(linesIn))
	for i := int(start) / step; float64(i*step) < p.depart && i <= longestDay; i++ {
		by[p.modes[i]] += min(float64((i+1)*step), p.depart) - max(float64(i*step), start)
		if len(order) == 0 || order[len(order)-1] != p.modes[i] {
			order = append(order, p.modes[i])
		}
	}
	return by, order
}

// tactic names how the day is fished.
func (s *site) tactic(v *view) models.Tactic {
	if !v.plan.going {
		return models.TacticStayIn
	}
	by, order := v.plan.shares(v.trip.linesIn)
	total := by[modeKite] + by[modeHelium] + by[modeSight] + by[modeEither]
	one := s.lim.Weights.OneTactic
	kites := by[modeKite] + by[modeHelium]
	kiteWord := models.TacticKite
	if by[modeHelium] >= one*kites && kites > 0 {
		kiteWord = models.TacticHelium
	}
	if by[modeKite]+by[modeEither] == 0 && by[modeHelium] > 0 && by[modeSight] > 0 {
		// No kite flies by itself: the day is named after the larger part.
		if by[modeHelium] >= by[modeSight] {
			return models.TacticHelium
		}
		return models.TacticSight
	}
	switch {
	case by[modeEither] >= total/2:
		return models.TacticEither
	case kites+by[modeEither] >= one*total && kites >= by[modeEither]:
		return kiteWord
	case by[modeSight] >= one*total:
		return models.TacticSight
	}
	for _, m := range order {
		switch m {
		case modeSight:
			return models.TacticSightKite
		case modeKite, modeHelium, modeEither:
			return models.TacticKiteSight
		case modeCount: // the boat does not fish
		}
	}
	return kiteWord
}

// slack is by how many minutes a time or a length may differ from the booked
// one and still count as it.
const slack = int(models.SameAsBooked / time.Minute)

// shorter tells whether a plan's trip is shorter than the booked one, whenever
// it begins.
func (p *plan) shorter(t *trip) bool { return p.back-p.leave <= t.end-t.start-slack }

// timing tells the plan's times against the booking. A trip of the booked length
// that is back earlier is one that starts earlier.
func (s *site) timing(v *view) []models.Timing {
	if !v.plan.going {
		return nil
	}
	var out []models.Timing
	p, t := &v.plan, &v.trip
	switch shift := p.leave - t.start; {
	case shift <= -slack:
		out = append(out, models.StartEarlier)
	case shift >= slack:
		out = append(out, models.StartLater)
	}
	if p.back <= t.end-slack && p.shorter(t) {
		out = append(out, models.BackEarly)
	}
	if len(out) == 0 {
		out = append(out, models.AsBooked)
	}
	return out
}
