package ride_test

import (
	"fmt"
	"time"

	"forecastd/internal/models/ride"
)

// By hand from annex D of ISO2631: 0.5 m/s² over two hours is a dose of
// 0.5 sqrt(7200) = 42.4, and a third of it, 14 %, of people who are not used to it
// are sick.
func ExampleSickShare() {
	dose := ride.Dose(0.5, 2*time.Hour)
	fmt.Printf("%.1f: %.0f %%\n", dose, float64(ride.SickShare(dose)))
	// Output: 42.4: 14 %
}
