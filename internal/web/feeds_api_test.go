package web_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/web"
)

// apiDesk is a desk with something in every document.
func apiDesk(t *testing.T) *desk {
	t.Helper()
	d := newDesk(t)
	call := &d.board.Days[0].Trips[0].Call
	call.Warnings = models.Known([]models.Warning{{
		Event: "Small Craft Advisory", VTEC: "/O.NEW.KXXX.SC.Y.0001.270119T1200Z-270120T0000Z/", Zone: "XXZ001", Issued: made(), Onset: made(),
		Ends: models.Known(made().Add(30 * time.Hour)), Headline: "Small Craft Advisory", Text: "seas to 9 ft", Instruction: "stay in", URL: "https://www.weather.gov/",
	}})
	d.board.Days[0].Trips = append(d.board.Days[0].Trips, d.board.Days[0].Trips[0])
	d.board.Days[0].Trips[1].Call.Warnings = models.Unknown[[]models.Warning]()
	d.score = web.Score{
		From: d.board.Next.AddDays(-60), Station: "XXXX1", Called: 40, Told: 22,
		Sources: []web.SourceScore{{Source: "gfs-wave", Day: 1, Hours: 960, Bias: -0.7 * units.Knot, Mean: 2.1 * units.Knot, Used: true}},
		Words:   []web.WordScore{{Word: models.Likely, N: 20, Came: 17, Said: 0.82}},
		Lately:  []web.Compared{{At: made(), Forecast: models.Known(12 * units.Knot)}},
	}
	return d
}

type description struct {
	Paths map[string]map[string]struct {
		Responses map[string]struct {
			Ref     string `json:"$ref"`
			Content map[string]struct {
				Schema struct {
					Ref string `json:"$ref"`
				} `json:"schema"`
			} `json:"content"`
		} `json:"responses"`
	} `json:"paths"`
}

// describe reads the description as it is served, and a compiler of its
// schemas (JSON Schema 2020-12, the dialect of OpenAPI 3.1) by a library.
func describe(t *testing.T, h http.Handler) (description, *jsonschema.Compiler) {
	t.Helper()
	w := ask(h, "GET", "/api/v1/openapi.json")
	require.Equal(t, http.StatusOK, w.Code)
	var d description
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &d))
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(w.Body.Bytes()))
	require.NoError(t, err)
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	c.AssertFormat()
	require.NoError(t, c.AddResource("openapi.json", doc))
	return d, c
}

func fits(t *testing.T, c *jsonschema.Compiler, ref string, b []byte) {
	t.Helper()
	schema, err := c.Compile("openapi.json" + ref)
	require.NoError(t, err, ref)
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	require.NoError(t, err)
	require.NoError(t, schema.Validate(doc), ref)
}

func TestTheDocumentsFitTheirDescription(t *testing.T) {
	d := apiDesk(t)
	empty := newDesk(t)
	empty.board.Made, empty.board.Days, empty.sources, empty.board.Demo = time.Time{}, nil, nil, false
	for name, h := range map[string]http.Handler{"full": newServer(t, d), "before the first call": newServer(t, empty)} {
		t.Run(name, func(t *testing.T) {
			told, c := describe(t, h)
			seen := 0
			for path, methods := range told.Paths {
				if !strings.HasPrefix(path, "/api/") {
					continue
				}
				op, ok := methods["get"]
				require.True(t, ok, path)
				w := ask(h, "GET", path)
				if name == "before the first call" && strings.HasPrefix(path, "/api/v1/call") {
					require.Equal(t, http.StatusNotFound, w.Code)
					require.Equal(t, "application/problem+json", w.Header().Get("Content-Type"))
					fits(t, c, "#/components/schemas/Problem", w.Body.Bytes())
					continue
				}
				require.Equal(t, http.StatusOK, w.Code, path)
				require.Equal(t, "application/json", w.Header().Get("Content-Type"))
				if ref := op.Responses["200"].Content["application/json"].Schema.Ref; ref != "" {
					fits(t, c, ref, w.Body.Bytes())
					seen++
				}
			}
			require.GreaterOrEqual(t, seen, 4)
		})
	}
	h := newServer(t, d)
	_, c := describe(t, h)
	second := ask(h, "GET", "/api/v1/call?trip=2")
	fits(t, c, "#/components/schemas/Call", second.Body.Bytes())
	require.Contains(t, second.Body.String(), `"warnings": null`, "an unknown feed is not an empty one")
}

// What the description can't tell apart it can't check: it says no to a
// document with a guest's name in a field of its own, and to a wrong word.
func TestTheDescriptionRefusesWhatItDoesNotKnow(t *testing.T) {
	h := newServer(t, apiDesk(t))
	_, c := describe(t, h)
	schema, err := c.Compile("openapi.json#/components/schemas/Call")
	require.NoError(t, err)
	for _, change := range [][2]string{{`"schema":`, `"guests":"x","schema":`}, {`"confidence": "`, `"confidence": "very `}, {`"wind_kn": `, `"wind": `}} {
		b := strings.Replace(ask(h, "GET", "/api/v1/call").Body.String(), change[0], change[1], 1)
		doc, err := jsonschema.UnmarshalJSON(strings.NewReader(b))
		require.NoError(t, err)
		require.Error(t, schema.Validate(doc), change[1])
	}
}

