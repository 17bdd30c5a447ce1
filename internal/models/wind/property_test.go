package wind

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

func heights() *rapid.Generator[float64] { return rapid.Float64Range(2, 200) }

func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := units.Speed(rapid.Float64Range(0, 15).Draw(t, "u"))
		z1, z2 := units.Length(heights().Draw(t, "z1")), units.Length(heights().Draw(t, "z2"))
		// The power law undoes itself.
		up, _ := ToHeight(u, z1, z2, noTemp(), noTemp())
		back, _ := ToHeight(up, z2, z1, noTemp(), noTemp())
		require.InDelta(t, float64(u), float64(back), 1e-9)
		// So does the log law, where there is wind enough for one.
		u += 0.1
		p, err := Neutral(u, z1)
		require.NoError(t, err)
		q, err := Neutral(p.at(z2), z2)
		require.NoError(t, err)
		require.InDelta(t, float64(u), float64(q.at(z1)), 1e-4+1e-5*float64(u))
	})
}

// With stability, convective gusts are taken from the wind where it was
// measured: there and back is good to 2 % from 3 m/s and to 0.5 % from 5 m/s
// on. A search of half a million cases, with a climb from the worst, found
// 1.95 % and 0.41 %.
func TestThereAndBackWithStability(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := units.Speed(rapid.Float64Range(3, 20).Draw(t, "u"))
		z1 := units.Length(rapid.Float64Range(4, 30).Draw(t, "z1"))
		z2 := units.Length(rapid.Float64Range(4, 100).Draw(t, "z2"))
		sea := rapid.Float64Range(5, 30).Draw(t, "sea")
		air := sea + rapid.Float64Range(-10, 5).Draw(t, "difference")
		up, _ := ToHeight(u, z1, z2, known(air), known(sea))
		back, _ := ToHeight(up, z2, z1, known(air), known(sea))
		good := 0.02
		if u >= 5 {
			good = 0.005
		}
		require.InEpsilon(t, float64(u), float64(back), good)
	})
}

func TestProfilesAreMonotonic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := units.Speed(rapid.Float64Range(0, 39).Draw(t, "u"))
		sea := rapid.Float64Range(0, 32).Draw(t, "sea")
		air := sea + rapid.Float64Range(-12, 8).Draw(t, "difference")
		p, err := Fit(u, 10, known(air), known(sea))
		require.NoError(t, err)
		require.Equal(t, Stability, p.Method)

		// The wind grows with height.
		z1 := heights().Draw(t, "z1")
		z2 := rapid.Float64Range(z1, 200).Draw(t, "z2")
		a, ok := p.At(units.Length(z1)).Get()
		require.True(t, ok)
		b, ok := p.At(units.Length(z2)).Get()
		require.True(t, ok)
		require.GreaterOrEqual(t, float64(b), float64(a)-1e-12)
		require.False(t, math.IsNaN(float64(b)) || math.IsInf(float64(b), 0))

		// Warmer air over the same water: no less gain aloft.
		warmer, _ := ToHeight(u, 10, 60, known(air+1), known(sea))
		here, _ := ToHeight(u, 10, 60, known(air), known(sea))
		require.GreaterOrEqual(t, float64(warmer), float64(here)*(1-1e-3))

		// More wind below is more wind aloft.
		more, _ := ToHeight(u+0.5, 10, 60, known(air), known(sea))
		require.GreaterOrEqual(t, float64(more), float64(here)*(1-1e-3))
	})
}

// The solution satisfies its own equations: the profile passes through the
// wind that it was fitted to and, in convection-free air, ends at the
// roughness.
func TestProfileIsConsistent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.Float64Range(0.5, 40).Draw(t, "u")
		z := heights().Draw(t, "z")
		sea := rapid.Float64Range(0, 32).Draw(t, "sea")
		air := sea + rapid.Float64Range(-12, 8).Draw(t, "difference")
		p, err := Fit(units.Speed(u), units.Length(z), known(air), known(sea))
		require.NoError(t, err)
		require.InDelta(t, u, float64(p.at(units.Length(z))), 1e-9)
		z0 := float64(p.Roughness)
		gain := math.Log(z / z0)
		if l, ok := p.Obukhov.Get(); ok {
			gain -= psiU(z / float64(l))
		}
		require.InEpsilon(t, u*p.gust, float64(p.Friction)/karman*gain, 1e-4)
		require.True(t, p.gust >= 1 && p.Friction > 0 && z0 > 0)
	})
}

// Equal temperatures in moist air are close to neutral in a strong wind, and
// nothing jumps as the air goes from colder to warmer than the water.
func TestNeutralLimitAndContinuity(t *testing.T) {
	p, err := Fit(25, 10, known(20), known(20))
	require.NoError(t, err)
	n, err := Neutral(25, 10)
	require.NoError(t, err)
	require.InEpsilon(t, float64(n.at(60)), float64(p.at(60)), 0.005)
	for _, u := range []float64{1, 3, 6, 12} {
		last := math.NaN()
		for d := -3.0; d < 3; d += 0.001 {
			got, _ := ToHeight(units.Speed(u), 10, 60, known(20+d), known(20))
			if !math.IsNaN(last) {
				require.InEpsilon(t, last, float64(got), 0.02, "%v m/s, %v K", u, d)
			}
			last = float64(got)
		}
	}
}

