package replay_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/fetch/httpx"
	"forecastd/internal/fetch/replay"
	"forecastd/internal/models"
)

const (
	digits = "0123456789"
	early  = "one\n"
	late   = "two\n"
)

func at(hour int) time.Time { return time.Date(2027, 1, 18, hour, 0, 0, 0, time.UTC) }

func recording(t testing.TB) fstest.MapFS {
	t.Helper()
	entry := func(u string, hour int, file, body string) replay.Entry {
		return replay.Entry{Method: "GET", URL: u, FetchedAt: at(hour), Status: 200, File: file, SHA256: replay.Sum([]byte(body))}
	}
	first := entry("https://sea.invalid/obs.txt", 10, "obs-1.txt", early)
	first.Header = map[string]string{"Etag": `"1"`, "Last-Modified": "Mon, 18 Jan 2027 09:50:00 GMT", "Content-Type": "text/plain"}
	second := entry("https://sea.invalid/obs.txt", 12, "obs-2.txt", late)
	second.Header = map[string]string{"Etag": `"2"`}
	part := entry("https://sea.invalid/grid", 10, "part.bin", "456")
	part.Range, part.Status = "bytes=4-6", 206
	part.Header = map[string]string{"Content-Range": "bytes 4-6/1000"}
	gone := replay.Entry{Method: "GET", URL: "https://sea.invalid/gone?a=1&b=2", FetchedAt: at(10), Status: 404}
	raw, err := replay.Encode(replay.Manifest{AsOf: at(11), Demo: true, Entries: []replay.Entry{
		second, first, part, gone, entry("https://sea.invalid/whole.bin", 10, "whole.bin", digits),
	}})
	require.NoError(t, err)
	return fstest.MapFS{
		"manifest.json": {Data: raw}, "obs-1.txt": {Data: []byte(early)}, "obs-2.txt": {Data: []byte(late)},
		"part.bin": {Data: []byte("456")}, "whole.bin": {Data: []byte(digits)},
	}
}

func open(t testing.TB, hour int) *replay.Transport {
	t.Helper()
	tr, err := replay.Open(recording(t), func() time.Time { return at(hour) })
	require.NoError(t, err)
	return tr
}

func ask(t testing.TB, tr http.RoundTripper, u string, header ...string) (*http.Response, string, error) {
	t.Helper()
	r, err := http.NewRequest("GET", u, nil)
	require.NoError(t, err)
	for i := 0; i < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	resp, err := tr.RoundTrip(r)
	if err != nil {
		return nil, "", err
	}
	body, err := io.ReadAll(resp.Body)
	require.NoError(t, err)
	require.EqualValues(t, len(body), resp.ContentLength)
	return resp, string(body), nil
}

func TestNewestNotAfterTheClock(t *testing.T) {
	for hour, want := range map[int]string{10: early, 11: early, 12: late, 20: late} {
		_, body, err := ask(t, open(t, hour), "https://sea.invalid/obs.txt")
		require.NoError(t, err)
		require.Equal(t, want, body, "at %d:00", hour)
	}
}

func TestMiss(t *testing.T) {
	_, _, err := ask(t, open(t, 9), "https://SEA.invalid/obs.txt?token=sesame")
	var e *models.Error
	require.ErrorAs(t, err, &e)
	require.Equal(t, models.KindNotRecorded, e.Kind)
	require.False(t, e.Temporary())
	var miss *replay.MissError
	require.ErrorAs(t, err, &miss)
	require.Equal(t, at(10), miss.First)
	require.ErrorContains(t, err, "no answer to GET https://sea.invalid/obs.txt at 2027-01-18T09:00:00Z: the first is of 2027-01-18T10:00:00Z")
	require.NotContains(t, err.Error(), "sesame")

	_, _, err = ask(t, open(t, 11), "https://sea.invalid/other")
	require.ErrorAs(t, err, &miss)
	require.True(t, miss.First.IsZero())
	_, _, err = ask(t, open(t, 11), "https://sea.invalid/grid", "Range", "bytes=0-3")
	require.ErrorAs(t, err, &miss)
	require.Equal(t, "bytes=0-3", miss.Range)
	_, _, err = ask(t, open(t, 11), "https://sea.invalid/grid")
	require.ErrorAs(t, err, &miss, "a part is not the whole")
}

func TestMissThroughTheClientIsPermanent(t *testing.T) {
	c, err := httpx.New(httpx.Options{Transport: open(t, 9), UserAgent: "forecastd-test (test@example.invalid)"})
	require.NoError(t, err)
	_, err = c.Get(t.Context(), httpx.Request{Source: "ndbc", URL: "https://sea.invalid/obs.txt"})
	var e *models.Error
	require.ErrorAs(t, err, &e)
	require.Equal(t, models.KindNotRecorded, e.Kind)
	require.Equal(t, "ndbc", e.Source)
}

