package wind

import (
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Lull estimates the wind in the lulls from the mean and the peak gust:
//
//	lull = mean - (gust - mean)/2, at least 0
//
// Nobody reports lulls. Gusts reach about three standard deviations above the
// mean; lulls that last long enough to drop a kite are taken as half as deep.
// This is our assumption, no source. A gust below the mean counts as no gust.
//
// Reference: Own.
func Lull(mean, gust units.Speed) units.Speed {
	return max(0, mean-max(0, gust-mean)/2)
}

// GustAloft carries a gust to the height where the mean wind is aloft: the
// excess over the mean stays the same, since the standard deviation of the
// wind hardly changes with height in the surface layer.
//
// Reference: PanofskyDutton1984 (from memory).
func GustAloft(mean, gust, aloft units.Speed) units.Speed {
	return aloft + max(0, gust-mean)
}

// Average converts the highest mean wind over one averaging time into the
// highest mean over another, by way of the hourly mean:
//
//	U_t/U_3600 = 1.277 + 0.296 tanh(0.9 log10(45/t))   1 s to 1 h
//	U_t/U_3600 = 1.5334 - 0.15 log10 t                 1 h to 10 h
//
// Unknown outside 1 s to 10 h.
//
// Reference: ACES1992 section 1-1; CEM2002 fig. II-2-1.
func Average(u units.Speed, from, to time.Duration) models.Opt[units.Speed] {
	a, okA := hourly(from)
	b, okB := hourly(to)
	if !okA || !okB || !(u >= 0) {
		return models.Unknown[units.Speed]()
	}
	return models.Known(u * units.Speed(b/a))
}

func hourly(d time.Duration) (float64, bool) {
	t := d.Seconds()
	switch {
	case t < 1 || t > 36000:
		return 0, false
	case t < 3600:
		return 1.277 + 0.296*math.Tanh(0.9*math.Log10(45/t)), true
	}
	return 1.5334 - 0.15*math.Log10(t), true
}

// RelativeToBoat is the wind that a kite flown from a boat feels: the velocity
// of the air less the boat's velocity over the ground.
//
// Reference: Own.
func RelativeToBoat(wind, boat units.Vector) units.Vector { return wind.Sub(boat) }
