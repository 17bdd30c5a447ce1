package ride

import (
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

const gravity = 9.81 // m/s²

// Motion is the vertical motion of the middle of a boat.
type Motion struct {
	// Accel is the root-mean-square vertical acceleration, m/s².
	Accel float64
	// Encounter is how often waves meet the boat, rad/s.
	Encounter float64
	// Follows is how much of the waves' height the boat takes part in: 1 for
	// waves much longer than it is.
	Follows float64
}

// Move returns the vertical motion of a boat in a sea of significant height
// and peak period in seconds (deep water). bow is the angle between the bow
// and where the sea comes from, 0 into the sea, 180 with it; length and speed
// are the boat's. A period that is not positive gives no answer.
//
// The boat rides the surface, averaged over the water it lies on, a box as
// long as the boat and a third as wide: rms = w_e² Hs/4 sin(x)/x sin(y)/y, x =
// k L |cos bow|/2, y = k L |sin bow|/6, k = w²/g, and w_e = |w + w² V cos(bow)
// / g|. Resonance and slamming are not in it: a hull that leaves the water is
// worse. Validity: waves longer than the boat, speeds of a displacement hull.
//
// Reference: Own, from linear wave theory; encounter as in Lloyd1989.
func Move(height units.Length, period float64, bow float64, length units.Length, speed units.Speed) models.Opt[Motion] {
	if !(period > 0) || height < 0 {
		return models.Unknown[Motion]()
	}
	w := 2 * math.Pi / period
	sin, cos := math.Sincos(bow * math.Pi / 180) // cos is 1 into the sea
	we := math.Abs(w + w*w*float64(speed)/gravity*cos)
	half := w * w / gravity * float64(length) / 2
	f := follow(half*math.Abs(cos)) * follow(half*math.Abs(sin)/3)
	return models.Known(Motion{
		Accel:     we * we * float64(height) / 4 * f,
		Encounter: we,
		Follows:   f,
	})
}

// follow is sin(x)/x up to where it falls to zero, and zero past it: waves
// shorter than the boat cancel out over its length.
func follow(x float64) float64 {
	switch {
	case x < 1e-6:
		return 1
	case x >= math.Pi:
		return 0
	}
	return math.Sin(x) / x
}

// Dose is the motion sickness dose value, m/s^1.5: weighted rms acceleration
// times the square root of the time in seconds.
//
// Reference: ISO2631, annex D.
func Dose(weighted float64, over time.Duration) float64 {
	return weighted * math.Sqrt(math.Max(over.Seconds(), 0))
}

// SickShare is the share of a mixed, unaccustomed group of adults who vomit
// after a dose: a third of it, in percent. Found for exposures of 20 minutes
// to 6 hours and shares up to about 70 %; past that it is held.
//
// Reference: LawtherGriffin1987; ISO2631, annex D.
func SickShare(dose float64) models.Percent {
	return models.Percent(math.Min(math.Max(dose, 0)/3, 70))
}

// Weight is how much a vertical motion of a frequency in Hz counts toward
// motion sickness, most near 0.17 Hz (a period of 6 s).
//
// Reference: ISO2631, annex A, weighting Wf: band limits 0.08 and 0.63
// Hz, the acceleration-velocity transition at 0.25 Hz (Q 0.86), the upward
// step from 0.0625 (Q 0.80) to 0.1 Hz (Q 0.80).
func Weight(hz float64) float64 {
	if hz <= 0 {
		return 0
	}
	const low, high, trans, transQ, up1, up1Q, up2, up2Q = 0.08, 0.63, 0.25, 0.86, 0.0625, 0.80, 0.1, 0.80
	f2 := hz * hz
	pass := func(x float64) float64 { return 1 / math.Sqrt(1+x*x*x*x) } // Butterworth, order 2
	// |1 + s/(Q w) + (s/w)²| at s = i 2 pi f.
	mag := func(corner, q float64) float64 {
		r := f2 / (corner * corner)
		return math.Sqrt((1-r)*(1-r) + r/(q*q))
	}
	step := mag(up1, up1Q) / mag(up2, up2Q) * (up1 * up1) / (up2 * up2)
	return pass(low/hz) * pass(hz/high) / mag(trans, transQ) * step
}

// Unwell returns the likely share of guests who are sick over a stretch of a
// trip in a motion. It is unknown for stretches of less than 20 minutes; past
// 6 hours it is held at 6.
func Unwell(m Motion, over time.Duration) models.Opt[models.Percent] {
	if over < 20*time.Minute {
		return models.Unknown[models.Percent]()
	}
	over = min(over, 6*time.Hour)
	return models.Known(SickShare(Dose(weighted(m), over)))
}

// weighted is the acceleration of a motion as it counts toward sickness, m/s².
func weighted(m Motion) float64 { return m.Accel * Weight(m.Encounter/(2*math.Pi)) }
