package kite

import (
	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/models/wind"
)

// AsRead carries a kite's own wind range up to where it flies. A captain
// learns his kites by the wind that he reads near the water, on days of every
// kind, so Min and Max count as winds at 10 m under a neutral profile, and the
// kite returned has them at WorkingHeight. A kite without a range of its own
// is returned as it is, and so is an end over 40 m/s.
//
// Reference: COARE35 eq. 13 (wind.Neutral).
func AsRead(k models.Kite) models.Kite {
	up := func(v units.Speed) units.Speed {
		p, err := wind.Neutral(v, 10*units.Metre)
		if err != nil {
			return v
		}
		return p.At(WorkingHeight).Or(v)
	}
	k.Min, k.Max = models.MapOpt(k.Min, up), models.MapOpt(k.Max, up)
	return k
}

// ChooseBare is Choose without a balloon: for a wind that carries kites by
// itself, where a lull is better met with the next lighter kite.
func ChooseBare(kites []models.Kite, lull, mean, gust units.Speed) Choice {
	if len(kites) == 0 {
		kites = DefaultSet()
	}
	lull, gust = min(lull, mean), max(gust, mean)
	i, c := pick(kites, DefaultLine(), models.Unknown[Balloon](), lull, gust)
	if i < 0 {
		return Choice{Index: -1, Why: models.Say("kite.unknown_range")}
	}
	c.Holds = c.both() >= 0
	c.Why = why(c, lull, gust, false)
	return c
}
