package nws

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch"
	"forecastd/internal/fetch/fetchtest"
	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

func clock(at time.Time) func() time.Time { return func() time.Time { return at } }

func client(t testing.TB, transport http.RoundTripper, now func() time.Time) *httpx.Client {
	t.Helper()
	c, err := httpx.New(httpx.Options{
		Transport: transport, UserAgent: "forecastd-test (test@example.org)", Now: now, Pause: time.Millisecond,
	})
	require.NoError(t, err)
	return c
}

// service answers by path and query; anything else is 404 with a problem
// document, as the real service does.
func service(answers map[string][]byte) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, ok := answers[r.URL.RequestURI()]
		if !ok {
			w.Header().Set("Content-Type", "application/problem+json")
			w.WriteHeader(http.StatusNotFound)
			io.WriteString(w, `{"title":"Not Found","status":404,"detail":"there is no such thing"}`)
			return
		}
		w.Header().Set("Content-Type", "application/geo+json")
		w.Write(body)
	})
}

func TestAlertsSource(t *testing.T) {
	now := utc(t, captured)
	fetchtest.Run(t, fetchtest.Case{
		New: func(t testing.TB, transport http.RoundTripper, base string) fetch.Source {
			return Alerts(client(t, transport, clock(now)), base+"/", []string{"AMZ651", "LMZ740", "AMZ651"}, nil, clock(now))
		},
		Service: service(map[string][]byte{
			"/alerts/active?zone=AMZ651,LMZ740": obs(t, "nws_alerts_active_2025-12-15_subset.geojson"),
		}),
		Check: func(t testing.TB, b fetch.Batch) {
			ws, ok := b.Warnings.Get()
			require.True(t, ok)
			require.Equal(t, []string{
				"SC.Y 0035 15T17:24 to 17T00:00", "SC.Y 0113 15T21:52 to 15T22:00", "SC.Y 0114 16T16:00 to 17T09:00",
			}, briefs(ws))
			require.Equal(t, models.Provenance{Source: "nws alerts", Detail: "AMZ651", Issued: utc(t, "2025-12-15T17:24"), Fetched: now}, ws[0].From)
			require.Empty(t, b.Notes)
		},
		Older: service(map[string][]byte{
			"/alerts/active?zone=AMZ651,LMZ740": dated(t, []byte(`{"type":"FeatureCollection","features":[]}`), now.Add(-5*time.Minute)),
		}),
	})
}

func TestGridpointSource(t *testing.T) {
	now := utc(t, "2024-06-11T03:00")
	ground := models.Ground{Name: "the edge", At: models.Position{Lat: 43.05, Lon: -87.65}}
	fetchtest.Run(t, fetchtest.Case{
		New: func(t testing.TB, transport http.RoundTripper, base string) fetch.Source {
			return Gridpoint(client(t, transport, clock(now)), base, ground, models.Unknown[Point](), clock(now))
		},
		Service: service(map[string][]byte{
			"/points/43.05,-87.65":  []byte(`{"properties":{"type":"marine","gridId":"MKX","gridX":90,"gridY":67}}`),
			"/gridpoints/MKX/90,67": obs(t, "nws_gridpoint_marine_MKX_90_67_excerpt_2024.json"),
		}),
		Check: func(t testing.TB, b fetch.Batch) {
			require.Len(t, b.Series, 1)
			require.Equal(t, "the edge", b.Series[0].Ground)
			require.True(t, b.Series[0].Official)
			require.Equal(t, models.Known(10*units.Knot), b.Series[0].Hours[0].Wind)
			require.False(t, b.Warnings.Known(), "it says nothing about warnings")
			require.Equal(t, "MKX 90,67", b.From[0].Detail)
		},
		Older: service(map[string][]byte{
			"/points/43.05,-87.65":  []byte(`{"properties":{"type":"marine","gridId":"MKX","gridX":90,"gridY":67}}`),
			"/gridpoints/MKX/90,67": earlierGrid(t, obs(t, "nws_gridpoint_marine_MKX_90_67_excerpt_2024.json"), 2*time.Hour),
		}),
	})
}

