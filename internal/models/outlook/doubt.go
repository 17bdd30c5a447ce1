package outlook

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Reasons to doubt a value. They are words of the catalogues.
const (
	gustBelowWind = "gusts below the wind can't be: they are taken as unknown"
	seaBelowSwell = "a sea below its own swell can't be: it is taken as unknown"
	cannotBe      = "values that can't be: they are taken as unknown"
)

// Rounding that two values of one hour may differ by: forecasts are in whole
// knots, and in whole feet or tenths of a metre.
const (
	windRounding = 1 * units.Knot
	seaRounding  = 0.5 * units.Foot
	// highestSea is the most that a source, or a course, is believed.
	highestSea = 30 * units.Metre
)

// doubted takes out of series what contradicts itself or can't be, and tells
// what and why, for the hours of the day that an outlook is of. An official
// grid is doubted as any other: a value that can't be is unknown, and another
// source may stand in.
func doubted(all []models.Series, in Input) ([]models.Series, []models.Gap) {
	day := models.Interval{Start: dayStart().On(in.Date, in.Port.Zone), End: dayEnd().On(in.Date, in.Port.Zone)}
	out := make([]models.Series, 0, len(all))
	var gaps []models.Gap
	told := map[models.Gap]bool{}
	for _, s := range all {
		hours := make([]models.Hour, len(s.Hours))
		for i, h := range s.Hours {
			var why []models.Gap
			hours[i], why = plausible(h)
			if s.Ground != in.Ground.Name || !day.Contains(h.At) {
				continue
			}
			for _, g := range why {
				if !told[g] {
					told[g] = true
					gaps = append(gaps, g)
				}
			}
		}
		s.Hours = hours
		out = append(out, s)
	}
	return out, gaps
}

// plausible is an hour without the values that can't be: outside what the sea
// and the air do (WMO, from memory: no gust on record reaches 250 kn, no
// significant height 30 m), a gust below the mean wind (the mean is of the
// same wind), a total sea below one of its parts (heights add by their
// squares). Nothing is put in their place.
func plausible(h models.Hour) (models.Hour, []models.Gap) {
	var gaps []models.Gap
	doubt := func(what, why string) { gaps = append(gaps, models.Gap{What: what, Why: why}) }
	keep(&h.Wind, 0, 200*units.Knot, func() { doubt("wind", cannotBe) })
	keep(&h.Gust, 0, 250*units.Knot, func() { doubt("gusts", cannotBe) })
	keep(&h.DirectionSpread, 0, 360, func() { doubt("wind", cannotBe) })
	keep(&h.Sea, 0, highestSea, func() { doubt("seas", cannotBe) })
	keep(&h.Swell, 0, highestSea, func() { doubt("seas", cannotBe) })
	keep(&h.Period, 0.5, 40, func() { doubt("wave period", cannotBe) })
	keep(&h.SwellPeriod, 0.5, 40, func() { doubt("wave period", cannotBe) })
	keep(&h.Current, 0, 15*units.Knot, func() { doubt("current", cannotBe) })
	keep(&h.InletCurrent, -20*units.Knot, 20*units.Knot, func() { doubt("inlet stream", cannotBe) })
	keep(&h.Cloud, 0, 100, func() { doubt("cloud", cannotBe) })
	keep(&h.Rain, 0, 100, func() { doubt("rain", cannotBe) })
	keep(&h.Thunder, 0, 100, func() { doubt("thunder", cannotBe) })
	keep(&h.Visibility, 0, units.Length(math.MaxFloat64), func() { doubt("visibility", cannotBe) })
	if w, g := h.Wind.Or(0), h.Gust.Or(0); h.Wind.Known() && h.Gust.Known() && g < w-windRounding {
		h.Gust = models.Unknown[units.Speed]()
		doubt("gusts", gustBelowWind)
	}
	if sea, swell := h.Sea.Or(0), h.Swell.Or(0); h.Sea.Known() && h.Swell.Known() && sea < swell-seaRounding {
		h.Sea, h.Period, h.SeaFrom = models.Unknown[units.Length](), models.Unknown[float64](), models.Unknown[units.From]()
		h.SeaIncludesCurrent = models.Unknown[bool]()
		doubt("seas", seaBelowSwell)
	}
	return h, gaps
}

// keep makes a value unknown that is no number or outside of its bounds.
func keep[T ~float64](v *models.Opt[T], low, high T, doubt func()) {
	if x, ok := v.Get(); ok && !(x >= low && x <= high) {
		*v = models.Unknown[T]()
		doubt()
	}
}
