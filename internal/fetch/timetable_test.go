package fetch_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/fetch"
	"forecastd/internal/models"
)

func TestTimetables(t *testing.T) {
	at := func(s string) time.Time {
		v, err := time.Parse(time.RFC3339, s)
		require.NoError(t, err)
		return v
	}
	eastern, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	text := fetch.AtClocks(eastern, models.Clock{Hour: 15, Minute: 45}, models.Clock{Hour: 3, Minute: 45})
	for _, tt := range []struct {
		table      fetch.Timetable
		last, next string
	}{
		{fetch.Each(4 * time.Minute), "2027-01-18T22:01:30Z", "2027-01-18T22:05:30Z"},
		{fetch.AtMinutes(30, 10, 50), "2027-01-18T22:09:59Z", "2027-01-18T22:10:00Z"},
		{fetch.AtMinutes(30, 10, 50), "2027-01-18T22:10:00Z", "2027-01-18T22:30:00Z"},
		{fetch.AtMinutes(30, 10, 50), "2027-01-18T23:50:00Z", "2027-01-19T00:10:00Z"},
		{text, "2027-01-18T20:44:00Z", "2027-01-18T20:45:00Z"}, // 15:45 EST
		{text, "2027-01-18T20:45:00Z", "2027-01-19T08:45:00Z"},
		// Daylight saving time begins on 2027-03-14 (15 U.S.C. 260a).
		{text, "2027-03-13T21:00:00Z", "2027-03-14T07:45:00Z"},
	} {
		require.Equal(t, at(tt.next), tt.table(at(tt.last)).UTC(), "after %s", tt.last)
	}
}

func TestATimetableGoesOn(t *testing.T) {
	eastern, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		last := time.Unix(rapid.Int64Range(1.8e9, 2.0e9).Draw(t, "last"), 0)
		for _, table := range []fetch.Timetable{fetch.AtMinutes(10, 30, 50), fetch.AtClocks(eastern, models.Clock{Hour: 2, Minute: 30})} {
			next := table(last)
			require.True(t, next.After(last))
			require.LessOrEqual(t, next.Sub(last), 25*time.Hour)
		}
	})
}
