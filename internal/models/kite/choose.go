package kite

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Choice is the kite to fly, with its margins to both limits.
type Choice struct {
	Kite models.Kite
	// Index is its place in the captain's list, -1 where there is none.
	Index int
	// MarginLow is the lull less the least wind that flies it, MarginHigh the
	// most wind it stands less the gust; negative where the wind is past the
	// limit, unknown where there is no kite to measure.
	MarginLow, MarginHigh models.Opt[units.Speed]
	// Helium tells that the kite needs a balloon, whether or not it is aboard.
	Helium bool
	// Holds tells whether it can be flown at all: both margins at least zero,
	// and helium aboard where it is needed.
	Holds bool
	// Why says what decided.
	Why models.Phrase
}

// Choose picks from the captain's kites the one with the widest margin to
// both its limits, for a lull, mean and gust at the height of the kite
// relative to the drifting boat. Where no bare kite holds, one that holds with
// a balloon on its back goes up so, if helium is aboard. An
// empty list stands for DefaultSet.
//
// Margins: the lulls must fly it and the gusts must not break it. Between two
// kites that hold the one whose lesser margin, each as a share of its limit,
// is greater.
func Choose(kites []models.Kite, lull, mean, gust units.Speed, helium bool) Choice {
	return ChooseOn(kites, DefaultLine(), lull, mean, gust, helium)
}

// ChooseOn is Choose on a given line.
func ChooseOn(kites []models.Kite, line Line, lull, mean, gust units.Speed, helium bool) Choice {
	if len(kites) == 0 {
		kites = DefaultSet()
	}
	lull, gust = min(lull, mean), max(gust, mean)
	best, bare := pick(kites, line, models.Unknown[Balloon](), lull, gust)
	if best < 0 {
		return Choice{Index: -1, Why: models.Say("kite.unknown_range")}
	}
	c := bare
	if bare.both() < 0 {
		if _, up := pick(kites, line, models.Known(DefaultBalloon()), lull, gust); up.both() >= 0 {
			c = up
			c.Helium = true
		}
	}
	low, _ := c.MarginLow.Get()
	high, _ := c.MarginHigh.Get()
	c.Holds = low >= 0 && high >= 0 && (helium || !c.Helium)
	c.Why = why(c, lull, gust, helium)
	return c
}

// why tells what decided.
func why(c Choice, lull, gust units.Speed, helium bool) models.Phrase {
	name := models.Word(c.Kite.Name)
	low, _ := c.MarginLow.Get()
	high, _ := c.MarginHigh.Get()
	switch {
	case high < 0:
		return models.Say("kite.gusts_over", name, gust, gust+high)
	case low < 0:
		return models.Say("kite.lulls_under", name, lull, lull-low)
	case c.Helium && !helium:
		return models.Say("kite.helium_missing", name, lull)
	case c.Helium:
		return models.Say("kite.helium_needed", name, lull)
	}
	return models.Say("kite.fits", name, low, high)
}

// pick returns the kite with the greatest lesser margin.
func pick(kites []models.Kite, line Line, b models.Opt[Balloon], lull, gust units.Speed) (int, Choice) {
	at, best, score := -1, Choice{Index: -1}, math.Inf(-1)
	for i, k := range kites {
		r, ok := WindowHelium(k, b, line).Get()
		if !ok {
			continue
		}
		low, high := lull-r.Min, r.Max-gust
		s := math.Min(share(low, lull), share(high, gust))
		if s > score || at < 0 {
			at, score = i, s
			best = Choice{Kite: k, Index: i, MarginLow: models.Known(low), MarginHigh: models.Known(high)}
		}
	}
	return at, best
}

// share weighs a margin by the wind it is measured from.
func share(margin, wind units.Speed) float64 {
	return float64(margin) / math.Max(float64(wind), 1)
}

// both is the lesser of the two margins.
func (c Choice) both() units.Speed {
	low, okLow := c.MarginLow.Get()
	high, okHigh := c.MarginHigh.Get()
	if !okLow || !okHigh {
		return units.Speed(math.Inf(-1))
	}
	return min(low, high)
}

// WorkingHeight is the height of the kite that the wind is carried up to
// before anything is known of the kite: 60 m is about 100 m of line at 37
// degrees. Common practice puts kites 145 to 335 ft up.
const WorkingHeight = 60 * units.Metre
