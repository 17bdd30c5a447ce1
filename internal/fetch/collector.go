package fetch

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"forecastd/internal/models"
)

const (
	defaultParallel  = 4
	defaultPerSource = 2 * time.Minute
	// longestHold is how long at most a source is left alone because its
	// service asked for it: a warnings feed is worth a try every hour.
	longestHold = time.Hour
)

// CollectorOptions are what a Collector is built from.
type CollectorOptions struct {
	// Sources are asked, and their answers joined, in this order.
	Sources []Source
	// Now is the clock that ages are measured by; nil means time.Now.
	Now func() time.Time
	// Parallel is how many sources are asked at the same time; 0 means 4.
	Parallel int
	// PerSource limits the time that each source may take; 0 means 2 minutes.
	PerSource time.Duration
}

// State is where the answer of a source comes from.
type State string

// States of a source.
const (
	Fresh   State = "fresh"   // it answered when it was last asked, and nothing new can be there
	Kept    State = "kept"    // it failed; the last good answer still counts
	Missing State = "missing" // it failed, and there is nothing that counts
)

// Status is how one source did.
type Status struct {
	Name  string
	State State
	// Fetched is when the answer in use was fetched, and Age how long ago;
	// zero where the source is missing.
	Fetched time.Time
	Age     time.Duration
	// Err is why the source failed; nil where it is fresh.
	Err   error
	Notes []string
	// Asked tells that the source was asked just now, and Next when it will
	// be at the earliest; zero: with the next look.
	Asked bool
	Next  time.Time
}

// Collection is what all sources together answered.
type Collection struct {
	Batch
	At      time.Time
	Sources []Status
	// Stood are the products that stood when the feed of warnings was last
	// read, while it can't be now. The collector does not know them: who
	// remembers the feed does.
	Stood []models.Warning
}

// Collector asks all sources, each failing on its own, and keeps the last
// good answer of each, and each part of it, for as long as it counts. It may be used by several
// goroutines.
type Collector struct {
	o CollectorOptions

	mu   sync.Mutex
	kept []memory // by source
}

// memory is what the collector remembers of a source.
type memory struct {
	good    Batch
	fetched time.Time // zero: nothing yet
	inlet   time.Time // when good.Inlet was fetched
	// holdUntil is when the source may be asked again after holdErr.
	holdUntil time.Time
	holdErr   error
	// failed tells that the last try failed.
	failed bool
	// ages are when the answers were made, by origin.
	ages *Ages
}

// NewCollector builds a Collector.
func NewCollector(o CollectorOptions) *Collector {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Parallel <= 0 {
		o.Parallel = defaultParallel
	}
	if o.PerSource <= 0 {
		o.PerSource = defaultPerSource
	}
	o.Sources = slices.Clone(o.Sources)
	c := &Collector{o: o, kept: make([]memory, len(o.Sources))}
	for i := range c.kept {
		c.kept[i].ages = &Ages{}
	}
	return c
}

// Collect asks every source that may have something new and joins what
// counts. It has no error of its own: what is missing is told by source. The
// joined warnings are known as soon as one feed of warnings counts, so a port
// whose zones are spread over several feeds must look at Sources, too.
func (c *Collector) Collect(ctx context.Context) Collection {
	type answer struct {
		b     Batch
		err   error
		asked bool
	}
	answers := make([]answer, len(c.o.Sources))
	var wg sync.WaitGroup
	slots := make(chan struct{}, c.o.Parallel)
	for i, s := range c.o.Sources {
		wg.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			switch err, stands := c.look(i); {
			case err != nil:
				answers[i].err = err
			case !stands:
				answers[i].asked = true
				answers[i].b, answers[i].err = c.ask(ctx, s)
			}
		})
	}
	wg.Wait()

	c.mu.Lock()
	defer c.mu.Unlock()
	out := Collection{At: c.o.Now().UTC()}
	for i, s := range c.o.Sources {
		m, a := &c.kept[i], answers[i]
		st := c.settle(m, s, a.b, a.err, a.asked, out.At)
		if st.State != Missing {
			join(&out.Batch, m.good)
		}
		if _, ok := s.(Keeper); ok {
			m.good = Batch{Notes: m.good.Notes}
		}
		out.Sources = append(out.Sources, st)
	}
	sortBatch(&out.Batch)
	return out
}

