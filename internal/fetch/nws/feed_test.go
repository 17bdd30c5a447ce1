package nws

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch"
	"forecastd/internal/models"
)

// dated is a document of the alerts service as made at a time; what is no
// object stays as it is.
func dated(t testing.TB, body []byte, at time.Time) []byte {
	t.Helper()
	var doc map[string]any
	if json.Unmarshal(body, &doc) != nil {
		return body
	}
	doc["updated"] = at.UTC().Format(time.RFC3339)
	b, err := json.Marshal(doc)
	require.NoError(t, err)
	return b
}

// watch is an alerts source asked every four minutes, by a clock of its own.
type watch struct {
	t       testing.TB
	at      time.Time
	service *changing
	url     string
	src     *AlertsSource
	headers map[string]string
}

func newWatch(t testing.TB, positions ...models.Position) *watch {
	w := &watch{t: t, at: utc(t, "2026-01-10T12:00"), service: &changing{}}
	s := httptest.NewServer(http.HandlerFunc(func(rw http.ResponseWriter, r *http.Request) {
		rw.Header()["Date"] = nil
		for k, v := range w.headers {
			rw.Header().Set(k, v)
		}
		w.service.ServeHTTP(rw, r)
	}))
	t.Cleanup(s.Close)
	w.url = s.URL
	w.restart(positions...)
	return w
}

func (w *watch) now() time.Time { return w.at }

// restart forgets all that the source remembers.
func (w *watch) restart(positions ...models.Position) {
	w.src = Alerts(client(w.t, &http.Transport{DisableKeepAlives: true}, w.now), w.url, []string{"XXZ050"}, positions, w.now)
}

// look asks four minutes later; the document is as it stands.
func (w *watch) look(body []byte) (fetch.Batch, error) {
	w.t.Helper()
	w.at = w.at.Add(4 * time.Minute)
	w.service.set(http.StatusOK, body)
	return w.src.Fetch(w.t.Context())
}

// fresh asks four minutes later for a document made just now.
func (w *watch) fresh(alerts ...made) fetch.Batch {
	w.t.Helper()
	b, err := w.look(dated(w.t, feedOf(w.t, alerts...), w.at.Add(4*time.Minute)))
	require.NoError(w.t, err)
	return b
}

func gale(id, action, times, sent string) made {
	return made{ID: id, Event: "Gale Warning", Sent: sent, Zones: []string{"XXZ050"}, VTEC: "/O." + action + ".KXXX.GL.W.0007." + times + "/"}
}

func held(b fetch.Batch) []string { return briefs(b.Warnings.Or(nil)) }