// Each served feed is described, and each described one is served.
func TestTheDescriptionListsWhatIsServed(t *testing.T) {
	d := apiDesk(t)
	h, address := keyed(t, d)
	rows, err := web.Rows(options(d))
	require.NoError(t, err)
	told, _ := describe(t, h)
	served := map[string]bool{}
	for _, r := range rows {
		method, path, ok := strings.Cut(r.Pattern, " ")
		if ok && method == "GET" && (strings.HasPrefix(path, "/api/v1/") || strings.HasPrefix(path, "/calendar") || strings.HasSuffix(path, ".gpx")) {
			served[path] = true
		}
	}
	for path, methods := range told.Paths {
		require.True(t, served[path], "%s is described and not served", path)
		require.Len(t, methods, 1)
		w := ask(h, "GET", strings.Replace(path, "/calendar/{file}", address, 1))
		require.Equal(t, http.StatusOK, w.Code, path)
		for media := range methods["get"].Responses["200"].Content {
			require.True(t, strings.HasPrefix(w.Header().Get("Content-Type"), media), path)
		}
		delete(served, path)
	}
	require.Empty(t, served, "served and not described")
}

func TestTheDocumentsNameNoGuests(t *testing.T) {
	d := apiDesk(t)
	h := newServer(t, d)
	for _, p := range []string{"/api/v1/call", "/api/v1/calls", "/api/v1/days", "/api/v1/sources", "/api/v1/warnings", "/api/v1/score"} {
		b := ask(h, "GET", p).Body.String()
		require.NotContains(t, b, guests, p)
		require.NotContains(t, b, "guests@example.com", p)
		require.NotContains(t, b, "Hello", p)
	}
	m, ok := d.board.Days[0].Trips[0].Call.Charter.Get()
	require.True(t, ok)
	require.NotEmpty(t, m.Message, "the board's own call keeps its draft")
}

func TestTheDocumentsAreReadOnlyTaggedAndForNoOtherSite(t *testing.T) {
	d := apiDesk(t)
	now := made().Add(12 * time.Minute)
	h := newServer(t, d, func(o *web.Options) { o.Now = func() time.Time { return now } })
	_, c := describe(t, h)
	for _, p := range []string{"/api/v1/call", "/api/v1/calls", "/api/v1/days"} {
		w := ask(h, "GET", p, "Origin", "https://other.example")
		require.Empty(t, w.Header().Get("Access-Control-Allow-Origin"), p)
		tag := w.Header().Get("ETag")
		require.NotEmpty(t, tag)
		now = now.Add(time.Minute)
		require.Equal(t, http.StatusNotModified, ask(h, "GET", p, "If-None-Match", tag).Code, p)
		post := ask(h, "POST", p)
		require.Equal(t, http.StatusMethodNotAllowed, post.Code)
		require.Equal(t, "GET, HEAD", post.Header().Get("Allow"))
		fits(t, c, "#/components/schemas/Problem", post.Body.Bytes())
	}
	tag := ask(h, "GET", "/api/v1/call").Header().Get("ETag")
	d.board.Days[0].Trips[0].Call.Confidence = models.Doubtful
	require.Equal(t, http.StatusOK, ask(h, "GET", "/api/v1/call", "If-None-Match", tag).Code)
}

// An age is never told too young.
func TestAgesAreToldToTheEndOfTheTenMinutes(t *testing.T) {
	d := apiDesk(t)
	d.board.Days[0].Trips[0].Call.Sources = []models.Provenance{{Source: "x", Issued: made()}}
	h := newServer(t, d, func(o *web.Options) { o.Now = func() time.Time { return made().Add(61 * time.Minute) } })
	var call struct {
		Sources []struct {
			Age float64 `json:"age_s"`
		} `json:"sources"`
	}
	require.NoError(t, json.Unmarshal(ask(h, "GET", "/api/v1/call").Body.Bytes(), &call))
	require.Equal(t, 70*60.0, call.Sources[0].Age)
}

func TestWhatIsAskedWronglyIsAProblem(t *testing.T) {
	h := newServer(t, apiDesk(t))
	_, c := describe(t, h)
	for target, status := range map[string]int{
		"/api/v1/call?date=19.1.2027": 400, "/api/v1/call?trip=x": 400, "/api/v1/call?trip=0": 400, "/api/v1/score?days=100000": 400,
		"/api/v1/call?date=2030-01-01": 404, "/api/v1/call?trip=3": 404, "/api/v1/call?port=Nowhere": 404, "/api/v1/sources?port=Nowhere": 404,
		"/api/v1/nothing": 404, "/api/": 404,
	} {
		w := ask(h, "GET", target)
		require.Equal(t, status, w.Code, target)
		require.Equal(t, "application/problem+json", w.Header().Get("Content-Type"), target)
		fits(t, c, "#/components/schemas/Problem", w.Body.Bytes())
		require.Contains(t, w.Body.String(), fmt.Sprintf(`"status":%d`, status))
	}
}