// look tells why a source may not be asked now, or whether its last answer
// stands: nothing new can be there, and it is not too old.
func (c *Collector) look(i int) (err error, stands bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	m, now := c.kept[i], c.o.Now()
	if now.Before(m.holdUntil) {
		return m.holdErr, false
	}
	next := m.next(c.o.Sources[i])
	return nil, !m.failed && !m.fetched.IsZero() && !now.Before(m.fetched) && now.Before(next)
}

// next is when a source whose last answer was good is asked again; zero where
// it keeps no timetable.
func (m *memory) next(s Source) time.Time {
	p, ok := s.(Paced)
	if !ok || m.failed || m.fetched.IsZero() {
		return time.Time{}
	}
	next, old := p.Next(m.fetched), m.fetched.Add(s.MaxAge())
	if old.Before(next) {
		return old
	}
	return next
}

// ask fetches within the time limit. A source that panics has failed like
// any other.
func (c *Collector) ask(ctx context.Context, s Source) (b Batch, err error) {
	ctx, cancel := context.WithTimeout(ctx, c.o.PerSource)
	defer cancel()
	defer func() {
		if r := recover(); r != nil {
			b, err = Batch{}, &models.Error{Kind: models.KindBadContent, Source: s.Name(), Err: fmt.Errorf("reading the answer broke down: %v", r)}
		}
	}()
	return s.Fetch(ctx)
}

// settle remembers what a source answered and tells what counts.
func (c *Collector) settle(m *memory, s Source, b Batch, err error, asked bool, now time.Time) Status {
	if err == nil && asked {
		b, err = m.dated(b, s, now)
	}
	st := Status{Name: s.Name(), Err: err, Asked: asked}
	switch {
	case err == nil && asked:
		*m = m.renewed(b, now, s.MaxAge())
	case err != nil:
		m.failed = true
		var e *models.Error
		if errors.As(err, &e) && e.RetryAfter > 0 && !now.Before(m.holdUntil) {
			m.holdUntil, m.holdErr = now.Add(min(e.RetryAfter, longestHold)), err
		}
	}
	counts := !m.fetched.IsZero() && now.Sub(m.fetched) <= s.MaxAge()
	if k, ok := s.(Keeper); ok && counts && !(err == nil && asked) {
		m.good, counts = k.Kept()
	}
	switch {
	case err == nil && (asked || counts):
		st.State = Fresh
	case counts:
		st.State = Kept
	default:
		m.good = Batch{} // it will not count again
		st.State = Missing
		return st
	}
	st.Fetched, st.Age, st.Notes, st.Next = m.fetched, now.Sub(m.fetched), m.good.Notes, m.next(s)
	return st
}

// dated judges the parts of an answer by when they were made. A part that is
// older than it was, or too old, is left out, and the one before stands for as
// long as it counts; if no part is left, that is no answer.
func (m *memory) dated(b Batch, s Source, now time.Time) (Batch, error) {
	old := map[[2]string]bool{}
	var first error
	parts := 0
	b.Notes = slices.Clip(b.Notes)
	for _, p := range newestOfOrigins(b.From) {
		doubt, err := m.ages.Judge(p.Source+"\n"+p.Detail, p.Issued, now, s.Oldest())
		switch {
		case err != nil:
			old[origin(p)] = true
			first = cmp.Or(first, err)
			b.Lacks = append(slices.Clip(b.Lacks), models.Gap{What: p.Source + " " + p.Detail, Why: err.Error()})
			b.Notes = append(b.Notes, fmt.Sprintf("%s %s: %v", p.Source, p.Detail, err))
			continue
		case doubt != "":
			b.Notes = append(b.Notes, fmt.Sprintf("%s %s: %s", p.Source, p.Detail, doubt))
		}
		parts++
	}
	if first == nil {
		return b, nil
	}
	if parts == 0 {
		return Batch{}, &models.Error{Kind: models.KindStale, Source: s.Name(), Err: first}
	}
	b.From = slices.DeleteFunc(slices.Clone(b.From), func(p models.Provenance) bool { return old[origin(p)] })
	b.Observations = without(b.Observations, old, func(o models.Observation) models.Provenance { return o.From })
	b.Texts = without(b.Texts, old, func(t models.OfficialText) models.Provenance { return t.From })
	b.Tides = without(b.Tides, old, func(e models.TideEvent) models.Provenance { return e.From })
	b.Streams = without(b.Streams, old, func(e models.StreamEvent) models.Provenance { return e.From })
	return b, nil
}

