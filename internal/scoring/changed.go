package scoring

import (
	"slices"
	"time"

	"forecastd/internal/models"
)

// StandingOf keeps of a call what tells whether news is new.
func StandingOf(c models.Call) models.Standing {
	st := models.Standing{
		Made: c.Made, Date: c.Date, Going: c.Tactic != models.TacticStayIn, Tactic: c.Tactic, Timing: c.Timing, Leave: c.Leave, Back: c.Back,
	}
	if ch, ok := c.Charter.Get(); ok {
		st.Actions = ch.Actions
	}
	leave, _ := c.Leave.Get()
	back, _ := c.Back.Get()
	start, end := c.Trip.Start.On(c.Date, zoneOf(c)), c.Trip.End.On(c.Date, zoneOf(c))
	for _, h := range c.Hours {
		out := st.Going && !h.At.Before(leave.Truncate(time.Hour)) && h.At.Before(back)
		if out {
			st.WorstRide = max(st.WorstRide, h.Ride)
			if sea, ok := h.Conditions.LocalSea.Get(); ok && sea > st.Sea.Or(-1) {
				st.Sea = models.Known(sea)
			}
		}
		// Whatever closes an hour is a matter of safety.
		if h.Closed.Key != "" && !h.At.Before(start.Truncate(time.Hour)) && h.At.Before(end) {
			st.Safety = true
		}
	}
	return st
}

func zoneOf(c models.Call) *time.Location {
	if c.Port.Zone == nil {
		return time.UTC
	}
	return c.Port.Zone
}

// Settled is what to tell after a run.
type Settled struct {
	// Told is where the day stands for those who are told: the new result,
	// or what was told before where better news has still to hold.
	Told models.Standing
	// News tells that Told differs from what was told before.
	News bool
	// Held tells that the run's own result waits for a second run.
	Held bool
	// Why says which.
	Why models.Phrase
}

// Settle decides what a new run changes of what was told (design.md 7): worse
// on safety at once; better news, or a change of tactic, only when two runs in
// a row agree. told is what was last told, last is the result of the run
// before this one.
func Settle(now models.Standing, told, last models.Opt[models.Standing]) Settled {
	before, ok := told.Get()
	if !ok {
		return Settled{Told: now, News: true, Why: models.Say("settle.first")}
	}
	switch compare(before, now) {
	case same:
		return Settled{Told: before, Why: models.Say("settle.same")}
	case worse:
		return Settled{Told: now, News: true, Why: models.Say("settle.worse")}
	case better:
	}
	if prev, ok := last.Get(); ok && prev.Made.Before(now.Made) && confirms(prev, now, before) {
		return Settled{Told: now, News: true, Why: models.Say("settle.holds")}
	}
	return Settled{Told: before, Held: true, Why: models.Say("settle.held")}
}

type comparison int

const (
	same comparison = iota
	worse
	better // or other, without being worse on safety
)

// settleTimes is how far leave and back may move without being news.
const settleTimes = 45 * time.Minute

// compare tells how b stands against a.
func compare(a, b models.Standing) comparison {
	switch {
	case a.Going && !b.Going:
		if b.Safety {
			return worse
		}
		return better // nothing to fish for: no hurry
	case !a.Going && !b.Going:
		return same
	case !a.Going && b.Going:
		return better
	case b.WorstRide > a.WorstRide && b.WorstRide >= models.RideRough:
		return worse
	case b.Safety && earlier(b.Back, a.Back), b.Safety && earlier(a.Leave, b.Leave):
		return worse
	case a.Tactic != b.Tactic, earlier(a.Back, b.Back), earlier(b.Back, a.Back), earlier(a.Leave, b.Leave), earlier(b.Leave, a.Leave):
		return better
	case slices.Contains(a.Actions, models.CharterRoughNote) != slices.Contains(b.Actions, models.CharterRoughNote):
		if slices.Contains(b.Actions, models.CharterRoughNote) {
			return worse
		}
		return better
	}
	return same
}

// confirms tells whether the run before differs from what was told in the
// same way as this one.
func confirms(prev, now, told models.Standing) bool {
	if prev.Going != now.Going {
		return false
	}
	if told.Going != now.Going {
		return true
	}
	if told.Tactic != now.Tactic && prev.Tactic != now.Tactic {
		return false
	}
	sameWay := func(a, b, before models.Opt[time.Time]) bool {
		return (!earlier(b, before) || earlier(a, before)) && (!earlier(before, b) || earlier(before, a))
	}
	return sameWay(prev.Leave, now.Leave, told.Leave) && sameWay(prev.Back, now.Back, told.Back) && prev.WorstRide <= max(now.WorstRide, models.RideOK)
}

// earlier tells whether a is earlier than b by more than people care about.
func earlier(a, b models.Opt[time.Time]) bool {
	x, okX := a.Get()
	y, okY := b.Get()
	return okX && okY && y.Sub(x) > settleTimes
}

// moved tells that a time of the plan moved by what people are told of it.
func (s *site) moved(key string, was, is models.Opt[time.Time], booked models.Clock) []models.Phrase {
	a, okA := was.Get()
	b, okB := is.Get()
	if !okA || !okB || a.Equal(b) {
		return nil
	}
	from, to := s.toldOr(s.minute(a), booked), s.toldOr(s.minute(b), booked)
	if from == to {
		return nil
	}
	return []models.Phrase{models.Say(key, from, to)}
}

// changed tells what changed since the last call that was told.
func (s *site) changed(c *models.Call, with With) []models.Phrase {
	before, ok := with.Told.Get()
	if !ok {
		return nil
	}
	now := StandingOf(*c)
	last := models.Unknown[models.Standing]()
	if n := len(with.Runs); n > 0 {
		last = models.Known(with.Runs[n-1])
	}
	settled := Settle(now, with.Told, last)
	var list []models.Phrase
	switch {
	case before.Going && !now.Going:
		list = append(list, models.Say("changed.now_in", models.Word(before.Tactic)))
	case !before.Going && now.Going:
		list = append(list, models.Say("changed.now_out", models.Word(now.Tactic)))
	case before.Tactic != now.Tactic:
		list = append(list, models.Say("changed.tactic", models.Word(before.Tactic), models.Word(now.Tactic)))
	}
	list = append(list, s.moved("changed.leave", before.Leave, now.Leave, s.o.Trip.Start)...)
	list = append(list, s.moved("changed.back", before.Back, now.Back, s.o.Trip.End)...)
	if before.Going && now.Going && before.WorstRide != now.WorstRide {
		list = append(list, models.Say("changed.ride", models.Word(before.WorstRide.String()), models.Word(now.WorstRide.String())))
	}
	if len(list) == 0 {
		return []models.Phrase{models.Say("changed.nothing", before.Made)}
	}
	if settled.Held {
		list = append(list, settled.Why)
	}
	return list
}
