package nws

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

func hourAt(t testing.TB, hours []models.Hour, at string) models.Hour {
	t.Helper()
	for _, h := range hours {
		if h.At.Equal(utc(t, at)) {
			return h
		}
	}
	t.Fatalf("no hour at %s", at)
	return models.Hour{}
}

// TestParseGridpointTallahassee: a real grid of a cell on the coast. Numbers
// read off the file: 20.372 km/h are 11 kn, 29.632 are 16.
func TestParseGridpointTallahassee(t *testing.T) {
	g, err := ParseGridpoint(obs(t, "nws_gridpoint_TAE_58_65_2022-02-03.json"), time.Time{})
	require.NoError(t, err)
	require.Equal(t, "TAE", g.Office)
	require.Equal(t, []int{58, 65}, []int{g.X, g.Y}, "strings in the file")
	require.Equal(t, time.Date(2022, 2, 4, 3, 15, 41, 0, time.UTC), g.Updated)
	require.Equal(t, models.Interval{Start: utc(t, "2022-02-03T21:00"), End: utc(t, "2022-02-11T11:00")}, g.Valid)
	require.Len(t, g.Hours, 182)
	for i, h := range g.Hours {
		require.Equal(t, g.Valid.Start.Add(time.Duration(i)*time.Hour), h.At)
	}

	h := g.Hours[0]
	require.Equal(t, models.Known(11*units.Knot), h.Wind)
	require.Equal(t, models.Known(16*units.Knot), h.Gust)
	require.Equal(t, models.Known(units.From(160)), h.WindFrom)
	require.Equal(t, models.Known(units.Fahrenheit(73)), h.Air)
	require.Equal(t, models.Known(71.0), h.Cloud)
	require.Equal(t, models.Known(8.0), h.Rain)
	require.Equal(t, models.Known(10*units.StatuteMile), h.Visibility)
	require.False(t, h.Thunder.Known(), "no number, and no thunder in words")

	// 21:00 + 2 h at 11 kn, then 9 kn (16.668 km/h) at 23:00, 7 kn at 00:00.
	require.Equal(t, models.Known(11*units.Knot), hourAt(t, g.Hours, "2022-02-03T22:00").Wind)
	require.Equal(t, models.Known(9*units.Knot), hourAt(t, g.Hours, "2022-02-03T23:00").Wind)
	require.Equal(t, models.Known(7*units.Knot), hourAt(t, g.Hours, "2022-02-04T00:00").Wind)
	require.Equal(t, models.Known(units.From(170)), hourAt(t, g.Hours, "2022-02-04T03:00").WindFrom, "22:00 + 6 h")
	require.Equal(t, models.Known(units.From(180)), hourAt(t, g.Hours, "2022-02-04T04:00").WindFrom)
	require.Equal(t, models.Known(20.0), hourAt(t, g.Hours, "2022-02-04T06:00").Thunder, "isolated thunderstorms")

	require.True(t, g.NoSea, "a single zero for P6DT4H and no swell")
	for _, h := range g.Hours {
		require.False(t, h.Sea.Known() || h.Period.Known() || h.SeaFrom.Known() || h.Swell.Known() || h.SeaIncludesCurrent.Known(), h.At)
	}
	// The wind ends with its last interval: 08:00 + 2 h at 1 kn.
	require.Equal(t, models.Known(1*units.Knot), hourAt(t, g.Hours, "2022-02-11T09:00").Wind)
	require.False(t, hourAt(t, g.Hours, "2022-02-11T10:00").Wind.Known())
	require.Len(t, g.Notes, 2, "%q", g.Notes)
	require.Contains(t, g.Notes[0], "unknown, not calm")
}

