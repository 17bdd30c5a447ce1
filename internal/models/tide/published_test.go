package tide_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/tide"
	"forecastd/internal/models/units"
	"forecastd/internal/testdata"
)

type highLow struct {
	at     string
	kind   models.TideKind
	height float64 // m
}

func requireHighLow(t *testing.T, want []highLow, got []models.TideEvent, within time.Duration, metres float64) {
	t.Helper()
	require.Len(t, got, len(want))
	for i, w := range want {
		require.Equal(t, w.kind, got[i].Kind, "event %d", i)
		require.WithinDuration(t, utc(w.at), got[i].At, within, "event %d", i)
		require.InDelta(t, w.height, got[i].Height.Metres(), metres, "event %d at %s", i, w.at)
	}
}

// Source: NOAA CO-OPS predictions for 8724307 Content Keys, MLLW, GMT, as
// served by its data service. Published to the minute and the millimetre:
// half a unit of each is the tolerance, plus a hair for the rounding of the
// reference times before the offsets are added.
func TestContentKeysAsPublishedByNOAA(t *testing.T) {
	got, err := contentKeys(t).Extremes(utc("2025-12-17 00:00"), utc("2025-12-19 00:00"))
	require.NoError(t, err)
	requireHighLow(t, []highLow{
		{"2025-12-17 02:55", models.HighWater, 1.128},
		{"2025-12-17 10:57", models.LowWater, -0.044},
		{"2025-12-17 16:48", models.HighWater, 0.658},
		{"2025-12-17 22:04", models.LowWater, 0.337},
		{"2025-12-18 03:33", models.HighWater, 1.148},
		{"2025-12-18 11:35", models.LowWater, -0.099},
		{"2025-12-18 17:25", models.HighWater, 0.640},
		{"2025-12-18 22:40", models.LowWater, 0.316},
	}, got, 35*time.Second, 0.001)
}

// Source: NOAA CO-OPS hourly predictions for 8720030 Fernandina Beach, datum
// STND, metric, GMT, 2021-01-01, with the constants of the same station.
// Constants are given to 1 mm and 0.1 degree, predictions to 1 mm: with 37
// constituents the roundings add up to about a millimetre.
func TestFernandinaHourlyAsPublishedByNOAA(t *testing.T) {
	f := load(t, "obs", "tidedb_noaa_8720030.json")
	s := tide.Station{Name: f.Name, Constituents: f.constituents(1), Mean: units.Length(f.Datums["MSL"]), Datum: "STND"}
	b, err := os.ReadFile(filepath.Join(testdata.Dir(t, "obs"), "coops_predictions_hourly_8720030_2021-01-01.json"))
	require.NoError(t, err)
	var doc struct {
		Predictions []struct{ T, V string }
	}
	require.NoError(t, json.Unmarshal(b, &doc))
	require.Len(t, doc.Predictions, 24)
	var worst float64
	for _, p := range doc.Predictions {
		want, err := strconv.ParseFloat(p.V, 64)
		require.NoError(t, err)
		got, ok := s.HeightAt(utc(p.T)).Get()
		require.True(t, ok)
		worst = max(worst, math.Abs(got.Metres()-want))
	}
	t.Logf("worst difference %.1f mm", worst*1000)
	require.Less(t, worst, 0.0015)
}

// Source: physics notes, own predictions from NOAA constants with the same
// method in another program (heights to 1 mm, times to the minute).
func TestPredictionsOfAnotherProgram(t *testing.T) {
	day := func(s string) (time.Time, time.Time) { return utc(s + " 00:00"), utc(s+" 00:00").AddDate(0, 0, 1) }
	t.Run("Key West", func(t *testing.T) {
		from, _ := day("2025-12-17")
		got, err := heights(t, "8724580").Extremes(from, from.AddDate(0, 0, 2))
		require.NoError(t, err)
		requireHighLow(t, []highLow{
			{"2025-12-17 00:09", models.HighWater, 0.529}, {"2025-12-17 07:08", models.LowWater, -0.024},
			{"2025-12-17 14:02", models.HighWater, 0.309}, {"2025-12-17 18:15", models.LowWater, 0.184},
			{"2025-12-18 00:47", models.HighWater, 0.539}, {"2025-12-18 07:46", models.LowWater, -0.054},
			{"2025-12-18 14:39", models.HighWater, 0.300}, {"2025-12-18 18:51", models.LowWater, 0.173},
		}, got, 35*time.Second, 0.001)
	})
	t.Run("Virginia Key", func(t *testing.T) {
		from, to := day("2026-01-15")
		s := heights(t, "8723214")
		got, err := s.Extremes(from, to)
		require.NoError(t, err)
		requireHighLow(t, []highLow{
			{"2026-01-15 05:03", models.LowWater, -0.031}, {"2026-01-15 11:30", models.HighWater, 0.537},
			{"2026-01-15 17:27", models.LowWater, 0.076}, {"2026-01-15 23:32", models.HighWater, 0.502},
		}, got, time.Minute, 0.001)
		h, ok := s.HeightAt(utc("2026-01-15 12:00")).Get()
		require.True(t, ok)
		require.InDelta(t, 0.5257, h.Metres(), 0.0005)
	})
	t.Run("streams", func(t *testing.T) {
		type event struct {
			at   string
			kind models.StreamKind
			kn   float64
		}
		from, to := day("2026-01-15")
		for id, want := range map[string][]event{
			"MIH0901": {
				{"03:12", models.Ebb, -2.056}, {"06:11", models.Slack, 0}, {"09:46", models.Flood, 2.051}, {"12:28", models.Slack, 0},
				{"15:55", models.Ebb, -1.791}, {"18:42", models.Slack, 0}, {"21:53", models.Flood, 1.489},
			},
			"LWI0901": {
				{"02:00", models.Ebb, -0.975}, {"04:56", models.Slack, 0}, {"08:55", models.Flood, 1.727}, {"11:57", models.Slack, 0},
				{"14:55", models.Ebb, -1.020}, {"17:51", models.Slack, 0}, {"21:19", models.Flood, 1.107},
			},
		} {
			s := stream(t, id)
			got, err := s.CurrentEvents(from.Add(time.Hour), to)
			require.NoError(t, err)
			for i, w := range want {
				require.Equal(t, w.kind, got[i].Kind, "%s event %d", id, i)
				require.WithinDuration(t, utc("2026-01-15 "+w.at), got[i].At, time.Minute, "%s event %d", id, i)
				require.InDelta(t, w.kn, got[i].Speed.Knots(), 0.001, "%s event %d", id, i)
				switch toward, ok := got[i].Toward.Get(); w.kind {
				case models.Slack:
					require.False(t, ok)
				case models.Flood:
					require.Equal(t, s.Flood, toward)
				case models.Ebb:
					require.Equal(t, s.Ebb, toward)
				}
			}
		}
	})
}
