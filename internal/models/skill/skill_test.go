package skill

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models/units"
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
		require.InDelta(t, 10-tt.want, b.Correct(10), 1e-10)
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
		require.InDelta(t, e*b.Trust(w), b.Mean, 1e-9)
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

// Values of Gneiting et al. 2005, eq. 5, computed by hand for a standard
// normal forecast.
func TestNormalCRPS(t *testing.T) {
	for z, want := range map[float64]float64{0: 0.2336950, 0.5: 0.3314035, 1: 0.6024414, 2: 1.4527918} {
		require.InDelta(t, want, NormalCRPS(0, 1, z), 1e-7)
		require.InDelta(t, want, NormalCRPS(0, 1, -z), 1e-7)
		require.InDelta(t, 3*want, NormalCRPS(5, 3, 5+3*z), 3e-7)
	}
	require.InDelta(t, 4, NormalCRPS(1, 0, 5), 1e-12)
}

// A large ensemble drawn from a normal scores as the normal does: two
// independent formulas meet. Quantiles stand in for the draw.
func TestEnsembleAndNormalAgree(t *testing.T) {
	const m = 2000
	x := make([]float64, m)
	for i := range x {
		x[i] = math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/m-1)
	}
	for _, y := range []float64{-2, 0, 0.7, 3} {
		got, err := CRPS(x, y)
		require.NoError(t, err)
		require.InDelta(t, NormalCRPS(0, 1, y), got, 1e-3) // quantiles cut the tails
	}
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

// The reference library properscoring (revision a465b55), threshold Brier.
func TestEnsembleBrierMatchesTheReference(t *testing.T) {
	for _, tt := range []struct {
		observed, threshold float64
		members             []float64
		want                float64
	}{
		{0, -2, []float64{-1, 1}, 0},
		{0, 0, []float64{-1, 1}, 0.25},
		{0, 2, []float64{-1, 1}, 0},
		{0, 0, []float64{0, 0, 0, 1}, 0.0625},
	} {
		got, err := EnsembleBrier(tt.members, tt.observed, tt.threshold)
		require.NoError(t, err)
		require.InDelta(t, tt.want, got, 1e-12)
	}
	_, err := EnsembleBrier(nil, 0, 0)
	require.ErrorIs(t, err, ErrEmpty)
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

func TestChanceStaysOffTheEnds(t *testing.T) {
	require.InDelta(t, 0.5, Chance(0, 0), 1e-12)
	require.Greater(t, Chance(0, 31), 0.0)
	require.Less(t, Chance(31, 31), 1.0)
	require.InDelta(t, 1, Chance(7, 31)+Chance(24, 31), 1e-12)
}

func TestRank(t *testing.T) {
	below, equal := Rank([]float64{1, 2, 2, 3}, 2)
	require.Equal(t, 1, below)
	require.Equal(t, 2, equal)
}

func TestTurnTakesTheShortWay(t *testing.T) {
	require.InDelta(t, -20, Turn(units.From(350), units.From(10)), 1e-12)
	require.InDelta(t, 20, Turn(units.Toward(10), units.Toward(350)), 1e-12)
	require.InDelta(t, 180, Turn(units.From(180), units.From(0)), 1e-12)
	require.InDelta(t, 180, Turn(units.From(0), units.From(180)), 1e-12)
}

func TestTurnSurvivesRotation(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := rapid.Float64Range(0, 360).Draw(t, "forecast")
		b := rapid.Float64Range(0, 360).Draw(t, "observed")
		r := rapid.Float64Range(-720, 720).Draw(t, "rotation")
		one, two := Turn(units.From(a), units.From(b)), Turn(units.From(a+r), units.From(b+r))
		require.InDelta(t, 0, math.Mod(one-two+540, 360)-180, 1e-9)
	})
}

// Zar's example set (Biostatistical Analysis), from memory and recomputed:
// 45, 55, 81, 96, 110, 117, 132, 154 have their mean at 98.98776 with
// r = 0.825218.
func TestSummariseTurns(t *testing.T) {
	got := SummariseTurns([]float64{45, 55, 81, 96, 110, 117, 132, 154})
	mean, ok := got.Mean.Get()
	require.True(t, ok)
	require.InDelta(t, 98.98776, mean, 1e-5)
	require.InDelta(t, 0.825218, got.Agreement, 1e-6)

	got = SummariseTurns([]float64{350, 10})
	mean, _ = got.Mean.Get()
	require.InDelta(t, 0, mean, 1e-9)
	require.InDelta(t, 10, got.Absolute, 1e-9)

	require.False(t, SummariseTurns([]float64{0, 180}).Mean.Known(), "opposite errors have no mean direction")
	require.Zero(t, SummariseTurns(nil).N)
}

func TestWindBiasCorrectsSpeedAndDirection(t *testing.T) {
	forecast := units.WindVector(10, 100)
	observed := units.WindVector(8, 90)
	var b WindBias
	for range 200 {
		b = b.Add(forecast, observed, Quick)
	}
	got := b.Correct(forecast)
	require.InDelta(t, 8, float64(got.Speed()), 1e-9)
	from, ok := got.From()
	require.True(t, ok)
	require.InDelta(t, 90, from.Degrees(), 1e-9)
	require.Zero(t, b.Correct(units.Vector{}).Speed(), "a calm is not corrected below nothing")
}

// A bias that cancels the components leaves the direction and takes only the
// speed's own bias off.
func TestWindBiasKeepsADirection(t *testing.T) {
	b := WindBias{East: Bias{Mean: -5}}
	got := b.Correct(units.WindVector(5, 90))
	from, ok := got.From()
	require.True(t, ok)
	require.InDelta(t, 90, from.Degrees(), 1e-9)
	require.InDelta(t, 5, float64(got.Speed()), 1e-9)
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
