package gridded

import (
	"context"
	"errors"
	"sync"
	"time"

	"forecastd/internal/fetch"
	"forecastd/internal/models"
)

// Port is what one port reads of a product.
type Port struct {
	Places []Place
	// Office is the local office of the weather service ("XAM"), for products
	// that each office makes for itself.
	Office string
}

// failedFor is how long a failure counts for all who share a source, so that
// they do not try a service in trouble one after the other.
const failedFor = 4 * time.Minute

// Share makes a source for each of many ports, with a fault in place of it
// where the product can't serve the port. Those that lie in the same area of
// the product, or have the same office, share all that is fetched: a run is
// asked for once, by whichever comes first, and unpacked once for all of them.
// Places and Office of the options are not looked at.
func Share(client Getter, o Options, ports []Port) (list []*View, faults []error) {
	list, faults = make([]*View, len(ports)), make([]error, len(ports))
	type group struct {
		shared *shared
		places []Place
	}
	groups := map[[2]string]*group{}
	var order []*group
	for i, p := range ports {
		o.Places, o.Office = p.Places, p.Office
		alone, err := New(client, o)
		if err != nil {
			faults[i] = err
			continue
		}
		key := [2]string{alone.spot.area, p.Office}
		if len(o.Product.Regions) == 0 {
			key[1] = ""
		}
		g := groups[key]
		if g == nil {
			g = &group{shared: &shared{source: alone, turn: make(chan struct{}, 1)}}
			groups[key], order = g, append(order, g)
		}
		list[i] = &View{shared: g.shared, first: len(g.places), n: len(p.Places)}
		g.places = append(g.places, p.Places...)
	}
	for _, g := range order {
		g.shared.source.o.Places = g.places
	}
	return list, faults
}

// shared is a source that several ports look at.
type shared struct {
	source *Source
	turn   chan struct{} // who has it may ask

	mu sync.Mutex
	// got is the last good reading, of which there is none while its files are
	// nil. It stands until next.
	got  reading
	next time.Time
	// err is why the last try failed; nil where it did not.
	err   error
	asked time.Time
}

// View is the fetch.Source of one port on a product that it shares with
// others.
type View struct {
	shared *shared
	first  int
	n      int
}

// Name is the product's name.
func (v *View) Name() string { return v.shared.source.Name() }

// MaxAge is how long an answer counts.
func (v *View) MaxAge() time.Duration { return v.shared.source.MaxAge() }

// Oldest is how old a run may be.
func (v *View) Oldest() time.Duration { return v.shared.source.Oldest() }

// Fetch answers out of what is at hand while nothing new can be out, and asks
// for all ports where something can. Whoever comes while another asks waits
// for that answer.
func (v *View) Fetch(ctx context.Context) (fetch.Batch, error) {
	s := v.shared
	if ctx.Err() == nil {
		select {
		case s.turn <- struct{}{}:
			defer func() { <-s.turn }()
		case <-ctx.Done():
		}
	}
	if ctx.Err() != nil {
		return fetch.Batch{}, s.source.gone(ctx)
	}
	got, err := s.read(ctx)
	if err != nil {
		return fetch.Batch{}, err
	}
	return v.of(got)
}

// Next is when something new can be out; it is the same for all ports.
func (v *View) Next(time.Time) time.Time {
	v.shared.mu.Lock()
	defer v.shared.mu.Unlock()
	return v.shared.next
}

// Kept is the last good answer once more.
func (v *View) Kept() (fetch.Batch, bool) {
	v.shared.mu.Lock()
	got := v.shared.got
	v.shared.mu.Unlock()
	if got.files == nil {
		return fetch.Batch{}, false
	}
	b, err := v.of(got)
	return b, err == nil
}

func (v *View) of(got reading) (fetch.Batch, error) {
	return v.shared.source.batch(got, v.first, v.n)
}

// read is what all ports read. The caller has the turn.
func (s *shared) read(ctx context.Context) (reading, error) {
	now := s.source.o.Now().UTC()
	s.mu.Lock()
	got, next, err, asked := s.got, s.next, s.err, s.asked
	s.mu.Unlock()
	since := now.Sub(asked)
	switch {
	case since < 0: // never asked, or the clock was set back
	case err != nil && since < max(failedFor, wait(err)):
		return reading{}, err
	case err == nil && got.files != nil && now.Before(next):
		return got, nil
	}
	got, err = s.source.read(ctx, now)
	if errors.Is(ctx.Err(), context.Canceled) {
		return got, err // of the one who asked, not of the service
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.asked, s.err, s.next = now, err, time.Time{}
	if err == nil {
		s.got, s.next = got, s.source.due(now, got)
	}
	return got, err
}

// wait is how long a service asked to be left alone.
func wait(err error) time.Duration {
	var e *models.Error
	if !errors.As(err, &e) {
		return 0
	}
	return min(e.RetryAfter, time.Hour)
}

// due is when it is worth to ask again after a reading: when the product's
// table has a better run come out, and soon where that run is late, what was
// read has holes, or only a listing tells which runs there are.
func (s *Source) due(now time.Time, got reading) time.Time {
	p := s.o.Product
	soon := now.Add(time.Duration(p.LookAgain))
	whole := len(got.files) == len(got.run.leads)
	for _, f := range got.files {
		whole = whole && !f.again()
	}
	better := func(t time.Time) bool {
		runs := p.runs(t, s.want(t))
		return len(runs) == 0 || !runs[0].start.Equal(got.run.start)
	}
	if p.Listing != "" || !whole || better(now) {
		return soon
	}
	ready := time.Duration(p.ReadyAfter)
	first := now.Add(-ready).Truncate(time.Hour).Add(time.Hour + ready)
	for t := first; t.Before(now.Add(time.Duration(p.LookBack))); t = t.Add(time.Hour) {
		if better(t) {
			return t
		}
	}
	return soon
}

// want are the hours wanted at a time.
func (s *Source) want(now time.Time) models.Interval {
	return models.Interval{Start: now.Add(-time.Hour), End: now.Add(s.o.Horizon)}
}

var (
	_ fetch.Paced  = (*View)(nil)
	_ fetch.Keeper = (*View)(nil)
)
