package nws

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"forecastd/internal/fetch"
	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
)

// GridpointSource is the fetch.Source of the service's own gridded forecast
// at one ground.
type GridpointSource struct {
	client Getter
	base   string
	ground models.Ground
	given  models.Opt[Point]
	now    func() time.Time

	mu       sync.Mutex
	point    Point
	resolved time.Time // when, zero for not yet
}

// Gridpoint makes the source for a ground. A given cell is asked for as it is;
// otherwise, and where the service no longer knows it, the cell is looked up
// by the ground's position.
func Gridpoint(client Getter, base string, ground models.Ground, given models.Opt[Point], now func() time.Time) *GridpointSource {
	return &GridpointSource{client: client, base: trimBase(base), ground: ground, given: given, now: now}
}

// Name is "nws gridpoint".
func (s *GridpointSource) Name() string { return GridpointName }

// MaxAge is long enough for an office to miss one of its four issues a day.
func (s *GridpointSource) MaxAge() time.Duration { return 12 * time.Hour }

// Oldest is how long ago the office may have changed its grid: it does so
// several times a day.
func (s *GridpointSource) Oldest() time.Duration { return 30 * time.Hour }

const (
	// oldestCopy is how old a kept copy of a grid or a text may be, by its
	// headers.
	oldestCopy = 6 * time.Hour
	// resolveEvery is how long the cell of a position is believed: offices
	// move the origin of their grids.
	resolveEvery = 24 * time.Hour
	// staleGrid is the age from which a grid is told to be old.
	staleGrid = 18 * time.Hour
)

// Fetch finds the cell of the ground, anew once a day or when the service no
// longer knows it, and asks for its grid.
func (s *GridpointSource) Fetch(ctx context.Context) (fetch.Batch, error) {
	p, fresh, err := s.cell(ctx, false)
	if err != nil {
		return fetch.Batch{}, err
	}
	resp, err := s.ask(ctx, p)
	if missing(err) && !fresh {
		if p, _, err = s.cell(ctx, true); err != nil {
			return fetch.Batch{}, err
		}
		resp, err = s.ask(ctx, p)
	}
	if err != nil {
		var said *httpx.Problem
		if errors.As(err, &said) && strings.Contains(said.Type+said.Detail, "Expired") {
			err = explain(err, models.KindServer, "the office's grid has expired, it comes back with the office's next forecast")
		}
		return fetch.Batch{}, err
	}
	now := s.now().UTC()
	g, err := ParseGridpoint(resp.Body, now)
	if err != nil {
		return fetch.Batch{}, resp.Bad(err)
	}
	cell := fmt.Sprintf("%s %d,%d", p.Office, p.GridX, p.GridY)
	if g.Office != p.Office || g.X != p.GridX || g.Y != p.GridY {
		return fetch.Batch{}, resp.Bad(fmt.Errorf("asked for the grid of %s and got that of %s %d,%d", cell, g.Office, g.X, g.Y))
	}
	if age := now.Sub(g.Updated); age > staleGrid {
		g.Notes = append(g.Notes, fmt.Sprintf("the office last changed its grid %d hours ago", int(age.Hours())))
	}
	if marine, ok := p.Marine.Get(); ok && !marine {
		g.Notes = append(g.Notes, "the service takes the position of the ground for land: its forecast may not hold at sea")
	}
	return fetch.Batch{
		Series: []models.Series{g.Series(s.ground.Name, resp.FetchedAt)},
		Lacks:  g.Lost,
		Notes:  g.Notes,
		From:   []models.Provenance{{Source: GridpointName, Detail: cell, Issued: g.Updated, Fetched: resp.FetchedAt}},
	}, nil
}

func missing(err error) bool {
	var e *models.Error
	return errors.As(err, &e) && e.Kind == models.KindNotFound
}

func (s *GridpointSource) ask(ctx context.Context, p Point) (*httpx.Response, error) {
	return s.client.Get(ctx, httpx.Request{
		Source: GridpointName, URL: fmt.Sprintf("%s/gridpoints/%s/%d,%d", s.base, p.Office, p.GridX, p.GridY),
		Accept: "application/geo+json", Want: httpx.JSON, Conditional: true, Oldest: oldestCopy,
	})
}

// cell answers the cell of the ground and whether it was asked for just now.
func (s *GridpointSource) cell(ctx context.Context, anew bool) (p Point, fresh bool, err error) {
	now := s.now()
	s.mu.Lock()
	p, resolved := s.point, s.resolved
	s.mu.Unlock()
	if given, ok := s.given.Get(); ok && !anew && resolved.IsZero() {
		return given, false, nil
	}
	if !anew && !resolved.IsZero() && now.Sub(resolved).Abs() < resolveEvery {
		return p, false, nil
	}
	p, err = lookupPoint(ctx, s.client, s.base, s.ground.At, GridpointName)
	if err != nil {
		return Point{}, false, err
	}
	s.mu.Lock()
	s.point, s.resolved = p, now
	s.mu.Unlock()
	return p, true, nil
}

var _ fetch.Source = (*GridpointSource)(nil)
