package wind_test

import (
	"fmt"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/models/wind"
)

// Without temperatures the wind gains by the power law: (75/10)^0.11 is 1.25
// (Reference: Hsu1994; arithmetic). The method is told with the value.
func ExampleToHeight() {
	unknown := models.Unknown[units.Temperature]()
	aloft, method := wind.ToHeight(12*units.Knot, 10*units.Metre, 75*units.Metre, unknown, unknown)
	fmt.Printf("%.1f kn by %s\n", aloft.Knots(), method)
	// Output: 15.0 kn by power law 0.11
}

// Zar's directions 45 to 154 degrees have their mean at 99 (Biostatistical
// Analysis, from memory and recomputed).
func ExampleMeanDirection() {
	mean, ok := wind.MeanDirection([]units.From{45, 55, 81, 96, 110, 117, 132, 154}).Get()
	fmt.Printf("%.2f %v\n", float64(mean), ok)
	// Output: 98.99 true
}
