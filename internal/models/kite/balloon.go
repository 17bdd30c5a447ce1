package kite

import (
	"math"

	"forecastd/internal/models/units"
)

// Balloon is a round helium balloon.
type Balloon struct {
	Diameter units.Length
	// Skin is the mass of the empty balloon.
	Skin units.Mass
}

// DefaultBalloon is a 36 in balloon of 1.5 oz: common practice, no source.
func DefaultBalloon() Balloon { return Balloon{Diameter: 36 * units.Inch, Skin: 1.5 * units.Ounce} }

// sphereDrag is the drag coefficient of a sphere below the drag crisis:
// Hoerner1965, from memory.
const sphereDrag = 0.47

// warmAir is the air a kite balloon is reckoned in.
const warmAir = units.Temperature(273.15 + 25)

func (b Balloon) section() float64 {
	d := float64(b.Diameter)
	return math.Pi / 4 * d * d
}

// Gas constants: molar masses in kg/mol (dry air, helium), R in J/(mol K).
const (
	airMolar    = 0.0289647
	heliumMolar = 0.0040026
	gas         = 8.314462618
	seaLevel    = 101325 // Pa
)

// LiftPerVolume returns what a cubic metre of helium carries at sea level, in
// kg: (p/RT)(M_air - M_He). It leaves out the humidity of the air and the
// pressure of the skin.
//
// Reference: Own, the gas law for dry air and helium.
func LiftPerVolume(air units.Temperature) units.Mass {
	return units.Mass(seaLevel / (gas * air.Kelvin()) * (airMolar - heliumMolar))
}

// Gross returns what the balloon carries before its own skin.
func (b Balloon) Gross(air units.Temperature) units.Mass {
	d := float64(b.Diameter)
	return units.Mass(math.Pi / 6 * d * d * d * float64(LiftPerVolume(air)))
}

// Net returns the pull upward of the balloon, in newton, negative where it
// does not carry its own skin.
func (b Balloon) Net(air units.Temperature) float64 {
	return float64(b.Gross(air)-b.Skin) * gravity
}
