// Package ndbc reads what buoys and coastal stations report through the
// National Data Buoy Center.
package ndbc

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"forecastd/internal/fetch"
	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
)

// Name is the source's short name.
const Name = models.SourceStations

// BaseURL is where the real service is.
const BaseURL = "https://www.ndbc.noaa.gov"

// DefaultWindow is how far back observations are taken unless told otherwise.
const DefaultWindow = 72 * time.Hour

const (
	parallel = 4
	maxFile  = 4 << 20 // 45 days of ten-minute rows are about 0.6 MB
	maxList  = 8 << 20
)

// Station is one station and what it is used for. Air, water and pressure are
// taken from each.
type Station struct {
	ID          string
	Wind, Waves bool
}

// Options are what a Source is built from.
type Options struct {
	Client   *httpx.Client
	BaseURL  string // empty means BaseURL
	Stations []Station
	// Window is how far back observations are taken; 0 means DefaultWindow.
	Window time.Duration
	Now    func() time.Time
}

// Source fetches the observations of a few stations.
type Source struct{ o Options }

// New builds a Source. A station id that can't be one is an error of
// KindBadConfig.
func New(o Options) (*Source, error) {
	o.BaseURL = strings.TrimSuffix(cmp.Or(o.BaseURL, BaseURL), "/")
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Window <= 0 {
		o.Window = DefaultWindow
	}
	o.Stations = slices.Clone(o.Stations)
	for i := range o.Stations {
		o.Stations[i].ID = strings.ToUpper(strings.TrimSpace(o.Stations[i].ID))
		if id := o.Stations[i].ID; !ValidID(id) {
			return nil, &models.Error{Kind: models.KindBadConfig, Source: Name, Err: fmt.Errorf("station %q: an id has 3 to 8 letters and digits", id)}
		}
	}
	if len(o.Stations) == 0 {
		return nil, &models.Error{Kind: models.KindBadConfig, Source: Name, Err: errors.New("no station is given")}
	}
	return &Source{o}, nil
}

// Name is the short name people read.
func (s *Source) Name() string { return Name }

// MaxAge is how long the last good answer counts.
func (s *Source) MaxAge() time.Duration { return 3 * time.Hour }

// Oldest is how long a station may not have written its file. What it holds
// has times of its own: rows out of the window are left out.
func (s *Source) Oldest() time.Duration { return s.o.Window }

// oldestCopy is how old a kept copy of a file may be, by its headers.
const oldestCopy = 3 * time.Hour

// answer is what one file gave.
type answer struct {
	met   []models.Observation
	spec  []Spectrum
	odd   []Oddity
	resp  *httpx.Response
	notes []string
	err   error
}

// Fetch gets the files of all stations. A file that fails is told in the
// notes; if all fail, the first failure is the error.
func (s *Source) Fetch(ctx context.Context) (fetch.Batch, error) {
	type job struct {
		station Station
		ext     string
	}
	var jobs []job
	for _, st := range s.o.Stations {
		jobs = append(jobs, job{st, "txt"})
		if st.Waves {
			jobs = append(jobs, job{st, "spec"})
		}
	}
	answers := make([]answer, len(jobs))
	var wg sync.WaitGroup
	slots := make(chan struct{}, parallel)
	for i, j := range jobs {
		wg.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			answers[i] = s.file(ctx, j.station.ID, j.ext)
		})
	}
	wg.Wait()

	var b fetch.Batch
	var first error
	failed := 0
	for i, a := range answers {
		if a.err == nil {
			continue
		}
		failed++
		if first == nil || kind(a.err) == models.KindCancelled {
			first = a.err
		}
		b.Notes = append(b.Notes, fmt.Sprintf("%s %s is missing: %v", jobs[i].station.ID, describe(jobs[i].ext), a.err))
		b.Lacks = append(b.Lacks, models.Gap{What: Name + " " + jobs[i].station.ID, Why: fmt.Sprintf("its %s: %s", describe(jobs[i].ext), cause(a.err))})
	}
	if failed == len(jobs) || kind(first) == models.KindCancelled {
		return fetch.Batch{}, first
	}
	for i := 0; i < len(jobs); i++ {
		st, met, spec := jobs[i].station, answers[i], answer{}
		if st.Waves {
			i++
			spec = answers[i]
		}
		s.add(&b, st, met, spec)
	}
	if len(b.Observations) == 0 {
		return fetch.Batch{}, &models.Error{Kind: models.KindNotFound, Source: Name,
			Err: fmt.Errorf("no station reported in the last %.0f hours", s.o.Window.Hours())}
	}
	sortObservations(b.Observations)
	return b, nil
}

