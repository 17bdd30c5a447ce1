package wave_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models/units"
	"forecastd/internal/models/wave"
)

type sea struct {
	h      units.Length
	period time.Duration
	depth  units.Length
}

func seas() *rapid.Generator[sea] {
	return rapid.Custom(func(t *rapid.T) sea {
		s := sea{
			h:      units.Length(rapid.Float64Range(0.1, 4).Draw(t, "h")),
			period: seconds(rapid.Float64Range(2, 16).Draw(t, "period")),
			depth:  units.Length(rapid.Float64Range(3, 60).Draw(t, "depth")),
		}
		if rapid.Bool().Draw(t, "deep") {
			s.depth = 0
		}
		return s
	})
}

func current() *rapid.Generator[float64] { return rapid.Float64Range(0, 4) }

func shift(t *rapid.T, s sea, from units.From, u float64, toward units.Toward) wave.OnCurrent {
	got, err := wave.Shift(s.h, s.period, from, units.Speed(u), toward, s.depth)
	require.NoError(t, err)
	return got
}

// Bisection for the place of breaking leaves this much, relative.
const solver = 1e-7

func TestNoCurrentChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := seas().Draw(t, "sea")
		from := units.From(rapid.Float64Range(0, 360).Draw(t, "from"))
		still := shift(t, s, from, 0, 0)
		require.InEpsilon(t, float64(s.h), float64(still.Height), 1e-12)
		require.False(t, still.Blocked)
		l, _ := wave.Wavelength(s.period, s.depth).Get()
		require.InEpsilon(t, float64(l), float64(still.Wavelength), 1e-9)
		// A current across the waves is none.
		across := shift(t, s, from, current().Draw(t, "u"), from.Toward()+90)
		require.InEpsilon(t, float64(s.h), float64(across.Height), 1e-9)
	})
}

func TestTurningEverythingChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := seas().Draw(t, "sea")
		from := units.From(rapid.Float64Range(0, 360).Draw(t, "from"))
		toward := units.Toward(rapid.Float64Range(0, 360).Draw(t, "toward"))
		u, turn := current().Draw(t, "u"), rapid.Float64Range(0, 360).Draw(t, "turn")
		a := shift(t, s, from, u, toward)
		b := shift(t, s, from+units.From(turn), u, toward+units.Toward(turn))
		require.InEpsilon(t, float64(a.Height), float64(b.Height), 1e-4)
		// Left and right are alike.
		off := float64(toward) - float64(from)
		c := shift(t, s, from, u, units.Toward(float64(from)-off))
		require.InEpsilon(t, float64(a.Height), float64(c.Height), 1e-4)
	})
}

// More current against the waves never makes the sea lower, flatter or longer;
// more with them never makes it higher or steeper.
func TestMoreCurrentIsMoreOfTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := seas().Draw(t, "sea")
		u := current().Draw(t, "u")
		more := rapid.Float64Range(u, 6).Draw(t, "more")
		a, b := shift(t, s, 0, u, 0), shift(t, s, 0, more, 0) // from north, toward north: against
		require.GreaterOrEqual(t, float64(b.Height), float64(a.Height)*(1-solver))
		require.GreaterOrEqual(t, b.Steepness, a.Steepness*(1-solver))
		require.LessOrEqual(t, float64(b.Wavelength), float64(a.Wavelength)*(1+solver))
		require.True(t, b.Breaking || !a.Breaking)
		require.True(t, b.Blocked || !a.Blocked)

		a, b = shift(t, s, 0, u, 180), shift(t, s, 0, more, 180)
		require.LessOrEqual(t, float64(b.Height), float64(a.Height)*(1+solver))
		require.LessOrEqual(t, b.Steepness, a.Steepness*(1+solver))
		require.False(t, b.Blocked)
	})
}

// Turning the current from against the waves to with them never makes the sea
// higher or steeper.
func TestTurningTheCurrentLaysTheSeaDown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, u := seas().Draw(t, "sea"), current().Draw(t, "u")
		a := rapid.Float64Range(0, 180).Draw(t, "a")
		b := rapid.Float64Range(a, 180).Draw(t, "b")
		near, far := shift(t, s, 0, u, units.Toward(a)), shift(t, s, 0, u, units.Toward(b))
		require.LessOrEqual(t, float64(far.Height), float64(near.Height)*(1+solver))
		require.LessOrEqual(t, far.Steepness, near.Steepness*(1+solver))
	})
}

