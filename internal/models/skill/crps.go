package skill

import (
	"errors"
	"math"
	"slices"
)

// ErrEmpty is returned where a measure is asked of nothing.
var ErrEmpty = errors.New("nothing to measure")

// CRPS returns the continuous ranked probability score of an ensemble against
// what came: mean |x-y| - mean |x-x'| / 2 over all pairs. It is in the unit
// of the values, 0 is best, and for one member it is the absolute error.
//
// Reference: GneitingRaftery2007, eq. 21.
func CRPS(members []float64, observed float64) (float64, error) {
	return crps(members, observed, float64(len(members)))
}

// FairCRPS is CRPS with the pairs divided by m(m-1), so that small ensembles
// are not marked down for their size. It needs two members.
//
// Reference: Ferro2014.
func FairCRPS(members []float64, observed float64) (float64, error) {
	if len(members) < 2 {
		return 0, ErrEmpty
	}
	return crps(members, observed, float64(len(members)-1))
}

// crps sorts once: the sum of |x-x'| over all pairs is 2 sum (2i-m+1) x_i.
func crps(members []float64, y, pairs float64) (float64, error) {
	m := len(members)
	if m == 0 {
		return 0, ErrEmpty
	}
	x := slices.Sorted(slices.Values(members))
	var near, apart float64
	for i, v := range x {
		near += math.Abs(v - y)
		apart += float64(2*i-m+1) * v
	}
	n := float64(m)
	return near/n - apart/(n*pairs), nil
}

// NormalCRPS returns the score of a normal forecast with mean and standard
// deviation: s (z (2 Phi(z) - 1) + 2 phi(z) - 1/sqrt(pi)). A deviation of zero
// gives the absolute error.
//
// Reference: Gneiting2005, eq. 5.
func NormalCRPS(mean, sd, observed float64) float64 {
	if sd <= 0 {
		return math.Abs(observed - mean)
	}
	z := (observed - mean) / sd
	pdf := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
	return sd * (z*math.Erf(z/math.Sqrt2) + 2*pdf - 1/math.Sqrt(math.Pi))
}

// Chance returns the probability of an event that k of n members show, kept
// off 0 and 1: (k + 1/3)/(n + 2/3), the median plotting position. No members
// give one half.
func Chance(k, n int) float64 { return (float64(k) + 1.0/3) / (float64(n) + 2.0/3) }

// Rank returns how many members lie under what came, and how many equal it:
// the stuff of a rank histogram.
func Rank(members []float64, observed float64) (below, equal int) {
	for _, x := range members {
		switch {
		case x < observed:
			below++
		case x == observed:
			equal++
		}
	}
	return below, equal
}