func TestRecordedFailureAndQueryOrder(t *testing.T) {
	resp, _, err := ask(t, open(t, 11), "https://sea.invalid/gone?b=2&a=1&application=x&_=99")
	require.NoError(t, err)
	require.Equal(t, 404, resp.StatusCode)
}

func TestValidators(t *testing.T) {
	tests := []struct {
		hour   int
		header []string
		status int
	}{
		{11, []string{"If-None-Match", `"1"`}, 304},
		{11, []string{"If-None-Match", `"0", W/"1"`}, 304},
		{11, []string{"If-None-Match", "*"}, 304},
		{11, []string{"If-None-Match", `"2"`}, 200},
		{12, []string{"If-None-Match", `"1"`}, 200},
		{11, []string{"If-Modified-Since", "Mon, 18 Jan 2027 09:50:00 GMT"}, 304},
		{11, []string{"If-Modified-Since", "Mon, 18 Jan 2027 09:49:59 GMT"}, 200},
		{11, []string{"If-Modified-Since", "yesterday"}, 200},
		{12, []string{"If-Modified-Since", "Mon, 18 Jan 2027 09:50:00 GMT"}, 200}, // the newer says no date
		// RFC9110, 13.2.2: If-None-Match rules.
		{11, []string{"If-None-Match", `"0"`, "If-Modified-Since", "Mon, 18 Jan 2027 09:50:00 GMT"}, 200},
	}
	for _, tc := range tests {
		resp, body, err := ask(t, open(t, tc.hour), "https://sea.invalid/obs.txt", tc.header...)
		require.NoError(t, err)
		require.Equal(t, tc.status, resp.StatusCode, "%v", tc)
		require.Equal(t, tc.status == 304, body == "")
	}
}

// RFC9110, 14.1.2 and 14.4 give the forms and their meaning.
func TestRanges(t *testing.T) {
	tests := []struct {
		header, body, content string
		status                int
	}{
		{"bytes=0-0", "0", "bytes 0-0/10", 206},
		{"bytes=4-6", "456", "bytes 4-6/10", 206},
		{"bytes=4-", "456789", "bytes 4-9/10", 206},
		{"bytes=-3", "789", "bytes 7-9/10", 206},
		{"bytes=-99", digits, "bytes 0-9/10", 206},
		{"bytes=8-99", "89", "bytes 8-9/10", 206},
		{"bytes=10-", "", "bytes */10", 416},
		{"bytes=99-100", "", "bytes */10", 416},
		{"bytes=-0", "", "bytes */10", 416},
		{"bytes=6-4", digits, "", 200},     // not valid: ignored
		{"bytes=0-1,3-4", digits, "", 200}, // several: ignored, as a server may
		{"lines=0-1", digits, "", 200},
		{"bytes=a-b", digits, "", 200},
	}
	for _, tc := range tests {
		resp, body, err := ask(t, open(t, 11), "https://sea.invalid/whole.bin", "Range", tc.header)
		require.NoError(t, err)
		require.Equal(t, tc.status, resp.StatusCode, tc.header)
		require.Equal(t, tc.body, body, tc.header)
		require.Equal(t, tc.content, resp.Header.Get("Content-Range"))
	}
	resp, body, err := ask(t, open(t, 11), "https://sea.invalid/grid", "Range", "bytes=4-6")
	require.NoError(t, err)
	require.Equal(t, 206, resp.StatusCode)
	require.Equal(t, "456", body)
	require.Equal(t, "bytes 4-6/1000", resp.Header.Get("Content-Range"))
}

// A range cut here is what the standard library's server would send.
func TestRangesAsServeContent(t *testing.T) {
	tr := open(t, 11)
	rapid.Check(t, func(rt *rapid.T) {
		h := rapid.StringMatching(`bytes=([0-9]{1,2})?-([0-9]{1,2})?`).Draw(rt, "range")
		w := httptest.NewRecorder()
		r := httptest.NewRequest("GET", "https://sea.invalid/whole.bin", nil)
		r.Header.Set("Range", h)
		http.ServeContent(w, r, "whole.bin", time.Time{}, strings.NewReader(digits))
		resp, body, err := ask(t, tr, "https://sea.invalid/whole.bin", "Range", h)
		require.NoError(rt, err)
		if resp.StatusCode == 200 || h == "bytes=-0" || h == "bytes=-00" {
			// The standard server answers 416 to what is not valid and cuts
			// an empty suffix; RFC9110 lets us ignore the one and wants 416
			// for the other.
			return
		}
		require.Equal(rt, w.Code, resp.StatusCode, h)
		if w.Code == 206 {
			require.Equal(rt, w.Body.String(), body, h)
			require.Equal(rt, w.Header().Get("Content-Range"), resp.Header.Get("Content-Range"))
		}
	})
}