// earlierGrid is a grid that the office changed so much earlier.
func earlierGrid(t testing.TB, body []byte, by time.Duration) []byte {
	t.Helper()
	g, err := ParseGridpoint(body, time.Time{})
	require.NoError(t, err)
	var doc map[string]any
	require.NoError(t, json.Unmarshal(body, &doc))
	doc["properties"].(map[string]any)["updateTime"] = g.Updated.Add(-by).Format(time.RFC3339)
	b, err := json.Marshal(doc)
	require.NoError(t, err)
	return b
}

// earlierText holds the morning's product only, which is the evening's with an
// earlier time.
func earlierText(t testing.TB) http.Handler {
	t.Helper()
	text := strings.ReplaceAll(wireToAPI(string(obs(t, "text_CWFSEW_2024-12-20_raw_crcrlf.txt"))), "309 PM PST Fri Dec 20 2024", "809 AM PST Fri Dec 20 2024")
	product, err := json.Marshal(map[string]string{"id": "a-1", "issuanceTime": "2024-12-20T16:09:00+00:00", "productCode": "CWF", "productText": text})
	require.NoError(t, err)
	return service(map[string][]byte{
		"/products/types/CWF/locations/SEW": []byte(`{"@graph":[{"id":"a-1","issuanceTime":"2024-12-20T16:09:00+00:00"}]}`),
		"/products/a-1":                     product,
	})
}

func coastalAnswers(t testing.TB) map[string][]byte {
	t.Helper()
	product, err := json.Marshal(map[string]string{
		"id": "b-2", "issuanceTime": "2024-12-20T23:09:00+00:00", "productCode": "CWF",
		"productText": wireToAPI(string(obs(t, "text_CWFSEW_2024-12-20_raw_crcrlf.txt"))),
	})
	require.NoError(t, err)
	return map[string][]byte{
		"/products/types/CWF/locations/SEW": []byte(`{"@graph":[
			{"id":"a-1","issuanceTime":"2024-12-20T11:00:00+00:00"},
			{"id":"b-2","issuanceTime":"2024-12-20T23:09:00+00:00"},
			{"id":"../x","issuanceTime":"2024-12-21T23:09:00+00:00"}]}`),
		"/products/b-2": product,
	}
}

func TestCoastalSource(t *testing.T) {
	now := utc(t, "2024-12-20T23:30")
	fetchtest.Run(t, fetchtest.Case{
		New: func(t testing.TB, transport http.RoundTripper, base string) fetch.Source {
			return CoastalText(client(t, transport, clock(now)), base, "SEW", []string{"PZZ135", "PZZ150"}, clock(now))
		},
		Service: service(coastalAnswers(t)),
		Check: func(t testing.TB, b fetch.Batch) {
			require.Len(t, b.Texts, 2)
			require.Equal(t, "PZZ135", b.Texts[0].Zone, "in the order asked for")
			require.Equal(t, "Puget Sound and Hood Canal", b.Texts[0].Name)
			require.Len(t, b.Texts[1].Headlines, 2)
			require.Empty(t, b.Notes)
			require.Equal(t, utc(t, "2024-12-20T23:09"), b.From[0].Issued)
		},
		Older: earlierText(t),
	})
}

func TestCoastalSourceLooksFurther(t *testing.T) {
	// The newest product is a correction for one zone; the one before it has
	// the other, and nobody has the third.
	text := func(zone, body string) []byte {
		b, err := json.Marshal(map[string]string{"issuanceTime": "2025-01-31T20:30:00Z",
			"productText": "FZUS52 KXXX 312030\nCWFXXX\n\n" + zone + "-010815-\nInvented waters-\n330 PM EST Fri Jan 31 2025\n\n" + body + "\n\n$$\n"})
		require.NoError(t, err)
		return b
	}
	s := httptest.NewServer(service(map[string][]byte{
		"/products/types/CWF/locations/XXX": []byte(`{"@graph":[{"id":"old","issuanceTime":"2025-01-31T10:30:00Z"},{"id":"new","issuanceTime":"2025-01-31T20:30:00Z"}]}`),
		"/products/new":                     text("XXZ050", ".TONIGHT...N wind."),
		"/products/old":                     text("XXZ050-051", ".TODAY...S wind."),
	}))
	defer s.Close()
	now := clock(utc(t, "2025-02-01T09:00"))
	b, err := CoastalText(client(t, http.DefaultTransport, now), s.URL, "XXX", []string{"XXZ050", "XXZ051", "XXZ052"}, now).Fetch(t.Context())
	require.NoError(t, err)
	require.Len(t, b.Texts, 2)
	require.Equal(t, ".TONIGHT...N wind.", b.Texts[0].Body)
	require.Equal(t, ".TODAY...S wind.", b.Texts[1].Body)
	require.Contains(t, strings.Join(b.Notes, "\n"), "was to be replaced at 08:15 UTC on 1 February")
	require.Contains(t, strings.Join(b.Notes, "\n"), "the coastal waters forecast of XXX has nothing for XXZ052")
}