// What is no answer to our question is a fault, and never "none"; what is one
// in spite of its looks holds.
func TestAnswersToAnotherQuestion(t *testing.T) {
	const updated = `"updated":"2026-01-10T12:04:00+00:00"`
	one := func(zone, status string) string {
		return fmt.Sprintf(`{"type":"Feature","properties":{"id":"a","event":"Gale Warning","status":%q,"messageType":"Alert","sent":"2026-01-10T09:00:00Z","ends":"2026-01-10T20:00:00Z","geocode":{"UGC":[%q]}}}`, status, zone)
	}
	list := func(items ...string) string { return strings.Join(items, ",") }
	for name, c := range map[string]struct {
		features, more string
		fault          string // empty: it holds what it has
		want           int
	}{
		"nothing, and fresh":              {"[]", "", "", 0},
		"a title of our zone":             {"[]", `"title":"Current watches, warnings, and advisories for Invented waters (XXZ050) XX",`, "", 0},
		"a title of another zone":         {"[]", `"title":"Current watches, warnings, and advisories for Invented hills (XXZ777) XX",`, "another question", 0},
		"alerts for other zones only":     {"[" + list(one("XXZ777", "Actual"), one("XXZ778", "Actual")) + "]", "", "another question", 0},
		"ours among others":               {"[" + list(one("XXZ777", "Actual"), one("XXZ050", "Actual")) + "]", "", "", 1},
		"our zone in small letters":       {"[" + one("xxz050", "Actual") + "]", "", "", 1},
		"our zone with blanks":            {"[" + one(" XXZ050 ", "Actual") + "]", "", "", 1},
		"the status in small letters":     {"[" + one("XXZ050", "actual") + "]", "", "", 1},
		"a status nobody knows":           {"[" + one("XXZ050", "Aktuell") + "]", "", "", 1},
		"no status":                       {"[" + one("XXZ050", "") + "]", "", "", 1},
		"a test for our zone is none":     {"[" + one("XXZ050", "TEST") + "]", "", "", 0},
		"null for the list":               {"null", "", "no collection of features", 0},
		"an object for the list":          {`{"a":[]}`, "", "no collection of features", 0},
		"the first page of several, none": {"[]", `"pagination":{"next":"https://example.invalid/2"},`, "the first page of several", 0},
		"the first page of several, one":  {"[" + one("XXZ050", "Actual") + "]", `"pagination":{"next":"https://example.invalid/2"},`, "", 1},
	} {
		t.Run(name, func(t *testing.T) {
			b, err := newWatch(t).look([]byte(`{"type":"FeatureCollection","features":` + c.features + `,` + c.more + updated + `}`))
			ws, known := b.Warnings.Get()
			if c.fault != "" {
				require.ErrorContains(t, err, c.fault)
				require.False(t, known)
				return
			}
			require.NoError(t, err)
			require.True(t, known)
			require.Len(t, ws, c.want)
		})
	}
	for _, body := range []string{`{}`, `[]`, `null`, `{"type":"FeatureCollection"}`, `{"type":"Topology","features":[],` + updated + `}`,
		`{"type":"FeatureCollection","features":[]}`, `{"type":"FeatureCollection","features":[],"updated":"soon"}`,
		`{"type":"FeatureCollection","features":[],` + updated + `} {"features":[]}`, `{"type":"FeatureCollection","features":[`, `<html><body>none</body></html>`} {
		b, err := newWatch(t).look([]byte(body))
		requireKind(t, err, models.KindBadContent, "")
		require.False(t, b.Warnings.Known(), body)
	}
}

// Every answer has an age: an old copy is no answer, whatever tells its age.
func TestOldCopiesAreNoAnswer(t *testing.T) {
	w := newWatch(t)
	g := gale("a", "NEW", "260110T0600Z-260111T1800Z", "2026-01-09T20:00:00Z")
	require.Len(t, held(w.fresh(g)), 1)
	old := w.at.Add(-time.Minute)
	for range 3 {
		_, err := w.look(dated(t, feedOf(t), old))
		requireKind(t, err, models.KindStale, "before the last one")
	}
	require.Equal(t, []string{"GL.W 0007 10T06:00 to 11T18:00"}, held(w.fresh()), "old copies are none of the two answers")

	w = newWatch(t)
	_, err := w.look(dated(t, feedOf(t), w.at.Add(-50*time.Hour)))
	requireKind(t, err, models.KindStale, "50h4m0s ago")
	for name, headers := range map[string]map[string]string{
		"by Age":  {"Age": "7200"},
		"by Date": {"Date": w.at.Add(-2 * time.Hour).Format(http.TimeFormat)},
	} {
		w.headers = headers
		_, err = w.look(dated(t, feedOf(t), w.at))
		requireKind(t, err, models.KindStale, "a copy of 2h")
		require.NotEmpty(t, name)
	}
}

