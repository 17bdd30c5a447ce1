package app_test

import (
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/models"
)

// A part that fails is named in the call, though its source answers: one
// station of two, the wind of the official grid, and a station whose file is an
// old copy.
func TestWhatASourceLacksIsNamedInTheCall(t *testing.T) {
	text := strings.Replace(daemonText, "stations: [{id: XAMP1, for: [wind, upwind], anemometer: 12 m}]",
		"stations: [{id: XAMP1, for: [wind, upwind], anemometer: 12 m}, {id: XAMP2, for: [wind], anemometer: 5 m}]", 1)
	cfg, err := config.Load("forecastd.yaml", []byte(text))
	require.NoError(t, err)
	gapsOf := func(change func(path, body string) (int, string)) map[string]string {
		coast := invented{now: evening}
		a, err := app.New(app.Options{Config: cfg, Now: evening, Logger: slog.New(slog.DiscardHandler), Transport: transportFunc(func(r *http.Request) (*http.Response, error) {
			resp, err := coast.RoundTrip(r)
			if err != nil {
				return nil, err
			}
			b, err := io.ReadAll(resp.Body)
			require.NoError(t, err)
			status, body := change(r.URL.Path, string(b))
			out := response(r, status, body)
			out.Header = resp.Header
			return out, nil
		})})
		require.NoError(t, err)
		defer func() { require.NoError(t, a.Stop(t.Context())) }()
		c, err := a.CallFor(t.Context(), app.CallRequest{})
		require.NoError(t, err)
		gaps := map[string]string{}
		for _, g := range c.Outlook.Missing {
			gaps[g.What] = g.Why
		}
		said, err := json.Marshal(c.Call.Missing)
		require.NoError(t, err)
		for what := range gaps {
			if strings.HasPrefix(what, models.SourceStations) || strings.HasPrefix(what, models.SourceGridpoint) {
				require.Contains(t, string(said), what, "the call says it")
			}
		}
		return gaps
	}
	whole := gapsOf(func(_, body string) (int, string) { return 200, body })
	require.NotContains(t, whole, "ndbc XAMP2")
	require.NotContains(t, whole, "nws gridpoint: wind direction")

	one := gapsOf(func(path, body string) (int, string) {
		if strings.Contains(path, "XAMP2") {
			return 404, "no such station"
		}
		return 200, body
	})
	require.Contains(t, one, "ndbc XAMP2")
	require.Contains(t, one["ndbc XAMP2"], "its observations: not found")
	require.NotContains(t, one, "ndbc XAMP1")

	wind := gapsOf(func(path, body string) (int, string) {
		if strings.HasPrefix(path, "/gridpoints/") {
			body = strings.Replace(body, `"windDirection":{"uom":"wmoUnit:degree_(angle)"`, `"windDirection":{"uom":"wmoUnit:furlong"`, 1)
		}
		return 200, body
	})
	require.Contains(t, wind["nws gridpoint: wind direction"], "wmoUnit:furlong")
}
