package words_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/words"
)

func aheadDay() models.DayOutlook {
	at := func(hour int) time.Time { return time.Date(2027, 1, 19, hour, 0, 0, 0, time.UTC) }
	return models.DayOutlook{
		Date: models.Date{Year: 2027, Month: 1, Day: 19}, Tactic: models.TacticKite, Confidence: models.Likely, Agreement: 0.8,
		Out:       models.Known(models.Interval{Start: at(7), End: at(15)}),
		KiteFlown: []models.Interval{{Start: at(8), End: at(14)}},
		Wind:      models.Known(12 * units.Knot), WindFrom: models.Known(units.From(45)), Gust: models.Known(17 * units.Knot),
		BestRide: models.RideOK, WorstRide: models.RideOK, Rides: map[models.Party]models.Ride{models.Family: models.RideOK},
		Free: models.Known(true), Warnings: models.Known([]models.Warning{}),
	}
}

func TestADayAheadIsTold(t *testing.T) {
	teller := words.NewTeller(words.Reader{}, time.UTC, models.Date{Year: 2027, Month: 1, Day: 18})
	d := aheadDay()
	a := teller.Ahead(d, false)
	require.Equal(t, words.Ahead{
		Say: "kite, out 07:00 to 15:00", Doubt: "likely (80 of 100 forecast scenarios)",
		Official: []string{"no official warning in force or coming, as of the last reading"},
		Met:      []string{"wind NE 12 kn, gusts to 17 kn", "seas unknown", "ride ok", "kites fly, but not well, 08:00-14:00"},
		Booked:   "nothing is booked: the day can be offered",
	}, a)

	// Past the reach of warnings none is no promise; without the feed nobody knows.
	d.PastWarnings = true
	require.Equal(t, []string{"past the reach of official warnings: they may still be issued"}, teller.Ahead(d, false).Official)
	d.Warnings = models.Unknown[[]models.Warning]()
	a = teller.Ahead(d, false)
	require.True(t, a.Rule)
	require.Equal(t, []string{"official warnings UNKNOWN: listen to the official broadcast"}, a.Official)
	d.Warnings = models.Known([]models.Warning{{Event: "Small Craft Advisory", Onset: time.Date(2027, 1, 19, 15, 0, 0, 0, time.UTC)}})
	d.PastWarnings = false
	a = teller.Ahead(d, false)
	require.True(t, a.Rule)
	require.Equal(t, []string{"SMALL CRAFT ADVISORY, Tue 15:00 to further notice"}, a.Official)

	d.Bookings = []models.Booking{{Name: "the Larsens", Trip: models.Trip{Start: models.Clock{Hour: 7}, End: models.Clock{Hour: 15}}}}
	d.Free = models.Known(false)
	require.Equal(t, "booked: 07:00 to 15:00", teller.Ahead(d, false).Booked)
	require.Equal(t, "booked: 07:00 to 15:00, the Larsens", teller.Ahead(d, true).Booked)

	d.Wind, d.Gust = models.Unknown[units.Speed](), models.Unknown[units.Speed]()
	require.Equal(t, "wind unknown", teller.Ahead(d, false).Met[0])
}

// Whatever is known of a day, it is offered only where the boat goes in a wind
// that somebody forecasts, nobody has it and it is not doubtful; and no kite
// day is said to have no hours for kites.
func TestOnlyDaysThatMayBeAreOffered(t *testing.T) {
	teller := words.NewTeller(words.Reader{}, time.UTC, models.Date{Year: 2027, Month: 1, Day: 18})
	rapid.Check(t, func(t *rapid.T) {
		d := aheadDay()
		d.Confidence = rapid.SampledFrom([]models.Confidence{models.Sure, models.Likely, models.TossUp, models.Doubtful}).Draw(t, "confidence")
		going, wind, free := rapid.Bool().Draw(t, "going"), rapid.Bool().Draw(t, "wind"), rapid.SampledFrom([]models.Opt[bool]{models.Known(true), models.Known(false), {}}).Draw(t, "free")
		d.Free = free
		if !going {
			d.Out, d.Tactic, d.KiteFlown = models.Unknown[models.Interval](), models.TacticStayIn, nil
		}
		if !wind {
			d.Wind = models.Unknown[units.Speed]()
		}
		may := going && wind && free.Or(true) && d.Confidence != models.Doubtful
		text := teller.Days([]models.DayOutlook{d}, false)
		require.Equal(t, may, strings.Contains(text, "Days to offer"))
		require.Equal(t, may && free.Known(), strings.Contains(text, "can be offered"))
		require.Equal(t, !going, strings.Contains(text, "no kite window"))
	})
}
