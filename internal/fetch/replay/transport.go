package replay

import (
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Transport answers requests from a recording as of its clock, and never asks
// anyone. It may be used by several goroutines.
type Transport struct {
	fsys  fs.FS
	now   func() time.Time
	byURL map[string][]Entry // by canonical URL, oldest first
}

// Open reads the manifest of a recording. Each request is answered with the
// newest entry not after now().
func Open(fsys fs.FS, now func() time.Time) (*Transport, error) {
	m, err := ReadManifest(fsys)
	if err != nil {
		return nil, err
	}
	t := &Transport{fsys: fsys, now: now, byURL: map[string][]Entry{}}
	for _, e := range m.Entries {
		t.byURL[e.URL] = append(t.byURL[e.URL], e)
	}
	for _, es := range t.byURL {
		slices.SortStableFunc(es, func(a, b Entry) int { return a.FetchedAt.Compare(b.FetchedAt) })
	}
	return t, nil
}

// MissError says what a recording does not hold.
type MissError struct {
	Method, URL, Range string
	// At is the time that was asked for; First is when the recording first
	// has an answer, zero if never.
	At, First time.Time
}

// Error names the request and, if there is one, the first answer.
func (e *MissError) Error() string {
	s := "the recording holds no answer to " + e.Method + " " + e.URL
	if e.Range != "" {
		s += " (" + e.Range + ")"
	}
	if !e.First.IsZero() {
		s += fmt.Sprintf(" at %s: the first is of %s", e.At.UTC().Format(time.RFC3339), e.First.UTC().Format(time.RFC3339))
	}
	return s
}

// RoundTrip answers a request. What is not recorded is a *models.Error of
// KindNotRecorded around a *MissError.
func (t *Transport) RoundTrip(r *http.Request) (*http.Response, error) {
	if r.Body != nil {
		r.Body.Close()
	}
	if err := r.Context().Err(); err != nil {
		return nil, err
	}
	key, rng := Canonical(r.URL), r.Header.Get("Range")
	e, miss := t.find(r.Method, key, rng)
	if miss != nil {
		return nil, &models.Error{Kind: models.KindNotRecorded, Source: "replay", URL: key, Err: miss}
	}
	body, err := t.body(e)
	if err != nil {
		return nil, &models.Error{Kind: models.KindBadContent, Source: "replay", URL: key, Err: err}
	}
	h := http.Header{}
	for k, v := range e.Header {
		h.Set(k, v)
	}
	h.Set("Date", t.now().UTC().Format(http.TimeFormat))
	status := e.Status
	switch {
	case status == http.StatusOK && unchanged(r.Header, h):
		status, body = http.StatusNotModified, nil
		h.Del("Content-Type")
	case status == http.StatusOK && rng != "" && e.Range == "":
		status, body = cut(body, rng, h)
	}
	return &http.Response{
		Status:     strconv.Itoa(status) + " " + http.StatusText(status),
		StatusCode: status,
		Proto:      "HTTP/1.1", ProtoMajor: 1, ProtoMinor: 1,
		Header: h, Body: io.NopCloser(bytes.NewReader(body)), ContentLength: int64(len(body)),
		Request: r,
	}, nil
}

// find picks the newest entry that answers the request now: one recorded with
// the same range, or the whole.
func (t *Transport) find(method, key, rng string) (Entry, *MissError) {
	now := t.now()
	miss := &MissError{Method: method, URL: key, Range: rng, At: now}
	var best *Entry
	for _, e := range t.byURL[key] {
		if e.Method != method || e.Range != "" && e.Range != rng {
			continue
		}
		if e.FetchedAt.After(now) {
			if miss.First.IsZero() {
				miss.First = e.FetchedAt
			}
			continue
		}
		// Of the same time, the one that was asked for in the same way.
		if best == nil || e.FetchedAt.After(best.FetchedAt) || e.FetchedAt.Equal(best.FetchedAt) && e.Range == rng {
			best = &e
		}
	}
	if best == nil {
		return Entry{}, miss
	}
	return *best, nil
}

func (t *Transport) body(e Entry) ([]byte, error) {
	if e.File == "" {
		return nil, nil
	}
	body, err := fs.ReadFile(t.fsys, e.File)
	if err != nil {
		return nil, fmt.Errorf("read the recorded body: %w", err)
	}
	if got := Sum(body); !strings.EqualFold(got, e.SHA256) {
		return nil, fmt.Errorf("the recorded body %s was changed: sha256 is %s, the manifest says %s", e.File, got, e.SHA256)
	}
	return body, nil
}

// unchanged evaluates the request's validators (RFC9110, 13.2.2).
func unchanged(req, have http.Header) bool {
	if want := req.Get("If-None-Match"); want != "" {
		tag := strings.TrimPrefix(have.Get("Etag"), "W/")
		for one := range strings.SplitSeq(want, ",") {
			one = strings.TrimSpace(one)
			if tag != "" && (one == "*" || strings.TrimPrefix(one, "W/") == tag) {
				return true
			}
		}
		return false
	}
	since, err := http.ParseTime(req.Get("If-Modified-Since"))
	if err != nil {
		return false
	}
	modified, err := http.ParseTime(have.Get("Last-Modified"))
	return err == nil && !modified.After(since)
}

// cut answers a request for one range of a body that was recorded whole
// (RFC9110, 14). A header that can't be read, or asks for several ranges, is
// ignored, as a server may.
func cut(body []byte, rng string, h http.Header) (int, []byte) {
	size := int64(len(body))
	first, last, ok := parseRange(rng, size)
	if !ok {
		return http.StatusOK, body
	}
	h.Set("Accept-Ranges", "bytes")
	if first >= size || first > last {
		h.Set("Content-Range", fmt.Sprintf("bytes */%d", size))
		return http.StatusRequestedRangeNotSatisfiable, nil
	}
	h.Set("Content-Range", fmt.Sprintf("bytes %d-%d/%d", first, last, size))
	return http.StatusPartialContent, body[first : last+1]
}

// parseRange reads "bytes=2-5", "bytes=2-" and "bytes=-5" for a body of some
// size. A range outside of the body comes back with first beyond last or
// size.
func parseRange(s string, size int64) (first, last int64, ok bool) {
	spec, found := strings.CutPrefix(s, "bytes=")
	a, b, dash := strings.Cut(strings.TrimSpace(spec), "-")
	if !found || !dash || strings.Contains(spec, ",") {
		return 0, 0, false
	}
	if a == "" {
		n, err := strconv.ParseUint(b, 10, 62)
		if err != nil {
			return 0, 0, false
		}
		if n == 0 {
			return size, size, true
		}
		return max(0, size-int64(n)), size - 1, true
	}
	f, err := strconv.ParseUint(a, 10, 62)
	if err != nil {
		return 0, 0, false
	}
	l := uint64(max(size-1, 0))
	if b != "" {
		if l, err = strconv.ParseUint(b, 10, 62); err != nil || l < f {
			return 0, 0, false
		}
		l = min(l, uint64(max(size-1, 0)))
	}
	return int64(f), int64(l), true
}
