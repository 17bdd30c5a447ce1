package models_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
)

// Where the parts of the day meet is our own choice, as is the reach of clock
// times; no outside source.
func TestPartsOfTheDay(t *testing.T) {
	for clock, want := range map[string]models.DayPart{
		"00:00": models.BeforeDawn, "04:59": models.BeforeDawn, "05:00": models.EarlyMorning, "07:59": models.EarlyMorning, "08:00": models.Morning,
		"10:59": models.Morning, "11:00": models.Midday, "12:59": models.Midday, "13:00": models.Afternoon, "16:59": models.Afternoon,
		"17:00": models.Evening, "23:59": models.Evening,
	} {
		c, err := models.ParseClock(clock)
		require.NoError(t, err)
		require.Equal(t, want, models.DayPartOf(c), clock)
	}
	start := time.Date(2027, 1, 22, 12, 0, 0, 0, time.UTC)
	require.False(t, models.BeyondHours(start.Add(-72*time.Hour), start))
	require.True(t, models.BeyondHours(start.Add(-72*time.Hour-time.Minute), start))
	require.False(t, models.BeyondHours(time.Time{}, start), "nobody knows when it was made")
}

// What is booked is told as it is booked; any other time as the part of the
// day that it lies in.
func TestToldIsTheBookedTimeOrAPart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		booked := time.Date(2027, 1, 22, rapid.IntRange(0, 23).Draw(t, "hour"), 0, 0, 0, time.UTC)
		off := time.Duration(rapid.IntRange(-600, 600).Draw(t, "off")) * time.Minute
		told := models.Told(booked.Add(off), booked, time.UTC)
		if off.Abs() < 15*time.Minute {
			require.Equal(t, booked, told)
			return
		}
		at := booked.Add(off)
		require.Equal(t, models.DayPartOf(models.Clock{Hour: at.Hour(), Minute: at.Minute()}), told)
	})
}
