package gridded

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sort"
	"sync"
	"time"

	"forecastd/internal/fetch"
	"forecastd/internal/fetch/grib2"
	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
)

// Getter is what the source needs of the HTTP client.
type Getter interface {
	Get(ctx context.Context, req httpx.Request) (*httpx.Response, error)
}

// Place is where a ground's values are read.
type Place struct {
	Ground string
	At     models.Position
}

// Options are what a Source is made of.
type Options struct {
	Product Product
	Places  []Place
	// Horizon is how far ahead of now hours are wanted.
	Horizon time.Duration
	MaxAge  time.Duration
	Now     func() time.Time
	// Base replaces the scheme and host of the product's address; for tests
	// and mirrors.
	Base string
}

// Source is the fetch.Source of one product. It keeps the values of the files
// it has read, so that a run is fetched once. It may be used by several
// goroutines.
type Source struct {
	o      Options
	client Getter

	mu   sync.Mutex
	run  time.Time
	kept map[int]file // by lead
}

// New makes a source.
func New(client Getter, o Options) (*Source, error) {
	if len(o.Places) == 0 {
		return nil, fmt.Errorf("gridded %s: no ground to read it at", o.Product.Name)
	}
	if _, err := o.Product.area(o.Places); err != nil {
		return nil, err
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	return &Source{o: o, client: client, kept: map[int]file{}}, nil
}

// Name is the product's name.
func (s *Source) Name() string { return s.o.Product.Name }

// MaxAge is how long an answer counts.
func (s *Source) MaxAge() time.Duration { return s.o.MaxAge }

// Files asked for at the same time: the services want no more.
const parallel = 4

// Fetch finds the newest run that has come out, reads what it gives for the
// places, and leaves out the hours that can't be had, with a note for each
// kind of failure.
func (s *Source) Fetch(ctx context.Context) (fetch.Batch, error) {
	now := s.o.Now().UTC()
	runs := s.o.Product.runs(now)
	if len(runs) == 0 {
		return fetch.Batch{}, &models.Error{Kind: models.KindNotFound, Source: s.Name(), Err: errors.New("no run is due yet")}
	}
	var failures []error
	var notes []string
	for _, run := range runs {
		got, err := s.readRun(ctx, run, now)
		if err == nil {
			notes = append(notes, got.notes...)
			return s.batch(run, now, got, notes), nil
		}
		if ctx.Err() != nil {
			return fetch.Batch{}, err
		}
		failures = append(failures, err)
		var e *models.Error
		if !errors.As(err, &e) || e.Kind != models.KindNotFound {
			break // an older run on a sick server helps nobody
		}
		notes = append(notes, fmt.Sprintf("the run of %s is not out; an older one stands in", run.Format("2 Jan 15:04 UTC")))
	}
	return fetch.Batch{}, failures[len(failures)-1]
}

// file is what one file gave: the hours at each place, in order of time.
type file struct {
	hours   [][]models.Hour // by place
	fetched time.Time
	notes   []string
}

type result struct {
	files []file
	notes []string
}

// readRun reads all files of a run that are wanted. The last one is asked for
// first: where it is not there yet the run has not come out whole.
func (s *Source) readRun(ctx context.Context, run, now time.Time) (result, error) {
	leads := s.o.Product.leads(run, models.Interval{Start: now.Add(-time.Hour), End: now.Add(s.o.Horizon)})
	if len(leads) == 0 {
		return result{}, &models.Error{Kind: models.KindNotFound, Source: s.Name(), Err: fmt.Errorf("the run of %s covers none of the hours wanted", run.Format(time.RFC3339))}
	}
	s.remember(run)
	files := make([]file, len(leads))
	last := len(leads) - 1
	var err error
	if files[last], err = s.lead(ctx, run, leads[last]); err != nil {
		return result{}, err
	}
	fails := make([]error, len(leads))
	var wg sync.WaitGroup
	slots := make(chan struct{}, parallel)
	for i, lead := range leads[:last] {
		wg.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			files[i], fails[i] = s.lead(ctx, run, lead)
		})
	}
	wg.Wait()
	if err := ctx.Err(); err != nil {
		return result{}, fails[slices.IndexFunc(fails, func(e error) bool { return e != nil })]
	}
	var res result
	missed := map[string][]int{}
	for i, f := range files {
		if fails[i] != nil {
			missed[reason(fails[i])] = append(missed[reason(fails[i])], leads[i])
			continue
		}
		res.files = append(res.files, f)
		for _, n := range f.notes {
			if !slices.Contains(res.notes, n) {
				res.notes = append(res.notes, n)
			}
		}
	}
	for _, why := range slices.Sorted(mapKeys(missed)) {
		res.notes = append(res.notes, fmt.Sprintf("%d of %d hours could not be read (first %d): %s", len(missed[why]), len(leads), missed[why][0], why))
	}
	return res, nil
}