// What comes from the future is doubted: it may bring a warning, and never
// tells that there is none.
func TestAnswersFromTheFuture(t *testing.T) {
	w := newWatch(t)
	_, err := w.look(dated(t, feedOf(t), w.at.Add(3*time.Hour)))
	requireKind(t, err, models.KindStale, "can't be believed")
	g := gale("a", "NEW", "260110T0600Z-260111T1800Z", "2026-01-09T20:00:00Z")
	b, err := w.look(dated(t, feedOf(t, g), w.at.Add(3*time.Hour)))
	require.NoError(t, err)
	require.Len(t, held(b), 1)
	require.Contains(t, strings.Join(b.Notes, "\n"), "ahead of our clock")
	for range 4 {
		b, err = w.look(dated(t, feedOf(t), w.at.Add(3*time.Hour)))
		require.NoError(t, err)
		require.Len(t, held(b), 1, "what it lacks is not gone")
	}
	require.Len(t, held(w.fresh(g)), 1, "a true answer is not older than one from the future")
	w.fresh()
	require.Empty(t, held(w.fresh()))
}

// A message sent in the future pins nothing: the true extension counts.
func TestSentInTheFuture(t *testing.T) {
	w := newWatch(t)
	pin := gale("pin", "CON", "000000T0000Z-260110T1400Z", "2026-02-01T00:00:00Z")
	require.Equal(t, []string{"GL.W 0007 10T12:04 to 10T14:00"}, held(w.fresh(pin)), "followed while it is all there is")
	longer := gale("b", "EXT", "260110T0600Z-260111T1800Z", "2026-01-10T12:05:00Z")
	require.Equal(t, []string{"GL.W 0007 10T06:00 to 11T18:00"}, held(w.fresh(pin, longer)))
	require.Equal(t, []string{"GL.W 0007 10T06:00 to 11T18:00"}, held(w.fresh(longer, pin)))
	w.at = utc(t, "2026-01-11T12:00")
	off := gale("c", "CAN", "000000T0000Z-260111T1800Z", "2026-03-01T00:00:00Z")
	require.Len(t, held(w.fresh(longer, off)), 1, "nor does it cancel")
}

// What is listed holds, though it gives no end and its text was to be replaced
// before it began.
func TestListedWithoutAnEndIsHeld(t *testing.T) {
	w := newWatch(t)
	s := made{ID: "a", Event: "Gale Warning", Sent: "2026-01-10T09:00:00Z", Onset: "2026-01-10T18:00:00Z", Expires: "2026-01-10T12:06:00Z", Zones: []string{"XXZ050"}}
	for range 3 {
		require.Equal(t, []string{"Gale Warning 10T18:00 to further notice"}, held(w.fresh(s)))
	}
	w.fresh()
	require.Empty(t, held(w.fresh()))
}

// An office that counts on with each issue tells of one event, by one name.
func TestTheSameEventUnderANewNumber(t *testing.T) {
	w := newWatch(t)
	var names []string
	for i := range 6 {
		b := w.fresh(made{ID: fmt.Sprint(i), Event: "Gale Warning", Sent: w.at.Format(time.RFC3339), Zones: []string{"XXZ050"},
			VTEC: fmt.Sprintf("/O.NEW.KXXX.GL.W.%04d.260110T0600Z-260111T1800Z/", i+1)})
		ws := b.Warnings.Or(nil)
		require.Len(t, ws, 1, "look %d: %q", i, briefs(ws))
		names = append(names, ws[0].Life)
	}
	require.Equal(t, []string{"", "KXXX.GL.W.0001", "KXXX.GL.W.0001", "KXXX.GL.W.0001", "KXXX.GL.W.0001", "KXXX.GL.W.0001"}, names)
	// The next gale, which begins after this one ends, is another.
	next := made{ID: "n", Event: "Gale Warning", Sent: w.at.Format(time.RFC3339), Zones: []string{"XXZ050"}, VTEC: "/O.NEW.KXXX.GL.W.0009.260112T0600Z-260112T1800Z/"}
	ws := w.fresh(next).Warnings.Or(nil)
	require.Len(t, ws, 2, "the first is still held")
	require.Empty(t, ws[1].Life)
}

