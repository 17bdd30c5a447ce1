package skill

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Turn returns forecast minus observed for bearings in degrees, wrapped to
// (-180, 180]: positive is too far clockwise.
func Turn[T units.From | units.Toward](forecast, observed T) float64 {
	d := math.Mod(float64(forecast)-float64(observed), 360)
	switch {
	case d > 180:
		d -= 360
	case d <= -180:
		d += 360
	}
	return d
}

// Turns are the summary of a set of direction errors.
type Turns struct {
	N int
	// Mean is the direction of the mean of the unit vectors of the errors,
	// degrees in (-180, 180]; unknown where they cancel.
	Mean models.Opt[float64]
	// Absolute is the mean absolute error, degrees.
	Absolute float64
	// Agreement is the length of the mean unit vector: 1 where all errors are
	// alike, 0 where they cancel.
	Agreement float64
}

// SummariseTurns returns the summary of direction errors in degrees. Never the
// plain average: 350 and 10 are 0, not 180.
func SummariseTurns(errs []float64) Turns {
	t := Turns{N: len(errs)}
	if t.N == 0 {
		return t
	}
	var c, s float64
	n := float64(t.N)
	for _, e := range errs {
		sin, cos := math.Sincos(e * math.Pi / 180)
		c += cos / n
		s += sin / n
		t.Absolute += math.Abs(Turn(units.From(e), 0)) / n
	}
	t.Agreement = math.Hypot(c, s)
	if t.Agreement > 1e-9 {
		t.Mean = models.Known(math.Atan2(s, c) * 180 / math.Pi)
	}
	return t
}

// WindBias is a decaying bias of wind: of its speed, and of its components
// toward east and north; directions themselves are not averaged.
type WindBias struct{ Speed, East, North Bias }

// Add takes in one forecast and observation.
func (b WindBias) Add(forecast, observed units.Vector, weight float64) WindBias {
	return WindBias{
		Speed: b.Speed.Add(float64(forecast.Speed()-observed.Speed()), weight),
		East:  b.East.Add(float64(forecast.East-observed.East), weight),
		North: b.North.Add(float64(forecast.North-observed.North), weight),
	}
}

// Correct takes the bias of the components off the direction and that of the
// speed off the speed, which stays at least zero. Where nothing is left of the
// components the direction stays as forecast.
func (b WindBias) Correct(forecast units.Vector) units.Vector {
	v := units.Vector{
		East:  units.Speed(b.East.Correct(float64(forecast.East))),
		North: units.Speed(b.North.Correct(float64(forecast.North))),
	}
	if _, ok := v.Toward(); !ok {
		v = forecast
	}
	toward, ok := v.Toward()
	if !ok {
		return units.Vector{}
	}
	speed := max(b.Speed.Correct(float64(forecast.Speed())), 0)
	return units.FlowVector(units.Speed(speed), toward)
}
