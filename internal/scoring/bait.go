package scoring

import (
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/sky"
	"forecastd/internal/models/units"
)

// fullDay is the trip length from which a day counts as full.
const fullDay = 6 * time.Hour

// wantedFor is how many baits a trip takes. Trade.md 5.5, common practice, no
// source; the upper end of each range.
func wantedFor(t models.Tactic, kind models.TripKind, out time.Duration, showering bool) models.BaitCount {
	full := out >= fullDay
	switch {
	case t == models.TacticStayIn:
		return models.BaitCount{}
	case kind == models.Tournament:
		return models.BaitCount{Hardy: 120, Delicate: 0}
	case t == models.TacticSight && showering:
		return models.BaitCount{Hardy: 12, Delicate: 60}
	case t == models.TacticSight:
		return models.BaitCount{Hardy: 36, Delicate: 36}
	case t == models.TacticEither || t == models.TacticKiteSight || t == models.TacticSightKite:
		return models.BaitCount{Hardy: 60, Delicate: 36}
	case full:
		return models.BaitCount{Hardy: 60, Delicate: 24}
	}
	return models.BaitCount{Hardy: 30, Delicate: 12}
}

// usualBaits is how many kite baits the table of baits is for.
const usualBaits = 6

// wanted is how many baits a call's trip takes: the table's, less where crew and
// wind leave fewer kite baits up than usual; sight casting takes its own. An
// event takes what its table says.
func (s *site) wanted(c *models.Call) models.BaitCount {
	out := c.Back.Or(c.Made).Sub(c.Leave.Or(c.Made))
	w := wantedFor(c.Tactic, s.o.Trip.Kind, out, s.o.Reports.BaitShowering.Or(false))
	card, flies := c.Spread.Get()
	if !flies || s.o.Trip.Kind == models.Tournament {
		return w
	}
	up := 0
	for _, p := range card.Positions {
		if p.ClipHeight.Known() {
			up++
		}
	}
	share := func(n int) int { return (n*min(up, usualBaits) + usualBaits - 1) / usualBaits }
	switch c.Tactic {
	case models.TacticKite, models.TacticHelium:
		if up > 0 {
			return models.BaitCount{Hardy: share(w.Hardy), Delicate: share(w.Delicate)}
		}
	case models.TacticKiteSight, models.TacticSightKite, models.TacticEither:
		if up > 0 {
			return models.BaitCount{Hardy: max(share(w.Hardy), w.Delicate), Delicate: w.Delicate}
		}
	case models.TacticSight, models.TacticStayIn:
	}
	return w
}

// Losses a day, common practice, no source: fresh hook-caught baits die for
// five days and then settle, netted ones are mostly gone by evening.
const (
	freshDays    = 5
	lossFresh    = 0.075
	lossSettled  = 0.015
	lossSeasoned = 0.01
	lossNetted   = 0.45
)

// left is how many of a lot are alive days after it was counted.
func left(b models.BaitStock, counted, day models.Date) int {
	n := float64(b.Count)
	age := 0
	if caught, ok := b.Caught.Get(); ok {
		age = max(daysBetween(caught, counted), 0)
	}
	for range max(daysBetween(counted, day), 0) {
		loss := lossFresh
		switch {
		case b.Source == models.BaitNetted:
			loss = lossNetted
		case b.Source == models.BaitSeasoned:
			loss = lossSeasoned
		case age >= freshDays:
			loss = lossSettled
		}
		n *= 1 - loss
		age++
	}
	return int(math.Floor(n))
}

func daysBetween(a, b models.Date) int {
	return int(math.Round(b.Start(time.UTC).Sub(a.Start(time.UTC)).Hours() / 24))
}

// bait is what the day wants against what the pen holds, and the nights that
// suit catching more.
func (s *site) bait(v *view, c *models.Call, with With) models.Opt[models.BaitPlan] {
	var b models.BaitPlan
	if v.plan.going {
		w := s.wanted(c)
		b.Needed = models.Known(w)
		b.Notes = append(b.Notes, models.Say("bait.wanted", w.Hardy, w.Delicate))
	}
	pen, ok := with.Pen.Get()
	if ok {
		held := s.held(&b, pen)
		if with.Taken != (models.BaitCount{}) {
			held = held.Less(with.Taken)
			b.Notes = append(b.Notes, models.Say("bait.taken", baits(with.Taken), baits(held)))
		}
		b.InPen = models.Known(held)
		if need, ok := b.Needed.Get(); ok {
			short := need.Less(held)
			b.Short = models.Known(short)
			if short.Total() > 0 {
				b.Notes = append(b.Notes, models.Say("bait.short", baits(short)), s.baitStop(v))
			}
		}
	} else if v.plan.going {
		b.Notes = append(b.Notes, models.Say("bait.pen_unknown"))
	}
	s.baitNights(&b, with.Days)
	if len(b.Notes) == 0 && len(b.Nights) == 0 {
		return models.Unknown[models.BaitPlan]()
	}
	return models.Known(b)
}

