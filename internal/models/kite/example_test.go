package kite_test

import (
	"fmt"

	"forecastd/internal/models"
	"forecastd/internal/models/kite"
	"forecastd/internal/models/units"
)

// A kite of 0.5 m² and 150 g on a line without weight, by hand from the
// formulas of NASA-KITE: at 5 m/s it stands at 52.72 degrees and pulls 9.88 N.
func ExampleFly() {
	k := models.Kite{Name: "example", Area: models.Known(0.5), Aspect: models.Known(1.5), Mass: models.Known(150 * units.Gram)}
	f := kite.Fly(k, 5*units.MetrePerSecond, kite.Line{Out: 100 * units.Metre})
	fmt.Printf("%.1f degrees, %.1f N\n", f.Elevation, f.Tension)
	// Output: 52.7 degrees, 9.9 N
}

// By hand from the gas law: helium lifts 1.02 kg a cubic metre at 25 °C.
func ExampleLiftPerVolume() {
	fmt.Printf("%.2f kg\n", kite.LiftPerVolume(units.Celsius(25)).Kilograms())
	// Output: 1.02 kg
}