// TestParseGridpointMilwaukee: a real marine cell, cut to one interval a
// layer. 0.3048 m are 1 ft, 18.52 km/h 10 kn, 25.928 km/h 14 kn.
func TestParseGridpointMilwaukee(t *testing.T) {
	g, err := ParseGridpoint(obs(t, "nws_gridpoint_marine_MKX_90_67_excerpt_2024.json"), time.Time{})
	require.NoError(t, err)
	require.Empty(t, g.Notes)
	require.False(t, g.NoSea)
	require.Equal(t, []int{90, 67}, []int{g.X, g.Y})
	require.Len(t, g.Hours, 20, "validTimes go on, the layers do not")

	want := models.Hour{
		At:   utc(t, "2024-06-10T20:00"),
		Wind: models.Known(10 * units.Knot), Gust: models.Known(14 * units.Knot), WindFrom: models.Known(units.From(30)),
		Sea: models.Known(1 * units.Foot), Period: models.Known(4.0), SeaFrom: models.Known(units.From(30)),
		SeaIncludesCurrent: models.Known(true),
		Cloud:              models.Known(4.0), Rain: models.Known(0.0), Thunder: models.Known(0.0),
		Air: models.Known(units.Fahrenheit(60)),
	}
	require.Equal(t, want, g.Hours[0])
	want.At = utc(t, "2024-06-11T15:00")
	require.Equal(t, want, g.Hours[19])

	s := g.Series("the edge", utc(t, "2024-06-11T03:00"))
	require.True(t, s.Official)
	require.Equal(t, "nws gridpoint", s.Source)
	require.Equal(t, time.Date(2024, 6, 11, 2, 54, 57, 0, time.UTC), s.Run)
}

// grid makes a document from layers: name to "uom values".
func grid(layers map[string]string) []byte {
	s := `{"properties":{"updateTime":"2026-01-10T08:00:00Z","validTimes":"2026-01-10T06:30:00Z/PT6H","gridId":"XXX","gridX":1,"gridY":"2"`
	for name, l := range layers {
		s += fmt.Sprintf(`,%q:%s`, name, l)
	}
	return []byte(s + `}}`)
}

func values(uom string, pairs ...string) string {
	var v []string
	for i := 0; i < len(pairs); i += 2 {
		v = append(v, fmt.Sprintf(`{"validTime":%q,"value":%s}`, "2026-01-10T"+pairs[i], pairs[i+1]))
	}
	return fmt.Sprintf(`{"uom":%q,"values":[%s]}`, uom, strings.Join(v, ","))
}

