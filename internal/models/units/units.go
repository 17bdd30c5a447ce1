// Package units holds one defined type per physical quantity. Values are SI
// inside; unit constants build them and methods read them back, the way
// time.Duration does it:
//
//	wind := 12 * units.Knot
//	fmt.Println(wind.Knots()) // 12
//
// Only addition, subtraction and scaling by plain numbers make sense on these
// types. Anything that changes dimension is computed on float64 locals with
// suffixed names.
//
// Unit definitions are exact by international agreement: 1 nautical mile is
// 1852 m, 1 foot 0.3048 m, 1 statute mile 1609.344 m, 1 pound (avoirdupois)
// 0.45359237 kg, 0 °C is 273.15 K.
package units

import (
	"fmt"
	"math"
)

// Speed is a speed in metres per second.
type Speed float64

// Units of speed.
const (
	MetrePerSecond   Speed = 1
	Knot             Speed = 1852.0 / 3600
	KilometrePerHour Speed = 1000.0 / 3600
	MilePerHour      Speed = 0.44704
)

// MetresPerSecond returns the speed in m/s.
func (s Speed) MetresPerSecond() float64 { return float64(s) }

// Knots returns the speed in nautical miles per hour.
func (s Speed) Knots() float64 { return float64(s / Knot) }

// String prints the speed in knots.
func (s Speed) String() string { return fmt.Sprintf("%.1f kn", s.Knots()) }

// Length is a length, height, depth or distance in metres.
type Length float64

// Units of length.
const (
	Metre        Length = 1
	Kilometre    Length = 1000
	Foot         Length = 0.3048
	Inch         Length = 0.0254
	Yard         Length = 0.9144
	NauticalMile Length = 1852
	StatuteMile  Length = 1609.344
)

// Metres returns the length in metres.
func (l Length) Metres() float64 { return float64(l) }

// Feet returns the length in international feet.
func (l Length) Feet() float64 { return float64(l / Foot) }

// NauticalMiles returns the length in nautical miles.
func (l Length) NauticalMiles() float64 { return float64(l / NauticalMile) }

// String prints short lengths in feet and long ones in nautical miles.
func (l Length) String() string {
	if math.Abs(float64(l)) >= float64(NauticalMile)/2 {
		return fmt.Sprintf("%.1f nmi", l.NauticalMiles())
	}
	return fmt.Sprintf("%.1f ft", l.Feet())
}

// Temperature is an absolute temperature in kelvin. Temperatures are not
// added; their difference is a TempDiff.
type Temperature float64

const zeroCelsius = 273.15

// Celsius makes a Temperature from degrees Celsius.
func Celsius(c float64) Temperature { return Temperature(c + zeroCelsius) }

// Fahrenheit makes a Temperature from degrees Fahrenheit.
func Fahrenheit(f float64) Temperature { return Celsius((f - 32) / 1.8) }

// Kelvin makes a Temperature from kelvin.
func Kelvin(k float64) Temperature { return Temperature(k) }

// Kelvin returns the temperature in kelvin.
func (t Temperature) Kelvin() float64 { return float64(t) }

// Celsius returns the temperature in degrees Celsius.
func (t Temperature) Celsius() float64 { return float64(t) - zeroCelsius }

// Fahrenheit returns the temperature in degrees Fahrenheit.
func (t Temperature) Fahrenheit() float64 { return t.Celsius()*1.8 + 32 }

// Sub returns how much warmer t is than u.
func (t Temperature) Sub(u Temperature) TempDiff { return TempDiff(t - u) }

// String prints the temperature in degrees Fahrenheit.
func (t Temperature) String() string { return fmt.Sprintf("%.0f °F", t.Fahrenheit()) }

// TempDiff is a temperature difference in kelvin.
type TempDiff float64

// Kelvin returns the difference in kelvin (equal to degrees Celsius).
func (d TempDiff) Kelvin() float64 { return float64(d) }

// Pressure is a pressure in pascal.
type Pressure float64

// Units of pressure.
const (
	Pascal      Pressure = 1
	Hectopascal Pressure = 100
)

// Hectopascals returns the pressure in hPa (millibar).
func (p Pressure) Hectopascals() float64 { return float64(p / Hectopascal) }

// String prints the pressure in hPa.
func (p Pressure) String() string { return fmt.Sprintf("%.1f hPa", p.Hectopascals()) }

// Mass is a mass in kilograms.
type Mass float64

// Units of mass.
const (
	Kilogram Mass = 1
	Gram     Mass = 0.001
	Pound    Mass = 0.45359237
	Ounce    Mass = 0.028349523125
)

// Kilograms returns the mass in kg.
func (m Mass) Kilograms() float64 { return float64(m) }

// Ounces returns the mass in avoirdupois ounces.
func (m Mass) Ounces() float64 { return float64(m / Ounce) }

// Pounds returns the mass in avoirdupois pounds.
func (m Mass) Pounds() float64 { return float64(m / Pound) }

// String prints the mass in ounces below a pound and in pounds above.
func (m Mass) String() string {
	if m < Pound {
		return fmt.Sprintf("%.1f oz", m.Ounces())
	}
	return fmt.Sprintf("%.1f lb", m.Pounds())
}
