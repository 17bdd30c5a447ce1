package app_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/app"
)

// A grid whose gusts lie below its wind and whose sea is nothing beside a
// swell is told as what it is, and no hour is printed or judged by it.
func TestAGridThatContradictsItselfIsDoubtedInTheCall(t *testing.T) {
	coast := invented{now: evening}
	a, err := app.New(app.Options{Config: daemonConfig(t, ""), Now: evening, Transport: transportFunc(func(r *http.Request) (*http.Response, error) {
		if !strings.HasPrefix(r.URL.Path, "/gridpoints/") {
			return coast.RoundTrip(r)
		}
		doc := coast.gridpoint().(map[string]any)
		p := doc["properties"].(map[string]any)
		flat := func(unit string, v float64) any {
			return map[string]any{"uom": unit, "values": []any{map[string]any{"validTime": p["validTimes"], "value": v}}}
		}
		p["windGust"], p["waveHeight"] = flat("wmoUnit:km_h-1", 1.852), flat("wmoUnit:m", 0)
		p["primarySwellHeight"], p["primarySwellDirection"] = flat("wmoUnit:m", 0.3048), flat("wmoUnit:degree_(angle)", 90)
		return coast.json(r, doc)
	})})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Stop(t.Context())) })
	c, err := a.CallFor(t.Context(), app.CallRequest{})
	require.NoError(t, err)
	text := oneLine(app.CallsText([]app.Called{c}, false))
	require.Contains(t, text, "gusts below the wind can't be: they are taken as unknown")
	require.Contains(t, text, "a sea below its own swell can't be: it is taken as unknown")
	require.NotRegexp(t, `\d+-1 kn`, text)
	require.NotRegexp(t, `ride\s+easy|=== easy`, text)
	for _, h := range c.Call.Hours {
		require.False(t, h.Conditions.Gust.Known())
		require.False(t, h.Conditions.Sea.Known())
	}
}
