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