func TestStableAirIsHeld(t *testing.T) {
	p, err := Fit(2, 10, known(28), known(20))
	require.NoError(t, err)
	require.True(t, p.Held)
	l, ok := p.Obukhov.Get()
	require.True(t, ok)
	require.InDelta(t, minObukhov, float64(l), 1e-6)
	// Source: exponents of the power law over open water, 0.27 in stable air
	// (a public solar library after Hellmann): 10 to 75 m is 1.72.
	require.InDelta(t, 1.72, float64(p.at(75))/2, 0.15)
}

func TestOutsideTheRange(t *testing.T) {
	for _, c := range []struct {
		u    float64
		z    float64
		air  float64
		says string
	}{
		{5, 1.9, 20, "height"}, {5, 201, 20, "height"}, {-1, 10, 20, "wind"}, {41, 10, 20, "wind"},
		{math.NaN(), 10, 20, "wind"}, {5, math.NaN(), 20, "height"}, {5, 10, 46, "°C"}, {5, 10, -41, "°C"},
	} {
		_, err := Fit(units.Speed(c.u), units.Length(c.z), known(c.air), known(20))
		require.ErrorContains(t, err, c.says, "%+v", c)
	}
	_, err := Neutral(5, 1)
	require.Error(t, err)
	p, err := Fit(5, 10, noTemp(), known(20))
	require.NoError(t, err)
	require.Equal(t, NeutralLog, p.Method)
	require.False(t, p.At(1).Known() || p.At(300).Known() || (Profile{}).At(10).Known())
	// Above the range of the drag law the power law is left.
	_, fast := ToHeight(45, 10, 50, known(25), known(25))
	require.Equal(t, PowerLaw, fast)
	// Temperatures that cannot be are as good as none.
	_, method := ToHeight(5, 10, 50, known(200), known(20))
	require.Equal(t, PowerLaw, method)
	// Heights are held to the range.
	low, _ := ToHeight(5, 10, 0.5, noTemp(), noTemp())
	at2, _ := ToHeight(5, 10, 2, noTemp(), noTemp())
	require.Equal(t, at2, low)
}

func TestCalmStaysCalm(t *testing.T) {
	for _, air := range []models.Opt[units.Temperature]{noTemp(), known(15), known(30)} {
		got, _ := ToHeight(0, 5, 50, air, known(22))
		require.Zero(t, got)
	}
	p, err := Neutral(0, 10)
	require.NoError(t, err)
	require.Zero(t, p.Neutral10())
}

func TestGustsAndLulls(t *testing.T) {
	require.InDelta(t, 14, Lull(16*units.Knot, 20*units.Knot).Knots(), 1e-9)
	rapid.Check(t, func(t *rapid.T) {
		mean := units.Speed(rapid.Float64Range(0, 30).Draw(t, "mean"))
		gust := units.Speed(rapid.Float64Range(0, 45).Draw(t, "gust"))
		lull := Lull(mean, gust)
		require.True(t, lull >= 0 && lull <= mean)
		gustier := Lull(mean, gust+1)
		require.LessOrEqual(t, gustier, lull)
		aloft := mean * 1.1
		require.GreaterOrEqual(t, GustAloft(mean, gust, aloft), aloft)
		require.InDelta(t, float64(max(mean, gust)), float64(GustAloft(mean, gust, mean)), 1e-12)
	})
}

func TestAveragingIsOrdered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := func(name string) time.Duration {
			return time.Duration(rapid.Float64Range(1, 36000).Draw(t, name) * float64(time.Second))
		}
		a, b := d("a"), d("b")
		there, ok := Average(10, a, b).Get()
		require.True(t, ok)
		back, ok := Average(there, b, a).Get()
		require.True(t, ok)
		require.InDelta(t, 10, float64(back), 1e-9)
		if a < b { // 3e-4: the two curves do not quite meet at an hour
			require.LessOrEqual(t, float64(there), 10*(1+5e-4))
		}
	})
	require.False(t, Average(10, time.Millisecond, time.Hour).Known() || Average(10, time.Hour, 11*time.Hour).Known() || Average(-1, time.Hour, time.Hour).Known())
}

func TestMeansTurnWithTheirInput(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		raw := rapid.SliceOfN(rapid.Float64Range(0, 120), 1, 20).Draw(t, "directions")
		turn := rapid.Float64Range(0, 360).Draw(t, "turn")
		var a, b []units.From
		for _, d := range raw {
			a, b = append(a, units.From(d)), append(b, units.From(d+turn))
		}
		ma, ok := MeanDirection(a).Get()
		require.True(t, ok)
		mb, ok := MeanDirection(b).Get()
		require.True(t, ok)
		require.InDelta(t, 0, units.Apart(ma+units.From(turn), mb), 1e-6)
	})
}

func BenchmarkToHeightUnstable(b *testing.B) {
	for b.Loop() {
		ToHeight(8, 5, 30, known(22), known(25))
	}
}

func BenchmarkToHeightStable(b *testing.B) {
	for b.Loop() {
		ToHeight(5, 5, 30, known(26), known(25))
	}
}
