package wind

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// leastResultant is the length of the mean unit vector below which a mean
// direction means nothing.
const leastResultant = 1e-3

// MeanVector returns the mean velocity, unknown for no winds. Opposite winds
// cancel: the mean of 10 m/s from north and south is no wind.
//
// Reference: Own (definition).
func MeanVector(vs []units.Vector) models.Opt[units.Vector] {
	if len(vs) == 0 {
		return models.Unknown[units.Vector]()
	}
	var sum units.Vector
	for _, v := range vs {
		sum = sum.Add(v)
	}
	return models.Known(sum.Scale(1 / float64(len(vs))))
}

// MeanSpeed returns the mean of the speeds whatever their direction, unknown
// for no winds.
//
// Reference: Own (definition).
func MeanSpeed(vs []units.Vector) models.Opt[units.Speed] {
	if len(vs) == 0 {
		return models.Unknown[units.Speed]()
	}
	var sum units.Speed
	for _, v := range vs {
		sum += v.Speed()
	}
	return models.Known(sum / units.Speed(len(vs)))
}

// Steadiness returns the speed of the mean velocity over the mean speed: 1
// for a wind that never turns, 0 for one that comes from everywhere. Unknown
// for no winds and for calm.
//
// Reference: Own (definition).
func Steadiness(vs []units.Vector) models.Opt[float64] {
	mean, ok := MeanVector(vs).Get()
	scalar, _ := MeanSpeed(vs).Get()
	if !ok || scalar < calm {
		return models.Unknown[float64]()
	}
	return models.Known(min(1, float64(mean.Speed()/scalar)))
}

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

// Spread returns the standard deviation of directions in degrees, 0 to 103.9,
// by Yamartino's estimate from the mean unit vector:
//
//	sd = asin(e) [1 + (2/sqrt(3) - 1) e³],  e² = 1 - C² - S²
//
// Unknown for no directions.
//
// Reference: Yamartino1984.
func Spread(ds []units.From) models.Opt[float64] {
	s, c, ok := resultant(ds)
	if !ok {
		return models.Unknown[float64]()
	}
	e := math.Sqrt(min(1, max(0, 1-s*s-c*c)))
	return models.Known(math.Asin(e) * (1 + (2/math.Sqrt(3)-1)*e*e*e) * 180 / math.Pi)
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
