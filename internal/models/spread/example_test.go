package spread_test

import (
	"fmt"

	"forecastd/internal/models/spread"
	"forecastd/internal/models/units"
)

// Under a light load and in light air a hanging line is a parabola, closed
// form: its end is blown back by drag h²/(2 load). With 1.225 kg/m³ of air, a
// drag coefficient of 1.1 (Hoerner1965), 0.3 mm of line, 30 m of height and 4 m/s
// that is 0.0032 N/m · 900 m² / (2 · 49 N), 3 cm for a load of 5 kg.
func ExampleHang() {
	d := spread.Hang(30*units.Metre, 5000*units.Gram, 0.0003*units.Metre, 4*units.MetrePerSecond)
	fmt.Printf("%.2f m back, blown %v\n", d.Back.Metres(), d.Blown)
	// Output: 0.03 m back, blown false
}
