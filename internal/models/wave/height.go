package wave

import (
	"math"
	"time"

	"forecastd/internal/models/units"
)

// Steepness returns the height over the deep-water length of the period,
// 2 pi H / (g T²). Waves cannot pass 1/7; a sea taken by its significant
// height and peak period stays under about 0.05. A period of zero or less
// answers 0 for calm and +Inf for any sea.
//
// Reference: CEM2002 section II-1-2.
func Steepness(h units.Length, period time.Duration) float64 {
	t := period.Seconds()
	if h <= 0 {
		return 0
	}
	if t <= 0 {
		return math.Inf(1)
	}
	return 2 * math.Pi * float64(h) / (gravity * t * t)
}
