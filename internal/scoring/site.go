package scoring

import (
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/drift"
	"forecastd/internal/models/kite"
	"forecastd/internal/models/outlook"
	"forecastd/internal/models/ride"
	"forecastd/internal/models/sky"
	"forecastd/internal/models/units"
)

// site is what stays the same over all hours and members of a call.
type site struct {
	o     models.Outlook
	lim   models.Limits
	zone  *time.Location
	day   models.Interval // the civil day called
	craft drift.Craft
	kites kite.Set
	ride  ride.Limits
	scale ride.Scale // how the period of a sea counts aboard
	sea   units.From // where an onshore sea comes from: the shore normal
	lifts lifted
	soft  bool // advisories and own limits are the captain's to pass over
	suns  map[int64]sky.Sun
	trips *trip // once worked out
	draws *outlook.Draws
	drawn int // how many courses they are of
	// many tells that it is the courses' hours that are judged; lifted is the
	// wind aloft for them.
	many   bool
	lifted map[airOver]*[aloftSteps]units.Speed
	worked *worked // of the courses' hours, where it is kept
	// products are the official ones that bind: those listed, or those that
	// stood when the feed was last read, while it can't be now.
	products []models.Warning
	// fogs and squalls are the dense fog products and special marine warnings.
	fogs, squalls []models.Warning
	family        float64 // how much this party minds a rough ride
	free          [2]int  // the minutes between which the boat is not on another trip
	behind        int     // which day behind a front it is, 0 for none
	unbooked      bool    // nobody waits for the trip
	supposing     bool    // hours that tell too little are supposed open
	beyond        bool    // the trip lies past the reach of clock times
}

func newSite(o models.Outlook, lim models.Limits) *site {
	zone := o.Port.Zone
	if zone == nil {
		zone = time.UTC
	}
	s := &site{
		o: o, lim: lim, zone: zone, day: o.Date.Interval(zone),
		craft: drift.CraftFor(o.Boat.Kind, o.Boat.Length),
		kites: kite.NewSet(o.Kites, kite.DefaultLine()),
		ride:  ride.TableOf(o.Boat.Kind, o.Boat.Length, o.Trip.Party, lim),
		sea:   units.From(o.Port.ShoreNormal),
		scale: ride.NewScale(o.Boat.Length),
		lifts: liftedBy(o.Overrides),
		soft:  fixedDate(o.Trip),
		suns:  map[int64]sky.Sun{}, lifted: map[airOver]*[aloftSteps]units.Speed{},
		free:   [2]int{-farFuture, farFuture},
		beyond: models.BeyondHours(o.Made, o.Trip.Start.On(o.Date, zone)),
	}
	s.o.Middle.Hours = outlook.Joined(o.Middle.Hours)
	if list, ok := o.Warnings.Get(); ok {
		s.products = inOrder(list)
		s.o.Warnings, s.o.Stood = models.Known(s.products), nil
	} else {
		s.products = inOrder(o.Stood)
		s.o.Stood = s.products
	}
	for _, w := range s.products {
		switch {
		case cancelled(w):
		case w.Rule() == models.ProductFog:
			s.fogs = append(s.fogs, w)
		case specialMarine(w):
			s.squalls = append(s.squalls, w)
		}
	}
	s.family = 2 // and so do guests of whom nothing is known
	switch o.Trip.Party {
	case models.Experienced:
		s.family = 2.0 / 3
	case models.Mixed:
		s.family = 1
	case models.Family:
	}
	return s
}

// inOrder are products with their names, the gravest first.
func inOrder(list []models.Warning) []models.Warning {
	all := make([]models.Warning, len(list))
	for i := range list {
		all[i] = named(list[i])
	}
	models.GravestFirst(all)
	return all
}

// fixedDate tells whether the trip is an event without passengers for hire:
// whether to go under an advisory is then the captain's own decision.
func fixedDate(t models.Trip) bool {
	return t.Kind == models.Tournament && !t.ForHire.Or(true)
}

// sun is where the sun stands, worked out once for all members.
func (s *site) sun(t time.Time) sky.Sun {
	k := t.Unix()
	v, ok := s.suns[k]
	if !ok {
		v = sky.SunAt(t, s.o.Ground.At)
		s.suns[k] = v
	}
	return v
}

// minute counts the minutes from the start of the civil day called.
func (s *site) minute(t time.Time) int { return int(t.Sub(s.day.Start) / time.Minute) }

func (s *site) instant(minute int) time.Time {
	return s.day.Start.Add(time.Duration(minute) * time.Minute)
}

// told is what people are told of a time of our own making: its instant, or
// the part of the day past the reach of clock times.
func (s *site) told(minute int) any {
	if s.beyond {
		return models.DayPartAt(s.instant(minute), s.zone)
	}
	return s.instant(minute)
}

// toldOr is told, but of a time that is as booked, which stays what it is.
func (s *site) toldOr(minute int, booked models.Clock) any {
	if s.beyond {
		return models.Told(s.instant(minute), booked.On(s.o.Date, s.zone), s.zone)
	}
	return s.instant(minute)
}

// begins is what people are told of the beginning of a closing: that of an
// official product is a clock time at any lead.
func (s *site) begins(c closing) any {
	if c.cause <= byWatch {
		return s.instant(c.from)
	}
	return s.told(c.from)
}

// clock is the minute of a time of day on the port's clock.
func (s *site) clock(c models.Clock) int { return s.minute(c.On(s.o.Date, s.zone)) }

// longestHold is how long the last known hour may stand for what follows it.
const longestHold = 3 * time.Hour

// spans tells how long each hour of a series holds.
func spans(hours []models.Hour) []models.Interval {
	out := make([]models.Interval, len(hours))
	for i, h := range hours {
		hold := time.Hour
		if i+1 < len(hours) {
			hold = min(hours[i+1].At.Sub(h.At), longestHold)
		} else if i > 0 {
			hold = min(h.At.Sub(hours[i-1].At), longestHold)
		}
		out[i] = models.Interval{Start: h.At, End: h.At.Add(max(hold, 0))}
	}
	return out
}
