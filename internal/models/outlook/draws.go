package outlook

import (
	"math"
	"slices"
	"sync"
)

// The errors that a course carries, each one dimension of the draws.
const (
	drawWind    = iota // the wind's error that lasts the day
	drawShift          // when things happen
	drawSea            // the sea's own error, besides the wind's
	drawTurn           // the direction's error that lasts the day
	drawGust           // how gusty the wind is
	drawPeriod         // the sea's period
	drawCurrent        // the current's speed
	drawSet            // the current's direction
	drawCloud          // the sky
	drawSight          // how far one sees
	drawThunder        // where the course stands among those that may have thunder
	drawRain           // the same for rain
	drawFog            // the same for fog, where nobody tells the visibility
	drawSpread         // how the wind's direction ranges
	drawWarned         // whether a product is out, where nobody tells
	drawHourly         // the wind's error of the hour: one for each hour
)

const (
	// longest is how many hours have a draw of their own; a longer day goes
	// round.
	longest = 26
	// turns is how many draws the direction's error of the hour has, one for
	// every four hours.
	turns     = 7
	drawTurn0 = drawHourly + longest
	drawCount = drawTurn0 + turns
)

// Draws are the quantiles of all errors for so many courses: each dimension
// holds every one of the quantiles (k+1/2)/n once, and no two dimensions go
// together. They are made once, from the multiples of square roots of primes
// (a Kronecker sequence) made uncorrelated by Gram and Schmidt and ranked, and
// are the same for every port, run and day.
type Draws struct {
	u, z [drawCount][]float64 // by course: the quantile and its normal deviate
}

// usually are the draws of as many courses as there usually are.
var usually = sync.OnceValue(func() *Draws { return makeDraws(Courses) })

// DrawsOf are the draws of n courses.
func DrawsOf(n int) *Draws {
	if n == Courses {
		return usually()
	}
	return makeDraws(n)
}

// uncorrelated is how many dimensions before it a dimension is made
// uncorrelated with, where there are courses enough: the lasting ones, and the
// neighbours of an hour.
const neighbours = 8

func makeDraws(n int) *Draws {
	d := &Draws{}
	roots := squareRoots(drawCount)
	order := make([]int, n)
	for j := range drawCount {
		x := make([]float64, n)
		for i := range x {
			_, x[i] = math.Modf((float64(i) + 1) * roots[j])
			x[i] = normal(min(max(x[i], 1e-6), 1-1e-6))
		}
		// A few rounds: ranking brings a little of the correlation back.
		for range 4 {
			before := 0
			for k := range j {
				if k >= drawHourly && k < j-neighbours || before >= n/3 {
					continue
				}
				before++
				dot, len2 := 0.0, 0.0
				for i := range x {
					dot += x[i] * d.z[k][i]
					len2 += d.z[k][i] * d.z[k][i]
				}
				if len2 == 0 {
					continue
				}
				for i := range x {
					x[i] -= dot / len2 * d.z[k][i]
				}
			}
			for i := range order {
				order[i] = i
			}
			slices.SortStableFunc(order, func(a, b int) int {
				switch {
				case x[a] < x[b]:
					return -1
				case x[a] > x[b]:
					return 1
				}
				return 0
			})
			d.u[j], d.z[j] = make([]float64, n), make([]float64, n)
			for rank, i := range order {
				u := (float64(rank) + 0.5) / float64(n)
				d.u[j][i], d.z[j][i] = u, normal(u)
			}
			copy(x, d.z[j])
		}
	}
	return d
}

// squareRoots are the fractions of the square roots of the first primes.
func squareRoots(n int) []float64 {
	var out []float64
	for p := 2; len(out) < n; p++ {
		prime := true
		for q := 2; q*q <= p; q++ {
			if p%q == 0 {
				prime = false
				break
			}
		}
		if prime {
			_, f := math.Modf(math.Sqrt(float64(p)))
			out = append(out, f)
		}
	}
	return out
}

// normal is the standard normal quantile.
func normal(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }
