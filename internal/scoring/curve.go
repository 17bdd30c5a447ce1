package scoring

import "forecastd/internal/models"

// knot is one named point of a response curve.
type knot struct{ x, y float64 }

// curve is a response: straight between its knots, level outside them.
type curve []knot

func (c curve) at(x float64) float64 {
	if len(c) == 0 || x <= c[0].x {
		return c[0].y
	}
	for i := 1; i < len(c); i++ {
		if x < c[i].x {
			a, b := c[i-1], c[i]
			return a.y + (b.y-a.y)*(x-a.x)/(b.x-a.x)
		}
	}
	return c[len(c)-1].y
}

// Curves that are not among the captain's limits: common practice, no source.
var (
	// tending is how well baits are tended in a sea, by feet.
	tending = curve{{5, 1}, {8, 0.6}, {12, 0.3}}
	// faces is how well a sea shows fish on its faces, by feet; regular by
	// its period in seconds.
	faces   = curve{{1, 0.1}, {2, 0.35}, {3, 1}, {6, 1}, {8, 0.5}, {10, 0.2}}
	regular = curve{{3, 0.3}, {5, 1}}
	// showerSea is how well showered bait is seen in a sea, by feet.
	showerSea = curve{{3, 1}, {5, 0.5}, {7, 0.2}}
	// castWind and castSea are how well a bait is cast from bow or tower, by
	// knots and feet.
	castWind = curve{{20, 1}, {25, 0.5}, {30, 0}}
	castSea  = curve{{5, 1}, {7, 0.7}, {9, 0.2}}
)

// Worths of inputs that are unknown, and of single words: common practice, no
// source. An unknown is worth less than a good one, never as much.
const (
	heliumWorth      = 0.25 // a balloon kite in a calm: one kite, one or two baits
	bareInLulls      = 0.7  // no helium in air that all but needs it
	unknownGust      = 0.6
	unknownGustRatio = 1.35 // gust over mean
	unknownDirection = 0.95
	unknownRain      = 0.9
	unknownSea       = 0.8
	unknownOpposed   = 0.3
	unknownCurrent   = 0.3
	unknownFaces     = 0.3
	unknownCloud     = 0.5
	unknownKites     = 0.6
	noReport         = 0.85 // nobody has said that fish are up
	seenYesterday    = 1.05
	seenToday        = 1.25
	jumpers          = 0.25 // free jumpers, birds, bait balls: always a chance
	lowSun           = 0.2  // light under the sun that starts sight casting
	glareHalves      = 0.5
	glareFadeAzimuth = 30.0 // degrees past the limit where glare is gone
	glareFadeHeight  = 15.0
	sightInFog       = 0.2
	sightInThunder   = 0.6 // chance of thunder worth a warning
	sightInRain      = 0.5
	eitherApart      = 0.2
	eitherBonus      = 0.05
	eitherPoorer     = 0.25
)

func edgeWorth(reach models.Opt[bool]) float64 {
	in, ok := reach.Get()
	switch {
	case !ok:
		return 0.6
	case in:
		return 1
	}
	return 0.3
}

func waterWorth(w models.Opt[models.Water]) float64 {
	switch v, _ := w.Get(); v {
	case models.WaterClear, models.WaterBlueEdge:
		return 1
	case models.WaterCleanGreen:
		return 0.85
	case models.WaterDirty:
		return 0.3
	}
	return 0.6
}

func seasonWorth(s models.Opt[models.Season]) float64 {
	switch v, _ := s.Get(); v {
	case models.SeasonSpringRun:
		return 1
	case models.SeasonPeak:
		return 0.95
	case models.SeasonGood:
		return 0.85
	case models.SeasonTailEnd:
		return 0.65
	case models.SeasonOff:
		return 0.35
	}
	return 0.6
}

// atLeast and past compare with a limit that was read from text in other
// units, or with a difference of two such values: one that is the limit but for
// its last digits is the limit.
func atLeast[T ~float64](v, limit T) bool { return float64(v) >= float64(limit)*(1-1e-9) }

func past[T ~float64](v, limit T) bool { return float64(v) > float64(limit)*(1+1e-9) }
