package wave_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models/units"
	"forecastd/internal/models/wave"
)

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

func length(t testing.TB, period float64, depth units.Length) units.Length {
	t.Helper()
	l, ok := wave.Wavelength(seconds(period), depth).Get()
	require.True(t, ok)
	return l
}

func speeds(t testing.TB, period float64, depth units.Length) (c, cg units.Speed) {
	t.Helper()
	c, ok := wave.PhaseSpeed(seconds(period), depth).Get()
	require.True(t, ok)
	cg, ok = wave.GroupSpeed(seconds(period), depth).Get()
	require.True(t, ok)
	return c, cg
}

// Source: ACES1992 User's Guide, examples 2-1 (linear wave), 3-1 (Snell) with
// its deep-water values, printed to 0.01 ft; g = 32.174 ft/s² there.
func TestACESLinearWaves(t *testing.T) {
	const fps = units.Speed(units.Foot)
	for _, c := range []struct{ period, depth, l, c, cg float64 }{
		{8, 20, 189.90, 23.74, 20.87},
		{7.5, 25, 193.27, 25.77, 21.46},
		{7.5, 20, 176.34, 23.51, 20.31},
		{7.5, 0, 288.00, 38.40, 19.20},
	} {
		d := units.Length(c.depth) * units.Foot
		got, group := speeds(t, c.period, d)
		// g differs by 4e-4, and so do long lengths.
		require.InEpsilon(t, c.l, length(t, c.period, d).Feet(), 5e-4)
		require.InEpsilon(t, c.c, float64(got/fps), 5e-4)
		require.InEpsilon(t, c.cg, float64(group/fps), 7e-4)
	}
	// Example 3-1 also has H0 = 10.68 ft for 10 ft at 25 ft of depth and an
	// angle of 10 degrees (15 in deep water): shoaling and refraction.
	ks, ok := wave.Shoaling(seconds(7.5), 25*units.Foot).Get()
	require.True(t, ok)
	kr := math.Sqrt(math.Cos(15*math.Pi/180) / math.Cos(10*math.Pi/180))
	require.InEpsilon(t, 10.0/10.68, ks*kr, 1e-3)
}

// Source: CEM2002 example II-1-1: 10 s in 3 m.
func TestCEMWavelength(t *testing.T) {
	require.InDelta(t, 53.2, length(t, 10, 3).Metres(), 0.05)
	c, _ := speeds(t, 10, 3)
	require.InDelta(t, 5.32, c.MetresPerSecond(), 0.005)
}

// Source: SPM1984 table C-1: d/L0, d/L, C/C0, H/H0', n, Cg/C0. The values are
// exact theory to the digits that the table prints.
func TestShoreProtectionManualTable(t *testing.T) {
	for _, c := range [][6]float64{
		{0.0010, 0.01263, 0.0792, 2.5155, 0.9979, 0.0790},
		{0.0100, 0.04032, 0.2480, 1.4348, 0.9792, 0.2429},
		{0.0200, 0.05763, 0.3471, 1.2258, 0.9588, 0.3328},
		{0.0500, 0.09415, 0.5310, 1.0229, 0.8999, 0.4779},
		{0.1000, 0.14098, 0.7093, 0.9327, 0.8102, 0.5747},
		{0.1500, 0.18330, 0.8183, 0.9133, 0.7325, 0.5994},
		{0.2000, 0.22512, 0.8884, 0.9181, 0.6677, 0.5932},
		{0.3000, 0.31212, 0.9612, 0.9489, 0.5777, 0.5553},
		{0.5000, 0.50183, 0.9964, 0.9905, 0.5115, 0.5096},
	} {
		const period = 8.0
		l0 := length(t, period, 0)
		d := units.Length(c[0]) * l0
		c0, _ := speeds(t, period, 0)
		speed, group := speeds(t, period, d)
		ks, ok := wave.Shoaling(seconds(period), d).Get()
		require.True(t, ok)
		require.InDelta(t, c[1], float64(d/length(t, period, d)), 6e-6, "%v", c[0])
		require.InDelta(t, c[2], float64(speed/c0), 6e-5, "%v", c[0])
		require.InDelta(t, c[3], ks, 6e-5, "%v", c[0])
		require.InDelta(t, c[4], float64(group/speed), 6e-5, "%v", c[0])
		require.InDelta(t, c[5], float64(group/c0), 6e-5, "%v", c[0])
	}
}

