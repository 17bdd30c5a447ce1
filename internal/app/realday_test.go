package app_test

import (
	"encoding/json"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/fetch/replay"
	"forecastd/internal/models"
	"forecastd/internal/testdata"
)

// An invented boat on the coast of the real gridpoint document of 2022-02-03.
const realPlace = `
ports:
  - name: invented port on a real coast
    at: 29.9000 N, 84.9800 W
    zone: America/New_York
    shore_normal: 180 deg
    grounds:
      - name: the cell of the document
        at: 30.0200 N, 84.9800 W
        depth: 100 ft
        run: 30 min
        gridpoint: {office: TAE, x: 58, y: 65}
    zones:
      - {id: AMZ651, for: trip}
boat: {name: invented, kind: center console, length: 39 ft, tower: 20 ft, crew: 3}
charters:
  usual_trip: {kind: charter, party: mixed, start: "07:00", end: "15:00", for_hire: yes, guests: 4}
sources:
  contact: nobody@example.com
  gridpoint: {use: yes, max_age: 12 h}
  alerts: {use: yes, max_age: 30 min}
  ndbc: {use: no}
  coops: {use: no}
  gridded: {use: no}
`

// realRecording makes a recording of the real files read in place.
func realRecording(t *testing.T, at time.Time, bodies map[string]string) fstest.MapFS {
	t.Helper()
	dir := testdata.Dir(t, "obs")
	fsys := fstest.MapFS{}
	m := replay.Manifest{Schema: replay.Schema, AsOf: at}
	for url, name := range bodies {
		b, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		fsys[name] = &fstest.MapFile{Data: b}
		m.Entries = append(m.Entries, replay.Entry{Method: http.MethodGet, URL: url, FetchedAt: at.Add(-time.Minute), Status: http.StatusOK,
			Header: map[string]string{"Content-Type": "application/geo+json"}, File: name, SHA256: replay.Sum(b)})
	}
	b, err := json.Marshal(m)
	require.NoError(t, err)
	fsys["manifest.json"] = &fstest.MapFile{Data: b}
	return fsys
}

// TestRealDay makes calls from the real raw gridpoint document of 2022-02-03
// at 22:30 on the 3rd there. Its wave layers are land filler.
// Run it with -v to read the call.
func TestRealDay(t *testing.T) {
	now := time.Date(2022, 2, 4, 3, 30, 0, 0, time.UTC)
	cfg, err := config.Load("real.yaml", []byte(realPlace))
	require.NoError(t, err)
	recording := realRecording(t, now, map[string]string{
		"https://api.weather.gov/gridpoints/TAE/58,65": "nws_gridpoint_TAE_58_65_2022-02-03.json",
	})
	a, err := app.NewReplay(app.Options{Config: cfg, Now: func() time.Time { return now }}, recording, true)
	require.NoError(t, err)
	defer func() { require.NoError(t, a.Stop(t.Context())) }()
	for day := range 4 {
		date := models.Date{Year: 2022, Month: 2, Day: 4 + day}
		c, err := a.CallFor(t.Context(), app.CallRequest{Date: date})
		require.NoError(t, err)
		text := c.Text(false)
		if t.Log("\n" + text); day == 0 {
			require.Equal(t, date, c.Call.Date, "22:30 on the 3rd: tomorrow is the 4th")
		}
		for _, h := range c.Call.Hours {
			require.False(t, h.Conditions.Sea.Known(), "a zero in every wave layer of a land cell is no calm")
			require.NotEqual(t, models.RideEasy, h.Ride, "an unknown sea is never easy")
		}
		require.NotEqual(t, models.Sure, c.Call.Confidence)
		require.NotEqual(t, models.Likely, c.Call.Confidence, "seas and warnings unknown")
		require.False(t, c.Call.Warnings.Known())
		require.Contains(t, text, "Official warnings: UNKNOWN")
		require.NotContains(t, strings.ToLower(text), "none in force")
		missing := strings.ToLower(text[strings.Index(text, "Missing or old"):])
		require.Contains(t, missing, "sea")
		require.Equal(t, models.Doubtful, c.Call.Confidence)
	}
	c, err := a.CallFor(t.Context(), app.CallRequest{})
	require.NoError(t, err)
	noon := c.Call.Hours[8]
	require.Equal(t, "2022-02-04T17:00:00Z", noon.At.Format(time.RFC3339))
	// Read from the document by eye: 12.964 km/h, 22.224 km/h, from 280.
	require.InDelta(t, 7, noon.Conditions.Wind.Or(0).Knots(), 0.01)
	require.InDelta(t, 12, noon.Conditions.Gust.Or(0).Knots(), 0.01)
	require.InDelta(t, 280, noon.Conditions.WindFrom.Or(0).Degrees(), 0.01)
}
