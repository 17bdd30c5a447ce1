package nws

import (
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

// Base is the address of the service.
const Base = "https://api.weather.gov"

// AlertsName is the name of the source of official warnings.
const AlertsName = models.SourceAlerts

// Getter is the HTTP client that the sources ask through.
type Getter interface {
	Get(ctx context.Context, req httpx.Request) (*httpx.Response, error)
}

// AlertsSource is the fetch.Source of what is in force or coming. It
// remembers what the last answers held, because warnings drop out of the feed
// and come back: one that nobody ended counts until two answers in a row lack
// it.
type AlertsSource struct {
	// Limit is how long ago an answer may have been made, and Recall tells what
	// was known before a restart; nil: nothing was. Set them before Fetch.
	Limit  time.Duration
	Recall func(ctx context.Context) (models.WarningsKept, error)

	client Getter
	base   string
	area   Area
	now    func() time.Time
	ages   fetch.Ages

	mu     sync.Mutex
	ledger ledger
	// recalled says that Recall has been heard, or that there is none.
	recalled bool
}

// Alerts makes the source for some zones. The positions, in the order of the
// way out, are tested against the polygons of products that have one.
func Alerts(client Getter, base string, zones []string, positions []models.Position, now func() time.Time) *AlertsSource {
	area := Area{Zones: unique(zones), Positions: slices.Clone(positions)}
	return &AlertsSource{Limit: feedLimit, client: client, base: trimBase(base), area: area, now: now}
}

// unique drops what comes twice and keeps the order.
func unique(zones []string) []string {
	var out []string
	for _, z := range zones {
		if !slices.Contains(out, z) {
			out = append(out, z)
		}
	}
	return out
}

func trimBase(base string) string { return strings.TrimRight(base, "/") }

// Name is "nws alerts".
func (s *AlertsSource) Name() string { return AlertsName }

// feedLimit is short: a special marine warning lasts an hour at most.
const feedLimit = 30 * time.Minute

// MaxAge is how long the last good answer counts.
func (s *AlertsSource) MaxAge() time.Duration { return s.Limit }

// Oldest is as short: what was made long ago says nothing about now.
func (s *AlertsSource) Oldest() time.Duration { return s.Limit }

// Fetch asks for the alerts of all zones at once. Warnings is known only
// where the service gave its whole list, made lately and in answer to our
// question, or where what it gave is in force at any rate.
func (s *AlertsSource) Fetch(ctx context.Context) (fetch.Batch, error) {
	bad := func(err error) (fetch.Batch, error) {
		return fetch.Batch{}, &models.Error{Kind: models.KindBadConfig, Source: AlertsName, Err: err}
	}
	if len(s.area.Zones) == 0 {
		return bad(errors.New("no zones are configured, so no warning could be seen"))
	}
	for _, z := range s.area.Zones {
		if !IsZone(z) {
			return bad(fmt.Errorf("%q is no zone: write it as two letters, Z and three digits", z))
		}
	}
	resp, err := s.client.Get(ctx, httpx.Request{
		Source: AlertsName,
		URL:    s.base + "/alerts/active?zone=" + strings.Join(s.area.Zones, ","),
		Accept: "application/geo+json", Want: httpx.JSON, Conditional: true, Oldest: s.Limit,
	})
	if err != nil {
		return fetch.Batch{}, err
	}
	feed, err := ReadAlerts(ctx, resp.Body, s.area)
	switch {
	case errors.Is(ctx.Err(), context.Canceled):
		return fetch.Batch{}, resp.Fail(models.KindCancelled, context.Cause(ctx))
	case ctx.Err() != nil:
		return fetch.Batch{}, resp.Fail(models.KindTimeout, context.Cause(ctx))
	case err != nil:
		return fetch.Batch{}, resp.Bad(err)
	}
	made, ok := feed.Updated.Get()
	if !ok {
		return fetch.Batch{}, resp.Bad(errors.New("the answer does not say when it was made, so it may be of any age"))
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	unsure := s.recall(ctx)
	doubt, err := s.ages.Judge(AlertsName, made, resp.FetchedAt, s.Limit)
	if err != nil {
		return fetch.Batch{}, resp.Fail(models.KindStale, err)
	}
	return s.batch(feed, made, resp, slices.DeleteFunc([]string{unsure, doubt, feed.Partial}, func(s string) bool { return s == "" }))
}

// recall asks once what was known before, and tells why it can't.
func (s *AlertsSource) recall(ctx context.Context) (unsure string) {
	if s.recalled || s.Recall == nil {
		return ""
	}
	kept, err := s.Recall(ctx)
	if err != nil {
		return fmt.Sprintf("what was in force before can't be read, so what the answer lacks is unknown: %v", err)
	}
	s.recalled = true
	if !kept.Made.After(s.now().Add(fetch.Skew)) {
		s.ages.Remember(AlertsName, kept.Made)
	}
	s.ledger.recall(kept)
	return ""
}

// batch takes in an answer and tells what holds. Where there are doubts, what
// it holds is in force, and nothing follows from what it lacks: if nothing is
// left, that is unknown and not nothing.
func (s *AlertsSource) batch(feed Feed, made time.Time, resp *httpx.Response, doubts []string) (fetch.Batch, error) {
	messages := s.area.messages(feed, resp.FetchedAt)
	at := s.now().UTC()
	if len(doubts) > 0 {
		s.ledger.add(messages, earlier(made, resp.FetchedAt))
	} else {
		s.ledger.apply(messages, made)
	}
	current := s.ledger.current(at)
	if len(doubts) > 0 && len(current) == 0 {
		return fetch.Batch{}, resp.Fail(models.KindStale, fmt.Errorf("that nothing is in force can't be believed: %s", strings.Join(doubts, "; ")))
	}
	seen := models.WarningsSeen{Made: made, Over: s.ledger.over(), Whole: len(doubts) == 0}
	batch := fetch.Batch{
		Warnings: models.Known(warningsOf(current)),
		Notes:    append(slices.Clip(feed.Notes), doubts...),
		From: []models.Provenance{{
			Source: AlertsName, Detail: strings.Join(s.area.Zones, ", "), Issued: made, Fetched: resp.FetchedAt,
		}},
	}
	for _, w := range current {
		if !w.unmentioned {
			seen.Listed = append(seen.Listed, w.Warning)
		} else {
			batch.Notes = append(batch.Notes, fmt.Sprintf("the %s for %s is missing from this answer; it counts until a second one lacks it", w.Event, w.Zone))
		}
		if w.passesBy {
			batch.Notes = append(batch.Notes, fmt.Sprintf("the area drawn for the %s in %s does not reach the port, the ground or the way between; it counts all the same", w.Event, w.Zone))
		}
	}
	batch.Seen = models.Known(seen)
	return batch, nil
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

var _ fetch.Source = (*AlertsSource)(nil)