func mapKeys(m map[string][]int) func(func(string) bool) {
	return func(yield func(string) bool) {
		for k := range m {
			if !yield(k) {
				return
			}
		}
	}
}

func reason(err error) string {
	var e *models.Error
	if errors.As(err, &e) {
		if e.Err != nil {
			return string(e.Kind) + ", " + e.Err.Error()
		}
		return string(e.Kind)
	}
	return err.Error()
}

// remember forgets what was kept of other runs.
func (s *Source) remember(run time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.run.Equal(run) {
		s.run, s.kept = run, map[int]file{}
	}
}

// lead reads one file, or answers from memory.
func (s *Source) lead(ctx context.Context, run time.Time, lead int) (file, error) {
	s.mu.Lock()
	f, ok := s.kept[lead]
	s.mu.Unlock()
	if ok {
		return f, nil
	}
	fields, notes, fetched, err := s.fields(ctx, run, lead)
	if err != nil {
		return file{}, err
	}
	f = file{hours: make([][]models.Hour, len(s.o.Places)), fetched: fetched, notes: notes}
	for i, p := range s.o.Places {
		hours, more := hoursAt(s.o.Product, fields, p.At)
		f.hours[i] = hours
		f.notes = append(f.notes, more...)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.run.Equal(run) {
		s.kept[lead] = f
	}
	return f, nil
}

// fields gets the fields of one file that the product wants.
func (s *Source) fields(ctx context.Context, run time.Time, lead int) ([]*grib2.Field, []string, time.Time, error) {
	area, err := s.o.Product.area(s.o.Places)
	if err != nil {
		return nil, nil, time.Time{}, &models.Error{Kind: models.KindBadConfig, Source: s.Name(), Err: err}
	}
	address := rebase(s.o.Product.address(run, lead, area), s.o.Base)
	if s.o.Product.Index == "none" {
		return s.whole(ctx, address, run, lead)
	}
	return s.indexed(ctx, address, run, lead)
}

// batch joins the files of a run to a series for each place.
func (s *Source) batch(run, now time.Time, got result, notes []string) fetch.Batch {
	var b fetch.Batch
	fetched := now
	for _, f := range got.files {
		if f.fetched.Before(fetched) {
			fetched = f.fetched
		}
	}
	for i, p := range s.o.Places {
		var hours []models.Hour
		for _, f := range got.files {
			hours = append(hours, f.hours[i]...)
		}
		sort.SliceStable(hours, func(a, b int) bool { return hours[a].At.Before(hours[b].At) })
		hours = slices.CompactFunc(hours, func(a, b models.Hour) bool { return a.At.Equal(b.At) })
		hours, spikes := withoutSpikes(hours)
		all := append(slices.Clone(notes), spikes...)
		b.Series = append(b.Series, models.Series{Source: s.Name(), Ground: p.Ground, Run: run, Fetched: fetched, Hours: hours, Notes: all})
	}
	b.Notes = notes
	b.From = []models.Provenance{{Source: s.Name(), Detail: "run of " + run.Format("2 Jan 15:04 UTC"), Issued: run, Fetched: fetched}}
	return b
}
