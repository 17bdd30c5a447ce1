package drift

import (
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Ground returns the boat's velocity over the ground from its motion through
// the water and the current.
func Ground(water, current units.Vector) units.Vector { return water.Add(current) }

// Band is a depth band on a bottom that falls evenly going offshore.
type Band struct {
	Shallow, Deep units.Length
	// Slope is how much the bottom falls per length going offshore (0.02 is
	// 2 in 100).
	Slope float64
	// Offshore is the bearing straight down the slope.
	Offshore units.Toward
}

// Crossing is how a drift goes over a depth band.
type Crossing struct {
	// Start is the depth to begin in, so that the drift crosses the whole
	// band: the deep side when it sets inshore, the shallow side when it
	// sets offshore, the middle when it runs along the band.
	Start units.Length
	// Across is the time over the whole band; unknown where the drift runs
	// along it.
	Across models.Opt[time.Duration]
	// Offshore is the speed down the slope, negative inshore.
	Offshore units.Speed
	// Why says why Across is unknown.
	Why string
}

// slowest is the speed across the slope under which a drift counts as running
// along the band: at it, a band 2000 m wide takes more than a day.
const slowest = 0.02 * units.MetrePerSecond

// CrossBand tells how long a drift over the ground takes to cross a depth
// band, and where to begin it. A band without width or slope gives no time
// and a reason.
func CrossBand(ground units.Vector, b Band) Crossing {
	v := ground.Along(b.Offshore)
	c := Crossing{Offshore: v, Start: (b.Shallow + b.Deep) / 2}
	if !(b.Slope > 0) || !(b.Deep > b.Shallow) {
		c.Why = "the depth band or the slope of the bottom is not given"
		return c
	}
	if math.Abs(float64(v)) < float64(slowest) {
		c.Why = "the drift runs along the band"
		return c
	}
	c.Start = b.Deep
	if v > 0 {
		c.Start = b.Shallow
	}
	width := float64(b.Deep-b.Shallow) / b.Slope
	c.Across = models.Known(seconds(width / math.Abs(float64(v))))
	return c
}

// RunBack returns how long the run back over a distance takes at a speed. A
// speed that is not positive gives unknown.
func RunBack(distance units.Length, speed units.Speed) models.Opt[time.Duration] {
	if !(speed > 0) {
		return models.Unknown[time.Duration]()
	}
	return models.Known(seconds(float64(distance) / float64(speed)))
}

func seconds(s float64) time.Duration {
	return time.Duration(math.Min(s*float64(time.Second), math.MaxInt64/2)).Round(time.Second)
}
