package outlook

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// Every error has every quantile once, no two lasting errors go together, and
// a group of the courses has low and high ones alike.
func TestDrawsAreEvenAndDoNotGoTogether(t *testing.T) {
	for _, n := range []int{64, 128} {
		d := DrawsOf(n)
		worst := 0.0
		for j := range drawCount {
			seen := make([]bool, n)
			sum, squares := 0.0, 0.0
			for i, u := range d.u[j] {
				seen[int(u*float64(n))] = true
				sum, squares = sum+d.z[j][i], squares+d.z[j][i]*d.z[j][i]
			}
			require.NotContains(t, seen, false)
			require.InDelta(t, 0, sum, 1e-9)
			require.InDelta(t, 1, squares/float64(n), 0.06, "quantiles of few courses are a little narrow")
			for k := range min(j, drawHourly) {
				worst = max(worst, math.Abs(correlation(d.z[j], d.z[k])))
			}
		}
		t.Logf("%d courses: greatest correlation %.3f", n, worst)
		require.Less(t, worst, 0.12)
		for groups := 2; groups <= 4; groups++ {
			for g := range groups {
				sum, in := 0.0, 0
				for i, u := range d.u[drawWind] {
					if turnOf(int(u*float64(n)), groups) == g {
						sum, in = sum+d.z[drawWind][i], in+1
					}
				}
				require.InDelta(t, 0, sum/float64(in), 0.12, "group %d of %d", g, groups)
			}
		}
	}
}

func correlation(a, b []float64) float64 {
	dot, aa, bb := 0.0, 0.0, 0.0
	for i := range a {
		dot, aa, bb = dot+a[i]*b[i], aa+a[i]*a[i], bb+b[i]*b[i]
	}
	return dot / math.Sqrt(aa*bb)
}