// file gets and reads one file of a station.
func (s *Source) file(ctx context.Context, id, ext string) answer {
	resp, err := s.o.Client.Get(ctx, httpx.Request{
		Source: Name, URL: s.o.BaseURL + "/data/realtime2/" + id + "." + ext,
		Accept: "text/plain", Want: httpx.Text, MaxBytes: maxFile, Conditional: true, Oldest: oldestCopy,
	})
	if err != nil {
		return answer{err: err}
	}
	a := answer{resp: resp}
	if ext == "spec" {
		a.spec, a.odd, err = ParseSpec(resp.Body)
	} else {
		a.met, a.odd, err = ParseMet(resp.Body)
	}
	if err != nil {
		return answer{err: resp.Bad(err)}
	}
	for _, o := range a.odd {
		a.notes = append(a.notes, fmt.Sprintf("%s %s: %s", id, describe(ext), o))
	}
	return a
}

func describe(ext string) string {
	if ext == "spec" {
		return "spectral summary"
	}
	return "observations"
}

// add puts one station's observations into the batch.
func (s *Source) add(b *fetch.Batch, st Station, met, spec answer) {
	b.Notes = append(b.Notes, met.notes...)
	b.Notes = append(b.Notes, spec.notes...)
	from := models.Provenance{Source: Name, Detail: st.ID}
	for _, r := range []*httpx.Response{spec.resp, met.resp} {
		if r != nil {
			from.Issued, from.Fetched = r.LastModified, r.FetchedAt
		}
	}
	if from.Fetched.IsZero() {
		return
	}
	now, kept, future := s.o.Now().UTC(), 0, 0
	for _, o := range Fuse(met.met, spec.spec) {
		if o.At.After(now.Add(time.Hour)) {
			future++
			continue
		}
		if o.At.Before(now.Add(-s.o.Window)) {
			continue
		}
		o.Station, o.From, o.Averaging = st.ID, from, averaging(st.ID, o)
		if !st.Wind {
			dropWind(&o)
		}
		if !st.Waves {
			dropWaves(&o)
		}
		if nothing(o) {
			continue
		}
		kept++
		b.Observations = append(b.Observations, o)
	}
	if future > 0 {
		b.Notes = append(b.Notes, fmt.Sprintf("%s: rows from the future left out: %d", st.ID, future))
	}
	if kept == 0 {
		b.Notes = append(b.Notes, fmt.Sprintf("%s: nothing was reported in the last %.0f hours", st.ID, s.o.Window.Hours()))
		b.Lacks = append(b.Lacks, models.Gap{What: Name + " " + st.ID, Why: fmt.Sprintf("nothing was reported in the last %.0f hours", s.o.Window.Hours())})
		return
	}
	b.From = append(b.From, from)
}

// nothing tells whether an observation holds no value.
func nothing(o models.Observation) bool {
	return !o.Wind.Known() && !o.Gust.Known() && !o.Sea.Known() && !o.Air.Known() && !o.Water.Known() &&
		!o.Pressure.Known() && !o.Visibility.Known()
}

func kind(err error) models.Kind {
	var e *models.Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return ""
}

// cause is an error without its source and address.
func cause(err error) string {
	var e *models.Error
	if !errors.As(err, &e) || e.Err == nil {
		return string(kind(err))
	}
	return fmt.Sprintf("%s: %v", e.Kind, e.Err)
}

func sortObservations(os []models.Observation) {
	slices.SortStableFunc(os, func(a, b models.Observation) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Station, b.Station))
	})
}

// FetchStations gets the list of active stations.
func FetchStations(ctx context.Context, c *httpx.Client, base string) ([]StationInfo, []Oddity, error) {
	resp, err := c.Get(ctx, httpx.Request{
		Source: Name, URL: strings.TrimSuffix(cmp.Or(base, BaseURL), "/") + "/activestations.xml",
		Want: httpx.XML, MaxBytes: maxList, Conditional: true,
	})
	if err != nil {
		return nil, nil, err
	}
	stations, odd, err := ParseStations(resp.Body)
	if err != nil {
		return nil, odd, resp.Bad(err)
	}
	return stations, odd, nil
}