// TestParseGridpointRules: cases of our own making.
func TestParseGridpointRules(t *testing.T) {
	t.Run("gaps, nulls and hours", func(t *testing.T) {
		g, err := ParseGridpoint(grid(map[string]string{
			"windSpeed": values("unit:m_s-1", "06:00:00Z/PT2H", "5", "08:00:00Z/PT1H", "null", "10:30:00Z/2026-01-10T11:30:00Z", "7.5"),
		}), time.Time{})
		require.NoError(t, err)
		var at []string
		for _, h := range g.Hours {
			at = append(at, h.At.Format("15:04"))
		}
		// 06:00 lies before the start of validTimes, 08 is null, 09 and 10 a gap.
		require.Equal(t, []string{"07:00", "11:00"}, at)
		require.Equal(t, models.Known(units.Speed(5)), g.Hours[0].Wind, "9.72 kn is no whole number of knots")
	})
	t.Run("units and what can't be", func(t *testing.T) {
		g, err := ParseGridpoint(grid(map[string]string{
			"windSpeed":                  values("furlong_h-1", "07:00:00Z/PT3H", "5"),
			"windGust":                   values("km_h-1", "07:00:00Z/PT1H", "-5", "08:00:00Z/PT1H", "9999", "09:00:00Z/PT1H", `"x"`),
			"windDirection":              values("uc:degree_(angle)", "07:00:00Z/PT1H", "361", "08:00:00Z/P1M", "10"),
			"waveHeight":                 values("wmoUnit:m", "07:00:00Z/PT1H", "2"),
			"wavePeriod":                 values("nwsUnit:s", "07:00:00Z/PT1H", "0"),
			"probabilityOfThunder":       `{"values":[{"validTime":"2026-01-10T07:00:00Z/PT1H","value":101}]}`,
			"probabilityOfPrecipitation": `7`,
			"visibility":                 values("wmoUnit:km", "07:00:00Z/PT1H", "2"),
			"temperature":                values("wmoUnit:K", "07:00:00Z/PT1H", "300"),
		}), time.Time{})
		require.NoError(t, err)
		require.Len(t, g.Hours, 1)
		h := g.Hours[0]
		require.False(t, h.Wind.Known() || h.Gust.Known() || h.WindFrom.Known() || h.Thunder.Known() || h.Rain.Known() || h.Period.Known())
		require.Equal(t, models.Known(units.Length(2)), h.Sea)
		require.Equal(t, models.Known(units.Length(2000)), h.Visibility)
		require.InDelta(t, 300, h.Air.Or(0).Kelvin(), 1e-9)
		require.Len(t, g.Notes, 6, "%q", g.Notes)
	})
	t.Run("swell and wind sea", func(t *testing.T) {
		layers := map[string]string{
			"waveHeight":            values("wmoUnit:m", "07:00:00Z/PT2H", "1.8288"),
			"wavePeriod":            values("nwsUnit:s", "07:00:00Z/PT2H", "9"),
			"primarySwellHeight":    values("wmoUnit:m", "07:00:00Z/PT2H", "1.2192"),
			"primarySwellDirection": values("wmoUnit:degree_(angle)", "07:00:00Z/PT2H", "70"),
			"windWaveHeight":        values("wmoUnit:m", "07:00:00Z/PT1H", "0.9144", "08:00:00Z/PT1H", "1.524"),
		}
		g, err := ParseGridpoint(grid(layers), time.Time{})
		require.NoError(t, err)
		require.Equal(t, models.Known(6*units.Foot), g.Hours[0].Sea)
		require.Equal(t, models.Known(4*units.Foot), g.Hours[0].Swell)
		require.Equal(t, models.Known(units.From(70)), g.Hours[0].SwellFrom)
		require.Equal(t, models.Known(9.0), g.Hours[0].Period)
		require.Equal(t, models.Known(9.0), g.Hours[0].SwellPeriod)
		require.False(t, g.Hours[1].Period.Known(), "5 ft of wind sea do not come every 9 s")
		require.Equal(t, models.Known(9.0), g.Hours[1].SwellPeriod)
		require.Len(t, g.Notes, 1)
	})
	t.Run("a calm sea is no filler", func(t *testing.T) {
		g, err := ParseGridpoint(grid(map[string]string{
			"waveHeight": values("wmoUnit:m", "07:00:00Z/PT4H", "0"),
			"wavePeriod": values("nwsUnit:s", "07:00:00Z/PT4H", "2"),
		}), time.Time{})
		require.NoError(t, err)
		require.False(t, g.NoSea)
		require.Equal(t, models.Known(units.Length(0)), g.Hours[0].Sea)
	})
	t.Run("words for thunder", func(t *testing.T) {
		weather := `{"values":[{"validTime":"2026-01-10T07:00:00Z/PT1H","value":[{"coverage":"chance","weather":"thunderstorms"},{"coverage":"isolated","weather":"thunderstorms"}]},` +
			`{"validTime":"2026-01-10T08:00:00Z/PT1H","value":[{"coverage":"unheard_of","weather":"thunderstorms"}]},` +
			`{"validTime":"2026-01-10T09:00:00Z/PT1H","value":[{"coverage":"likely","weather":"thunderstorms"}]},` +
			`{"validTime":"2026-01-10T10:00:00Z/PT1H","value":[{"coverage":"likely","weather":"rain"}]}]}`
		g, err := ParseGridpoint(grid(map[string]string{
			"weather": weather, "probabilityOfThunder": values("", "09:00:00Z/PT1H", "15"), "skyCover": values("percent", "07:00:00Z/PT4H", "50"),
		}), time.Time{})
		require.NoError(t, err)
		require.Equal(t, models.Known(40.0), g.Hours[0].Thunder)
		require.Equal(t, models.Known(90.0), g.Hours[1].Thunder)
		require.Equal(t, models.Known(15.0), g.Hours[2].Thunder, "the number goes before the word")
		require.False(t, g.Hours[3].Thunder.Known())
	})
}

