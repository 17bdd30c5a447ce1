package kite

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Sized returns the kite with size and mass, so that its flight can be solved.
// A kite that has them is returned as it is. One that is described only by
// the captain's own range gets the area that pulls its working load at Max and
// the mass that needs Min to hold on the line; a mass below a tenth of a
// kilogram is taken as that. It is unknown for a kite with neither.
func Sized(k models.Kite, line Line) models.Opt[models.Kite] {
	if _, ok := newSail(k, models.Unknown[Balloon]()); ok {
		return models.Known(k)
	}
	low, okLow := k.Min.Get()
	high, okHigh := k.Max.Get()
	if !okLow || !okHigh || !(high > low) || low < 0 {
		return models.Unknown[models.Kite]()
	}
	load := loadOf(k, line)
	if !(load > 0) {
		load = workingLoad
	}
	aspect := k.Aspect.Or(defaultAspect)
	cl, cd := Coefficients(Attack*math.Pi/180, aspect)
	area := load / (pressure(high) * math.Hypot(cl, cd))
	k.Area, k.Aspect = models.Known(area), models.Known(aspect)
	// The lift that the least wind leaves over for the kite's own weight.
	tan := math.Tan(LeastElevation * math.Pi / 180)
	s := sail{lift: cl * area, drag: cd * area}
	spare := pressure(low)*s.give(line, tan) - line.need(tan)
	k.Mass = models.Known(max(units.Mass(spare/gravity), 0.1))
	return models.Known(k)
}
