package wind

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// leastResultant is the length of the mean unit vector below which a mean
// direction means nothing.
const leastResultant = 1e-3

// MeanDirection returns the direction of the mean of the unit vectors.
// Unknown for no directions and where they cancel, as north and south do.
//
// Reference: MardiaJupp2000 section 2.2.
func MeanDirection(ds []units.From) models.Opt[units.From] {
	s, c, ok := resultant(ds)
	if !ok || math.Hypot(s, c) < leastResultant {
		return models.Unknown[units.From]()
	}
	return models.Known(units.From(units.From(math.Atan2(s, c) * 180 / math.Pi).Degrees()))
}

func resultant(ds []units.From) (s, c float64, ok bool) {
	if len(ds) == 0 {
		return 0, 0, false
	}
	for _, d := range ds {
		sin, cos := math.Sincos(d.Degrees() * math.Pi / 180)
		s += sin
		c += cos
	}
	n := float64(len(ds))
	return s / n, c / n, true
}