// A higher sea before is a higher sea after.
func TestHigherStaysHigher(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, u := seas().Draw(t, "sea"), current().Draw(t, "u")
		higher := s
		higher.h += units.Length(rapid.Float64Range(0, 2).Draw(t, "more"))
		a, b := shift(t, s, 0, u, 0), shift(t, higher, 0, u, 0)
		require.GreaterOrEqual(t, float64(b.Height), float64(a.Height)*(1-solver))
	})
}

// What a current has raised is no steeper than Miche's limit, and keeps its
// wave action while it does not break: E (Cg + U)/s is that of still water.
func TestLimitAndAction(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, u := seas().Draw(t, "sea"), current().Draw(t, "u")
		got := shift(t, s, 0, u, 0)
		k := 2 * math.Pi / float64(got.Wavelength)
		tanh := 1.0
		if s.depth > 0 {
			tanh = math.Tanh(k * float64(s.depth))
		}
		if float64(got.Height) > float64(s.h)*(1+1e-9) {
			require.LessOrEqual(t, float64(got.Height), 0.142*float64(got.Wavelength)*tanh*(1+1e-6))
		}
		if got.Breaking {
			return
		}
		w := 2 * math.Pi / s.period.Seconds()
		intrinsic := math.Sqrt(9.81 * k * tanh)
		require.InEpsilon(t, w, intrinsic-k*u, 1e-6)
		period := time.Duration(2 * math.Pi / intrinsic * 1e9)
		if period < wave.MinPeriod || w == 0 {
			return
		}
		local, _ := wave.GroupSpeed(period, s.depth).Get()
		still, _ := wave.GroupSpeed(s.period, s.depth).Get()
		before := float64(s.h*s.h) * float64(still) / w
		after := float64(got.Height*got.Height) * (float64(local) - u) / intrinsic
		require.InEpsilon(t, before, after, 1e-4)
	})
}

// Nothing jumps where waves start to break, or to be blocked.
func TestHeightIsContinuousInTheCurrent(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := seas().Draw(t, "sea")
		for _, flips := range []func(wave.OnCurrent) bool{
			func(c wave.OnCurrent) bool { return c.Breaking },
			func(c wave.OnCurrent) bool { return c.Blocked },
		} {
			lo, hi := 0.0, 8.0
			for range 50 {
				if mid := (lo + hi) / 2; flips(shift(t, s, 0, mid, 0)) {
					hi = mid
				} else {
					lo = mid
				}
			}
			before, after := shift(t, s, 0, lo, 0), shift(t, s, 0, hi, 0)
			require.InEpsilon(t, float64(before.Height), float64(after.Height), 1e-3)
			require.InEpsilon(t, float64(before.Wavelength), float64(after.Wavelength), 1e-3)
			require.InEpsilon(t, before.Steepness, after.Steepness, 1e-3)
		}
	})
}

func TestDepthLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		period := seconds(rapid.Float64Range(1, 40).Draw(t, "period"))
		// Deep: half a wavelength of water or more is as good as no bottom.
		deep, _ := wave.Wavelength(period, 0).Get()
		almost, _ := wave.Wavelength(period, deep).Get()
		require.InEpsilon(t, float64(deep), float64(almost), 1e-4)
		// Shallow: C and Cg go to sqrt(g d).
		d := deep * 1e-4
		c, _ := wave.PhaseSpeed(period, d).Get()
		cg, _ := wave.GroupSpeed(period, d).Get()
		require.InEpsilon(t, math.Sqrt(9.81*float64(d)), float64(c), 1e-3)
		require.InEpsilon(t, float64(c), float64(cg), 1e-3)
		// More water is longer waves, and energy never outruns the crests.
		d1 := units.Length(rapid.Float64Range(0.5, 100).Draw(t, "depth"))
		l1, _ := wave.Wavelength(period, d1).Get()
		l2, _ := wave.Wavelength(period, d1*1.1).Get()
		require.GreaterOrEqual(t, float64(l2), float64(l1)*(1-1e-12))
		c1, _ := wave.PhaseSpeed(period, d1).Get()
		g1, _ := wave.GroupSpeed(period, d1).Get()
		require.LessOrEqual(t, float64(g1), float64(c1)*(1+1e-12))
		require.GreaterOrEqual(t, float64(g1), float64(c1)/2*(1-1e-12))
	})
}

