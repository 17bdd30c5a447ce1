package gridded

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync/atomic"
	"time"

	"forecastd/internal/fetch"
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
	// Places are read from the same files, so that many grounds cost no more
	// requests than one. All have to lie in one of the product's areas.
	Places []Place
	// Office is the local office of the weather service ("XAM"), for products
	// that each office makes for itself.
	Office string
	// Horizon is how far ahead of now hours are wanted.
	Horizon time.Duration
	MaxAge  time.Duration
	Now     func() time.Time
	// Base replaces the scheme and host of the product's address; for tests
	// and mirrors.
	Base string
}

// Source is the fetch.Source of one product. It keeps the values, not the
// bytes, of the files it has read, so that a run is fetched once. It may be
// used by several goroutines; they take turns, and the later ones find what
// the first has read.
type Source struct {
	o      Options
	client Getter
	spot   spot
	// unmade says why the product can't be had for these options.
	unmade error
	bytes  atomic.Int64
	turn   chan struct{}
	// kept is guarded by turn.
	kept []*kept
}

// kept is what has been read of one run, by lead.
type kept struct {
	start time.Time
	files map[int]file
}

// file is what one file gave: the hours at each place, in order of time.
type file struct {
	hours   packed
	tallies []tally // by place
	fetched time.Time
	notes   []string
	// broken files lack something that they should hold. They are asked for
	// again when there is a next time, asks being how often they have been.
	broken bool
	asks   int
}

// mostAsks is how often a file is fetched in the hope that it is whole.
const mostAsks = 3

func (f file) again() bool { return f.broken && f.asks < mostAsks }

