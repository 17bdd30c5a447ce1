package fetch_test

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch"
	"forecastd/internal/models"
)

// source answers as the test tells it to.
type source struct {
	name   string
	maxAge time.Duration
	oldest time.Duration
	fetch  func(context.Context) (fetch.Batch, error)
	asked  atomic.Int32
}

func (s *source) Name() string          { return s.name }
func (s *source) MaxAge() time.Duration { return s.maxAge }
func (s *source) Oldest() time.Duration { return s.oldest }
func (s *source) Fetch(ctx context.Context) (fetch.Batch, error) {
	s.asked.Add(1)
	return s.fetch(ctx)
}

func answers(b fetch.Batch) func(context.Context) (fetch.Batch, error) {
	return func(context.Context) (fetch.Batch, error) { return b, nil }
}

func failing(e *models.Error) func(context.Context) (fetch.Batch, error) {
	return func(context.Context) (fetch.Batch, error) { return fetch.Batch{}, e }
}

// clock is moved by hand.
type clock struct {
	mu sync.Mutex
	t  time.Time
}

func (c *clock) now() time.Time { c.mu.Lock(); defer c.mu.Unlock(); return c.t }
func (c *clock) move(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.t = c.t.Add(d)
}

func start() *clock { return &clock{t: time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC)} }

func obs(station string, at time.Time) fetch.Batch {
	return fetch.Batch{
		Observations: []models.Observation{{Station: station, At: at}},
		Notes:        []string{station + " has a word to say"},
		From:         []models.Provenance{{Source: station}},
	}
}

func TestEachFailsOnItsOwn(t *testing.T) {
	c := start()
	down := &models.Error{Kind: models.KindUnreachable, Source: "b"}
	col := fetch.NewCollector(fetch.CollectorOptions{Now: c.now, Parallel: 2, Sources: []fetch.Source{
		&source{name: "a", maxAge: time.Hour, fetch: answers(obs("late", c.now()))},
		&source{name: "b", maxAge: time.Hour, fetch: failing(down)},
		&source{name: "c", maxAge: time.Hour, fetch: func(context.Context) (fetch.Batch, error) { panic("nil map") }},
		&source{name: "d", maxAge: time.Hour, fetch: answers(obs("early", c.now().Add(-time.Hour)))},
	}})
	got := col.Collect(t.Context())
	require.Len(t, got.Observations, 2)
	require.Equal(t, "early", got.Observations[0].Station, "by time")
	require.Equal(t, []string{"late has a word to say", "early has a word to say"}, got.Notes, "by source")
	require.False(t, got.Warnings.Known(), "no feed of warnings answered")
	require.Equal(t, c.now(), got.At)
	require.Len(t, got.Sources, 4)
	require.Equal(t, fetch.Status{Name: "a", State: fetch.Fresh, Fetched: c.now(), Asked: true, Notes: []string{"late has a word to say"}}, got.Sources[0])
	require.Equal(t, fetch.Status{Name: "b", State: fetch.Missing, Err: down, Asked: true}, got.Sources[1])
	require.Equal(t, fetch.Missing, got.Sources[2].State)
	require.ErrorContains(t, got.Sources[2].Err, "broke down: nil map")
	require.Equal(t, fetch.Fresh, got.Sources[3].State)
}

func TestLastGoodCountsUntilItIsTooOld(t *testing.T) {
	c := start()
	s := &source{name: "a", maxAge: time.Hour, fetch: answers(obs("x", c.now()))}
	col := fetch.NewCollector(fetch.CollectorOptions{Now: c.now, Sources: []fetch.Source{s}})
	require.Equal(t, fetch.Fresh, col.Collect(t.Context()).Sources[0].State)
	down := &models.Error{Kind: models.KindServer, Source: "a"}
	s.fetch = failing(down)
	for _, step := range []struct {
		age   time.Duration
		state fetch.State
	}{
		{30 * time.Minute, fetch.Kept}, {time.Hour, fetch.Kept}, {time.Hour + time.Second, fetch.Missing}, {2 * time.Hour, fetch.Missing},
	} {
		c.move(step.age - c.now().Sub(start().now()))
		got := col.Collect(t.Context())
		st := got.Sources[0]
		require.Equal(t, step.state, st.State, "after %s", step.age)
		require.ErrorIs(t, st.Err, down)
		if step.state == fetch.Kept {
			require.Equal(t, step.age, st.Age)
			require.Equal(t, start().now(), st.Fetched)
			require.Len(t, got.Observations, 1)
		} else {
			require.Empty(t, got.Observations)
			require.True(t, st.Fetched.IsZero())
		}
	}
	s.fetch = answers(obs("y", c.now()))
	require.Equal(t, "y", col.Collect(t.Context()).Observations[0].Station)
}

