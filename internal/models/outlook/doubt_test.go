package outlook_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
	"forecastd/internal/models/units"
)

func TestContradictionsAreDoubted(t *testing.T) {
	gap := func(what, why string) models.Gap { return models.Gap{What: what, Why: why} }
	for name, x := range map[string]struct {
		change func(h *models.Hour)
		check  func(t *testing.T, h models.Hour)
		gap    models.Gap
	}{
		"gust 1 kn in a wind of 14": {
			func(h *models.Hour) { h.Wind, h.Gust = models.Known(14*units.Knot), models.Known(1*units.Knot) },
			func(t *testing.T, h models.Hour) {
				require.False(t, h.Gust.Known())
				require.Equal(t, models.Known(14*units.Knot), h.Wind, "the wind stays, as the graver of the two")
			},
			gap("gusts", "gusts below the wind can't be: they are taken as unknown"),
		},
		"sea 0 beside a swell of 1 ft": {
			func(h *models.Hour) { h.Sea, h.Swell = models.Known(0*units.Foot), models.Known(1*units.Foot) },
			func(t *testing.T, h models.Hour) { require.False(t, h.Sea.Known() || h.Period.Known()) },
			gap("seas", "a sea below its own swell can't be: it is taken as unknown"),
		},
		"a wind below zero": {
			func(h *models.Hour) { h.Wind = models.Known(-3 * units.Knot) },
			func(t *testing.T, h models.Hour) { require.False(t, h.Wind.Known()) },
			gap("wind", "values that can't be: they are taken as unknown"),
		},
		"a chance of thunder that is no number": {
			func(h *models.Hour) { h.Thunder = models.Known(math.NaN()) },
			func(t *testing.T, h models.Hour) { require.False(t, h.Thunder.Known()) },
			gap("thunder", "values that can't be: they are taken as unknown"),
		},
	} {
		t.Run(name, func(t *testing.T) {
			in := input(t)
			for i := range in.Series[0].Hours {
				x.change(&in.Series[0].Hours[i])
			}
			o := outlook.Build(in)
			x.check(t, o.Middle.Hours[5])
			require.Contains(t, o.Missing, x.gap)
			n := 0
			for _, g := range o.Missing {
				if g.What == x.gap.What {
					n++
				}
			}
			require.Equal(t, 1, n, "one reason for one lack: %v", o.Missing)

			// Another source stands in, and the doubt is told all the same.
			sound := input(t).Series[0]
			sound.Source = "second"
			in.Series = append(in.Series, sound)
			o = outlook.Build(in)
			require.True(t, o.Middle.Hours[5].Sea.Known())
			require.Contains(t, o.Missing, x.gap)
		})
	}
	// Whole knots and feet may differ by their rounding, and are believed.
	in := input(t)
	for i := range in.Series[0].Hours {
		h := &in.Series[0].Hours[i]
		h.Wind, h.Gust, h.Sea, h.Swell = models.Known(14*units.Knot), models.Known(13.2*units.Knot), models.Known(2*units.Foot), models.Known(2.4*units.Foot)
	}
	o := outlook.Build(in)
	require.True(t, o.Middle.Hours[5].Gust.Known() && o.Middle.Hours[5].Sea.Known())
}

// Over any values: no course holds a gust below its wind, a sea below its
// swell or a value that can't be; and what is sound stays known.
func TestNoCourseContradictsItself(t *testing.T) {
	in := input(t)
	original := in.Series[0].Hours
	rapid.Check(t, func(t *rapid.T) {
		any := func(label string) models.Opt[float64] {
			if rapid.Bool().Draw(t, label+" known") {
				return models.Known(rapid.SampledFrom([]float64{-1, 0, 0.5, 1, 3, 14, 40, 99, 1e6, math.Inf(1), math.NaN()}).Draw(t, label))
			}
			return models.Unknown[float64]()
		}
		in.Series[0].Hours = append([]models.Hour(nil), original...)
		for i := range in.Series[0].Hours {
			if i%7 != 0 {
				continue
			}
			h := &in.Series[0].Hours[i]
			knots := func(v float64) units.Speed { return units.Speed(v) * units.Knot }
			feet := func(v float64) units.Length { return units.Length(v) * units.Foot }
			h.Wind, h.Gust = models.MapOpt(any("wind"), knots), models.MapOpt(any("gust"), knots)
			h.Sea, h.Swell, h.Period = models.MapOpt(any("sea"), feet), models.MapOpt(any("swell"), feet), any("period")
			h.Thunder, h.Cloud = any("thunder"), any("cloud")
		}
		o := outlook.Build(in)
		for _, m := range append([]models.Member{o.Middle}, o.Members...) {
			for _, h := range m.Hours {
				w, g := float64(h.Wind.Or(0)), float64(h.Gust.Or(0))
				require.False(t, w < 0 || math.IsNaN(w) || w > float64(250*units.Knot), "wind %v", w)
				if h.Wind.Known() && h.Gust.Known() {
					require.GreaterOrEqual(t, g, w-float64(1.5*units.Knot), "gust below wind")
				}
				sea := float64(h.Sea.Or(0))
				require.False(t, sea < 0 || math.IsNaN(sea) || sea > 60, "sea %v", sea)
				for _, p := range []float64{h.Thunder.Or(0), h.Cloud.Or(0)} {
					require.True(t, p >= 0 && p <= 100, "a share of %v", p)
				}
			}
		}
	})
}
