package app_test

import (
	"context"
	"fmt"
	"net/http"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/app"
	"forecastd/internal/fetch"
	"forecastd/internal/fetch/httpx"
	"forecastd/internal/fetch/nws"
	"forecastd/internal/models"
	"forecastd/internal/store"
)

// feedWorld is the path from the feed of warnings to the store, as the daemon
// has it, behind a service that answers as it is told.
type feedWorld struct {
	t       *rapid.T
	path    string
	at      time.Time
	status  int
	body    string
	headers map[string]string

	store     *store.Store
	collector *fetch.Collector
}

const worldZone = "AMZ997"

func (w *feedWorld) now() time.Time { return w.at }

func (w *feedWorld) RoundTrip(r *http.Request) (*http.Response, error) {
	resp := response(r, w.status, w.body)
	for k, v := range w.headers {
		resp.Header.Set(k, v)
	}
	return resp, nil
}

// start is what a restart does: only the store's file is left of before.
func (w *feedWorld) start() {
	if w.store != nil {
		require.NoError(w.t, w.store.Close())
	}
	var err error
	w.store, err = store.Open(context.Background(), store.Options{Path: w.path, SkipCheck: true, Now: w.now})
	require.NoError(w.t, err)
	c, err := httpx.New(httpx.Options{Transport: w, UserAgent: "forecastd-test (test@example.invalid)", Now: w.now, Pause: time.Microsecond})
	require.NoError(w.t, err)
	src := nws.Alerts(c, "https://example.invalid", []string{worldZone}, nil, w.now)
	src.Recall = func(ctx context.Context) (models.WarningsKept, error) {
		return w.store.WarningsKept(ctx, []string{worldZone})
	}
	w.collector = fetch.NewCollector(fetch.CollectorOptions{Sources: []fetch.Source{src}, Now: w.now})
}

// look asks the feed and lets the store see the answer.
func (w *feedWorld) look() (c fetch.Collection, news []store.WarningChange) {
	c = w.collector.Collect(context.Background())
	if seen, ok := app.FreshWarnings(c, []string{worldZone}); ok {
		var err error
		news, err = w.store.SawWarnings(context.Background(), []string{worldZone}, seen, w.at)
		require.NoError(w.t, err)
	}
	return c, news
}

func (w *feedWorld) answer(made time.Time, features string) {
	w.status, w.headers = http.StatusOK, map[string]string{"Content-Type": "application/geo+json", "Date": w.at.Format(http.TimeFormat)}
	w.body = fmt.Sprintf(`{"type":"FeatureCollection","features":[%s],"title":"invented","updated":%q}`, features, made.UTC().Format(time.RFC3339))
}

func product(action, zone string, sent time.Time) string {
	return fmt.Sprintf(`{"type":"Feature","id":"urn:%s:%d","properties":{"id":"urn:%[1]s:%[2]d","event":"Gale Warning","status":"Actual","messageType":"Alert","senderName":"NWS Amparo (invented)",
		"sent":%[3]q,"geocode":{"UGC":[%[4]q]},"parameters":{"VTEC":["/O.%[1]s.KXAM.GL.W.0001.270118T0000Z-270125T0000Z/"]}}}`, action, sent.Unix(), sent.UTC().Format(time.RFC3339), zone)
}

// Over any sequence of fresh, stale, empty, wrong, future and missing answers,
// with restarts between, "none in force" is said only when a fresh answer to
// our own question said it, and "cancelled" only when a product said so; what
// was listed is given up only after two fresh answers without it.
func TestNoneIsNeverSaidOnALie(t *testing.T) {
	folder := t.TempDir()
	n := 0
	rapid.Check(t, func(t *rapid.T) {
		n++
		w := &feedWorld{t: t, path: filepath.Join(folder, fmt.Sprint(n), "forecastd.db"), at: time.Date(2027, 1, 18, 12, 0, 0, 0, time.UTC)}
		w.start()
		defer func() { require.NoError(t, w.store.Close()) }()
		const limit = 30 * time.Minute
		var emptied, listed, newest time.Time // when fresh answers were last empty, last held the gale, and were last made
		lacking := 0                          // fresh answers in a row without it
		standing := false                     // listed, and neither cancelled nor given up
		for range rapid.IntRange(3, 14).Draw(t, "looks") {
			w.at = w.at.Add(time.Duration(rapid.IntRange(4, 25).Draw(t, "minutes")) * time.Minute)
			said := false // a product says that the gale is cancelled
			fresh := func(features string, holds bool) {
				w.answer(w.at, features)
				newest = w.at
				switch {
				case holds:
					listed, lacking, standing = w.at, 0, true
				default:
					emptied = w.at
					lacking++
				}
			}
			kind := rapid.SampledFrom([]string{"listed", "listed", "empty", "empty", "cancelled", "stale", "older", "kept", "dated", "future", "elsewhere", "small", "page", "null", "{}", "undated", "missing", "restart"}).Draw(t, "answer")
			switch kind {
			case "listed":
				fresh(product("CON", worldZone, w.at.Add(-time.Minute)), true)
			case "small":
				fresh(product("CON", "amz997", w.at.Add(-time.Minute)), true)
			case "empty":
				fresh("", false)
			case "cancelled":
				fresh(product("CAN", worldZone, w.at.Add(-time.Minute)), false)
				said, standing = true, false
			case "stale":
				w.answer(w.at.Add(-50*time.Hour), "")
			case "older":
				if newest.IsZero() {
					continue
				}
				w.answer(newest.Add(-time.Minute), "")
			case "kept":
				w.answer(w.at, "")
				w.headers["Age"] = "100000"
			case "dated":
				w.answer(w.at, "")
				w.headers["Date"] = w.at.Add(-20 * time.Hour).Format(http.TimeFormat)
			case "future":
				w.answer(w.at.Add(5*time.Hour), "")
			case "elsewhere":
				w.answer(w.at, product("NEW", "AMZ555", w.at.Add(-time.Minute)))
			case "page":
				w.answer(w.at, "")
				w.body = "<!DOCTYPE html><html><body>no warnings</body></html>"
			case "null":
				w.answer(w.at, "")
				w.body = `{"type":"FeatureCollection","features":null}`
			case "{}":
				w.answer(w.at, "")
				w.body = `{}`
			case "undated":
				w.answer(w.at, "")
				w.body = `{"type":"FeatureCollection","features":[]}`
			case "missing":
				w.status, w.body = http.StatusServiceUnavailable, ""
			case "restart":
				w.start()
				continue
			}
			c, news := w.look()
			if list, known := c.Warnings.Get(); known && len(list) == 0 {
				require.False(t, emptied.IsZero(), "none is said, and no fresh answer ever said so")
				require.LessOrEqual(t, w.at.Sub(emptied), limit, "none is said on an answer that is too old")
				require.False(t, listed.After(emptied), "none is said, and the newest fresh answer lists it")
				if standing {
					require.GreaterOrEqual(t, lacking, 2, "none is said after one answer without it")
				}
			}
			for _, x := range news {
				if x.News == store.WarningNews(models.EndCancelled) {
					require.True(t, said, "cancelled, and no product says so")
				}
				if x.News == store.WarningNews(models.EndUnlisted) {
					require.GreaterOrEqual(t, lacking, 2)
					standing = false
				}
			}
		}
	})
}