// A source that gets only part of what it asks for does not lose the rest.
func TestPartsCountOnTheirOwn(t *testing.T) {
	c := start()
	station := func(id string) fetch.Batch {
		from := models.Provenance{Source: "buoys", Detail: id, Fetched: c.now()}
		return fetch.Batch{
			Observations: []models.Observation{{Station: id, At: c.now(), From: from}},
			Tides:        []models.TideEvent{{At: c.now(), From: from}},
			Streams:      []models.StreamEvent{{At: c.now(), From: from}},
			From:         []models.Provenance{from},
		}
	}
	both, b := station("a"), station("b")
	both.Observations = append(both.Observations, b.Observations...)
	both.From = append(both.From, b.From...)
	both.Inlet = []models.Hour{{At: c.now()}}
	s := &source{name: "buoys", maxAge: time.Hour, fetch: answers(both)}
	col := fetch.NewCollector(fetch.CollectorOptions{Now: c.now, Sources: []fetch.Source{s}})
	require.Len(t, col.Collect(t.Context()).Observations, 2)

	for range 2 { // the age runs on, however often it is used again
		c.move(30 * time.Minute)
		s.fetch = answers(station("b"))
		got := col.Collect(t.Context())
		require.Equal(t, fetch.Fresh, got.Sources[0].State)
		require.Len(t, got.Observations, 2)
		require.Equal(t, "a", got.Observations[0].Station)
		require.Equal(t, start().now(), got.Observations[0].From.Fetched)
		require.Len(t, got.Tides, 2)
		require.Len(t, got.Streams, 2)
		require.Len(t, got.Inlet, 1)
		require.Len(t, got.From, 2)
		require.Equal(t, []string{
			"buoys a: what was fetched at 22:00 UTC on 18 Jan is used again",
			"the stream in the inlet: what was fetched at 22:00 UTC on 18 Jan is used again",
		}, got.Notes)
	}
	c.move(time.Minute)
	s.fetch = answers(station("b"))
	got := col.Collect(t.Context())
	require.Len(t, got.Observations, 1, "an hour is over")
	require.Empty(t, got.Inlet)
	require.Empty(t, got.Notes)
}

func TestWarnings(t *testing.T) {
	c := start()
	none := fetch.Batch{Warnings: models.Known([]models.Warning{})}
	one := fetch.Batch{Warnings: models.Known([]models.Warning{{Event: "Gale Exercise"}})}
	feed := &source{name: "feed", maxAge: 20 * time.Minute, fetch: answers(none)}
	other := &source{name: "other", maxAge: time.Hour, fetch: answers(fetch.Batch{})}
	col := fetch.NewCollector(fetch.CollectorOptions{Now: c.now, Sources: []fetch.Source{other, feed}})
	ws, ok := col.Collect(t.Context()).Warnings.Get()
	require.True(t, ok, "the feed says that there is none")
	require.Empty(t, ws)
	feed.fetch = answers(one)
	ws, _ = col.Collect(t.Context()).Warnings.Get()
	require.Len(t, ws, 1)
	ws, _ = col.Collect(t.Context()).Warnings.Get()
	require.Len(t, ws, 1, "nothing piles up")
	feed.fetch = failing(&models.Error{Kind: models.KindTimeout})
	ws, _ = col.Collect(t.Context()).Warnings.Get()
	require.Len(t, ws, 1, "kept")
	c.move(21 * time.Minute)
	require.False(t, col.Collect(t.Context()).Warnings.Known(), "a feed that is lost is not one without warnings")
}

func TestRetryAfterIsHonoured(t *testing.T) {
	c := start()
	busy := &models.Error{Kind: models.KindRateLimited, RetryAfter: 10 * time.Minute}
	s := &source{name: "a", maxAge: time.Hour, fetch: failing(busy)}
	col := fetch.NewCollector(fetch.CollectorOptions{Now: c.now, Sources: []fetch.Source{s}})
	col.Collect(t.Context())
	for range 3 {
		c.move(3 * time.Minute)
		require.ErrorIs(t, col.Collect(t.Context()).Sources[0].Err, busy)
	}
	require.EqualValues(t, 1, s.asked.Load(), "the service wanted ten minutes of peace")
	c.move(time.Minute)
	busy.RetryAfter = 24 * time.Hour
	col.Collect(t.Context())
	require.EqualValues(t, 2, s.asked.Load())
	c.move(time.Hour)
	s.fetch = answers(fetch.Batch{})
	require.Equal(t, fetch.Fresh, col.Collect(t.Context()).Sources[0].State)
}

func TestTimeAndNumberAreBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var running, most atomic.Int32
		slow := func(ctx context.Context) (fetch.Batch, error) {
			for n := running.Add(1); n > most.Load(); {
				most.Store(n)
			}
			defer running.Add(-1)
			<-ctx.Done()
			return fetch.Batch{}, &models.Error{Kind: models.KindTimeout, Err: ctx.Err()}
		}
		var all []fetch.Source
		for range 6 {
			all = append(all, &source{name: "slow", fetch: slow})
		}
		begin := time.Now()
		got := fetch.NewCollector(fetch.CollectorOptions{Sources: all, Parallel: 3, PerSource: time.Minute}).Collect(t.Context())
		require.Equal(t, 2*time.Minute, time.Since(begin))
		require.EqualValues(t, 3, most.Load())
		require.ErrorIs(t, got.Sources[5].Err, context.DeadlineExceeded)
	})
}

