// Package fetchtest is the suite that every source has to pass: it lets a
// source fetch from a server that behaves, and then from one that fails in
// all the ways that servers do.
package fetchtest

import (
	"context"
	"errors"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch"
	"forecastd/internal/models"
)

// Case is one source under test.
type Case struct {
	// New builds the source as the program does, with a fixed clock, asking
	// the server at base ("http://127.0.0.1:1234") through transport. The
	// pause between attempts should be short.
	New func(t testing.TB, transport http.RoundTripper, base string) fetch.Source
	// Service answers as the real service does on a good day.
	Service http.Handler
	// Check looks at the answer of a good day.
	Check func(t testing.TB, b fetch.Batch)
	// Oversize is more bytes than the source accepts in one body; 0 means
	// 64 MiB.
	Oversize int64
	// Also lists kinds of error that are right for this source beside the
	// usual ones.
	Also map[Fault][]models.Kind
	// Probe tells which requests only look whether something is there yet,
	// so that a failure needs no note. Nil means none.
	Probe func(*http.Request) bool
	// Older answers as the service did before: the same questions, in documents
	// made earlier. It is wanted of every source whose documents say when they
	// were made.
	Older http.Handler
	// Lasting says that what the source asks for does not age in a cache, as
	// files that are written once do not.
	Lasting bool
}

// patience is how long a cancelled fetch may take to come back. It guards the
// test against hanging and measures nothing.
const patience = 10 * time.Second

// Run checks the contract of fetch.Source.
func Run(t *testing.T, c Case) {
	t.Helper()
	if c.Oversize == 0 {
		c.Oversize = 64 << 20
	}
	good, seen := c.goodDay(t)
	t.Run("unchanged", func(t *testing.T) { c.unchanged(t) })
	t.Run("cancelled before", func(t *testing.T) { c.cancelledBefore(t) })
	t.Run("cancelled during", func(t *testing.T) { c.cancelledDuring(t) })
	t.Run("deadline", func(t *testing.T) { c.deadline(t) })
	t.Run("at once", func(t *testing.T) { c.atOnce(t, good) })
	if !c.Lasting { // what lasts has no age to be asked about
		t.Run("kept too long", func(t *testing.T) { c.keptTooLong(t) })
		t.Run("an older copy", func(t *testing.T) { c.olderCopy(t, good) })
		if dated(good) {
			t.Run("an older document", func(t *testing.T) { c.olderDocument(t, good) })
			t.Run("too old a document", func(t *testing.T) { c.tooOld(t, good) })
		}
	}
	for _, f := range Faults() {
		t.Run(string(f), func(t *testing.T) { c.allFail(t, f) })
	}
	if len(seen) > 1 {
		for i, key := range seen[:min(len(seen), 8)] {
			t.Run("one part of several", func(t *testing.T) { c.oneFails(t, i, key, good) })
		}
	}
}

func (c Case) start(t testing.TB) (*server, fetch.Source) {
	t.Helper()
	s := newServer(t, c)
	src := c.New(t, s.transport, s.URL)
	require.NotEmpty(t, src.Name())
	require.Positive(t, src.MaxAge(), "how long the last good answer counts")
	return s, src
}

func (c Case) goodDay(t *testing.T) (good fetch.Batch, seen []string) {
	t.Helper()
	s, src := c.start(t)
	good, err := ask(t, t.Context(), src)
	require.NoError(t, err)
	Plausible(t, good)
	require.False(t, empty(good), "a good day brings something")
	require.NotEmpty(t, good.From, "where it came from")
	if c.Check != nil {
		c.Check(t, good)
	}
	return good, s.requests()
}

// unchanged: a service that answers 304 changes nothing in the answer.
func (c Case) unchanged(t *testing.T) {
	s, src := c.start(t)
	first, err := ask(t, t.Context(), src)
	require.NoError(t, err)
	second, err := ask(t, t.Context(), src)
	require.NoError(t, err)
	require.Equal(t, shape(first), shape(second))
	require.Equal(t, first, second, "under a clock that stands still")
	for _, r := range s.log() {
		if r.rangeHeader == "" && r.times > 1 {
			require.Positive(t, s.unchanged(), "asked %s again, but not whether it had changed", r.key)
		}
	}
}