// An item that can't be read is the same unnamed warning at each look.
func TestUnreadableAlertStaysTheSame(t *testing.T) {
	w := newWatch(t)
	var before []models.Warning
	for range 3 {
		b, err := w.look(fmt.Appendf(nil, `{"type":"FeatureCollection","features":[{"type":"Feature"},7],"updated":%q}`, w.at.Add(4*time.Minute).Format(time.RFC3339)))
		require.NoError(t, err)
		ws := b.Warnings.Or(nil)
		require.Len(t, ws, 1)
		ws[0].From.Fetched = time.Time{}
		if before != nil {
			require.Equal(t, before, ws)
		}
		before = ws
		require.Contains(t, b.Notes[0], "2 alerts of the feed can't be read and count as one unnamed")
	}
}

// What was known before a restart goes on counting: the two answers that a
// product may be missing from, and the age of the last one.
func TestRecall(t *testing.T) {
	g := gale("a", "NEW", "260110T0600Z-260111T1800Z", "2026-01-09T20:00:00Z")
	w := newWatch(t)
	alive := w.fresh(g).Warnings.Or(nil)[0]
	kept := models.WarningsKept{Made: w.at, Alive: []models.WarningKept{{Warning: alive}}}
	recall := func(k models.WarningsKept, err error) {
		w.restart()
		w.src.Recall = func(context.Context) (models.WarningsKept, error) { return k, err }
	}
	recall(kept, nil)
	require.Len(t, held(w.fresh()), 1, "missing once")
	kept.Made, kept.Alive[0].Missed, kept.Alive[0].MissedAt = w.at, 1, w.at
	recall(kept, nil)
	_, err := w.look(dated(t, feedOf(t), kept.Made.Add(-time.Minute)))
	requireKind(t, err, models.KindStale, "before the last one")
	require.Empty(t, held(w.fresh()), "missing twice")

	recall(models.WarningsKept{}, errors.New("damaged"))
	_, err = w.look(dated(t, feedOf(t), w.at.Add(4*time.Minute)))
	requireKind(t, err, models.KindStale, "damaged")
	require.Len(t, held(w.fresh(g)), 1, "what is there is in force at any rate")
}

func TestASecondLookAtTheSameStateIsNoSecondAnswer(t *testing.T) {
	w := newWatch(t)
	w.fresh(gale("a", "NEW", "260110T0600Z-260111T1800Z", "2026-01-09T20:00:00Z"))
	empty := dated(t, feedOf(t), w.at.Add(time.Minute))
	for range 5 {
		b, err := w.look(empty)
		require.NoError(t, err)
		require.Len(t, held(b), 1)
	}
}