func TestBodyThatWasChanged(t *testing.T) {
	fsys := recording(t)
	fsys["obs-1.txt"] = &fstest.MapFile{Data: []byte("One\n")}
	tr, err := replay.Open(fsys, func() time.Time { return at(11) })
	require.NoError(t, err)
	_, _, err = ask(t, tr, "https://sea.invalid/obs.txt")
	var e *models.Error
	require.ErrorAs(t, err, &e)
	require.Equal(t, models.KindBadContent, e.Kind)
	require.ErrorContains(t, err, "obs-1.txt was changed")
}

func TestManifestMistakes(t *testing.T) {
	change := func(old, new string) string {
		raw := string(recording(t)["manifest.json"].Data)
		require.Contains(t, raw, old)
		return strings.Replace(raw, old, new, 1)
	}
	for want, manifest := range map[string]string{
		"no such file":                       "", // stands for: absent
		"unexpected":                         `{"schema":`,
		`schema is "forecastd.recording.v2"`: change("recording.v1", "recording.v2"),
		"unknown field":                      change(`"demo"`, `"dmeo"`),
		"as_of is missing":                   change(`"2027-01-18T11:00:00Z"`, `"0001-01-01T00:00:00Z"`),
		"not in its canonical form":          change("gone?a=1\\u0026b=2", "gone?b=2\\u0026a=1"),
		"the url is not absolute":            change("https://sea.invalid/obs.txt", "/obs.txt"),
		"only GET":                           change(`"GET"`, `"POST"`),
		"status 304":                         change(`"status": 200`, `"status": 304`),
		"leads out of the recording":         change(`"obs-1.txt"`, `"../obs-1.txt"`),
		"64 hexadecimal digits":              change(replay.Sum([]byte(early)), "abc"),
		"find the body":                      change(`"obs-1.txt"`, `"lost.txt"`),
		"more after the end":                 string(recording(t)["manifest.json"].Data) + "{}",
	} {
		fsys := recording(t)
		if fsys["manifest.json"] = (&fstest.MapFile{Data: []byte(manifest)}); manifest == "" {
			delete(fsys, "manifest.json")
			want = "read the recording"
		}
		_, err := replay.ReadManifest(fsys)
		require.ErrorContains(t, err, want)
	}
	m, err := replay.ReadManifest(recording(t))
	require.NoError(t, err)
	require.True(t, m.Demo)
	require.Equal(t, at(11), m.AsOf)
	require.Len(t, m.Entries, 5)
}

func TestCanonical(t *testing.T) {
	for in, want := range map[string]string{
		"HTTPS://Sea.INVALID?b=2&a=1#x":                       "https://sea.invalid/?a=1&b=2",
		"https://user:pw@sea.invalid/A%20b?":                  "https://sea.invalid/A%20b",
		"https://sea.invalid/x?begin_date=20270118&api_key=9": "https://sea.invalid/x?begin_date=20270118",
		"https://sea.invalid/x?t=a b&t=c&_=1&application=me":  "https://sea.invalid/x?t=a+b&t=c",
	} {
		u, err := url.Parse(in)
		require.NoError(t, err)
		require.Equal(t, want, replay.Canonical(u))
		again, err := url.Parse(want)
		require.NoError(t, err)
		require.Equal(t, want, replay.Canonical(again), "canonical stays canonical")
	}
}

