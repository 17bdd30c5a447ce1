package models_test

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

func zone(t *testing.T, name string) *time.Location {
	z, err := time.LoadLocation(name)
	require.NoError(t, err)
	return z
}

func TestUnknownIsNull(t *testing.T) {
	b, err := json.Marshal(struct{ A, B models.Opt[float64] }{A: models.Known(0.0)})
	require.NoError(t, err)
	require.JSONEq(t, `{"A":0,"B":null}`, string(b))
	var v struct{ A, B, C models.Opt[float64] }
	require.NoError(t, json.Unmarshal([]byte(`{"A":0,"B":null}`), &v))
	require.True(t, v.A.Known())
	require.False(t, v.B.Known())
	require.False(t, v.C.Known())
	require.Error(t, json.Unmarshal([]byte(`{"A":"0"}`), &v))
}

func TestCivilDaysAcrossClockChanges(t *testing.T) {
	// source: IANA time zone database.
	for _, c := range []struct {
		zone  string
		date  models.Date
		hours float64
	}{
		{"UTC", models.Date{Year: 2026, Month: 3, Day: 8}, 24},
		{"America/New_York", models.Date{Year: 2026, Month: 3, Day: 8}, 23},
		{"America/New_York", models.Date{Year: 2026, Month: 11, Day: 1}, 25},
		{"Australia/Lord_Howe", models.Date{Year: 2026, Month: 10, Day: 4}, 23.5},
		{"America/Havana", models.Date{Year: 2026, Month: 3, Day: 8}, 23}, // midnight does not exist
		{"Asia/Kathmandu", models.Date{Year: 2026, Month: 3, Day: 8}, 24},
		{"Pacific/Kiritimati", models.Date{Year: 2026, Month: 3, Day: 8}, 24},
	} {
		i := c.date.Interval(zone(t, c.zone))
		require.Equal(t, c.hours, i.Duration().Hours(), "%s %s", c.zone, c.date)
		require.Equal(t, c.date, models.DateOf(i.Start, zone(t, c.zone)))
		require.Equal(t, c.date.AddDays(1), models.DateOf(i.End, zone(t, c.zone)))
	}
	require.Equal(t, models.Date{Year: 2027, Month: 3, Day: 1}, models.Date{Year: 2027, Month: 2, Day: 28}.AddDays(1))
}

func TestClockInTheGapAndInTheRepeatedHour(t *testing.T) {
	ny := zone(t, "America/New_York")
	gap := models.Clock{Hour: 2, Minute: 30}.On(models.Date{Year: 2026, Month: 3, Day: 8}, ny)
	require.Equal(t, "2026-03-08T07:00:00Z", gap.Format(time.RFC3339), "02:30 does not exist: 03:00 EDT")
	twice := models.Clock{Hour: 1, Minute: 30}.On(models.Date{Year: 2026, Month: 11, Day: 1}, ny)
	require.Equal(t, "2026-11-01T05:30:00Z", twice.Format(time.RFC3339), "the first of two")
	lh := models.Clock{Hour: 2, Minute: 10}.On(models.Date{Year: 2026, Month: 10, Day: 4}, zone(t, "Australia/Lord_Howe"))
	require.Equal(t, "02:30", lh.In(zone(t, "Australia/Lord_Howe")).Format("15:04"))
	// Lord Howe goes back from 02:00 +11 = 15:00Z to 01:30 +10:30: east of
	// Greenwich time.Date answers the second 01:45.
	again := models.Clock{Hour: 1, Minute: 45}.On(models.Date{Year: 2027, Month: 4, Day: 4}, zone(t, "Australia/Lord_Howe"))
	require.Equal(t, time.Date(2027, 4, 3, 14, 45, 0, 0, time.UTC), again)
	// Amman had two midnights on 2021-10-29, at 21:00Z (+3) and 22:00Z (+2).
	require.Equal(t, time.Date(2021, 10, 28, 21, 0, 0, 0, time.UTC), models.Date{Year: 2021, Month: 10, Day: 29}.Start(zone(t, "Asia/Amman")))
	havana := models.Clock{}.On(models.Date{Year: 2026, Month: 3, Day: 8}, zone(t, "America/Havana"))
	require.Equal(t, "01:00", havana.In(zone(t, "America/Havana")).Format("15:04"))
	for _, s := range []string{"7:00", "25:00", "07:60", "0700", ""} {
		_, err := models.ParseClock(s)
		require.Error(t, err, s)
	}
}

func TestWarningWithoutEndHoldsOn(t *testing.T) {
	onset := time.Date(2027, 1, 1, 12, 0, 0, 0, time.UTC)
	w := models.Warning{Onset: onset}
	require.False(t, w.InForce(onset.Add(-time.Second)))
	require.True(t, w.InForce(onset.AddDate(1, 0, 0)))
	w.Ends = models.Known(onset.Add(time.Hour))
	require.False(t, w.InForce(onset.Add(time.Hour)))
	require.False(t, w.During(models.Interval{Start: onset.Add(time.Hour), End: onset.Add(2 * time.Hour)}))
}

func TestRampKnots(t *testing.T) {
	r := models.DefaultLimits().KiteWind
	for kn, want := range map[float64]float64{3: 0, 4: 0, 6.5: 0.5, 9: 1, 18: 1, 24: 0.5, 30: 0, 40: 0} {
		require.InDelta(t, want, r.At(units.Speed(kn)*units.Knot), 1e-9, "%v kn", kn)
	}
}

func TestVTECCodes(t *testing.T) {
	p, s, ok := models.VTECCodes("/O.NEW.KXAM.SC.Y.0035.271215T2100Z-271217T0000Z/")
	require.True(t, ok)
	require.Equal(t, "SC.Y", p+"."+s)
	_, _, ok = models.VTECCodes("O.NEW")
	require.False(t, ok)
}