// Bounds of a document within the limit of a body: see also BenchmarkFeeds.
func TestFeedsAreBounded(t *testing.T) {
	asked := Area{Zones: []string{"XXZ050"}}
	t.Run("more alerts than are kept: the gravest", func(t *testing.T) {
		w := newWatch(t)
		b, err := w.look(manyAlerts(5 * MaxAlerts))
		require.NoError(t, err)
		ws := b.Warnings.Or(nil)
		require.Len(t, ws, MaxAlerts)
		gales := 0
		for _, x := range ws {
			if x.Event == "Gale Warning" {
				gales++
			}
		}
		require.Equal(t, 5*MaxAlerts/100, gales, "all of them")
		require.Contains(t, strings.Join(b.Notes, "\n"), "the feed holds more than 1000 alerts, the gravest of them are kept")
		for range 3 { // and what the next ones lack by that is not gone
			b, err = w.look(manyAlerts(5 * MaxAlerts))
			require.NoError(t, err)
			require.GreaterOrEqual(t, len(b.Warnings.Or(nil)), MaxAlerts)
		}
	})
	t.Run("empty items", func(t *testing.T) {
		_, err := ReadAlerts(t.Context(), emptyAlerts(390_000), asked)
		require.ErrorContains(t, err, "over 50000 items")
		body := emptyAlerts(maxItems - 1)
		var before, after runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&before)
		f, err := ReadAlerts(t.Context(), body, asked)
		runtime.ReadMemStats(&after)
		require.NoError(t, err)
		require.Len(t, f.Alerts, 1)
		require.Less(t, after.HeapSys, before.HeapSys+64<<20, "they are counted, not kept")
		require.Len(t, Reduce(f, asked, utc(t, captured)), 1)
	})
	t.Run("one alert of many zones and codes", func(t *testing.T) {
		zones := strings.Repeat(`"XXZ777",`, 200_000)
		codes := strings.Repeat(`"/O.NEW.KXXX.GL.W.0001.260110T0600Z-260111T1800Z/",`, 20_000)
		body := fmt.Sprintf(`{"type":"FeatureCollection","features":[{"properties":{"id":"a","event":"x","geocode":{"UGC":[%s"XXZ050"]},"parameters":{"VTEC":[%s""]}},"geometry":{"type":"Polygon","coordinates":[[[-79.7,26.2],[-80.1,26.3],[-80,26.8],[-79.7,26.2]]]}}]}`, zones, codes)
		f, err := ReadAlerts(t.Context(), []byte(body), asked)
		require.NoError(t, err)
		require.LessOrEqual(t, len(asked.messages(f, utc(t, captured))), (maxForeign+1)*maxCodes)
		require.NotEmpty(t, Reduce(f, asked, utc(t, "2026-01-10T12:00")))
	})
	t.Run("a context that ends", func(t *testing.T) {
		ctx, cancel := context.WithCancelCause(t.Context())
		stop := errors.New("enough")
		cancel(stop)
		_, err := ReadAlerts(ctx, emptyAlerts(100_000), asked)
		require.ErrorIs(t, err, stop)
	})
}

// manyAlerts is a fresh answer with n alerts for our zone, all without VTEC,
// each taking the place of the one before; one of a hundred is a gale.
func manyAlerts(n int) []byte {
	var b strings.Builder
	b.WriteString(`{"type":"FeatureCollection","updated":"2026-01-10T12:04:00Z","features":[`)
	for i := range n {
		event := "Invented Statement"
		if i%100 == 99 {
			event = "Gale Warning"
		}
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, `{"properties":{"id":"%d","event":%q,"sent":"2026-01-10T09:00:00Z","onset":"2026-01-11T%02d:%02d:%02dZ","geocode":{"UGC":["XXZ050"]},"references":[{"identifier":"x%d"}]}}`,
			i, event, i/3600%24, i/60%60, i%60, i)
	}
	b.WriteString(`]}`)
	return []byte(b.String())
}

func emptyAlerts(n int) []byte {
	return []byte(`{"type":"FeatureCollection","updated":"2026-01-10T12:04:00Z","features":[` + strings.Repeat(`{"properties":{}},`, n) + `{}]}`)
}

// BenchmarkFeeds names the bounds of what one answer may cost: the time per
// alert stays the same whatever their number, and the memory is bounded by
// MaxAlerts.
func BenchmarkFeeds(b *testing.B) {
	for name, body := range map[string][]byte{"alerts=5000": manyAlerts(5_000), "alerts=20000": manyAlerts(20_000), "alerts=40000": manyAlerts(40_000), "empty=49999": emptyAlerts(maxItems - 1)} {
		b.Run(name, func(b *testing.B) {
			asked, at := Area{Zones: []string{"XXZ050"}}, utc(b, "2026-01-10T12:04")
			b.ReportAllocs()
			for b.Loop() {
				f, err := ReadAlerts(b.Context(), body, asked)
				require.NoError(b, err)
				var l ledger
				l.apply(asked.messages(f, at), at)
				l.apply(asked.messages(f, at), at.Add(4*time.Minute))
				l.current(at)
			}
		})
	}
}
