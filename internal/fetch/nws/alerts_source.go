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

const alertsName = "nws alerts"

// Getter is the HTTP client that the sources ask through.
type Getter interface {
	Get(ctx context.Context, req httpx.Request) (*httpx.Response, error)
}

// AlertsSource is the fetch.Source of what is in force or coming. It
// remembers what the last answers held, because warnings drop out of the feed
// and come back: one that nobody ended counts until two answers in a row lack
// it.
type AlertsSource struct {
	client Getter
	base   string
	area   Area
	now    func() time.Time

	mu     sync.Mutex
	ledger ledger
}

// Alerts makes the source for some zones. The positions, in the order of the
// way out, are tested against the polygons of products that have one.
func Alerts(client Getter, base string, zones []string, positions []models.Position, now func() time.Time) *AlertsSource {
	area := Area{Zones: unique(zones), Positions: slices.Clone(positions)}
	return &AlertsSource{client: client, base: trimBase(base), area: area, now: now}
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
func (s *AlertsSource) Name() string { return alertsName }

// MaxAge is short: a special marine warning lasts an hour at most.
func (s *AlertsSource) MaxAge() time.Duration { return 30 * time.Minute }

// Fetch asks for the alerts of all zones at once. Warnings is known only
// where the service gave its whole list.
func (s *AlertsSource) Fetch(ctx context.Context) (fetch.Batch, error) {
	bad := func(err error) (fetch.Batch, error) {
		return fetch.Batch{}, &models.Error{Kind: models.KindBadConfig, Source: alertsName, Err: err}
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
		Source: alertsName,
		URL:    s.base + "/alerts/active?zone=" + strings.Join(s.area.Zones, ","),
		Accept: "application/geo+json", Want: httpx.JSON, Conditional: true,
	})
	if err != nil {
		return fetch.Batch{}, err
	}
	feed, err := ParseAlerts(resp.Body)
	if err != nil {
		return fetch.Batch{}, resp.Bad(err)
	}
	messages := s.area.messages(feed, resp.FetchedAt)

	s.mu.Lock()
	s.ledger.apply(messages)
	current := s.ledger.current(s.now().UTC())
	s.mu.Unlock()

	batch := fetch.Batch{
		Warnings: models.Known(warningsOf(current)),
		Notes:    feed.Notes,
		From: []models.Provenance{{
			Source: alertsName, Detail: strings.Join(s.area.Zones, ", "), Fetched: resp.FetchedAt,
		}},
	}
	for _, w := range current {
		if w.unmentioned {
			batch.Notes = append(batch.Notes, fmt.Sprintf("the %s for %s is missing from this answer; it counts until a second one lacks it", w.Event, w.Zone))
		}
		if w.passesBy {
			batch.Notes = append(batch.Notes, fmt.Sprintf("the area drawn for the %s in %s does not reach the port, the ground or the way between; it counts all the same", w.Event, w.Zone))
		}
	}
	return batch, nil
}

var _ fetch.Source = (*AlertsSource)(nil)
