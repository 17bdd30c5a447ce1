package sched_test

import (
	"fmt"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/sched"
)

var _ sched.Schedule = sched.Daily{}

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	require.NoError(t, err)
	return z
}

func at(t testing.TB, s string) time.Time {
	t.Helper()
	v, err := time.Parse("2006-01-02 15:04", s)
	require.NoError(t, err)
	return v
}

func TestDailyAcrossClockChanges(t *testing.T) {
	for _, c := range []struct {
		zone  string
		clock models.Clock
		after string
		want  []string // UTC
	}{
		// source: IANA time zone database, rules as noted.
		// New York goes to summer time on 2026-03-08 at 02:00 EST = 07:00Z.
		{"America/New_York", models.Clock{Hour: 2, Minute: 30}, "2026-03-07 00:00", []string{"2026-03-07 07:30", "2026-03-08 07:00", "2026-03-09 06:30"}},
		{"America/New_York", models.Clock{Hour: 17, Minute: 30}, "2026-03-07 12:00", []string{"2026-03-07 22:30", "2026-03-08 21:30", "2026-03-09 21:30"}},
		// and back on 2026-11-01 at 02:00 EDT = 06:00Z: 01:30 comes at 05:30Z and 06:30Z.
		{"America/New_York", models.Clock{Hour: 1, Minute: 30}, "2026-10-31 00:00", []string{"2026-10-31 05:30", "2026-11-01 05:30", "2026-11-02 06:30"}},
		// Lord Howe changes by half an hour: 2026-10-04 02:00 +10:30 = 2026-10-03 15:30Z to 02:30 +11.
		{"Australia/Lord_Howe", models.Clock{Hour: 2, Minute: 10}, "2026-10-02 00:00", []string{"2026-10-02 15:40", "2026-10-03 15:30", "2026-10-04 15:10"}},
		// and back 2027-04-04 02:00 +11 = 2027-04-03 15:00Z to 01:30 +10:30.
		{"Australia/Lord_Howe", models.Clock{Hour: 1, Minute: 45}, "2027-04-02 00:00", []string{"2027-04-02 14:45", "2027-04-03 14:45", "2027-04-04 15:15"}},
		// Havana has no midnight on 2026-03-08: 00:00 CST = 05:00Z becomes 01:00 CDT.
		{"America/Havana", models.Clock{}, "2026-03-06 12:00", []string{"2026-03-07 05:00", "2026-03-08 05:00", "2026-03-09 04:00"}},
		// and two on 2026-11-01: 04:00Z, and 05:00Z when 01:00 CDT becomes 00:00 CST.
		{"America/Havana", models.Clock{}, "2026-10-30 12:00", []string{"2026-10-31 04:00", "2026-11-01 04:00", "2026-11-02 05:00"}},
		// Apia left out 2011-12-30, going from -10 to +14 at midnight (10:00Z).
		{"Pacific/Apia", models.Clock{Hour: 6}, "2011-12-28 20:00", []string{"2011-12-29 16:00", "2011-12-30 16:00", "2011-12-31 16:00"}},
		{"Asia/Kathmandu", models.Clock{Hour: 6}, "2026-05-01 00:20", []string{"2026-05-02 00:15", "2026-05-03 00:15"}}, // +05:45
		{"Pacific/Kiritimati", models.Clock{Hour: 0}, "2026-05-01 11:00", []string{"2026-05-02 10:00"}},                 // +14
	} {
		t.Run(fmt.Sprintf("%s %s %s", c.zone, c.clock, c.after), func(t *testing.T) {
			daily := sched.Daily{At: c.clock, Zone: zone(t, c.zone)}
			now := at(t, c.after)
			for _, want := range c.want {
				now = daily.Next(now)
				require.Equal(t, want, now.Format("2006-01-02 15:04"))
			}
		})
	}
}

// Whatever the zone, the clock and the instant: the next run lies ahead, on
// the next civil day that has not had its own, and within 25 hours and a bit.
func TestDailyIsOncePerCivilDay(t *testing.T) {
	zones := []string{"UTC", "America/New_York", "Australia/Lord_Howe", "America/Havana", "Asia/Kathmandu", "Pacific/Kiritimati"}
	rapid.Check(t, func(r *rapid.T) {
		z := zone(t, rapid.SampledFrom(zones).Draw(r, "zone"))
		d := sched.Daily{At: models.Clock{Hour: rapid.IntRange(0, 23).Draw(r, "h"), Minute: rapid.IntRange(0, 59).Draw(r, "m")}, Zone: z}
		after := time.Unix(rapid.Int64Range(1700000000, 1900000000).Draw(r, "after"), 0)
		first := d.Next(after)
		require.True(r, first.After(after))
		require.LessOrEqual(r, first.Sub(after), 25*time.Hour+time.Minute)
		second := d.Next(first)
		require.Equal(r, models.DateOf(first, z).AddDays(1), models.DateOf(second, z))
		require.Equal(r, first, d.Next(first.Add(-time.Nanosecond)))
	})
}

func TestEvery(t *testing.T) {
	e, err := sched.NewEvery(6*time.Hour, 3*time.Hour+30*time.Minute)
	require.NoError(t, err)
	now := at(t, "2027-01-18 00:00")
	for _, want := range []string{"2027-01-18 03:30", "2027-01-18 09:30", "2027-01-18 15:30", "2027-01-18 21:30", "2027-01-19 03:30"} {
		now = e.Next(now)
		require.Equal(t, want, now.Format("2006-01-02 15:04"))
	}
	for _, c := range []struct {
		period, offset time.Duration
		want           string
	}{
		{30 * time.Second, 0, "too often"},
		{-time.Hour, 0, "too often"},
		{7 * time.Minute, 0, "does not divide a day"},
		{48 * time.Hour, 0, "does not divide a day"},
		{90 * time.Second, 0, "does not divide a day"},
		{time.Hour, time.Hour, "outside the period"},
		{time.Hour, -time.Minute, "outside the period"},
	} {
		_, err := sched.NewEvery(c.period, c.offset)
		require.ErrorContains(t, err, c.want)
	}
}

func TestEveryIsAligned(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		period := rapid.SampledFrom([]time.Duration{time.Minute, 5 * time.Minute, 10 * time.Minute, time.Hour, 3 * time.Hour, 24 * time.Hour}).Draw(r, "period")
		offset := time.Duration(rapid.Int64Range(0, int64(period)-1).Draw(r, "offset"))
		e, err := sched.NewEvery(period, offset)
		require.NoError(r, err)
		after := time.Unix(rapid.Int64Range(0, 4e9).Draw(r, "s"), rapid.Int64Range(0, 999999999).Draw(r, "ns"))
		next := e.Next(after)
		require.True(r, next.After(after))
		require.LessOrEqual(r, next.Sub(after), period)
		midnight := next.Truncate(24 * time.Hour)
		require.Zero(r, (next.Sub(midnight)-offset)%period)
	})
}