func TestCancelledCollectKeepsWhatItHas(t *testing.T) {
	c := start()
	s := &source{name: "a", maxAge: time.Hour, fetch: answers(obs("x", c.now()))}
	col := fetch.NewCollector(fetch.CollectorOptions{Now: c.now, Sources: []fetch.Source{s}})
	col.Collect(t.Context())
	s.fetch = func(ctx context.Context) (fetch.Batch, error) { return fetch.Batch{}, ctx.Err() }
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	got := col.Collect(ctx)
	require.True(t, errors.Is(got.Sources[0].Err, context.Canceled))
	require.Equal(t, fetch.Kept, got.Sources[0].State)
}

func TestCollectFromSeveralGoroutines(t *testing.T) {
	c := start()
	s := &source{name: "a", maxAge: time.Hour, fetch: answers(obs("x", c.now()))}
	col := fetch.NewCollector(fetch.CollectorOptions{Now: c.now, Sources: []fetch.Source{s, s}})
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			if got := col.Collect(t.Context()); len(got.Observations) != 2 {
				t.Errorf("%d observations", len(got.Observations))
			}
		})
	}
	wg.Wait()
}

// paced is a source with a timetable.
type paced struct {
	source
	next func(last time.Time) time.Time
}

func (p *paced) Next(last time.Time) time.Time { return p.next(last) }

func TestASourceIsAskedWhenSomethingNewCanBeThere(t *testing.T) {
	c := start()
	s := &paced{source: source{name: "a", maxAge: 4 * time.Hour, fetch: answers(obs("x", c.now()))}, next: func(last time.Time) time.Time { return last.Add(time.Hour) }}
	col := fetch.NewCollector(fetch.CollectorOptions{Now: c.now, Sources: []fetch.Source{s}})
	look := func(state fetch.State, age time.Duration, asked int, next time.Time) fetch.Collection {
		t.Helper()
		was := int(s.asked.Load())
		got := col.Collect(t.Context())
		st := got.Sources[0]
		require.Equal(t, state, st.State)
		require.Equal(t, age, st.Age)
		require.Equal(t, asked, int(s.asked.Load())-was)
		require.Equal(t, asked == 1, st.Asked)
		require.Equal(t, next, st.Next)
		return got
	}
	first := c.now().Add(time.Hour)
	look(fetch.Fresh, 0, 1, first)
	c.move(59 * time.Minute)
	require.Len(t, look(fetch.Fresh, 59*time.Minute, 0, first).Observations, 1, "its answer stands")
	c.move(time.Minute)
	look(fetch.Fresh, 0, 1, c.now().Add(time.Hour))

	// One that failed is tried with every look, whatever its timetable says.
	c.move(time.Hour)
	s.fetch = failing(&models.Error{Kind: models.KindServer, Source: "a"})
	look(fetch.Kept, time.Hour, 1, time.Time{})
	c.move(time.Minute)
	look(fetch.Kept, time.Hour+time.Minute, 1, time.Time{})
	s.fetch = answers(obs("y", c.now()))
	c.move(time.Minute)
	look(fetch.Fresh, 0, 1, c.now().Add(time.Hour))

	// A clock set back asks anew, and so does an answer that counts no longer.
	c.move(-30 * time.Minute)
	look(fetch.Fresh, 0, 1, c.now().Add(time.Hour))
	s.next = func(last time.Time) time.Time { return last.AddDate(0, 0, 2) }
	look(fetch.Fresh, 0, 0, c.now().Add(4*time.Hour))
	c.move(4 * time.Hour)
	look(fetch.Fresh, 0, 1, c.now().Add(4*time.Hour))
}

// keeper remembers for itself.
type keeper struct {
	source
	good fetch.Batch
	ok   bool
}

func (k *keeper) Kept() (fetch.Batch, bool) { return k.good, k.ok }

func TestASourceThatKeepsItsAnswerIsAskedForIt(t *testing.T) {
	c := start()
	k := &keeper{source: source{name: "a", maxAge: time.Hour, fetch: answers(obs("x", c.now()))}}
	col := fetch.NewCollector(fetch.CollectorOptions{Now: c.now, Sources: []fetch.Source{k}})
	require.Equal(t, "x", col.Collect(t.Context()).Observations[0].Station)
	k.fetch = failing(&models.Error{Kind: models.KindServer, Source: "a"})
	k.good, k.ok = obs("what it kept", c.now()), true
	got := col.Collect(t.Context())
	require.Equal(t, fetch.Kept, got.Sources[0].State)
	require.Equal(t, "what it kept", got.Observations[0].Station)
	k.ok = false
	require.Equal(t, fetch.Missing, col.Collect(t.Context()).Sources[0].State)
}
