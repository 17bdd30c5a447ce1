package tide_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/tide"
	"forecastd/internal/models/units"
	"forecastd/internal/testdata"
)

// stationFile is how the sample folder keeps NOAA's public constants.
type stationFile struct {
	ID       string  `json:"id"`
	Name     string  `json:"name"`
	Lat      float64 `json:"latitude"`
	Lon      float64 `json:"longitude"`
	Datum    string  `json:"chart_datum"`
	Datums   map[string]float64
	Harmonic []struct {
		Name             string
		Amplitude, Phase float64
	} `json:"harmonic_constituents"`
	Offsets struct {
		Reference string
		Time      struct{ High, Low float64 }
		Height    struct{ High, Low float64 }
	}
	Current struct {
		Flood   float64 `json:"flood_direction"`
		Ebb     float64 `json:"ebb_direction"`
		Mean    float64 `json:"mean_flow"`
		Offsets struct {
			SlackBeforeFlood float64 `json:"slack_before_flood"`
			SlackBeforeEbb   float64 `json:"slack_before_ebb"`
			FloodTime        float64 `json:"flood_time"`
			EbbTime          float64 `json:"ebb_time"`
			FloodRatio       float64 `json:"flood_speed_ratio"`
			EbbRatio         float64 `json:"ebb_speed_ratio"`
		}
	}
}

func load(t testing.TB, folder, name string) stationFile {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(testdata.Dir(t, folder), name))
	require.NoError(t, err)
	var f stationFile
	require.NoError(t, json.Unmarshal(b, &f))
	return f
}

func (f stationFile) constituents(scale float64) []tide.Constituent {
	var out []tide.Constituent
	for _, c := range f.Harmonic {
		out = append(out, tide.Constituent{Name: c.Name, Amplitude: c.Amplitude * scale, Phase: c.Phase})
	}
	return out
}

func heights(t testing.TB, id string) tide.Station {
	f := load(t, "tides", "noaa-"+id+".json")
	return tide.Station{
		ID: f.ID, Name: f.Name, At: models.Position{Lat: f.Lat, Lon: f.Lon}, Constituents: f.constituents(1),
		Mean: units.Length(f.Datums["MSL"] - f.Datums["MLLW"]), Datum: "MLLW",
	}
}

func stream(t testing.TB, id string) tide.Stream {
	f := load(t, "tides", "noaa-"+id+".json")
	return tide.Stream{
		ID: f.ID, Name: f.Name, At: models.Position{Lat: f.Lat, Lon: f.Lon},
		Axes:         tide.Axes{Flood: units.Toward(f.Current.Flood), Ebb: units.Toward(f.Current.Ebb)},
		Mean:         units.Speed(f.Current.Mean) * units.Knot,
		Constituents: f.constituents(float64(units.Knot)),
	}
}

func contentKeys(t testing.TB) tide.Subordinate {
	f := load(t, "tides", "noaa-8724307.json")
	minutes := func(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }
	return tide.Subordinate{
		ID: f.ID, Name: f.Name, Reference: heights(t, "8724580"),
		Offsets: tide.Offsets{
			High: minutes(f.Offsets.Time.High), Low: minutes(f.Offsets.Time.Low),
			HighRatio: f.Offsets.Height.High, LowRatio: f.Offsets.Height.Low,
		},
	}
}

func utc(s string) time.Time {
	t, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		panic(err)
	}
	return t
}
