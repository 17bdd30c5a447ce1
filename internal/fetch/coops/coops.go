// Package coops reads predictions of tides and tidal streams from the Center
// for Operational Oceanographic Products and Services (Reference: COOPSAPI).
package coops

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"forecastd/internal/fetch"
	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Name is the source's short name.
const Name = models.SourceTides

// BaseURL is where the real service is.
const BaseURL = "https://api.tidesandcurrents.noaa.gov"

// DefaultDays is how many days after today are asked for unless told
// otherwise.
const DefaultDays = 11

const (
	datum   = "MLLW"
	maxBody = 4 << 20
)

// Tide is a station with tide predictions.
type Tide struct {
	Station string
	// Later is how much later the tide comes where the boat is; negative
	// where it comes earlier.
	Later time.Duration
}

// Stream is a station with predictions of the tidal stream.
type Stream struct {
	Station string
	// Bin is the depth bin; 0 leaves the choice to the service.
	Bin   int
	Later time.Duration
}

// Options are what a Source is built from. At least one of Tide and Stream is
// needed.
type Options struct {
	Client  *httpx.Client
	BaseURL string // empty means BaseURL
	Tide    models.Opt[Tide]
	Stream  models.Opt[Stream]
	Days    int
	Now     func() time.Time
}

// Source fetches the predictions for one inlet.
type Source struct{ o Options }

// New builds a Source.
func New(o Options) (*Source, error) {
	o.BaseURL = strings.TrimSuffix(cmp.Or(o.BaseURL, BaseURL), "/")
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Days <= 0 {
		o.Days = DefaultDays
	}
	bad := func(err error) error {
		return &models.Error{Kind: models.KindBadConfig, Source: Name, Err: err}
	}
	if !o.Tide.Known() && !o.Stream.Known() {
		return nil, bad(errors.New("no station is given"))
	}
	if t, ok := o.Tide.Get(); ok && !ValidID(t.Station) {
		return nil, bad(fmt.Errorf("tide station %q: an id has 3 to 12 letters, digits and underscores", t.Station))
	}
	if s, ok := o.Stream.Get(); ok && (!ValidID(s.Station) || s.Bin < 0) {
		return nil, bad(fmt.Errorf("current station %q, bin %d: an id has 3 to 12 letters, digits and underscores, a bin is not negative", s.Station, s.Bin))
	}
	return &Source{o}, nil
}

// ValidID tells whether s can be the id of a station.
func ValidID(s string) bool {
	return len(s) >= 3 && len(s) <= 12 && strings.Trim(s, "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz_") == ""
}

// Name is the short name people read.
func (s *Source) Name() string { return Name }

// MaxAge is how long the last good answer counts. Predictions of the tide do
// not go stale; they run out.
func (s *Source) MaxAge() time.Duration { return time.Duration(s.o.Days) * 24 * time.Hour }

// Oldest is no limit: predictions do not say when they were made.
func (s *Source) Oldest() time.Duration { return 0 }

// oldestCopy is how old a kept copy of an answer may be, by its headers.
const oldestCopy = 24 * time.Hour

// part is one request and what becomes of its answer.
type part struct {
	what  string
	query url.Values
	read  func(*httpx.Response) (fetch.Batch, error)
}

// Fetch gets high and low water, the turns of the stream and its course. A
// part that fails is told in the notes; if all fail, the first failure is the
// error. Requests are for whole days in UTC, so that they are the same all
// day long.
func (s *Source) Fetch(ctx context.Context) (fetch.Batch, error) {
	parts := s.parts()
	got := make([]fetch.Batch, len(parts))
	errs := make([]error, len(parts))
	var wg sync.WaitGroup
	for i, p := range parts {
		wg.Go(func() {
			resp, err := s.get(ctx, p.query)
			if err == nil {
				got[i], err = p.read(resp)
			}
			errs[i] = err
		})
	}
	wg.Wait()
	var b fetch.Batch
	failed := 0
	var first error
	for i, p := range parts {
		if err := errs[i]; err != nil {
			failed++
			if first == nil || kind(err) == models.KindCancelled {
				first = err
			}
			b.Notes = append(b.Notes, fmt.Sprintf("%s is missing: %v", p.what, err))
			continue
		}
		b.Tides = append(b.Tides, got[i].Tides...)
		b.Streams = append(b.Streams, got[i].Streams...)
		b.Inlet = append(b.Inlet, got[i].Inlet...)
		b.Notes = append(b.Notes, got[i].Notes...)
		for _, p := range got[i].From {
			if !slices.Contains(b.From, p) {
				b.From = append(b.From, p)
			}
		}
	}
	if failed == len(parts) || kind(first) == models.KindCancelled {
		return fetch.Batch{}, first
	}
	return b, nil
}

