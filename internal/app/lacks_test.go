package app_test

import (
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"strings"
	"testing"
	"time"

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

// While the feed can't be read, what stood when it was last read is told and
// binds: that it can't be seen does not end it.
func TestWhatStoodBindsWhileTheFeedIsUnknown(t *testing.T) {
	st, err := app.OpenStore(t.Context(), t.TempDir(), false, evening, nil)
	require.NoError(t, err)
	coast := invented{now: evening}
	a, err := app.New(app.Options{Config: daemonConfig(t, ""), Now: evening, Store: st, Logger: slog.New(slog.DiscardHandler), Transport: transportFunc(func(r *http.Request) (*http.Response, error) {
		if strings.HasPrefix(r.URL.Path, "/alerts/") {
			return response(r, http.StatusForbidden, "no"), nil
		}
		return coast.RoundTrip(r)
	})})
	require.NoError(t, err)
	defer func() { require.NoError(t, a.Stop(t.Context())) }()
	product := func(event string, ends time.Duration) models.Warning {
		return models.Warning{Event: event, Zone: "AMZ997", Onset: evening().Add(-5 * time.Hour), Ends: models.Known(evening().Add(ends))}
	}
	_, err = st.SawWarnings(t.Context(), []string{"AMZ997"}, models.WarningsSeen{
		Made: evening().Add(-2 * time.Hour), Whole: true, Listed: []models.Warning{product("Gale Warning", 20*time.Hour), product("Dense Fog Advisory", -time.Hour)},
	}, evening().Add(-2*time.Hour))
	require.NoError(t, err)
	c, err := a.CallFor(t.Context(), app.CallRequest{})
	require.NoError(t, err)
	require.False(t, c.Call.Warnings.Known())
	require.Equal(t, models.TacticStayIn, c.Call.Tactic)
	text := c.Text(false)
	require.Contains(t, text, "Official warnings: UNKNOWN")
	require.Contains(t, text, "What stood when they were last read")
	require.Contains(t, text, "GALE WARNING, Mon 12:30 to 13:30")
	require.NotContains(t, text, "DENSE FOG")
}
