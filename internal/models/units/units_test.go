package units_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models/units"
)

func TestExactUnits(t *testing.T) {
	// source: SI Brochure 9th ed. (BIPM 2019) and the international yard and
	// pound agreement of 1959; definitions, so exact.
	require.InDelta(t, 0.514444, units.Knot.MetresPerSecond(), 1e-6)
	require.Equal(t, 1852.0, units.NauticalMile.Metres())
	require.Equal(t, 0.3048, units.Foot.Metres())
	require.InDelta(t, 10, (units.Speed(18.52) * units.KilometrePerHour).Knots(), 1e-12)
	require.InDelta(t, 212, units.Celsius(100).Fahrenheit(), 1e-9)
	require.InDelta(t, 0, units.Fahrenheit(32).Celsius(), 1e-9)
	require.InDelta(t, 273.15, units.Celsius(0).Kelvin(), 1e-9)
	require.InDelta(t, 16, units.Pound.Ounces(), 1e-9)
	require.InDelta(t, 5, units.Celsius(20).Sub(units.Celsius(15)).Kelvin(), 1e-9)
}

func TestBearings(t *testing.T) {
	require.Equal(t, 0.0, units.From(360).Degrees())
	require.Equal(t, 350.0, units.From(-10).Degrees())
	require.Equal(t, units.Toward(180), units.From(0).Toward())
	require.Equal(t, "N", units.From(359).Point())
	require.Equal(t, "NNE", units.Toward(22.5).Point())
	require.InDelta(t, 20, units.Apart(units.From(350), units.From(10)), 1e-9)
	require.Equal(t, "from 000°", units.From(359.7).String())
	f, ok := units.FromPoint("WNW")
	require.True(t, ok)
	require.Equal(t, 292.5, f.Degrees())
	_, ok = units.FromPoint("NO")
	require.False(t, ok)
}

func TestWindFromTheEastBlowsToTheWest(t *testing.T) {
	v := units.WindVector(10*units.Knot, 90)
	require.InDelta(t, -10, v.East.Knots(), 1e-9)
	require.InDelta(t, 0, v.North.Knots(), 1e-9)
	require.InDelta(t, 10, v.Along(270).Knots(), 1e-9)
}

func TestCalmHasNoDirection(t *testing.T) {
	_, ok := units.Vector{}.Toward()
	require.False(t, ok)
	_, ok = units.WindVector(10, 0).Add(units.WindVector(10, 180)).From()
	require.False(t, ok, "opposite winds cancel, and a calm has no direction")
}

func TestVectorRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := units.Speed(rapid.Float64Range(0.01, 60).Draw(t, "speed"))
		d := units.From(rapid.Float64Range(-720, 720).Draw(t, "from"))
		v := units.WindVector(s, d)
		back, ok := v.From()
		require.True(t, ok)
		require.InDelta(t, 0, units.Apart(back, d), 1e-6)
		require.InDelta(t, float64(s), float64(v.Speed()), 1e-9)
		require.GreaterOrEqual(t, back.Degrees(), 0.0)
		require.Less(t, back.Degrees(), 360.0)
	})
}
