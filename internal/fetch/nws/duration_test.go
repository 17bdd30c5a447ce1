package nws

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestParseDuration(t *testing.T) {
	for in, want := range map[string]time.Duration{
		// All of one real grid.
		"PT1H": time.Hour, "PT17H": 17 * time.Hour, "P1D": 24 * time.Hour, "P2D": 48 * time.Hour,
		"P1DT3H": 27 * time.Hour, "P6DT4H": 148 * time.Hour, "P7DT14H": 182 * time.Hour,
		// After ISO 8601.
		"PT0S": 0, "P1W": 168 * time.Hour, "PT90M": 90 * time.Minute, "P1DT2H3M4S": 26*time.Hour + 3*time.Minute + 4*time.Second,
	} {
		got, err := ParseDuration(in)
		require.NoError(t, err, in)
		require.Equal(t, want, got, in)
	}
	for _, in := range []string{
		"", "P", "PT", "1H", "P1H", "PT1D", "P1Y", "P1M", "P1Y2M3D", "PT1.5H", "P-1D", "-P1D", "P1DT", "PT1H1H", "PT1M1H",
		"P1D ", "PTT1H", "P401D", "P99999999999D", "PT2147483647H", "PX", "P1", "p1d",
	} {
		_, err := ParseDuration(in)
		require.Error(t, err, in)
	}
}

func TestParseInterval(t *testing.T) {
	now := utc(t, "2026-01-02T03:04")
	for in, want := range map[string][2]string{
		"2022-02-03T21:00:00+00:00/P7DT14H":         {"2022-02-03T21:00", "2022-02-11T11:00"},
		"2022-02-03T16:00:00-05:00/PT2H":            {"2022-02-03T21:00", "2022-02-03T23:00"},
		"2022-02-03T21:00:00Z/2022-02-04T06:00:00Z": {"2022-02-03T21:00", "2022-02-04T06:00"},
		"PT3H/2022-02-04T06:00:00Z":                 {"2022-02-04T03:00", "2022-02-04T06:00"},
		"NOW/P1D":                                   {"2026-01-02T03:04", "2026-01-03T03:04"},
		"P1D/NOW":                                   {"2026-01-01T03:04", "2026-01-02T03:04"},
		"2026-01-02T00:00:00Z/NOW":                  {"2026-01-02T00:00", "2026-01-02T03:04"},
	} {
		got, err := ParseInterval(in, now)
		require.NoError(t, err, in)
		require.Equal(t, utc(t, want[0]), got.Start, in)
		require.Equal(t, utc(t, want[1]), got.End, in)
		require.Equal(t, time.UTC, got.Start.Location())
	}
	for _, in := range []string{
		"", "/", "2022-02-03T21:00:00Z", "2022-02-03T21:00:00Z/", "2022-02-03T21:00:00Z/PT0H", "2022-02-03T21:00:00Z/P1M",
		"2022-02-04T06:00:00Z/2022-02-03T21:00:00Z", "P1D/P1D", "NOW/NOW", "2022-02-03/P1D", "0001-01-01T00:00:00Z/P1D",
	} {
		_, err := ParseInterval(in, now)
		require.Error(t, err, in)
	}
}

func TestDurationRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, h, m := rapid.IntRange(0, 300).Draw(t, "d"), rapid.IntRange(0, 99).Draw(t, "h"), rapid.IntRange(0, 99).Draw(t, "m")
		got, err := ParseDuration(fmt.Sprintf("P%dDT%dH%dM", d, h, m))
		require.NoError(t, err)
		require.Equal(t, time.Duration(d)*24*time.Hour+time.Duration(h)*time.Hour+time.Duration(m)*time.Minute, got)
	})
}

func FuzzDuration(f *testing.F) {
	for _, s := range []string{"PT1H", "P7DT14H", "NOW/P1D", "2022-02-03T21:00:00+00:00/P7DT14H", "P1Y", "PT"} {
		f.Add(s)
	}
	now := time.Date(2026, 1, 2, 3, 4, 0, 0, time.UTC)
	f.Fuzz(func(t *testing.T, s string) {
		if d, err := ParseDuration(s); err == nil {
			require.True(t, d >= 0 && d <= longestSpan)
		}
		if i, err := ParseInterval(s, now); err == nil {
			require.True(t, i.Start.Before(i.End))
		}
	})
}