// changing is a service whose answer can be changed between two fetches.
type changing struct {
	mu   sync.Mutex
	body []byte
	code int
}

func (c *changing) set(code int, body []byte) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.code, c.body = code, body
}

func (c *changing) ServeHTTP(w http.ResponseWriter, _ *http.Request) {
	c.mu.Lock()
	defer c.mu.Unlock()
	w.WriteHeader(c.code)
	w.Write(c.body)
}

// TestAlertsFlicker: what drops out of the feed is gone after two good
// answers without it, a failure is none of them, and a stale copy does not
// bring back what was cancelled.
func TestAlertsFlicker(t *testing.T) {
	sc := made{ID: "a", Event: "Small Craft Advisory", Sent: "2026-01-10T06:00:00Z", VTEC: "/O.NEW.KXXX.SC.Y.0001.260110T0600Z-260111T0600Z/", Zones: []string{"XXZ050"}}
	cancelled := sc
	cancelled.ID, cancelled.Sent, cancelled.VTEC = "b", "2026-01-10T11:00:00Z", "/O.CAN.KXXX.SC.Y.0001.000000T0000Z-260111T0600Z/"
	with, without, cancel := feedOf(t, sc), feedOf(t), feedOf(t, cancelled)
	broken := []byte(`{"title":"down"}`)

	type step struct {
		code int
		body []byte
		want int // warnings, -1 for an error
		note bool
	}
	for name, steps := range map[string][]step{
		"comes back":           {{200, with, 1, false}, {200, without, 1, true}, {200, with, 1, false}, {200, without, 1, true}},
		"gone after two":       {{200, with, 1, false}, {200, without, 1, true}, {200, without, 0, false}, {200, without, 0, false}},
		"a failure is none":    {{200, with, 1, false}, {503, nil, -1, false}, {200, without, 1, true}, {200, broken, -1, false}, {200, without, 0, false}},
		"cancelled at once":    {{200, with, 1, false}, {200, cancel, 0, false}},
		"a stale copy":         {{200, with, 1, false}, {200, cancel, 0, false}, {200, with, 0, false}},
		"never seen":           {{200, without, 0, false}},
		"failure at the start": {{503, nil, -1, false}, {200, with, 1, false}},
	} {
		t.Run(name, func(t *testing.T) {
			service := &changing{}
			s := httptest.NewServer(service)
			defer s.Close()
			at := utc(t, "2026-01-10T12:00")
			now := func() time.Time { return at }
			src := Alerts(client(t, http.DefaultTransport, now), s.URL, []string{"XXZ050"}, nil, now)
			for i, st := range steps {
				at = at.Add(4 * time.Minute)
				service.set(st.code, dated(t, st.body, at))
				b, err := src.Fetch(t.Context())
				ws, known := b.Warnings.Get()
				if st.want < 0 {
					require.Error(t, err, "step %d", i)
					require.False(t, known)
					continue
				}
				require.NoError(t, err, "step %d", i)
				require.True(t, known)
				require.Len(t, ws, st.want, "step %d", i)
				require.Equal(t, st.note, len(b.Notes) > 0, "step %d: %q", i, b.Notes)
			}
		})
	}
}

