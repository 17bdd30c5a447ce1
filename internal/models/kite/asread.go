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