func TestGrowthIsMonotonic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.Float64Range(1, 30).Draw(t, "u")
		f := rapid.Float64Range(1e3, 1e6).Draw(t, "fetch")
		h := rapid.Float64Range(1, 100).Draw(t, "hours")
		grow := func(u, f, h float64) wave.Grown {
			g, ok := wave.Growth(units.Speed(u), units.Length(f), seconds(h*3600)).Get()
			require.True(t, ok)
			require.True(t, g.Low <= g.Height && g.Height <= g.High)
			return g
		}
		a := grow(u, f, h)
		for _, b := range []wave.Grown{grow(u*1.1, f, h), grow(u, f*1.5, h), grow(u, f, h*1.5)} {
			require.GreaterOrEqual(t, float64(b.Height), float64(a.Height)*(1-1e-9))
			require.GreaterOrEqual(t, float64(b.High), float64(a.High)*(1-1e-9))
		}
	})
}

func TestOutsideTheRange(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		h, period, u, depth float64
		says                string
	}{
		{-1, 6, 1, 0, "wave height"}, {31, 6, 1, 0, "wave height"}, {nan, 6, 1, 0, "wave height"},
		{1, 0.9, 1, 0, "1 to 40 s"}, {1, 41, 1, 0, "1 to 40 s"}, {1, 0, 1, 0, "1 to 40 s"},
		{1, 6, 9, 0, "current"}, {1, 6, nan, 0, "current"}, {1, 6, 1, -1, "0 m or more"}, {1, 6, 1, nan, "0 m or more"},
	} {
		_, err := wave.AtInlet(units.Length(c.h), seconds(c.period), units.Speed(c.u), units.Length(c.depth))
		require.ErrorContains(t, err, c.says, "%+v", c)
		_, err = wave.Shift(units.Length(c.h), seconds(c.period), 0, units.Speed(c.u), 0, units.Length(c.depth))
		require.ErrorContains(t, err, c.says, "%+v", c)
	}
	_, err := wave.Shift(1, seconds(6), 0, -1, 0, 0)
	require.ErrorContains(t, err, "current")
	for _, g := range []struct {
		u, f float64
		d    time.Duration
	}{{0.9, 1e5, time.Hour}, {36, 1e5, time.Hour}, {10, 50, time.Hour}, {10, 3e6, time.Hour}, {10, 1e5, time.Minute}, {10, 1e5, 1000 * time.Hour}} {
		require.False(t, wave.Growth(units.Speed(g.u), units.Length(g.f), g.d).Known(), "%+v", g)
	}
	require.False(t, wave.Wavelength(0, 0).Known() || wave.PhaseSpeed(time.Hour, 0).Known() || wave.GroupSpeed(seconds(5), -1).Known() || wave.Shoaling(0, 3).Known())
	calm, err := wave.AtInlet(0, seconds(3), 3, 5)
	require.NoError(t, err)
	require.Zero(t, calm.Height)
	require.False(t, calm.Breaking)
	require.False(t, math.IsInf(calm.HeightRatio, 0) || math.IsNaN(calm.HeightRatio))
}

func BenchmarkShift(b *testing.B) {
	for b.Loop() {
		_, _ = wave.Shift(1, 6*time.Second, 45, 1, 10, 40)
	}
}

func BenchmarkShiftBreaking(b *testing.B) {
	for b.Loop() {
		_, _ = wave.AtInlet(2, 6*time.Second, 2, 6)
	}
}

func BenchmarkWavelength(b *testing.B) {
	for b.Loop() {
		wave.Wavelength(6*time.Second, 12)
	}
}