// New makes a source.
func New(client Getter, o Options) (*Source, error) {
	if len(o.Places) == 0 {
		return nil, fmt.Errorf("gridded %s: no ground to read it at", o.Product.Name)
	}
	area, err := o.Product.area(o.Places)
	if err != nil {
		return nil, err
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	o.Places = slices.Clone(o.Places)
	s := &Source{o: o, client: client, turn: make(chan struct{}, 1)}
	s.spot.area = area
	// An office that makes no such product is told when it is asked for, so
	// that it costs this source only.
	s.spot.region, s.spot.office, s.unmade = o.Product.region(o.Office)
	return s, nil
}

// Name is the product's name.
func (s *Source) Name() string { return s.o.Product.Name }

// MaxAge is how long an answer counts.
func (s *Source) MaxAge() time.Duration { return s.o.MaxAge }

// Oldest is how old a run may be: no older one is looked for, and the last
// answer counts on for a while.
func (s *Source) Oldest() time.Duration { return time.Duration(s.o.Product.LookBack) + s.o.MaxAge }

// Bytes is how many bytes of answers have been fetched since the source was
// made.
func (s *Source) Bytes() int64 { return s.bytes.Load() }

const (
	// tries is how many runs are asked for before the source gives up, and
	// mostSick how many of them may fail in other ways than not being there.
	tries    = 6
	mostSick = 2
)

// Fetch finds the best run that has come out, reads what it gives for the
// places, and leaves out the hours that can't be had, with a note for each
// kind of failure.
func (s *Source) Fetch(ctx context.Context) (fetch.Batch, error) {
	if ctx.Err() == nil {
		select {
		case s.turn <- struct{}{}:
			defer func() { <-s.turn }()
		case <-ctx.Done():
		}
	}
	if ctx.Err() != nil {
		return fetch.Batch{}, s.gone(ctx)
	}
	got, err := s.read(ctx, s.o.Now().UTC())
	if err != nil {
		return fetch.Batch{}, err
	}
	return s.batch(got, 0, len(s.o.Places))
}

// read reads the best run there is. The caller has the turn.
func (s *Source) read(ctx context.Context, now time.Time) (reading, error) {
	if s.unmade != nil {
		return reading{}, s.fail(models.KindBadConfig, s.unmade)
	}
	runs, err := s.runs(ctx, now, s.want(now))
	if err != nil {
		return reading{}, err
	}
	if len(runs) == 0 {
		return reading{}, s.fail(models.KindNotFound, errors.New("no run is out that covers the hours wanted"))
	}
	best, err := s.best(ctx, runs[:min(len(runs), tries)])
	if err != nil {
		return reading{}, err
	}
	s.forget(best.run.start)
	return best, nil
}

func (s *Source) runs(ctx context.Context, now time.Time, want models.Interval) ([]run, error) {
	if s.o.Product.Listing == "" {
		return s.o.Product.runs(now, want), nil
	}
	starts, err := s.listed(ctx, now)
	if err != nil {
		return nil, err
	}
	return s.o.Product.rank(starts, now, want), nil
}

// best reads runs until one gives enough, and returns the one that gives most.
func (s *Source) best(ctx context.Context, runs []run) (reading, error) {
	var best reading
	var notes []string
	var failed error
	sick := 0
	for _, r := range runs {
		got, err := s.readRun(ctx, r, len(r.leads)-1)
		switch {
		case err == nil && got.enough():
			got.notes = append(notes, got.notes...)
			return got, nil
		case err == nil:
			notes = append(notes, fmt.Sprintf("%s gives only %d of %d hours", r, len(got.files), len(r.leads)))
			if len(got.files) > len(best.files) {
				best = got
			}
			if got.stopped {
				return best.told(notes)
			}
			sick++
		case ctx.Err() != nil:
			if len(best.files) > 0 {
				return best.told(notes)
			}
			return reading{}, s.gone(ctx)
		case absent(err):
			notes = append(notes, fmt.Sprintf("%s is not out; an older one stands in", r))
			if failed == nil {
				failed = err
			}
		default:
			notes = append(notes, fmt.Sprintf("%s could not be read; an older one stands in", r))
			if failed == nil || absent(failed) {
				failed = err
			}
			sick++
			if k := kind(err); k != models.KindServer && k != models.KindBadContent && k != models.KindTooLarge {
				sick = mostSick // an older run is of the same service
			}
		}
		if sick >= mostSick {
			break
		}
	}
	if len(best.files) == 0 && sick == 0 && s.o.Product.Index != NoIndex {
		// No run has its last file: the newest that has come half way will do.
		for _, r := range runs {
			if got, err := s.readRun(ctx, r, len(r.leads)/2); err == nil && len(got.files) > 0 {
				return got.told([]string{fmt.Sprintf("no run is out to its last hour; %s is used as far as it goes", r)})
			} else if err != nil && !absent(err) {
				return reading{}, err
			}
		}
	}
	if len(best.files) > 0 {
		return best.told(notes)
	}
	return reading{}, failed
}

func (s *Source) fail(k models.Kind, err error) error {
	return &models.Error{Kind: k, Source: s.Name(), Err: err}
}

// gone is the error of a context that has ended.
func (s *Source) gone(ctx context.Context) error {
	if errors.Is(ctx.Err(), context.Canceled) {
		return s.fail(models.KindCancelled, context.Cause(ctx))
	}
	return s.fail(models.KindTimeout, context.Cause(ctx))
}

// of finds what is kept of a run.
func (s *Source) of(start time.Time) *kept {
	for _, k := range s.kept {
		if k.start.Equal(start) {
			return k
		}
	}
	k := &kept{start: start, files: map[int]file{}}
	s.kept = append(s.kept, k)
	return k
}

// forget lets go of the runs before the one in use. Newer ones that were set
// aside may be read to their end next time.
func (s *Source) forget(before time.Time) {
	s.kept = slices.DeleteFunc(s.kept, func(k *kept) bool { return k.start.Before(before) })
}

// batch joins the files of a run to a series for each of n places.
func (s *Source) batch(got reading, from, n int) (fetch.Batch, error) {
	var b fetch.Batch
	start := got.run.start
	fetched := got.files[0].fetched
	for _, f := range got.files {
		if f.fetched.Before(fetched) {
			fetched = f.fetched
		}
	}
	if s.o.Product.Note != "" {
		got.notes = append(slices.Clip(got.notes), s.o.Product.Note)
	}
	b.Notes = slices.Clone(got.notes)
	why, rejected := "", false
	for i, p := range s.o.Places[from : from+n] {
		var hours []models.Hour
		var all tally
		for _, f := range got.files {
			hours = append(hours, f.hours.at(from+i)...)
			all.add(f.tallies[from+i])
		}
		hours, spikes := withoutSpikes(join(hours))
		all.add(spikes)
		own := all.notes()
		if len(hours) == 0 {
			rejected = rejected || len(all.rejected) > 0
			why = fmt.Sprintf("no values at %s: the place is land to the model or off its grid; give it a model point in open water", p.At)
			if len(all.rejected) > 0 {
				why = fmt.Sprintf("no good values at %s: %s", p.At, own[0])
			}
			own = append(own, why)
		} else {
			b.Series = append(b.Series, models.Series{
				Source: s.Name(), Ground: p.Ground, Run: start, Fetched: fetched, Hours: hours,
				Notes: append(slices.Clone(got.notes), own...),
			})
		}
		for _, note := range own {
			if n > 1 {
				note = p.Ground + ": " + note
			}
			b.Notes = append(b.Notes, note)
		}
	}
	if len(b.Series) == 0 {
		k := models.KindBadConfig
		if rejected {
			k = models.KindBadContent
		}
		return fetch.Batch{}, s.fail(k, errors.New(why))
	}
	detail := "run of " + start.Format("2 Jan 15:04 UTC")
	if s.o.Product.Credit != "" {
		detail += "; " + s.o.Product.Credit
	}
	b.From = []models.Provenance{{Source: s.Name(), Detail: detail, Issued: start, Fetched: fetched}}
	return b, nil
}