// Source: arithmetic of L = g T²/2pi, C = g T/2pi.
func TestDeepWater(t *testing.T) {
	for period, want := range map[float64][2]float64{4: {24.98, 6.245}, 5: {39.03, 7.807}, 6: {56.21, 9.368}, 8: {99.92, 12.490}, 10: {156.13, 15.613}, 12: {224.83, 18.736}} {
		c, cg := speeds(t, period, 0)
		require.InDelta(t, want[0], length(t, period, 0).Metres(), 0.006)
		require.InDelta(t, want[1], c.MetresPerSecond(), 0.0006)
		require.InDelta(t, want[1]/2, cg.MetresPerSecond(), 0.0006)
	}
}

// Source: LonguetHigginsStewart1961 case 1 (formulas from memory, they agree
// with wave action): U/c0, c/c0, a/a0; L/L0 = (c/c0)² at fixed period.
func TestCurrentOnDeepWater(t *testing.T) {
	const period = 8.0
	c0, _ := speeds(t, period, 0)
	l0 := length(t, period, 0)
	for _, c := range [][3]float64{
		{-0.24, 0.6000, 3.7268}, {-0.20, 0.7236, 2.0665}, {-0.15, 0.8162, 1.5405}, {-0.10, 0.8873, 1.2805},
		{-0.05, 0.9472, 1.1163}, {0.05, 1.0477, 0.9119}, {0.10, 1.0916, 0.8422}, {0.20, 1.1708, 0.7374},
		{0.25, 1.2071, 0.6966}, {0.50, 1.3660, 0.5562},
	} {
		got, err := wave.AtInlet(0.01, seconds(period), -units.Speed(c[0])*c0, 0)
		require.NoError(t, err)
		require.InDelta(t, c[2], got.HeightRatio, 6e-5*c[2]*2, "U/c0 %v", c[0])
		require.InDelta(t, c[1]*c[1], float64(got.Wavelength/l0), 2e-4, "U/c0 %v", c[0])
		require.InEpsilon(t, c[2]/(c[1]*c[1]), got.SteepnessRatio, 4e-4, "U/c0 %v", c[0])
		require.False(t, got.Breaking || got.Blocked)
	}
}

// Source: own solver in another language: T, d (0 deep), U (negative against)
// -> L, H ratio, steepness ratio. Its rows for 5 m of
// depth are 0.1 % off: bisection gives 23.1169 and 36.5026 m.
func TestCurrentAtAnyDepth(t *testing.T) {
	for _, c := range [][6]float64{
		{5, 5, -1, 23.094, 1.4137, 1.854}, {5, 5, 1, 36.485, 0.8063, 0.669}, {6, 0, -1, 43.377, 1.3084, 1.695},
		{6, 0, 1, 67.675, 0.8338, 0.693}, {5, 0, -1, 28.145, 1.4093, 1.955}, {5, 0, -1.5, 21.405, 1.947, 3.550},
		{8, 10, -1, 60.569, 1.2096, 1.416}, {8, 10, -2, 48.634, 1.6225, 2.365}, {10, 6, -2, 50.689, 1.5313, 2.224},
	} {
		got, err := wave.AtInlet(0.01, seconds(c[0]), units.Speed(-c[2]), units.Length(c[1]))
		require.NoError(t, err)
		require.InEpsilon(t, c[3], got.Wavelength.Metres(), 1.1e-3, "%v", c)
		require.InEpsilon(t, c[4], got.HeightRatio, 6e-4, "%v", c)
		require.InEpsilon(t, c[5], got.SteepnessRatio, 1.1e-3, "%v", c)
	}
}

// Source: CEM2002 example II-6-4 (p. II-6-42): 5 s, 5 m, 1 m/s opposing gives
// 1.35 from a chart. Read graphically: 5 %.
func TestCEMInletExample(t *testing.T) {
	got, err := wave.AtInlet(1, seconds(5), 1, 5)
	require.NoError(t, err)
	require.InEpsilon(t, 1.35, got.Height.Metres(), 0.05)
}