// held is what of the pen is alive on the day, each lot from its own count on.
// Kinds that nobody knows are told and counted on for nothing.
func (s *site) held(b *models.BaitPlan, pen models.Pen) (held models.BaitCount) {
	first, last := models.DateOf(pen.Counted, s.zone), models.DateOf(pen.Counted, s.zone)
	var odd []models.BaitStock
	for _, lot := range pen.Stock {
		counted := models.DateOf(pen.CountedAt(lot), s.zone)
		n := left(lot, counted, s.o.Date)
		switch kind, known := models.BaitKindOf(lot.Kind); {
		case !known:
			lot.Count = n
			odd = append(odd, lot)
			continue
		case kind.Hardy:
			held.Hardy += n
		default:
			held.Delicate += n
		}
		if counted.Before(first) {
			first = counted
		}
	}
	if first == last {
		b.Notes = append(b.Notes, models.Say("bait.in_pen", baits(held), last))
	} else {
		b.Notes = append(b.Notes, models.Say("bait.in_pen_by_lots", baits(held), first, last))
	}
	for _, lot := range odd {
		b.Notes = append(b.Notes, models.Say("bait.kind_unknown", lot.Count, models.Word(lot.Kind)))
	}
	return held
}

// baits tells a number of baits by what they bear.
func baits(c models.BaitCount) models.Phrase {
	switch {
	case c.Delicate == 0:
		return models.Say("bait.hardy", c.Hardy)
	case c.Hardy == 0:
		return models.Say("bait.delicate", c.Delicate)
	}
	return models.Say("bait.both", c.Hardy, c.Delicate)
}

// longestStop is how long a bait stop in the morning may take: common
// practice, no source (trade.md 5.2).
const longestStop = 90 * time.Minute

// baitStop says what a bait stop in the morning does to the plan's times,
// which do not hold one: when to leave for it instead, or that it comes off
// the fishing where the boat cannot leave so early.
func (s *site) baitStop(v *view) models.Phrase {
	leave := v.plan.leave - int(longestStop/time.Minute)
	if back, ok := limit(leave, v.closings, s.soft); ok && back >= v.plan.back && leave >= max(s.free[0], 0) {
		return models.Say("bait.stop_before", s.told(leave), s.toldOr(v.plan.leave, s.o.Trip.Start))
	}
	return models.Say("bait.stop_within", s.toldOr(v.plan.leave, s.o.Trip.Start))
}

const (
	// baitWind is the wind under which bait is caught at night, and baitMoon
	// the share of the moon's disc up to which the night counts as dark:
	// common practice, no source.
	baitWind = 12 * units.Knot
	baitMoon = 0.5
)

// baitNights names the nights that suit, and the last one before a run of
// nights that do not.
func (s *site) baitNights(b *models.BaitPlan, days []models.DayOutlook) {
	for i, d := range days {
		good := s.baitNight(d)
		if good {
			b.Nights = append(b.Nights, d.Date)
			continue
		}
		if i > 0 && len(b.Nights) > 0 && !b.LastGood.Known() && b.Nights[len(b.Nights)-1] == days[i-1].Date &&
			(i+1 >= len(days) || !s.baitNight(days[i+1])) {
			b.LastGood = models.Known(days[i-1].Date)
			b.Notes = append(b.Notes, models.Say("bait.last_good_night", days[i-1].Date))
		}
	}
}

func (s *site) baitNight(d models.DayOutlook) bool {
	w, ok := d.Wind.Get()
	if !ok || w >= baitWind || d.Front.Key == "front.passes" {
		return false
	}
	midnight := d.Date.AddDays(1).Start(s.zone)
	return sky.Illuminated(midnight) <= baitMoon || sky.MoonAt(midnight, s.o.Port.At).Elevation < 0
}
