package wave

import (
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models/units"
)

// Source: ACES1992 User's Guide, example 1-1-2: adjusted wind 36.18 kn, 60
// miles of open deep water, 3 h -> 4.74 ft, 4.65 s. Printed to three digits.
func TestACESGrowth(t *testing.T) {
	s := growSPM(float64(36.18*units.Knot), float64(60*units.StatuteMile), 3*3600)
	require.InDelta(t, 4.74, units.Length(s.h).Feet(), 0.006)
	require.InDelta(t, 4.65, s.t, 0.006)
	require.Equal(t, ByDuration, s.limit)
}

// Source: root of w² = g k tanh(k d) by bisection, to 1e-6 over all depths.
func TestWavenumberSolvesTheDispersionRelation(t *testing.T) {
	for y := 1e-4; y < 30; y *= 1.1 {
		const w = 0.9
		d := y * gravity / (w * w)
		k := wavenumber(w, d)
		s, _ := intrinsic(k, d)
		require.InEpsilon(t, w, s, 1e-9, "y %v", y)
	}
	// kh for y = 1 (NOAA wave tests, public domain).
	require.InDelta(t, 1.199678640, wavenumber(1, gravity)*gravity, 1e-8)
	// w(k = 3, h = 0.3), the same source, g there 9.8066.
	s, _ := intrinsic(3, 0.3)
	require.InEpsilon(t, 4.59058248, s, 3e-4)
}
