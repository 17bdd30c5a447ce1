package gridded

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"sync"

	"forecastd/internal/models"
)

const (
	// parallel is how many files are asked for at the same time: the services
	// want no more. Files read whole come one by one, for they are big.
	parallel = 4
	// patience is after how many failures of the service, files that are not
	// there aside, the rest of a run is not asked for.
	patience = 8
)

// reading is what a run gave.
type reading struct {
	run     run
	files   []file
	notes   []string
	stopped bool // the rest was not asked for, and asking older runs is no use
}

// enough tells whether a run gave more than half of its hours.
func (r reading) enough() bool { return 2*len(r.files) > len(r.run.leads) }

func (r reading) told(notes []string) (reading, error) {
	r.notes = append(notes, r.notes...)
	return r, nil
}

// readRun reads all files of a run that are wanted. The one at probe is asked
// for first; an error means that it is not there, and nothing else was asked.
func (s *Source) readRun(ctx context.Context, r run, probe int) (reading, error) {
	k := s.of(r.start)
	var inv *inventory
	if f, ok := k.files[r.leads[probe]]; !ok || f.again() {
		var err error
		if s.o.Product.Index == NoIndex {
			var read file
			if read, err = s.file(ctx, r, r.leads[probe], nil); err == nil {
				k.keep(r.leads[probe], read)
			}
		} else {
			inv, err = s.inventory(ctx, r, r.leads[probe])
		}
		if err != nil && !ok {
			return reading{}, err
		}
	}
	fails := s.readRest(ctx, r, k, probe, inv)
	if errors.Is(ctx.Err(), context.Canceled) {
		return reading{}, s.gone(ctx)
	}
	return s.sum(ctx, r, k, fails)
}

// readRest reads the files of a run that are not kept, and returns why those
// failed that did. inv is the inventory of the file at probe, if it is at hand.
func (s *Source) readRest(ctx context.Context, r run, k *kept, probe int, inv *inventory) map[int]error {
	var mu sync.Mutex
	fails := map[int]error{}
	refused, limited := 0, false
	next := 0
	// take gives out the leads, near ones first.
	take := func() (int, bool) {
		mu.Lock()
		defer mu.Unlock()
		for ; next < len(r.leads); next++ {
			f, ok := k.files[r.leads[next]]
			if ok && (!f.again() || next == probe && inv == nil) {
				continue
			}
			if limited || refused >= patience || ctx.Err() != nil {
				return 0, false
			}
			next++
			return next - 1, true
		}
		return 0, false
	}
	work := func() {
		for {
			i, ok := take()
			if !ok {
				return
			}
			var at *inventory
			if i == probe {
				at = inv
			}
			f, err := s.file(ctx, r, r.leads[i], at)
			mu.Lock()
			if err == nil {
				k.keep(r.leads[i], f)
			} else {
				fails[i] = err
				limited = limited || kind(err) == models.KindRateLimited
				if !absent(err) {
					refused++
				}
			}
			mu.Unlock()
		}
	}
	workers := parallel
	if s.o.Product.Index == NoIndex {
		workers = 1
	}
	var wg sync.WaitGroup
	for range workers {
		wg.Go(work)
	}
	wg.Wait()
	return fails
}

func (k *kept) keep(lead int, f file) {
	f.asks = k.files[lead].asks + 1
	k.files[lead] = f
}

// sum puts together what is kept of a run and tells what is not there. Where
// nothing is, the first failure is the error.
func (s *Source) sum(ctx context.Context, r run, k *kept, fails map[int]error) (reading, error) {
	got := reading{run: r}
	missed := map[string][]int{}
	unasked, refused := 0, 0
	for i, lead := range r.leads {
		if err := fails[i]; err != nil && !absent(err) {
			refused++
			got.stopped = got.stopped || kind(err) == models.KindRateLimited
		}
		f, ok := k.files[lead]
		switch {
		case ok:
			got.files = append(got.files, f)
			for _, n := range f.notes {
				if !slices.Contains(got.notes, n) {
					got.notes = append(got.notes, n)
				}
			}
		case fails[i] != nil:
			missed[reason(fails[i])] = append(missed[reason(fails[i])], lead)
		default:
			unasked++
		}
	}
	got.stopped = got.stopped || ctx.Err() != nil
	if len(got.files) == 0 {
		if ctx.Err() != nil {
			return reading{}, s.gone(ctx)
		}
		if i, ok := first(fails); ok {
			return reading{}, fails[i]
		}
	}
	for _, why := range slices.Sorted(maps.Keys(missed)) {
		got.notes = append(got.notes, fmt.Sprintf("%d of %d files could not be read, from hour %d on: %s", len(missed[why]), len(r.leads), missed[why][0], why))
	}
	if unasked > 0 {
		why := "the service fails"
		if ctx.Err() != nil {
			why = "time ran out"
		}
		got.notes = append(got.notes, fmt.Sprintf("%d of %d files were not asked for: %s", unasked, len(r.leads), why))
	}
	return got, nil
}

func first(fails map[int]error) (int, bool) {
	if len(fails) == 0 {
		return 0, false
	}
	return slices.Min(slices.Collect(maps.Keys(fails))), true
}

// file reads one file at all places. The inventory may be nil.
func (s *Source) file(ctx context.Context, r run, lead int, inv *inventory) (file, error) {
	var c contents
	var err error
	if s.o.Product.Index == NoIndex {
		c, err = s.whole(ctx, r, lead)
	} else {
		c, err = s.indexed(ctx, r, lead, inv)
	}
	if err != nil {
		return file{}, err
	}
	f := file{fetched: c.fetched, notes: c.notes, broken: c.broken}
	hours, tallies := readHours(s.o.Product, c.fields, s.o.Places)
	f.hours, f.tallies = pack(hours, s.o.Product.SeaIncludesCurrent), tallies
	return f, nil
}