func (s *Source) parts() []part {
	var parts []part
	if t, ok := s.o.Tide.Get(); ok {
		q := s.query(t.Station, "predictions", "hilo")
		q.Set("datum", datum)
		parts = append(parts, part{"high and low water at " + t.Station, q, func(r *httpx.Response) (fetch.Batch, error) { return s.tides(t, r) }})
	}
	if st, ok := s.o.Stream.Get(); ok {
		ask := func(interval string) url.Values {
			q := s.query(st.Station, "currents_predictions", interval)
			if st.Bin > 0 {
				q.Set("bin", strconv.Itoa(st.Bin))
			}
			return q
		}
		parts = append(parts,
			part{"slack water at " + st.Station, ask("max_slack"), func(r *httpx.Response) (fetch.Batch, error) { return s.turns(st, r) }},
			part{"the course of the stream at " + st.Station, ask("30"), func(r *httpx.Response) (fetch.Batch, error) { return s.course(st, r) }})
	}
	return parts
}

// query asks for the day before today, for what the hours before the first
// event need, up to the last day.
func (s *Source) query(station, product, interval string) url.Values {
	now := s.o.Now().UTC()
	day := func(n int) string {
		return time.Date(now.Year(), now.Month(), now.Day()+n, 0, 0, 0, 0, time.UTC).Format("20060102")
	}
	return url.Values{
		"station": {station}, "product": {product}, "interval": {interval},
		"begin_date": {day(-1)}, "end_date": {day(s.o.Days)},
		"units": {"metric"}, "time_zone": {"gmt"}, "format": {"json"}, "application": {"forecastd"},
	}
}

// get asks, and finds the errors that come with status 200.
func (s *Source) get(ctx context.Context, q url.Values) (*httpx.Response, error) {
	resp, err := s.o.Client.Get(ctx, httpx.Request{
		Source: Name, URL: s.o.BaseURL + "/api/prod/datagetter", Query: q,
		Accept: "application/json", Want: httpx.JSON, MaxBytes: maxBody, Conditional: true, Oldest: oldestCopy,
	})
	var e *models.Error
	var said *httpx.Problem
	if errors.As(err, &e) && e.Status == http.StatusBadRequest && errors.As(err, &said) {
		e.Kind = kindOf(said.Detail)
	}
	return resp, err
}

// kindOf tells what a message of the service means. It calls the datum wrong
// in outages, when every request for predictions gets that message, so this
// one is worth asking again.
func kindOf(message string) models.Kind {
	m := strings.ToLower(message)
	switch {
	case strings.Contains(m, "datum"):
		return models.KindServer
	case strings.Contains(m, "no data was found"), strings.Contains(m, "no predictions"):
		return models.KindNotFound
	}
	return models.KindRefused
}

// fail makes the error of an answer that could not be read.
func fail(r *httpx.Response, err error) error {
	var said *ServiceError
	if errors.As(err, &said) {
		return r.Fail(kindOf(said.Message), said)
	}
	return r.Bad(err)
}

func (s *Source) tides(t Tide, r *httpx.Response) (fetch.Batch, error) {
	events, odd, err := ParseTides(r.Body, units.Metre)
	if err != nil {
		return fetch.Batch{}, fail(r, err)
	}
	from := provenance("tide station "+t.Station+later(t.Later), r)
	for i := range events {
		events[i].At = events[i].At.Add(t.Later)
		events[i].Datum, events[i].From = datum, from
	}
	return fetch.Batch{Tides: events, Notes: notes("tides of "+t.Station, odd), From: []models.Provenance{from}}, nil
}

func (s *Source) turns(st Stream, r *httpx.Response) (fetch.Batch, error) {
	events, odd, err := ParseTurns(r.Body)
	if err != nil {
		return fetch.Batch{}, fail(r, err)
	}
	from := st.provenance(r)
	for i := range events {
		events[i].At, events[i].From = events[i].At.Add(st.Later), from
	}
	return fetch.Batch{Streams: events, Notes: notes("stream of "+st.Station, odd), From: []models.Provenance{from}}, nil
}

func (s *Source) course(st Stream, r *httpx.Response) (fetch.Batch, error) {
	hours, odd, err := ParseCourse(r.Body)
	if err != nil {
		return fetch.Batch{}, fail(r, err)
	}
	for i := range hours {
		hours[i].At = hours[i].At.Add(st.Later)
	}
	return fetch.Batch{Inlet: hours, Notes: notes("stream of "+st.Station, odd), From: []models.Provenance{st.provenance(r)}}, nil
}

func (st Stream) provenance(r *httpx.Response) models.Provenance {
	detail := "current station " + st.Station
	if st.Bin > 0 {
		detail += " bin " + strconv.Itoa(st.Bin)
	}
	return provenance(detail+later(st.Later), r)
}

func provenance(detail string, r *httpx.Response) models.Provenance {
	return models.Provenance{Source: Name, Detail: detail, Fetched: r.FetchedAt}
}

func later(d time.Duration) string {
	switch {
	case d > 0:
		return fmt.Sprintf(", %.0f min later", d.Minutes())
	case d < 0:
		return fmt.Sprintf(", %.0f min earlier", -d.Minutes())
	}
	return ""
}

func notes(what string, odd []Oddity) []string {
	var out []string
	for _, o := range odd {
		out = append(out, fmt.Sprintf("%s: %s", what, o))
	}
	return out
}

func kind(err error) models.Kind {
	var e *models.Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return ""
}
