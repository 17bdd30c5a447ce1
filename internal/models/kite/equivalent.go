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
	tan := math.Tan(LeastElevation * math.Pi / 180)
	var area, weight float64
	for range 20 { // the weight is small beside the load: this settles fast
		// The pull at Max, (q A cd)² + (q A cl - weight)², is the load squared.
		a, b := cl*cl+cd*cd, cl*weight
		area = (b + math.Sqrt(b*b-a*(weight*weight-load*load))) / a / pressure(high)
		// What the least wind lifts over its line and baits is the weight.
		s := sail{lift: cl * area, drag: cd * area}
		weight = min(max(pressure(low)*s.give(line, tan)-line.need(tan), 0.1*gravity), load/2)
	}
	k.Area, k.Aspect = models.Known(area), models.Known(aspect)
	k.Mass = models.Known(units.Mass(weight / gravity))
	return models.Known(k)
}