// TestAlertsMemoryIsBounded: an endless stream of new events leaves no more
// behind than the last answers held.
func TestAlertsMemoryIsBounded(t *testing.T) {
	service := &changing{}
	s := httptest.NewServer(service)
	defer s.Close()
	at := utc(t, "2026-01-10T12:00")
	now := func() time.Time { return at }
	src := Alerts(client(t, http.DefaultTransport, now), s.URL, []string{"XXZ050"}, nil, now)
	for i := range 50 {
		at = at.Add(4 * time.Minute)
		service.set(200, dated(t, feedOf(t, made{ID: fmt.Sprint(i), Event: "Gale Warning", Sent: "2026-01-10T06:00:00Z", Zones: []string{"XXZ050"},
			VTEC: fmt.Sprintf("/O.NEW.KXXX.GL.W.%04d.260110T0600Z-000000T0000Z/", i)}), at))
		_, err := src.Fetch(t.Context())
		require.NoError(t, err)
	}
	require.Len(t, src.ledger.entries, gone)
}

func TestAlertsTellWhenTheAreaPassesBy(t *testing.T) {
	at := utc(t, "2025-08-21T18:00")
	s := httptest.NewServer(service(map[string][]byte{
		"/alerts/active?zone=AMZ650": dated(t, obs(t, "nws_alert_special_marine_warning_KMFL_2025-08-21.geojson"), at),
	}))
	defer s.Close()
	now := clock(at)
	fetchAt := func(p models.Position) fetch.Batch {
		b, err := Alerts(client(t, http.DefaultTransport, now), s.URL, []string{"AMZ650"}, []models.Position{p}, now).Fetch(t.Context())
		require.NoError(t, err)
		ws, _ := b.Warnings.Get()
		require.Len(t, ws, 1, "it is shown either way")
		return b
	}
	require.Empty(t, fetchAt(models.Position{Lat: 26.6, Lon: -79.95}).Notes)
	require.Contains(t, fetchAt(models.Position{Lat: 26.05, Lon: -80.05}).Notes[0], "does not reach the port")
}

func TestGridpointFindsItsCellAnew(t *testing.T) {
	var mu sync.Mutex
	asked, x := map[string]int{}, 90
	grid := obs(t, "nws_gridpoint_marine_MKX_90_67_excerpt_2024.json")
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		defer mu.Unlock()
		asked[r.URL.Path]++
		switch r.URL.Path {
		case "/points/43.05,-87.65":
			fmt.Fprintf(w, `{"properties":{"type":"land","gridId":"MKX","gridX":%d,"gridY":67}}`, x)
		case fmt.Sprintf("/gridpoints/MKX/%d,67", x):
			w.Write([]byte(strings.Replace(string(grid), `"gridX": "90"`, fmt.Sprintf(`"gridX": "%d"`, x), 1)))
		default:
			http.NotFound(w, r)
		}
	}))
	defer s.Close()
	now := utc(t, "2024-06-13T03:00")
	ground := models.Ground{Name: "the edge", At: models.Position{Lat: 43.05, Lon: -87.65}}
	c := client(t, http.DefaultTransport, clock(now))
	src := Gridpoint(c, s.URL, ground, models.Unknown[Point](), func() time.Time { return now })
	ask := func() fetch.Batch {
		b, err := src.Fetch(t.Context())
		require.NoError(t, err)
		return b
	}
	b := ask()
	require.Len(t, b.Notes, 2, "%q", b.Notes)
	require.Contains(t, b.Notes[0], "48 hours ago")
	require.Contains(t, b.Notes[1], "takes the position of the ground for land")
	ask()
	require.Equal(t, 1, asked["/points/43.05,-87.65"], "believed for a day")
	mu.Lock()
	x = 91 // the office moves the origin of its grid
	mu.Unlock()
	require.Equal(t, "MKX 91,67", ask().From[0].Detail)
	require.Equal(t, 2, asked["/points/43.05,-87.65"])
	now = now.Add(25 * time.Hour)
	ask()
	require.Equal(t, 3, asked["/points/43.05,-87.65"])
}

