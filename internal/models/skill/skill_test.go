package skill

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Hand-computed from the recursion of Cui et al. 2012: errors 1, 2, 1, 0, 3
// from a bias of zero.
func TestBiasFollowsTheRecursion(t *testing.T) {
	for _, tt := range []struct{ weight, want float64 }{
		{0.02, 0.1353030432},
		{0.2, 1.01472},
	} {
		var b Bias
		for _, e := range []float64{1, 2, 1, 0, 3} {
			b = b.Add(e, tt.weight)
		}
		require.InDelta(t, tt.want, b.Mean, 1e-10)
		require.Equal(t, 5, b.Cases)
	}
}

func TestBiasIgnoresWhatIsNoNumber(t *testing.T) {
	b := Bias{}.Add(1, Quick)
	require.Equal(t, b, b.Add(math.NaN(), Quick))
	require.Equal(t, b, b.Add(math.Inf(1), Quick))
}

func TestBiasSettlesOnASteadyError(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := rapid.Float64Range(-20, 20).Draw(t, "error")
		w := rapid.SampledFrom([]float64{Slow, Quick, 1}).Draw(t, "weight")
		n := rapid.IntRange(1, 400).Draw(t, "cases")
		var b Bias
		for range n {
			b = b.Add(e, w)
		}
		require.InDelta(t, e*(1-math.Pow(1-w, float64(n))), b.Mean, 1e-9)
	})
}

func TestSummarise(t *testing.T) {
	require.Zero(t, Summarise(nil))
	// By hand: 1, -1, 3: mean 1, mean absolute 5/3, mean square 11/3, and
	// squares about the mean 0 + 4 + 4 over 2.
	e := Summarise([]float64{1, -1, 3})
	require.InDelta(t, 1, e.Mean, 1e-12)
	require.InDelta(t, 5.0/3, e.Absolute, 1e-12)
	require.InDelta(t, math.Sqrt(11.0/3), e.Root, 1e-12)
	require.InDelta(t, 2, e.Spread, 1e-12)
	require.Zero(t, Summarise([]float64{4}).Spread)
}

// The unit tests of the reference library properscoring (Apache 2.0, revision
// a465b55) for the ensemble CRPS.
func TestCRPSMatchesTheReference(t *testing.T) {
	for _, tt := range []struct {
		observed float64
		members  []float64
		want     float64
	}{
		{0, []float64{0, 1}, 0.25},
		{0, []float64{1, 1}, 1},
		{2, []float64{0, 1}, 1.25},
		{0, []float64{-1, 1}, 0.5},
		{0, []float64{0, 0, 1}, 1.0 / 9},
		{1, []float64{0, 0, 1}, 4.0 / 9},
		{0, []float64{-1, 0, 0, 1}, 1.0 / 8},
	} {
		got, err := CRPS(tt.members, tt.observed)
		require.NoError(t, err)
		require.InDelta(t, tt.want, got, 1e-12, "%v against %v", tt.members, tt.observed)
	}
}

// By hand from Ferro 2014: members 0 and 1 against 0: 1/2 - (2*1)/(2*2*1) = 0.
func TestFairCRPS(t *testing.T) {
	got, err := FairCRPS([]float64{0, 1}, 0)
	require.NoError(t, err)
	require.InDelta(t, 0, got, 1e-12)
	_, err = FairCRPS([]float64{1}, 0)
	require.ErrorIs(t, err, ErrEmpty)
	_, err = CRPS(nil, 0)
	require.ErrorIs(t, err, ErrEmpty)
}

// The sorted sum equals the definition, taken over all pairs.
func TestCRPSEqualsItsDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-50, 50), 1, 31).Draw(t, "members")
		y := rapid.Float64Range(-50, 50).Draw(t, "observed")
		m := float64(len(x))
		var near, apart float64
		for _, a := range x {
			near += math.Abs(a-y) / m
			for _, b := range x {
				apart += math.Abs(a-b) / (m * m)
			}
		}
		got, err := CRPS(x, y)
		require.NoError(t, err)
		require.InDelta(t, near-apart/2, got, 1e-9)
		require.GreaterOrEqual(t, got, -1e-9)
	})
}

// Murphy 1973's decomposition, computed by hand: ten cases each at 0.1 (one
// event), 0.5 (four) and 0.9 (eight).
func murphy() []Said {
	var cases []Said
	for _, g := range []struct {
		chance float64
		came   int
	}{{0.1, 1}, {0.5, 4}, {0.9, 8}} {
		for i := range 10 {
			cases = append(cases, Said{g.chance, i < g.came})
		}
	}
	return cases
}

func TestBrierDecomposition(t *testing.T) {
	p, err := Brier(murphy())
	require.NoError(t, err)
	require.Equal(t, 30, p.N)
	require.InDelta(t, 0.17, p.Score, 1e-12)
	require.InDelta(t, 0.0066667, p.Reliability, 1e-7)
	require.InDelta(t, 0.0822222, p.Resolution, 1e-7)
	require.InDelta(t, 0.2455556, p.Uncertainty, 1e-7)
	require.InDelta(t, 0.307692, p.Skill, 1e-6)
	_, err = Brier(nil)
	require.ErrorIs(t, err, ErrEmpty)
}

func TestBrierPartsAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cases := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Said {
			return Said{float64(rapid.IntRange(0, 10).Draw(t, "tenths")) / 10, rapid.Bool().Draw(t, "came")}
		}), 1, 60).Draw(t, "cases")
		p, err := Brier(cases)
		require.NoError(t, err)
		require.InDelta(t, p.Score, p.Reliability-p.Resolution+p.Uncertainty, 1e-12)
	})
}

func TestReliabilityBins(t *testing.T) {
	bins := Reliability(murphy(), 10)
	require.Len(t, bins, 10)
	for i, want := range map[int]float64{1: 0.1, 5: 0.4, 9: 0.8} {
		require.Equal(t, 10, bins[i].N)
		require.InDelta(t, want, bins[i].Came, 1e-12)
	}
	require.Zero(t, bins[0].N)
	last := Reliability([]Said{{1, true}, {0.3, false}}, 10)
	require.Equal(t, 1, last[9].N)
	require.Equal(t, 1, last[3].N)
	require.Nil(t, Reliability(nil, 0))
}

func BenchmarkCRPS(b *testing.B) {
	x := make([]float64, 31)
	for i := range x {
		x[i] = math.Sin(float64(i) * 7)
	}
	for b.Loop() {
		_, _ = CRPS(x, 0.3)
	}
}
