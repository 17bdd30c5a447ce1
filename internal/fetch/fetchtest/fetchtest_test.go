package fetchtest_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch"
	"forecastd/internal/fetch/fetchtest"
	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// gauge is a small well-behaved source of two requests.
type gauge struct {
	client *httpx.Client
	base   string
}

func (gauge) Name() string          { return "gauge" }
func (gauge) MaxAge() time.Duration { return time.Hour }
func (gauge) Oldest() time.Duration { return time.Hour }

func (g gauge) Fetch(ctx context.Context) (fetch.Batch, error) {
	var b fetch.Batch
	var errs []error
	for _, station := range []string{"a", "b"} {
		resp, err := g.client.Get(ctx, httpx.Request{Source: "gauge", URL: g.base + "/" + station, Want: httpx.JSON, MaxBytes: 1 << 20, Conditional: true, Oldest: time.Hour})
		if err != nil {
			errs = append(errs, err)
			b.Notes = append(b.Notes, fmt.Sprintf("gauge %s is missing: %v", station, err))
			continue
		}
		var doc struct{ Pressure *float64 }
		if err := json.Unmarshal(resp.Body, &doc); err != nil || doc.Pressure == nil {
			errs = append(errs, resp.Bad(errors.New("no pressure in it")))
			b.Notes = append(b.Notes, fmt.Sprintf("gauge %s makes no sense", station))
			continue
		}
		from := models.Provenance{Source: "gauge", Detail: station, Fetched: resp.FetchedAt}
		b.From = append(b.From, from)
		b.Observations = append(b.Observations, models.Observation{
			Station: station, At: resp.FetchedAt, From: from,
			Pressure: models.Known(units.Pressure(*doc.Pressure) * units.Hectopascal),
		})
	}
	if len(errs) == 2 {
		return fetch.Batch{}, errs[0]
	}
	return b, nil
}

func TestGoodSourcePasses(t *testing.T) {
	now := time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC)
	fetchtest.Run(t, fetchtest.Case{
		New: func(t testing.TB, transport http.RoundTripper, base string) fetch.Source {
			c, err := httpx.New(httpx.Options{
				Transport: transport, UserAgent: "forecastd-test (test@example.invalid)",
				Now: func() time.Time { return now }, Pause: time.Millisecond,
			})
			require.NoError(t, err)
			return gauge{c, base}
		},
		Service: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			io.WriteString(w, `{"pressure": 1013.25}`)
		}),
		Oversize: 2 << 20,
		Check: func(t testing.TB, b fetch.Batch) {
			require.Len(t, b.Observations, 2)
		},
	})
}

// witness takes the failure of a check instead of the test.
type witness struct {
	testing.TB
	failed bool
}

func (w *witness) Helper()               {}
func (w *witness) Errorf(string, ...any) { w.failed = true }
func (w *witness) Fatalf(string, ...any) { w.failed = true; runtime.Goexit() }
func (w *witness) FailNow()              { w.failed = true; runtime.Goexit() }

func objects(t *testing.T, b fetch.Batch) bool {
	w := &witness{TB: t}
	done := make(chan struct{})
	go func() {
		defer close(done)
		fetchtest.Plausible(w, b)
	}()
	<-done
	return w.failed
}

func TestPlausibleObjects(t *testing.T) {
	at := time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC)
	from := models.Provenance{Source: "gauge", Fetched: at}
	obs := func(change func(*models.Observation)) fetch.Batch {
		o := models.Observation{Station: "a", At: at, From: from, Wind: models.Known(8 * units.Knot)}
		change(&o)
		return fetch.Batch{Observations: []models.Observation{o}}
	}
	hour := models.Hour{At: at}
	require.False(t, objects(t, obs(func(*models.Observation) {})))
	for name, b := range map[string]fetch.Batch{
		"storm of storms":    obs(func(o *models.Observation) { o.Wind = models.Known(300 * units.Knot) }),
		"not a number":       obs(func(o *models.Observation) { o.Period = models.Known(nan()) }),
		"local time":         obs(func(o *models.Observation) { o.At = at.In(time.FixedZone("x", 3600)) }),
		"nobody's":           obs(func(o *models.Observation) { o.Station = "" }),
		"out of nowhere":     obs(func(o *models.Observation) { o.From = models.Provenance{} }),
		"sentinel":           obs(func(o *models.Observation) { o.Sea = models.Known(99 * units.Metre) }),
		"direction 999":      obs(func(o *models.Observation) { o.WindFrom = models.Known(units.From(999)) }),
		"boiling":            obs(func(o *models.Observation) { o.Water = models.Known(units.Celsius(100)) }),
		"hour twice":         {Inlet: []models.Hour{hour, hour}},
		"series without age": {Series: []models.Series{{Source: "x"}}},
		"tide of no kind":    {Tides: []models.TideEvent{{At: at, Datum: "MLLW", From: from}}},
		"warning backwards":  {Warnings: models.Known([]models.Warning{{Event: "x", Onset: at, Ends: models.Known(at.Add(-1)), From: from}})},
		"text of two lines":  {Notes: []string{"a\nb"}},
	} {
		require.True(t, objects(t, b), name)
	}
}

func nan() float64 { z := 0.0; return z / z }