func TestGridpointExpired(t *testing.T) {
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, "/points/") {
			io.WriteString(w, `{"properties":{"gridId":"MKX","gridX":90,"gridY":67}}`)
			return
		}
		w.WriteHeader(http.StatusServiceUnavailable)
		io.WriteString(w, `{"type":"https://api.weather.gov/problems/ForecastGridExpired","title":"Forecast Grid Expired","status":503,"detail":"The requested forecast grid was issued 2024-06-10."}`)
	}))
	defer s.Close()
	c := client(t, http.DefaultTransport, time.Now)
	_, err := Gridpoint(c, s.URL, models.Ground{At: models.Position{Lat: 43, Lon: -87}}, models.Unknown[Point](), time.Now).Fetch(t.Context())
	requireKind(t, err, models.KindServer, "the office's grid has expired, it comes back with the office's next forecast: The requested forecast grid")
}

func TestLookups(t *testing.T) {
	s := httptest.NewServer(service(map[string][]byte{
		"/points/40.743,-74.029": obs(t, "nws_points_40.743_-74.029.json"),
		"/zones/forecast/AMZ651": []byte(`{"properties":{"id":"AMZ651","type":"coastal","name":"Coastal waters from Deerfield Beach to Ocean Reef FL out 20 NM","cwa":["MFL"],"timeZone":["America/New_York"]}}`),
		"/zones/forecast/AMZ650": []byte(`{"properties":{"id":"AMZ651","name":"another"}}`),
		"/zones/county/FLC086":   []byte(`{"properties":{"id":"FLC086","type":"county","name":"Miami-Dade"}}`),
		"/zones/forecast/AMZ610": []byte(`{"properties":{}}`),
	}))
	defer s.Close()
	c := client(t, http.DefaultTransport, time.Now)

	p, err := LookupPoint(t.Context(), c, s.URL, models.Position{Lat: 40.743, Lon: -74.02900001})
	require.NoError(t, err)
	require.Equal(t, "OKX", p.Office)
	_, err = LookupPoint(t.Context(), c, s.URL, models.Position{Lat: 1, Lon: 2})
	requireKind(t, err, models.KindNotFound, "no forecast grid at this position: there is no such thing")
	_, err = LookupPoint(t.Context(), c, s.URL, models.Position{Lat: 91})
	requireKind(t, err, models.KindBadConfig, "is no position")

	z, err := LookupZone(t.Context(), c, s.URL, "AMZ651")
	require.NoError(t, err)
	require.Equal(t, Zone{ID: "AMZ651", Name: "Coastal waters from Deerfield Beach to Ocean Reef FL out 20 NM", Type: "coastal", Offices: []string{"MFL"}, TimeZones: []string{"America/New_York"}}, z)
	z, err = LookupZone(t.Context(), c, s.URL, "FLC086")
	require.NoError(t, err)
	require.Equal(t, "Miami-Dade", z.Name)
	_, err = LookupZone(t.Context(), c, s.URL, "AMZ999")
	requireKind(t, err, models.KindNotFound, "knows no zone AMZ999, so no warning for it could ever be seen")
	_, err = LookupZone(t.Context(), c, s.URL, "amz651")
	requireKind(t, err, models.KindBadConfig, "is no zone")
	_, err = LookupZone(t.Context(), c, s.URL, "AMZ650")
	requireKind(t, err, models.KindBadContent, "asked for zone AMZ650 and got AMZ651")
	_, err = LookupZone(t.Context(), c, s.URL, "AMZ610")
	requireKind(t, err, models.KindBadContent, "no id and name")
}

func TestSourcesRefuseBadConfiguration(t *testing.T) {
	c := client(t, http.DefaultTransport, time.Now)
	for _, src := range []fetch.Source{
		Alerts(c, Base, nil, nil, time.Now),
		Alerts(c, Base, []string{"AMZ651,../../x"}, nil, time.Now),
		Gridpoint(c, Base, models.Ground{At: models.Position{Lat: 100}}, models.Unknown[Point](), time.Now),
		CoastalText(c, Base, "KMFL", []string{"AMZ651"}, time.Now),
		CoastalText(c, Base, "MFL", nil, time.Now),
	} {
		_, err := src.Fetch(context.Background())
		requireKind(t, err, models.KindBadConfig, "")
	}
}

func requireKind(t testing.TB, err error, kind models.Kind, words string) {
	t.Helper()
	var e *models.Error
	require.True(t, errors.As(err, &e), "%v", err)
	require.Equal(t, kind, e.Kind)
	require.ErrorContains(t, err, words)
}
