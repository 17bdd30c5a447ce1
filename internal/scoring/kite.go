package scoring

import (
	"forecastd/internal/models"
	"forecastd/internal/models/kite"
	"forecastd/internal/models/units"
)

// Factors of the kite lane.
const (
	kiteWind = iota
	kiteGust
	kiteTop
	kiteDirection
	kiteRain
	kiteThunder
	kiteSlip
	kiteSea
	kiteCrew
	kiteSet
	kiteFactorCount
)

// kiteWorth is how well a spread can be flown and tended in an hour.
type kiteWorth struct {
	part  [kiteFactorCount]float64
	worth float64
	// helium tells that the kite goes up with a balloon; bare that there is
	// wind enough to try it without one.
	helium, bare bool
}

func (s *site) kiteOf(c *models.Conditions, ch *kite.Choice) kiteWorth {
	var k kiteWorth
	lim := &s.lim
	w, ok := c.Wind.Get()
	if !ok {
		return k
	}
	k.part[kiteWind] = s.kiteAir(w, ch)
	k.helium, k.bare = ch.Helium, atLeast(w, lim.HeliumNeed)
	gust, okGust := c.Gust.Get()
	spread := max(gust-w, 0)
	k.part[kiteGust], k.part[kiteTop] = unknownGust, s.gustTop(units.Speed(float64(w)*unknownGustRatio))
	if okGust {
		k.part[kiteGust], k.part[kiteTop] = s.gustSpread(spread), s.gustTop(gust)
		if here := lim.KiteWind.At(w); w > freshWind && here > 0 {
			// The same gusts over a stronger mean are steadier, but the day is
			// no better for it (trade.md 8.3, rule 3).
			k.part[kiteGust] = min(k.part[kiteGust], lim.KiteWind.At(freshWind)*s.gustSpread(gust-freshWind)/here)
		}
	}
	k.part[kiteDirection] = unknownDirection
	if d, ok := c.DirectionSpread.Get(); ok {
		k.part[kiteDirection] = curve{{lim.DirectionFine, 1}, {lim.DirectionPoor, 0.4}, {lim.DirectionPoor * 2, 0.15}}.at(d)
	}
	k.part[kiteRain] = unknownRain
	if r, ok := c.Rain.Get(); ok {
		k.part[kiteRain] = s.rainWorth(r)
	}
	k.part[kiteThunder] = s.thunderWorth(c.Thunder)
	k.part[kiteSlip] = 1
	if v, ok := c.Slip.Get(); ok {
		k.part[kiteSlip] = curve{
			{float64(lim.DriftSlow), 0.8}, {float64(lim.DriftGood1), 1}, {float64(lim.DriftGood2), 1},
			{float64(lim.DriftUsable), 0.85}, {float64(lim.DriftTooFast), 0.6},
		}.at(float64(v))
	}
	k.part[kiteSea] = unknownSea
	if sea, ok := c.LocalSea.Get(); ok {
		k.part[kiteSea] = tending.at(sea.Feet())
	}
	k.part[kiteCrew] = s.crewWorth(w, spread)
	k.part[kiteSet] = setWorth(ch)
	k.worth = 1
	for i, p := range k.part {
		switch i {
		case kiteWind, kiteGust, kiteTop, kiteSet:
		default:
			k.worth *= p
		}
	}
	// A strong wind, its gusts' top and gusts past the kite are one evil: the
	// worst counts.
	p := &k.part
	k.worth *= min(p[kiteWind]*min(p[kiteGust], p[kiteSet]), p[kiteTop])
	if !c.Thunder.Known() {
		k.worth = min(k.worth, lim.GradeGood-0.01)
	}
	return k
}

// gas tells when a balloon goes on the kite in a sustained wind: never one that
// is not aboard; up to the captain's limit for it as insurance; then only where
// no bare kite holds; and none in a wind that carries kites by itself, where a
// lull is better met with the next lighter kite.
func (s *site) gas(w units.Speed) kite.Gas {
	switch {
	case !s.o.Boat.HeliumAboard:
		return kite.NoneAboard
	case !atLeast(w, s.lim.HeliumSuggest):
		return kite.GasFirst
	case atLeast(w, s.lim.KiteWind.Full1):
		return kite.NoGas
	}
	return kite.GasIfNoneHolds
}

// kiteAir is the worth of the sustained wind.
func (s *site) kiteAir(w units.Speed, ch *kite.Choice) float64 {
	worth := s.lim.KiteWind.At(w)
	need, suggest := s.lim.HeliumNeed, s.lim.HeliumSuggest
	switch {
	case ch.Helium:
		return max(worth, heliumWorth)
	case !atLeast(w, need):
		return 0
	case !atLeast(w, suggest):
		return worth * curve{{float64(need), bareInLulls}, {float64(suggest), 1}}.at(float64(w))
	}
	return worth
}

// gustSpread is the worth of gust minus mean.
func (s *site) gustSpread(spread units.Speed) float64 {
	if past(spread, s.lim.GustPoor) {
		return 0
	}
	return curve{{float64(s.lim.GustFine), 1}, {float64(s.lim.GustMarginal), 0.6}, {float64(s.lim.GustPoor), 0.2}}.at(float64(spread))
}

// gustTop is the worth of the strongest gust, whatever the mean.
func (s *site) gustTop(gust units.Speed) float64 {
	return curve{{float64(s.lim.GustTopFine), 1}, {float64(s.lim.GustTopNone), 0}}.at(float64(gust))
}

func (s *site) rainWorth(percent float64) float64 {
	if atLeast(percent, s.lim.RainStops) {
		return 0
	}
	if percent < s.lim.RainLowers {
		return 1
	}
	return curve{{s.lim.RainLowers, 0.9}, {s.lim.RainStops, 0.5}}.at(percent)
}

func (s *site) thunderWorth(percent models.Opt[float64]) float64 {
	p, ok := percent.Get()
	switch {
	case !ok:
		return 0.9 // and at most fair, see kiteOf
	case atLeast(p, s.lim.ThunderStop):
		return 0
	case !atLeast(p, s.lim.ThunderWarn):
		return 1
	}
	return curve{{s.lim.ThunderWarn, 0.65}, {s.lim.ThunderStop, 0.35}}.at(p)
}

// freshWind is the mean from which more wind never makes kites fly better,
// whatever the gusts (trade.md 8.3, rule 3).
const freshWind = 20 * units.Knot

// hardWind is the wind from which a spread takes a full crew.
const hardWind = 18 * units.Knot

func (s *site) crewWorth(w, spread units.Speed) float64 {
	hard := past(w, hardWind) || past(spread, s.lim.GustMarginal)
	switch crew := s.o.Boat.Crew; {
	case crew >= 3:
		return 1
	case crew == 2 && hard:
		return 0.75
	case crew == 2:
		return 0.95
	case hard:
		return 0.5
	}
	return 0.8
}

// setWorth is what the captain's own kites make of the wind at the kite: the
// measure that the kite was chosen by.
func setWorth(ch *kite.Choice) float64 {
	if ch.Index < 0 {
		return unknownKites
	}
	return ch.Fit
}

// grade is the word for a worth.
func (s *site) grade(worth float64) models.Grade {
	switch {
	case atLeast(worth, s.lim.GradeGood):
		return models.GradeGood
	case atLeast(worth, s.lim.GradeFair):
		return models.GradeFair
	case atLeast(worth, s.lim.GradePoor):
		return models.GradePoor
	}
	return models.GradeNo
}
