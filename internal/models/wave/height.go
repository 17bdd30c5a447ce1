package wave

import (
	"math"
	"time"

	"forecastd/internal/models/units"
)

// Combine joins a wind sea and a swell that run at the same time: energies
// add, H = sqrt(S² + W²).
//
// Reference: LonguetHiggins1952.
func Combine(sea, swell units.Length) units.Length {
	return units.Length(math.Hypot(float64(sea), float64(swell)))
}

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

// Shape is our own word for how steep a sea is.
type Shape string

// Shapes, from long to short. The limits between them are ours: 0.012, 0.025
// and 0.04 of Steepness.
const (
	Rolling  Shape = "rolling"
	Regular  Shape = "regular"
	Tight    Shape = "tight"
	Standing Shape = "standing up"
)

// ShapeOf names a steepness.
//
// Reference: Own.
func ShapeOf(steepness float64) Shape {
	switch {
	case steepness < 0.012:
		return Rolling
	case steepness < 0.025:
		return Regular
	case steepness < 0.04:
		return Tight
	}
	return Standing
}

// SeaState returns the code and name of WMO code table 3700 for a significant
// height. A height on the border of two classes belongs to the lower one.
//
// Reference: WMO3700.
func SeaState(h units.Length) (code int, name string) {
	classes := [...]struct {
		upTo float64 // m
		name string
	}{
		{0, "calm (glassy)"}, {0.1, "calm (rippled)"}, {0.5, "smooth"}, {1.25, "slight"},
		{2.5, "moderate"}, {4, "rough"}, {6, "very rough"}, {9, "high"}, {14, "very high"},
	}
	for i, c := range classes {
		if float64(h) <= c.upTo+1e-9 {
			return i, c.name
		}
	}
	return len(classes), "phenomenal"
}
