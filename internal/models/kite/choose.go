package kite

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Gas says when a helium balloon goes on the back of the kite.
type Gas int

// When a balloon goes up.
const (
	// NoGas is none: there is wind enough to do without.
	NoGas Gas = iota
	// NoneAboard is none, whatever the air wants.
	NoneAboard
	// GasIfNoneHolds is one where no bare kite holds and one with a balloon
	// flies for more of the hour.
	GasIfNoneHolds
	// GasFirst is one wherever it holds so, as light air wants it.
	GasFirst
)

// Set is the captain's kites with the winds between which each flies on a
// line, bare and with a balloon on its back.
type Set struct {
	kites    []models.Kite
	bare, up []models.Opt[Range]
}

// NewSet measures kites on a line. An empty list stands for DefaultSet.
func NewSet(kites []models.Kite, line Line) Set {
	if len(kites) == 0 {
		kites = DefaultSet()
	}
	s := Set{kites: kites}
	for _, k := range kites {
		s.bare = append(s.bare, Window(k, line))
		s.up = append(s.up, WindowHelium(k, models.Known(DefaultBalloon()), line))
	}
	return s
}

// Choice is the kite to fly, with its margins to both limits.
type Choice struct {
	Kite models.Kite
	// Index is its place in the captain's list, -1 where there is none.
	Index int
	// MarginLow is the lull less the least wind that flies it, MarginHigh the
	// most wind it stands less the gust; negative where the wind is past the
	// limit, unknown where there is no kite to measure.
	MarginLow, MarginHigh models.Opt[units.Speed]
	// Fit is the share of the hour for which the kite flies, 0 to 1, by the
	// measure that chose it; 1 where lulls and gusts are both within its
	// limits.
	Fit float64
	// Helium tells that it goes up with a balloon.
	Helium bool
	// Holds tells whether it flies the hour through: both margins at least
	// zero.
	Holds bool

	wind    hourly
	lacking bool // no helium is aboard
}

// Choose picks from the kites the one that flies best, for a lull, mean and
// gust at the height of the kite relative to the drifting boat.
//
// One measure chooses and grades. Within its limits a kite fits the better the
// more room it has to the nearer one, up to a quarter of that limit: there the
// gusts pull little more than half of what the kite stands. Past a limit it
// fits the worse the larger the part of the hour is that the wind spends there:
// half of it with the mean at the limit, all of it with the mean a tenth past
// it. Kites that fit alike give way to the lightest of them.
//
// Reference: Own; a quarter and a tenth are common practice, no source.
func (s Set) Choose(lull, mean, gust units.Speed, gas Gas) Choice {
	w := hourly{lull: min(lull, mean), mean: mean, gust: max(gust, mean)}
	c, fit := s.pick(w, s.bare)
	if gas == GasFirst || gas == GasIfNoneHolds && fit < 0 {
		if up, upFit := s.pick(w, s.up); upFit > fit || gas == GasFirst && upFit >= 0 {
			c, fit = up, upFit
			c.Helium = true
		}
	}
	if c.Index < 0 {
		c.Helium = gas == GasFirst
	} else {
		c.Fit, c.Holds = share(fit), fit >= 0
	}
	c.wind, c.lacking = w, gas == NoneAboard
	return c
}

// Why says what decided.
func (c Choice) Why() models.Phrase {
	if c.Index < 0 {
		return models.Say("kite.unknown_range")
	}
	name := models.Word(c.Kite.Name)
	low, _ := c.MarginLow.Get()
	high, _ := c.MarginHigh.Get()
	switch {
	case high < 0:
		return models.Say("kite.gusts_over", name, c.wind.gust, c.wind.gust+high)
	case low < 0 && c.lacking:
		return models.Say("kite.helium_missing", name, c.wind.lull)
	case low < 0:
		return models.Say("kite.lulls_under", name, c.wind.lull, c.wind.lull-low)
	case c.Helium:
		return models.Say("kite.helium_needed", name, c.wind.lull)
	}
	return models.Say("kite.fits", name, low, high)
}

// hourly is the wind of an hour at the kite.
type hourly struct{ lull, mean, gust units.Speed }

// pick returns the kite that fits best, the lightest of those that fit alike.
func (s Set) pick(w hourly, ranges []models.Opt[Range]) (Choice, float64) {
	at, most, of := -1, math.Inf(-1), Range{}
	for i := range ranges {
		r, ok := ranges[i].Get()
		if !ok {
			continue
		}
		if fit := w.fit(r); at < 0 || fit > most || fit == most && r.lighter(of) {
			at, most, of = i, fit, r
		}
	}
	if at < 0 {
		return Choice{Index: -1}, most
	}
	return Choice{Kite: s.kites[at], Index: at, MarginLow: models.Known(w.lull - of.Min), MarginHigh: models.Known(of.Max - w.gust)}, most
}

// lighter tells whether a range is that of a kite for less wind.
func (r Range) lighter(other Range) bool {
	if r.Min == other.Min {
		return r.Max < other.Max
	}
	return r.Min < other.Min
}

const (
	// room is the share of a limit by which a kite stands well clear of it.
	room = 0.25
	// beyond is the share of a limit by which the mean is past it when
	// nothing is flown any more.
	beyond = 0.1
)

// fit measures how well a range of winds suits the hour: 1 with room to both
// limits, 0 with lulls or gusts at one of them, -1 with the mean there.
func (w hourly) fit(r Range) float64 {
	return min(
		clearance(w.lull-r.Min, w.mean-r.Min, r.Min),
		clearance(r.Max-w.gust, r.Max-w.mean, r.Max),
	)
}

// clearance measures how far an hour stands clear of a limit, from the margins of
// its worst moment and of its mean: in parts of the room wanted, in the part of
// the hour's stir that is past the limit, and past the mean by beyond.
func clearance(worst, mean, limit units.Speed) float64 {
	switch {
	case worst >= room*limit:
		return 1
	case worst >= 0:
		return float64(worst / (room * limit))
	case mean >= 0:
		return float64(worst / (mean - worst))
	}
	return -1 + float64(mean/(beyond*limit))
}

// share is the part of the hour that a fit below zero leaves: all at a limit,
// half with the mean there, nothing twice as far.
func share(fit float64) float64 { return min(max(1+fit/2, 0), 1) }

// WorkingHeight is the height of the kite that the wind is carried up to
// before anything is known of the kite: 60 m is about 100 m of line at 37
// degrees. Common practice puts kites 145 to 335 ft up.
const WorkingHeight = 60 * units.Metre