func TestRecordThenReplay(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "rec")
	mux := http.NewServeMux()
	mux.HandleFunc("/obs.txt", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Set-Cookie", "id=sesame")
		w.Header().Set("X-Private", "sesame")
		w.Header().Set("ETag", `"a"`)
		if r.Header.Get("If-None-Match") != "" {
			w.WriteHeader(304)
			return
		}
		io.WriteString(w, "wind 12\n")
	})
	mux.HandleFunc("/same/obs.txt", func(w http.ResponseWriter, _ *http.Request) { io.WriteString(w, "wind 12\n") })
	mux.HandleFunc("/else/obs.txt", func(w http.ResponseWriter, _ *http.Request) { io.WriteString(w, "wind 13\n") })
	mux.HandleFunc("/alerts", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "application/geo+json")
		io.WriteString(w, "{}")
	})
	mux.HandleFunc("/big", func(w http.ResponseWriter, _ *http.Request) { io.WriteString(w, strings.Repeat("x", 2000)) })
	mux.HandleFunc("/half", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Length", "100")
		io.WriteString(w, "half")
	})
	mux.HandleFunc("/grid", func(w http.ResponseWriter, r *http.Request) {
		http.ServeContent(w, r, "", time.Time{}, strings.NewReader(digits))
	})
	srv := httptest.NewServer(mux)
	defer srv.Close()
	now := at(10)
	rec, err := replay.NewRecorder(replay.RecorderOptions{
		Dir: dir, Transport: http.DefaultTransport, Now: func() time.Time { return now }, MaxBody: 1000,
		Hosts: []string{"127.0.0.1"}, Licence: func(string) string { return "invented" }, About: "a test",
	})
	require.NoError(t, err)

	var wg sync.WaitGroup
	for _, path := range []string{"/obs.txt?token=sesame&a=1", "/same/obs.txt", "/else/obs.txt", "/alerts", "/gone"} {
		wg.Go(func() {
			r, err := http.NewRequest("GET", srv.URL+path, nil)
			if err == nil {
				r.Header.Set("Authorization", "Bearer sesame")
				var resp *http.Response
				if resp, err = rec.RoundTrip(r); err == nil {
					_, err = io.ReadAll(resp.Body)
					err = errors.Join(err, resp.Body.Close())
				}
			}
			if err != nil {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	_, _, err = ask(t, rec, srv.URL+"/grid", "Range", "bytes=2-3")
	require.NoError(t, err)
	resp, _, err := ask(t, rec, srv.URL+"/obs.txt?a=1", "If-None-Match", `"a"`)
	require.NoError(t, err)
	require.Equal(t, 304, resp.StatusCode)
	big, err := rec.RoundTrip(httptest.NewRequest("GET", srv.URL+"/big", nil))
	require.NoError(t, err)
	body, err := io.ReadAll(big.Body)
	require.NoError(t, err)
	require.NoError(t, big.Body.Close())
	require.Len(t, body, 2000, "the caller gets all")
	half, err := rec.RoundTrip(httptest.NewRequest("GET", srv.URL+"/half", nil))
	require.NoError(t, err)
	body, err = io.ReadAll(half.Body)
	require.ErrorIs(t, err, io.ErrUnexpectedEOF, "the caller gets the error")
	require.Equal(t, "half", string(body))
	private, err := rec.RoundTrip(httptest.NewRequest("GET", strings.Replace(srv.URL, "127.0.0.1", "localhost", 1)+"/alerts", nil))
	require.NoError(t, err)
	require.NoError(t, private.Body.Close())
	require.NoError(t, rec.Close())
	require.NoError(t, rec.Close())
	require.Len(t, rec.Skipped(), 2)
	require.ErrorContains(t, errors.New(strings.Join(rec.Skipped(), "\n")), "over 1000 bytes")

	raw, err := os.ReadFile(filepath.Join(dir, "manifest.json"))
	require.NoError(t, err)
	require.NotContains(t, string(raw), "sesame")
	require.NotContains(t, string(raw), "localhost")
	require.Contains(t, string(raw), `"licence": "invented"`)
	var m replay.Manifest
	require.NoError(t, json.Unmarshal(raw, &m))
	require.Len(t, m.Entries, 6)
	files := map[string]bool{}
	for _, e := range m.Entries {
		files[e.File] = true
	}
	require.Len(t, files, 5, "two of one body, one of none shared: %v", files)

	tr, err := replay.Open(os.DirFS(dir), func() time.Time { return m.AsOf })
	require.NoError(t, err)
	for path, want := range map[string]string{
		"/obs.txt?a=1": "wind 12\n", "/same/obs.txt": "wind 12\n", "/else/obs.txt": "wind 13\n", "/alerts": "{}", "/gone": "404 page not found\n",
	} {
		_, got, err := ask(t, tr, srv.URL+path)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
	_, got, err := ask(t, tr, srv.URL+"/grid", "Range", "bytes=2-3")
	require.NoError(t, err)
	require.Equal(t, "23", got)

	_, err = replay.NewRecorder(replay.RecorderOptions{Dir: dir, Transport: http.DefaultTransport})
	require.ErrorContains(t, err, "holds a recording already")
}

func FuzzManifest(f *testing.F) {
	f.Add(recording(f)["manifest.json"].Data)
	f.Add([]byte(fmt.Sprintf(`{"schema":%q,"as_of":"2027-01-18T11:00:00Z","entries":[{"url":"https://a/?%%"}]}`, replay.Schema)))
	f.Fuzz(func(t *testing.T, raw []byte) {
		fsys := recording(t)
		fsys["manifest.json"] = &fstest.MapFile{Data: raw}
		tr, err := replay.Open(fsys, func() time.Time { return at(11) })
		if err != nil {
			return
		}
		if _, body, err := ask(t, tr, "https://sea.invalid/obs.txt", "Range", "bytes=0-1"); err == nil {
			require.LessOrEqual(t, len(body), 10)
		}
	})
}