// newestOfOrigins keeps of each origin what was made last: one may have given
// an older product for what its newest lacks.
func newestOfOrigins(from []models.Provenance) []models.Provenance {
	var out []models.Provenance
	at := map[[2]string]int{}
	for _, p := range from {
		i, seen := at[origin(p)]
		switch {
		case !seen:
			at[origin(p)] = len(out)
			out = append(out, p)
		case p.Issued.After(out[i].Issued):
			out[i] = p
		}
	}
	return out
}

func origin(p models.Provenance) [2]string { return [2]string{p.Source, p.Detail} }

// without leaves out the values of some origins.
func without[T any](list []T, gone map[[2]string]bool, from func(T) models.Provenance) []T {
	return slices.DeleteFunc(slices.Clone(list), func(v T) bool { return gone[origin(from(v))] })
}

// renewed is the memory after a good answer. A source that asks for several
// things may have got only some of them; what is missing now, and was there
// before, is used again while it counts, with a note.
func (m *memory) renewed(b Batch, now time.Time, maxAge time.Duration) memory {
	next := memory{fetched: now, inlet: now, ages: m.ages}
	counts := func(t time.Time) bool { return now.Sub(t) <= maxAge }
	here := map[[2]string]bool{}
	for _, p := range b.From {
		here[origin(p)] = true
	}
	again := func(p models.Provenance) bool { return !here[origin(p)] && counts(p.Fetched) }
	used := map[[2]string]bool{}
	b.Observations = addKept(b.Observations, m.good.Observations, func(o models.Observation) models.Provenance { return o.From }, again, used)
	b.Tides = addKept(b.Tides, m.good.Tides, func(e models.TideEvent) models.Provenance { return e.From }, again, used)
	b.Streams = addKept(b.Streams, m.good.Streams, func(e models.StreamEvent) models.Provenance { return e.From }, again, used)
	b.Notes = slices.Clip(b.Notes)
	for _, p := range m.good.From {
		if used[origin(p)] {
			b.From = append(slices.Clip(b.From), p)
			b.Notes = append(b.Notes, fmt.Sprintf("%s %s: what was fetched at %s is used again", p.Source, p.Detail, p.Fetched.Format("15:04 UTC on 2 Jan")))
		}
	}
	if len(b.Inlet) == 0 && len(m.good.Inlet) > 0 && counts(m.inlet) {
		b.Inlet, next.inlet = m.good.Inlet, m.inlet
		b.Notes = append(b.Notes, fmt.Sprintf("the stream in the inlet: what was fetched at %s is used again", m.inlet.Format("15:04 UTC on 2 Jan")))
	}
	next.good = b
	return next
}

// addKept appends those of old values that are to be used again, and marks
// their origins as used.
func addKept[T any](now, old []T, from func(T) models.Provenance, again func(models.Provenance) bool, used map[[2]string]bool) []T {
	now = slices.Clip(now)
	for _, v := range old {
		if p := from(v); again(p) {
			now = append(now, v)
			used[origin(p)] = true
		}
	}
	return now
}

// join appends what one source answered.
func join(all *Batch, b Batch) {
	all.Observations = append(all.Observations, b.Observations...)
	all.Series = append(all.Series, b.Series...)
	all.Texts = append(all.Texts, b.Texts...)
	all.Tides = append(all.Tides, b.Tides...)
	all.Streams = append(all.Streams, b.Streams...)
	all.Inlet = append(all.Inlet, b.Inlet...)
	all.Lacks = append(all.Lacks, b.Lacks...)
	all.Notes = append(all.Notes, b.Notes...)
	all.From = append(all.From, b.From...)
	if ws, ok := b.Warnings.Get(); ok {
		have := all.Warnings.Or(nil)
		all.Warnings = models.Known(append(slices.Clip(have), ws...))
	}
	if s, ok := b.Seen.Get(); ok {
		if have, ok := all.Seen.Get(); ok {
			s.Listed, s.Over = append(slices.Clip(have.Listed), s.Listed...), append(slices.Clip(have.Over), s.Over...)
			s.Whole = s.Whole && have.Whole
		}
		all.Seen = models.Known(s)
	}
}

func sortBatch(b *Batch) {
	slices.SortStableFunc(b.Observations, func(x, y models.Observation) int {
		return cmp.Or(x.At.Compare(y.At), cmp.Compare(x.Station, y.Station))
	})
	slices.SortStableFunc(b.Tides, func(x, y models.TideEvent) int { return x.At.Compare(y.At) })
	slices.SortStableFunc(b.Streams, func(x, y models.StreamEvent) int { return x.At.Compare(y.At) })
	slices.SortStableFunc(b.Inlet, func(x, y models.Hour) int { return x.At.Compare(y.At) })
}