// Source: arithmetic of U = -gT/8pi (deep) and of Cg + U = 0 (depth): the
// opposing current that stops a period.
func TestBlocking(t *testing.T) {
	for _, c := range []struct{ period, depth, u float64 }{
		{3, 0, 1.171}, {4, 0, 1.561}, {5, 0, 1.952}, {6, 0, 2.342}, {8, 0, 3.123}, {10, 0, 3.903},
		{5, 5, 1.946}, {8, 5, 2.902}, {8, 10, 3.092}, {10, 5, 3.352},
	} {
		under, err := wave.AtInlet(0.001, seconds(c.period), units.Speed(c.u-0.002), units.Length(c.depth))
		require.NoError(t, err)
		require.False(t, under.Blocked, "%v", c)
		over, err := wave.AtInlet(0.001, seconds(c.period), units.Speed(c.u+0.002), units.Length(c.depth))
		require.NoError(t, err)
		require.True(t, over.Blocked && over.Breaking, "%v", c)
	}
}

// Source: common practice notes on a stream met head on (linear theory):
// growth of height at 1, 2 and 3 knots; and on an inlet: a 3 knot ebb over 20
// ft turns 5 ft/8 s into about 7 ft and 5 ft/6 s into about 8 ft.
func TestRulesOfThumb(t *testing.T) {
	for period, want := range map[float64][3]float64{5: {1.16, 1.43, 2.0}, 6: {1.13, 1.32, 1.65}, 7: {1.11, 1.26, 1.5}, 8: {1.09, 1.22, 1.4}} {
		for kn, ratio := range want {
			got, err := wave.Shift(0.05, seconds(period), 0, units.Speed(kn+1)*units.Knot, 0, 0)
			require.NoError(t, err)
			require.InDelta(t, ratio, got.HeightRatio, 0.04, "%v s, %d kn", period, kn+1)
		}
	}
	for period, feet := range map[float64]float64{8: 7, 6: 8} {
		got, err := wave.AtInlet(5*units.Foot, seconds(period), 3*units.Knot, 20*units.Foot)
		require.NoError(t, err)
		require.InDelta(t, feet, got.Height.Feet(), 0.5)
	}
}

// Source: arithmetic of 2 pi H/(g T²); Buckley's limit for significant height
// and peak period, 0.0488 (from memory), is the tightest sea there is.
func TestSteepness(t *testing.T) {
	require.InDelta(t, 0.0488, wave.Steepness(units.Length(0.00776*9.81*36), seconds(6)), 1e-4)
	require.Zero(t, wave.Steepness(0, 0))
	require.True(t, math.IsInf(wave.Steepness(1, 0), 1))
}

// Source: arithmetic of the Shore Protection Manual (H, T), JONSWAP and the
// Coastal Engineering Manual (H): wind, fetch, time -> the three.
func TestGrowth(t *testing.T) {
	for _, c := range []struct {
		u, km, hours     float64
		h, period        float64
		low, high        float64
		limit            wave.Limit
		relativeHeightTo float64
	}{
		// fetch: SPM 1.3773/5.267, JONSWAP 1.142, CEM 1.123
		{10, 50, 24, 1.3773, 5.267, 1.123, 1.3773, wave.ByFetch, 2e-3},
		// SPM 1.9478/6.636, JONSWAP 1.615, CEM 1.588
		{10, 100, 24, 1.9478, 6.636, 1.588, 1.9478, wave.ByFetch, 2e-3},
		// SPM 0.7489/3.948, CEM 0.632
		{7.5, 30, 24, 0.7489, 3.948, 0.632, 0.7489, wave.ByFetch, 2e-3},
		// full: SPM 3.606/10.00, Pierson-Moskowitz 2.247, CEM 3.126
		{10, 2000, 240, 3.606, 10.00, 2.247, 3.606, wave.ByWind, 2e-3},
	} {
		g, ok := wave.Growth(units.Speed(c.u), units.Length(c.km)*units.Kilometre, seconds(c.hours*3600)).Get()
		require.True(t, ok)
		require.Equal(t, c.limit, g.Limit)
		require.InEpsilon(t, c.h, g.Height.Metres(), c.relativeHeightTo)
		require.InEpsilon(t, c.period, g.Period.Seconds(), c.relativeHeightTo)
		require.InEpsilon(t, c.low, g.Low.Metres(), 3e-3)
		require.InEpsilon(t, c.high, g.High.Metres(), 3e-3)
	}
	// CEM by duration: 100 km, 3 h -> 0.535 m, the lowest of the three.
	g, ok := wave.Growth(10, 100*units.Kilometre, 3*time.Hour).Get()
	require.True(t, ok)
	require.Equal(t, wave.ByDuration, g.Limit)
	require.InEpsilon(t, 0.535, g.Low.Metres(), 3e-3)
}