func TestParseGridpointRefuses(t *testing.T) {
	for name, body := range map[string]string{
		"not JSON":      `nope`,
		"problem":       string(obs(t, "nws_problem_marine_forecast_404.json")),
		"null":          `null`,
		"no times":      `{"properties":{}}`,
		"bad times":     `{"properties":{"validTimes":"soon","updateTime":"2026-01-10T08:00:00Z"}}`,
		"far too long":  `{"properties":{"validTimes":"2026-01-10T06:30:00Z/P300D","updateTime":"2026-01-10T08:00:00Z"}}`,
		"no update":     `{"properties":{"validTimes":"2026-01-10T06:30:00Z/P3D"}}`,
		"no cell":       strings.Replace(string(grid(nil)), `"gridX":1`, `"gridX":[]`, 1),
		"no values":     string(grid(nil)),
		"only rejected": string(grid(map[string]string{"windSpeed": values("km_h-1", "07:00:00Z/PT1H", "1e9")})),
	} {
		t.Run(name, func(t *testing.T) {
			_, err := ParseGridpoint([]byte(body), time.Time{})
			require.ErrorContains(t, err, "read gridpoint")
		})
	}
}

func TestParsePoint(t *testing.T) {
	p, err := ParsePoint(obs(t, "nws_points_40.743_-74.029.json"))
	require.NoError(t, err)
	require.Equal(t, Point{Office: "OKX", GridX: 1, GridY: 1, Zone: "NJZ006", TimeZone: "America/New_York", Marine: models.Known(false)}, p)
	for _, body := range []string{``, `{}`, `null`, string(obs(t, "nws_problem_marine_forecast_404.json")), `{"properties":{"gridId":"OKX"}}`, `{"properties":{"gridId":"../x","gridX":1,"gridY":1}}`, `{"properties":{"gridId":"OKX","gridX":"east","gridY":1}}`} {
		_, err := ParsePoint([]byte(body))
		require.ErrorContains(t, err, "read point", body)
	}
}

func TestCoordinate(t *testing.T) {
	// The service answers more than four decimals, and trailing zeros, with a
	// redirect.
	for in, want := range map[float64]string{25.8: "25.8", -80.05: "-80.05", 25.123456: "25.1235", -0.00001: "0", 80: "80", -80.1200: "-80.12"} {
		require.Equal(t, want, coordinate(in))
	}
}

func BenchmarkParseGridpoint(b *testing.B) {
	body := obs(b, "nws_gridpoint_TAE_58_65_2022-02-03.json")
	for b.Loop() {
		_, err := ParseGridpoint(body, time.Time{})
		require.NoError(b, err)
	}
}

func FuzzGridpoint(f *testing.F) {
	f.Add(grid(map[string]string{"windSpeed": values("wmoUnit:km_h-1", "07:00:00Z/PT3H", "18.52"), "weather": `{"values":[]}`}))
	f.Add([]byte(`{"properties":{"validTimes":"NOW/P1D","updateTime":"2026-01-10T08:00:00Z","waveHeight":{"uom":"m","values":[{"validTime":"PT1H/NOW","value":1}]}}}`))
	now := time.Date(2026, 1, 10, 0, 0, 0, 0, time.UTC)
	f.Fuzz(func(t *testing.T, b []byte) {
		g, err := ParseGridpoint(b, now)
		if err != nil {
			return
		}
		require.LessOrEqual(t, len(g.Hours), longestGrid)
		for _, h := range g.Hours {
			require.True(t, g.Valid.Contains(h.At))
			if w, ok := h.Wind.Get(); ok {
				require.True(t, w >= 0 && w <= 150*units.Knot)
			}
			_, err := json.Marshal(h.Sea)
			require.NoError(t, err)
		}
	})
}
