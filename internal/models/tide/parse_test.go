package tide_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models/tide"
	"forecastd/internal/models/units"
	"forecastd/internal/testdata"
)

// Source: NOAA's own answer for 9414458, in feet.
func TestParseNOAAConstants(t *testing.T) {
	dir := testdata.Dir(t, "obs")
	b, err := os.ReadFile(filepath.Join(dir, "coops_harcon_9414458.json"))
	require.NoError(t, err)
	got, err := tide.ParseConstituents(b)
	require.NoError(t, err)
	require.Len(t, got, 37)
	require.Equal(t, "M2", got[0].Name)
	require.InDelta(t, 2.71*float64(units.Foot), got[0].Amplitude, 1e-12)
	require.InDelta(t, 238.0, got[0].Phase, 0)

	b, err = os.ReadFile(filepath.Join(dir, "coops_harcon_9999531.json"))
	require.NoError(t, err)
	_, err = tide.ParseConstituents(b)
	require.ErrorContains(t, err, "the station has none")
}

func TestParseRefuses(t *testing.T) {
	for body, says := range map[string]string{
		``:       "read harmonic constants",
		`<html>`: "read harmonic constants",
		`{}`:     "the station has none",
		`{"HarmonicConstituents":[{"name":"M2","amplitude":1,"phase_GMT":1}]}`:                                                          `units ""`,
		`{"units":"fathoms","HarmonicConstituents":[{"name":"M2","amplitude":1,"phase_GMT":1}]}`:                                        "neither feet nor metres",
		`{"units":"feet","HarmonicConstituents":[{"name":"Z0","amplitude":1,"phase_GMT":1}]}`:                                           `entry 1: the constituent "Z0" is not known`,
		`{"units":"feet","HarmonicConstituents":[{"name":"M2","phase_GMT":1}]}`:                                                         "entry 1: M2 lacks amplitude",
		`{"units":"feet","HarmonicConstituents":[{"name":"M2","amplitude":1,"phase_GMT":1},{"name":"m2","amplitude":1,"phase_GMT":1}]}`: "entry 2: M2 is listed twice",
		`{"units":"metric","HarmonicConstituents":[{"name":"M2","amplitude":900,"phase_GMT":1}]}`:                                       "impossible amplitude",
	} {
		_, err := tide.ParseConstituents([]byte(body))
		require.ErrorContains(t, err, says, body)
	}
}

func FuzzParseConstituents(f *testing.F) {
	f.Add([]byte(`{"units":"feet","HarmonicConstituents":[{"name":"M2","amplitude":2.71,"phase_GMT":238.0}]}`))
	f.Add([]byte(`{"units":"meters","HarmonicConstituents":[{"name":"LDA2","amplitude":0,"phase_GMT":-1},{"name":"RHO1","amplitude":1,"phase_GMT":2}]}`))
	f.Add([]byte(`{"units":"feet","HarmonicConstituents":[{"name":"M2","amplitude":null}]}`))
	f.Add([]byte(`[]`))
	f.Fuzz(func(t *testing.T, b []byte) {
		cs, err := tide.ParseConstituents(b)
		if err != nil {
			require.Empty(t, cs)
			return
		}
		// What is read can be predicted from.
		_, err = tide.Station{Constituents: cs}.Extremes(utc("2026-01-01 00:00"), utc("2026-01-01 06:00"))
		require.NoError(t, err)
	})
}
