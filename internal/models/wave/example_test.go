package wave_test

import (
	"fmt"
	"time"

	"forecastd/internal/models/units"
	"forecastd/internal/models/wave"
)

// ACES1992 User's Guide, example 2-1: waves of 8 s in 20 ft of water are
// 189.90 ft long, their crests run 23.74 and their energy 20.87 ft/s.
func ExampleWavelength() {
	const depth = 20 * units.Foot
	length, _ := wave.Wavelength(8*time.Second, depth).Get()
	crests, _ := wave.PhaseSpeed(8*time.Second, depth).Get()
	energy, _ := wave.GroupSpeed(8*time.Second, depth).Get()
	const fps = units.Speed(units.Foot)
	fmt.Printf("%.1f ft, %.1f ft/s, %.1f ft/s\n", length.Feet(), float64(crests/fps), float64(energy/fps))
	// Output: 189.9 ft, 23.7 ft/s, 20.9 ft/s
}

// CEM2002 example II-6-4: a sea of 1 m and 5 s that meets 1 m/s of current in
// 5 m of water grows to 1.35 m, read off a chart; the theory behind the chart
// gives 1.41.
func ExampleAtInlet() {
	met, err := wave.AtInlet(1*units.Metre, 5*time.Second, 1*units.MetrePerSecond, 5*units.Metre)
	fmt.Printf("%.2f m, breaking %v, %v\n", met.Height.Metres(), met.Breaking, err)
	// Output: 1.41 m, breaking false, <nil>
}