func (c Case) cancelledBefore(t *testing.T) {
	s, src := c.start(t)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err := ask(t, ctx, src)
	wantKind(t, err, models.KindCancelled)
	require.Empty(t, s.requests(), "nothing is asked any more")
}

func (c Case) cancelledDuring(t *testing.T) {
	s, src := c.start(t)
	s.hang()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	done := make(chan error, 1)
	go func() {
		_, err := src.Fetch(ctx)
		done <- err
	}()
	select {
	case <-s.arrived:
	case <-time.After(patience):
		t.Fatal("no request came")
	}
	cancel()
	select {
	case err := <-done:
		wantKind(t, err, models.KindCancelled)
	case <-time.After(patience):
		t.Fatal("a cancelled fetch does not come back")
	}
}

func (c Case) deadline(t *testing.T) {
	s, src := c.start(t)
	s.hang()
	ctx, cancel := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer cancel()
	_, err := ask(t, ctx, src)
	wantKind(t, err, models.KindTimeout)
}

func (c Case) atOnce(t *testing.T, good fetch.Batch) {
	_, src := c.start(t)
	type answer struct {
		b   fetch.Batch
		err error
	}
	done := make(chan answer, 2)
	for range 2 {
		go func() {
			b, err := src.Fetch(t.Context())
			done <- answer{b, err}
		}()
	}
	for range 2 {
		a := <-done
		require.NoError(t, a.err)
		require.Equal(t, shape(good), shape(a.b))
	}
}

// keptTooLong: a cache on the way that has kept its answers for months has no
// answers.
func (c Case) keptTooLong(t *testing.T) {
	s, src := c.start(t)
	s.stamp(map[string]string{"Age": "10000000"})
	b, err := ask(t, t.Context(), src)
	wantKind(t, err, models.KindStale)
	require.True(t, empty(b))
}

// olderCopy: an answer dated before the last one takes nothing's place.
func (c Case) olderCopy(t *testing.T, good fetch.Batch) {
	s, src := c.start(t)
	now := good.From[0].Fetched
	s.stamp(map[string]string{"Date": now.Format(http.TimeFormat)})
	_, err := ask(t, t.Context(), src)
	require.NoError(t, err)
	s.stamp(map[string]string{"Date": now.Add(-10 * time.Minute).Format(http.TimeFormat)})
	_, err = ask(t, t.Context(), src)
	wantKind(t, err, models.KindStale)
}

// dated tells whether documents say when they were made.
func dated(b fetch.Batch) bool {
	return slices.ContainsFunc(b.From, func(p models.Provenance) bool { return !p.Issued.IsZero() })
}

// collect is the collector with the source alone, by a clock that moves.
func collect(src fetch.Source, at *time.Time) *fetch.Collector {
	return fetch.NewCollector(fetch.CollectorOptions{Sources: []fetch.Source{src}, Now: func() time.Time { return *at }})
}

// olderDocument: a document made before the last one is no answer; the last
// one stands.
func (c Case) olderDocument(t *testing.T, good fetch.Batch) {
	require.NotNil(t, c.Older, "the documents say when they were made: give older ones")
	s, src := c.start(t)
	at := good.From[0].Fetched
	col := collect(src, &at)
	first := col.Collect(t.Context())
	require.Equal(t, fetch.Fresh, first.Sources[0].State, "%v", first.Sources[0].Err)
	s.become(c.Older)
	at = at.Add(time.Minute)
	second := col.Collect(t.Context())
	wantKind(t, second.Sources[0].Err, models.KindStale)
	require.Equal(t, fetch.Kept, second.Sources[0].State)
	require.Equal(t, time.Minute, second.Sources[0].Age, "its age goes on")
	require.Equal(t, first.Batch, second.Batch)
}

