package drift_test

import (
	"fmt"

	"forecastd/internal/models"
	"forecastd/internal/models/drift"
	"forecastd/internal/models/units"
)

// AllenPlourde1999: a centre console drifts 5.55 % of the wind down it and
// 2.27 % across: at 10 m/s that is 0.555 and 0.227, 0.6 m/s together.
func ExampleLeeway() {
	console := drift.CraftFor(models.CenterConsole, 30*units.Foot)
	m := drift.Leeway(console, 10*units.MetrePerSecond, 180, false)
	fmt.Printf("down %.3f, across %.3f, baits feel %.3f m/s\n", m.Down.MetresPerSecond(), m.Cross.MetresPerSecond(), m.Slip.MetresPerSecond())
	// Output: down 0.555, across 0.227, baits feel 0.600 m/s
}
