package scoring_test

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
)

// A long swell of unknown direction at the mouth, an ebb against it and a light
// breeze off the land, which cannot have raised it: no day to run the inlet.
func TestAnOffshoreBreezeDoesNotOpenAShutInlet(t *testing.T) {
	o := finding(t, "inlet_swell_wind270_-2.0")
	c := scoring.Judge(o, models.DefaultLimits(), scoring.With{})
	require.Equal(t, models.TacticStayIn, c.Tactic)
	require.Contains(t, keysOf(c.Cautions), "caution.sea_elsewhere")
	ch, _ := c.Charter.Get()
	require.NotContains(t, ch.Actions, models.CharterLee)
	for _, h := range c.Hours {
		require.True(t, h.Conditions.SeaFromElsewhere)
		require.Equal(t, "closed.inlet_sea", h.Closed.Key, h.At)
	}
	// One whose direction is told to run along the shore stays outside.
	along := scoring.Judge(with(o, func(h *models.Hour) { h.SeaFrom = models.Known(units.From(0)) }), models.DefaultLimits(), scoring.With{})
	require.NotEqual(t, models.TacticStayIn, along.Tactic)
}

func TestNoBreezeOffTheLandOpensAnInlet(t *testing.T) {
	t.Parallel()
	inlet := func(k string) bool { return len(k) > 13 && k[:13] == "closed.inlet_" }
	rule(t, "that a calm leaves shut", func(t *rapid.T) {
		o := with(anOutlook(t), func(h *models.Hour) {
			h.SeaFrom = models.Unknown[units.From]()
			// 12 kn raise 3.7 ft at most, however far and long they blow.
			h.Sea = models.Known(max(h.Sea.Or(5*ft), 4*ft))
		})
		still := with(o, func(h *models.Hour) { h.Wind, h.Gust = models.Known(0*kn), models.Known(2*kn) })
		off := between(t, 61, 299, "off the shore normal")
		breeze := units.Speed(between(t, 0, 12, "breeze")) * kn
		blown := with(still, func(h *models.Hour) {
			h.Wind, h.Gust = models.Known(breeze), models.Known(breeze+2*kn)
			h.WindFrom = models.Known(units.From(90 + off))
		})
		pairs(t, labels(still), labels(blown), func(a, b models.HourCall) {
			if inlet(a.Closed.Key) {
				require.NotEmpty(t, b.Closed.Key, "%s: %v, then open in %v from %v", a.At, a.Closed, breeze, off+90)
			}
		})
	})
	rule(t, "that a sea from the open shuts, unless it can be its own", func(t *rapid.T) {
		o := anOutlook(t)
		o = with(o, func(h *models.Hour) {
			h.Wind, h.WindFrom = models.Known(min(h.Wind.Or(0), 15*kn)), models.Known(units.From(270))
			h.Gust = models.Known(h.Wind.Or(0) + 3*kn)
			h.Sea, h.Period = models.Known(max(h.Sea.Or(5*ft), 5*ft)), models.Known(h.Period.Or(8))
		})
		// Over the few miles to the ground 15 kn raise 2 ft at most.
		open := with(o, func(h *models.Hour) { h.SeaFrom = models.Known(units.From(90)) })
		pairs(t, labels(open), labels(o), func(a, b models.HourCall) {
			require.Equal(t, a.Conditions.InletSea, b.Conditions.InletSea)
		})
	})
}