// tooOld: a document that is older than the source's limit is no answer,
// however lately it was fetched.
func (c Case) tooOld(t *testing.T, good fetch.Batch) {
	_, src := c.start(t)
	require.NotZero(t, src.Oldest(), "what is made at a time goes out of date: say when")
	at := good.From[0].Fetched.Add(src.Oldest() + 14*24*time.Hour)
	col := collect(src, &at).Collect(t.Context())
	require.Equal(t, fetch.Missing, col.Sources[0].State)
	wantKind(t, col.Sources[0].Err, models.KindStale)
	require.True(t, empty(col.Batch))
}

// allFail: when every request fails in the same way, the source says so.
func (c Case) allFail(t *testing.T, f Fault) {
	s, src := c.start(t)
	s.fail(f, nil)
	b, err := ask(t, t.Context(), src)
	if err == nil && f == CutShort {
		Plausible(t, b) // a format of lines may be short without being wrong
		return
	}
	require.Error(t, err, "an answer came in spite of %q: %+v", f, shape(b))
	e := wantKind(t, err, append(f.kinds(), c.Also[f]...)...)
	if f == RateLimited {
		require.Equal(t, 2*time.Minute, e.RetryAfter, "the service's wish is passed on")
	}
	require.True(t, empty(b), "an error comes with nothing else: %+v", shape(b))
}

// oneFails: when one request of several fails, the source fails or gives the
// rest and says what is missing.
func (c Case) oneFails(t *testing.T, i int, key string, good fetch.Batch) {
	for _, f := range []Fault{NotFound, Unavailable, WebPage, Garbage, Empty} {
		s, src := c.start(t)
		probed := false
		s.fail(f, func(r *http.Request) bool {
			if requestKey(r) != key {
				return false
			}
			if c.Probe != nil && c.Probe(r) {
				probed = true
			}
			return true
		})
		b, err := ask(t, t.Context(), src)
		if err != nil {
			wantKind(t, err, append(f.kinds(), c.Also[f]...)...)
			continue
		}
		Plausible(t, b)
		if !probed {
			fresh := slices.ContainsFunc(b.Notes, func(n string) bool { return !slices.Contains(good.Notes, n) })
			require.True(t, fresh, "request %d (%s) failed with %q and nobody says so: %q", i+1, key, f, b.Notes)
		}
	}
}

// ask fetches and turns a panic into a failed test.
func ask(t testing.TB, ctx context.Context, src fetch.Source) (b fetch.Batch, err error) {
	t.Helper()
	defer func() {
		if r := recover(); r != nil {
			t.Fatalf("fetching panics: %v", r)
		}
	}()
	return src.Fetch(ctx)
}

func wantKind(t testing.TB, err error, kinds ...models.Kind) *models.Error {
	t.Helper()
	require.Error(t, err)
	var e *models.Error
	require.True(t, errors.As(err, &e), "not a *models.Error: %v", err)
	require.Contains(t, kinds, e.Kind, "%v", err)
	require.NotEmpty(t, e.Source, "the error does not name its source: %v", err)
	require.False(t, strings.HasSuffix(err.Error(), "."), "no full stop: %v", err)
	return e
}

// counts is how much of everything a batch holds.
type counts struct {
	Observations, Series, Hours, Warnings, Texts, Tides, Streams, Inlet, Notes int
	WarningsKnown                                                              bool
}

func shape(b fetch.Batch) counts {
	ws, known := b.Warnings.Get()
	c := counts{
		Observations: len(b.Observations), Series: len(b.Series), Warnings: len(ws), WarningsKnown: known,
		Texts: len(b.Texts), Tides: len(b.Tides), Streams: len(b.Streams), Inlet: len(b.Inlet), Notes: len(b.Notes),
	}
	for _, s := range b.Series {
		c.Hours += len(s.Hours)
	}
	return c
}

func empty(b fetch.Batch) bool {
	c := shape(b)
	c.Notes = 0
	return c == counts{}
}
