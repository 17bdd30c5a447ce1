package scoring_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/drift"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
)

func TestWordsForADayOut(t *testing.T) {
	t.Parallel()
	full := func(o models.Outlook) models.Call {
		o.Members = []models.Member{o.Middle}
		return scoring.Judge(o, models.DefaultLimits(), scoring.With{})
	}
	rule(t, "a trip is shortened by its length, not by the clock", func(t *rapid.T) {
		o := anOutlook(t)
		c := full(o)
		leave, out := c.Leave.Get()
		if !out {
			return
		}
		back, _ := c.Back.Get()
		booked := o.Trip.End.On(o.Date, o.Port.Zone).Sub(o.Trip.Start.On(o.Date, o.Port.Zone))
		shorter := back.Sub(leave) <= booked-15*time.Minute
		ch, _ := c.Charter.Get()
		require.Equal(t, shorter, slices.Contains(ch.Actions, models.CharterShorten), "%s of %s", back.Sub(leave), booked)
		if !shorter {
			require.NotContains(t, c.Timing, models.BackEarly)
		}
	})
	rule(t, "kite then sight cast has a kite that flies by itself", func(t *rapid.T) {
		o := anOutlook(t)
		// Light air, where balloons fly.
		o = with(o, func(h *models.Hour) {
			h.Wind = models.MapOpt(h.Wind, func(w units.Speed) units.Speed { return w / 3 })
			h.Gust = models.Known(h.Wind.Or(0) + 2*kn)
		})
		c := full(o)
		if c.Tactic != models.TacticKiteSight && c.Tactic != models.TacticSightKite {
			return
		}
		require.True(t, slices.ContainsFunc(c.Hours, func(h models.HourCall) bool {
			return h.Do == models.DoKite || h.Do == models.DoEither
		}), "%s, though no hour flies a bare kite", c.Tactic)
	})
	rule(t, "the band time and the reset are those of the drift that is made", func(t *rapid.T) {
		o := anOutlook(t)
		o.Ground.Shallow, o.Ground.Deep, o.Ground.Slope = models.Known(100*ft), models.Known(250*ft), models.Known(0.02)
		o.Boat.SeaAnchor = rapid.Bool().Draw(t, "sea anchor")
		d, ok := full(o).Drift.Get()
		if !ok {
			return
		}
		cross := drift.CrossBand(units.FlowVector(d.Speed, d.Toward), drift.Band{Shallow: 100 * ft, Deep: 250 * ft, Slope: 0.02, Offshore: o.Port.ShoreNormal})
		across, known := cross.Across.Get()
		got, told := d.AcrossBand.Get()
		require.Equal(t, known, told)
		require.InDelta(t, across.Seconds(), got.Seconds(), 1)
		if reset, ok := d.ResetEvery.Get(); ok && known {
			require.LessOrEqual(t, reset, max(across, 20*time.Minute))
		}
	})
}
