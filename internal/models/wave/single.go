package wave

import (
	"math"

	"forecastd/internal/models/units"
)

// SingleWave returns the height that one wave in 1/p reaches, in a sea of
// significant height hs, by the Rayleigh distribution:
//
//	H = Hs sqrt(ln(1/p) / 2)
//
// SingleWave(hs, 0.01) is what one wave in a hundred is higher than. p is
// held to 1e-9 to 1. In shallow water and where waves break, the highest
// waves are lower than this.
//
// Reference: LonguetHiggins1952.
func SingleWave(hs units.Length, p float64) units.Length {
	if !(p > 1e-9) {
		p = 1e-9
	}
	return hs * units.Length(math.Sqrt(math.Log(1/min(p, 1))/2))
}

// HighestOf returns the most likely height of the highest of n waves, the
// mode of its distribution: Hs sqrt(ln(n)/2). Zero for n below 1.
//
// Reference: LonguetHiggins1952.
func HighestOf(hs units.Length, n int) units.Length {
	if n < 1 {
		return 0
	}
	return SingleWave(hs, 1/float64(n))
}

// MeanOfHighest returns the mean height of the highest share of waves: a
// share of 0.1 gives H1/10. The share is held to 1e-9 to 1.
//
//	H = Hs { sqrt(ln(1/q)/2) + sqrt(pi/8)/q erfc[ sqrt(ln(1/q)) ] }
//
// Reference: LonguetHiggins1952.
func MeanOfHighest(hs units.Length, share float64) units.Length {
	q := min(1, max(share, 1e-9))
	root := math.Sqrt(math.Log(1 / q))
	return hs * units.Length(root/math.Sqrt2+math.Sqrt(math.Pi/8)/q*math.Erfc(root))
}
