package scoring_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/drift"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
	"forecastd/internal/words"
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
	rule(t, "guests read plain words, what happens to their trip and how to reach the captain", func(t *rapid.T) {
		o := anOutlook(t)
		o.Boat.Phone, o.Boat.ReplyTo = "+1 555 0100", "captain@example.com"
		o.Members = []models.Member{o.Middle}
		var days []models.DayOutlook
		for i := range 4 {
			days = append(days, models.DayOutlook{
				Date: o.Date.AddDays(i + 1), Out: models.Known(models.Interval{Start: o.Date.AddDays(i + 1).Start(o.Port.Zone).Add(7 * time.Hour), End: o.Date.AddDays(i + 1).Start(o.Port.Zone).Add(15 * time.Hour)}), Free: models.Known(true), Tactic: models.TacticKiteSight,
				WorstRide: models.Ride(rapid.IntRange(0, 2).Draw(t, "ride")), Sea: models.Known(3 * ft),
				Confidence: rapid.SampledFrom([]models.Confidence{models.Sure, models.Likely, models.TossUp}).Draw(t, "confidence"),
				Agreement:  0.8,
			})
		}
		c := scoring.Judge(o, models.DefaultLimits(), scoring.With{Days: days})
		ch, ok := c.Charter.Get()
		require.True(t, ok)
		for _, l := range words.Languages() {
			teller := words.NewTeller(words.Reader{Language: l}, o.Port.Zone, o.Date)
			text := teller.Message(ch)
			require.Contains(t, text, "+1 555 0100")
			require.Contains(t, text, "captain@example.com")
			for _, trade := range []string{"toss-up", "doubtful", "likely,", "ride easy", "ride ok", "ride rough", "kite then sight cast", "kite,", "dudoso", "a medias"} {
				require.NotContains(t, text, trade)
			}
			subject := teller.Say(ch.Subject)
			require.NotEmpty(t, subject)
			require.NotContains(t, subject, "{")
		}
		_, going := c.Leave.Get()
		off := ch.Subject.Key == "guests.subject.off" || ch.Subject.Key == "guests.subject.move"
		require.Equal(t, !going, off, ch.Subject.Key)
		require.Equal(t, going && c.Agreement < 0.7, slices.Contains(keysOf(ch.Message), "guests.doubt"))
		list, _ := c.Warnings.Get()
		if len(list) > 0 && slices.ContainsFunc(keysOf(ch.Message), func(k string) bool { return strings.HasPrefix(k, "guests.product") }) {
			require.Contains(t, keysOf(ch.Message), "guests.single_waves")
			require.Contains(t, words.NewTeller(words.Reader{Language: words.English}, o.Port.Zone, o.Date).Message(ch), list[0].Event)
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
