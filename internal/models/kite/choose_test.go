package kite

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

func TestChooseByTheWind(t *testing.T) {
	for _, tt := range []struct {
		name             string
		lull, mean, gust units.Speed
		aboard           bool
		kite             string
		helium, holds    bool
		why              string
	}{
		{"flat calm with helium", 0, 1 * kn, 2 * kn, true, "light", true, true, "kite.helium_needed"},
		{"flat calm without", 0, 1 * kn, 2 * kn, false, "light", true, false, "kite.helium_missing"},
		{"light air", 7 * kn, 8 * kn, 10 * kn, true, "light", false, true, "kite.fits"},
		{"a fair breeze", 13 * kn, 15 * kn, 18 * kn, true, "ordinary", false, true, "kite.fits"},
		{"heavy air", 24 * kn, 27 * kn, 33 * kn, true, "heavy", false, true, "kite.fits"},
		{"a gale", 35 * kn, 40 * kn, 52 * kn, true, "heavy", false, false, "kite.gusts_over"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := Choose(nil, tt.lull, tt.mean, tt.gust, tt.aboard)
			require.Equal(t, tt.kite, c.Kite.Name)
			require.Equal(t, tt.kite, DefaultSet()[c.Index].Name)
			require.Equal(t, tt.helium, c.Helium)
			require.Equal(t, tt.holds, c.Holds)
			require.Equal(t, tt.why, c.Why.Key)
		})
	}
}

// Gusts over what the balloon stands and lulls under what flies it bare: no
// kite holds, and it is said which limit is the nearer one past.
func TestSquallsFitNoKite(t *testing.T) {
	c := Choose(nil, 2*kn, 12*kn, 45*kn, true)
	require.False(t, c.Holds)
	require.NotEmpty(t, c.Why.Key)
}

func TestChooseWithNothingKnownOfTheKites(t *testing.T) {
	c := Choose([]models.Kite{{Name: "red"}}, 10*kn, 12*kn, 14*kn, true)
	require.Equal(t, -1, c.Index)
	require.False(t, c.Holds)
	require.False(t, c.MarginLow.Known())
	require.Equal(t, "kite.unknown_range", c.Why.Key)
	// One that is known is chosen from beside it.
	c = Choose([]models.Kite{{Name: "red"}, {Name: "blue", Min: known(8 * kn), Max: known(20 * kn)}}, 10*kn, 12*kn, 14*kn, true)
	require.Equal(t, 1, c.Index)
	low, _ := c.MarginLow.Get()
	high, _ := c.MarginHigh.Get()
	require.InDelta(t, 2, low.Knots(), 1e-9)
	require.InDelta(t, 6, high.Knots(), 1e-9)
}

func TestMoreGustNeverMakesItHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lull := units.Speed(rapid.Float64Range(0, 20).Draw(t, "lull"))
		mean := lull + units.Speed(rapid.Float64Range(0, 5).Draw(t, "over"))
		gust := mean + units.Speed(rapid.Float64Range(0, 10).Draw(t, "gust"))
		more := gust + units.Speed(rapid.Float64Range(0.01, 10).Draw(t, "more"))
		aboard := rapid.Bool().Draw(t, "helium")
		a, b := Choose(nil, lull, mean, gust, aboard), Choose(nil, lull, mean, more, aboard)
		if !a.Holds {
			require.False(t, b.Holds)
		}
		low, _ := a.MarginLow.Get()
		high, _ := a.MarginHigh.Get()
		require.Equal(t, a.Holds, low >= 0 && high >= 0 && (aboard || !a.Helium))
	})
}

// A larger set never fits worse.
func TestAnotherKiteNeverHurts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		set := rapid.SliceOfN(rapid.Custom(drawKite), 1, 4).Draw(t, "set")
		lull := units.Speed(rapid.Float64Range(0, 15).Draw(t, "lull"))
		gust := lull + units.Speed(rapid.Float64Range(0, 10).Draw(t, "gust"))
		a := Choose(set[:len(set)-1], lull, lull, gust, true)
		if len(set) > 1 && a.Holds {
			require.True(t, Choose(set, lull, lull, gust, true).Holds)
		}
	})
}

func BenchmarkChoose(b *testing.B) {
	set := DefaultSet()
	for b.Loop() {
		_ = Choose(set, 13*kn, 15*kn, 18*kn, true)
	}
}

func BenchmarkChooseInLightAir(b *testing.B) {
	set := DefaultSet()
	for b.Loop() {
		_ = Choose(set, 3*kn, 4*kn, 6*kn, true)
	}
}

func BenchmarkFly(b *testing.B) {
	k, l := DefaultSet()[1], DefaultLine()
	for b.Loop() {
		_ = Fly(k, 15*kn, l)
	}
}

func TestTheCaptainsRangeIsReadNearTheWater(t *testing.T) {
	k := AsRead(models.Kite{Name: "red", Min: known(10 * kn), Max: known(20 * kn)})
	// physics.md 1b, COARE 3.5 at U10 = 10 m/s (19.4 kn): 1.146 at 50 m and
	// 1.183 at 75 m, so between them at 60 m.
	require.Greater(t, float64(k.Max.Or(0)), 1.146*20*float64(kn))
	require.Less(t, float64(k.Max.Or(0)), 1.183*20*float64(kn))
	require.Greater(t, k.Max.Or(0), k.Min.Or(0))
	require.Equal(t, models.Kite{Name: "plain"}, AsRead(models.Kite{Name: "plain"}))
}

func TestBareNeverAsksForABalloon(t *testing.T) {
	heavy := models.Kite{Name: "heavy", Min: known(18 * kn), Max: known(34 * kn)}
	round := models.Kite{Name: "all-round", Min: known(9 * kn), Max: known(22 * kn)}
	set := []models.Kite{round, heavy}
	require.True(t, Choose(set, 17*kn, 20*kn, 24*kn, true).Helium, "lulls under the heavy one, gusts over the other")
	bare := ChooseBare(set, 17*kn, 20*kn, 24*kn)
	require.False(t, bare.Helium)
	require.Equal(t, "heavy", bare.Kite.Name)
	require.False(t, bare.Holds)
	require.Equal(t, "kite.lulls_under", bare.Why.Key)
}
