package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"forecastd/config"
	"forecastd/internal/fetch"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
	"forecastd/internal/store"
	"forecastd/internal/web"
)

// pages answers what the pages ask of the daemon, whatever configuration is
// at work.
type pages struct{ d *Daemon }

var (
	_ web.Desk = pages{}
	_ web.Hand = pages{}
)

// errBetween says that no configuration is at work just now.
var errBetween = errors.New("the daemon is starting, stopping or reading its configuration: try again in a moment")

// at is the engine at work with a port of it.
func (p pages) at(port string) (*engine, config.Port, error) {
	e := p.d.current()
	if e == nil {
		return nil, config.Port{}, errBetween
	}
	if port == "" {
		return e, e.cfg.Ports[0], nil
	}
	i := slices.IndexFunc(e.cfg.Ports, func(o config.Port) bool { return o.Name == port })
	if i < 0 {
		return nil, config.Port{}, fmt.Errorf("there is no port %q: %w", port, web.ErrNotFound)
	}
	return e, e.cfg.Ports[i], nil
}

// Ports names the ports.
func (p pages) Ports() []string {
	var names []string
	for _, port := range p.d.Config().Ports {
		names = append(names, port.Name)
	}
	return names
}

// Board is what was last judged for a port.
func (p pages) Board(ctx context.Context, port string) (web.Board, error) {
	e, at, err := p.at(port)
	if err != nil {
		return web.Board{}, err
	}
	return e.board(ctx, at)
}

// Sources tells how each source stood when it was last asked.
func (p pages) Sources(ctx context.Context, port string) ([]web.Source, error) {
	e, at, err := p.at(port)
	if err != nil {
		return nil, err
	}
	var list []web.Source
	for _, s := range e.sees.of(at.Name).Sources {
		one := web.Source{Name: s.Name, State: string(s.State), Error: s.Error, Skipped: s.Notes, Required: required(s.Name)}
		if age, ok := s.age(p.d.now()); ok {
			one.Age = models.Known(age)
		}
		if s.State == fetch.Missing && !s.Since.IsZero() {
			one.Since = models.Known(s.Since)
		}
		list = append(list, one)
	}
	// What else a captain goes by without seeing it.
	for _, own := range []struct {
		name string
		err  error
	}{{"our clock", e.clockFit(ctx)}, {"our store", e.damage}, {"our messages", e.deaf(ctx)}} {
		if own.err != nil {
			list = append(list, web.Source{Name: own.name, State: string(fetch.Missing), Error: own.err.Error(), Required: true})
		}
	}
	return list, nil
}

// DriftFrom drifts from another start than the call's.
func (p pages) DriftFrom(ctx context.Context, port string, from web.DriftStart) (models.Drift, error) {
	b, err := p.Board(ctx, port)
	if err != nil {
		return models.Drift{}, err
	}
	for _, d := range b.Days {
		for _, t := range d.Trips {
			if d.Date != from.Date || from.Ground != "" && t.Call.Ground.Name != from.Ground {
				continue
			}
			drift, ok := scoring.DriftFrom(t.Call, from.East, from.North, from.At.On(d.Date, b.Port.Zone), time.Duration(from.Hours)*time.Hour).Get()
			if !ok {
				return drift, fmt.Errorf("wind and current are not known for %s %s: %w", d.Date, from.At, web.ErrNotFound)
			}
			return drift, nil
		}
	}
	return models.Drift{}, fmt.Errorf("nothing was called for %s on %s: %w", from.Ground, from.Date, web.ErrNotFound)
}

// Charters are the bookings to come with what the board says of them.
func (p pages) Charters(ctx context.Context, port string) ([]web.Charter, error) {
	e, at, err := p.at(port)
	if err != nil {
		return nil, err
	}
	b, err := e.board(ctx, at)
	if err != nil {
		return nil, err
	}
	list, _, err := e.app.Charters(ctx, at.Name)
	if err != nil {
		return nil, err
	}
	drafts, err := e.app.Drafts(ctx)
	if err != nil {
		return nil, err
	}
	out := make([]web.Charter, 0, len(list))
	for _, h := range list {
		c := web.Charter{Booking: h.Booking, From: h.Source, State: string(h.State), Why: h.Why, FirstDate: h.FirstDate}
		c.Booking.ID = h.mark() // names from two places may be alike
		for _, d := range b.Days {
			for _, t := range d.Trips {
				if d.Date == h.Date && !h.Cancelled && t.Guests == models.Known(h.Name) && t.Call.Trip.Start == h.Trip.Start {
					c.Advice = t.Call.Charter
				}
			}
		}
		for _, d := range drafts {
			if d.Port == at.Name && d.Date == h.Date && d.Booking == h.mark() {
				c.Draft = models.Known(webDraft(d))
			}
		}
		out = append(out, c)
	}
	return out, nil
}

func webDraft(d store.Draft) web.Draft {
	return web.Draft{ID: d.ID, To: d.Message.Person, Text: d.Message.Text, Made: d.Made, Expires: d.Expires}
}

// Reported is what was reported and still counts, a fact a line.
func (p pages) Reported(ctx context.Context, port string) ([]web.Said, error) {
	_, at, err := p.at(port)
	if err != nil {
		return nil, err
	}
	now := p.d.now()
	found, err := p.d.store.Reports(ctx, at.Name, models.Interval{Start: now.AddDate(0, 0, -14), End: now.Add(time.Second)})
	if err != nil {
		return nil, err
	}
	var out []web.Said
	for _, r := range found {
		if !r.Until.After(now) {
			continue
		}
		for _, what := range reportPhrases(r) {
			out = append(out, web.Said{At: r.Seen, Until: r.Until, By: r.By, What: what})
		}
	}
	return out, nil
}

// Pen is what was counted last, or configured.
func (p pages) Pen(ctx context.Context, port string) (models.Opt[models.Pen], error) {
	e, at, err := p.at(port)
	if err != nil {
		return models.Unknown[models.Pen](), err
	}
	held, err := p.d.store.Pen(ctx, at.Name, p.d.now())
	return held.Else(e.app.configuredPen(at)), err
}

// Log is the captain's log of some days, newest first.
func (p pages) Log(ctx context.Context, port string, days int) ([]web.LogEntry, error) {
	_, at, err := p.at(port)
	if err != nil {
		return nil, err
	}
	today := models.DateOf(p.d.now(), at.Zone)
	found, err := p.d.store.Log(ctx, at.Name, today.AddDays(-days), today)
	if err != nil {
		return nil, err
	}
	slices.Reverse(found)
	out := make([]web.LogEntry, 0, len(found))
	for _, l := range found {
		out = append(out, web.LogEntry{
			Date: l.Date, Written: l.Written, By: l.By, Tactic: l.Tactic, Ride: l.Ride, Wind: l.Wind, Sea: l.Sea, Raised: l.FishRaised, Caught: l.FishCaught, Note: l.Note,
		})
	}
	return out, nil
}

// Score is how forecasts and calls did. To go through years of forecasts takes
// a while, so it is told again for half an hour.
func (p pages) Score(ctx context.Context, port string, days int) (web.Score, error) {
	e, at, err := p.at(port)
	if err != nil {
		return web.Score{}, err
	}
	return e.scores.of(at.Name, days, p.d.now(), func() (web.Score, error) { return e.app.webScore(ctx, at, days) })
}

func (a *App) webScore(ctx context.Context, port config.Port, days int) (web.Score, error) {
	s, err := a.Score(ctx, port.Name, "", days)
	if err != nil {
		return web.Score{}, err
	}
	out := web.Score{From: s.From, Station: s.Learned.WindStation, Called: s.Calls, Told: s.Told}
	for _, l := range s.Learned.Lessons {
		if l.Wind.Hours > 0 {
			out.Sources = append(out.Sources, web.SourceScore{
				Source: l.Source, Day: l.Day, Hours: l.Wind.Hours, Bias: units.Speed(l.Wind.Mean), Mean: units.Speed(l.Wind.Absolute), Used: l.Wind.Enough(),
			})
		}
	}
	for _, w := range s.Words {
		out.Words = append(out.Words, web.WordScore{Word: w.Word, N: w.N, Came: w.Came, Said: w.Said})
	}
	out.Lately, err = a.lately(ctx, port)
	return out, err
}

// latelyBack is how far back single hours are shown.
const latelyBack = 72 * time.Hour

// lately holds the official forecast of about a day ahead, or that of the
// first product where there is none, against the wind station.
func (a *App) lately(ctx context.Context, port config.Port) ([]web.Compared, error) {
	station, ok := stationFor(port, config.StationWind)
	if !ok {
		return nil, nil
	}
	now := a.now()
	best := map[time.Time]store.Pair{}
	off := func(p store.Pair) time.Duration { return (p.Lead - 24*time.Hour).Abs() }
	for p, err := range a.store.Pairs(ctx, store.PairQuery{
		Port: port.Name, Ground: port.Grounds[0].Name, Station: station.ID, Span: models.Interval{Start: now.Add(-latelyBack), End: now},
	}) {
		if err != nil {
			return nil, err
		}
		if _, _, ok := windPair(p, station); !ok || p.Lead < 12*time.Hour || p.Lead > 36*time.Hour {
			continue
		}
		b, held := best[p.Forecast.At]
		if !held || p.Official && !b.Official || p.Official == b.Official && off(p) < off(b) {
			best[p.Forecast.At] = p
		}
	}
	var out []web.Compared
	for at, p := range best {
		f, o, _ := windPair(p, station)
		out = append(out, web.Compared{At: at, Forecast: models.Known(f), Observed: models.Known(o)})
	}
	slices.SortFunc(out, func(x, y web.Compared) int { return x.At.Compare(y.At) })
	return out, nil
}

// reportPhrases tells a report, a fact a phrase.
func reportPhrases(r store.Report) []models.Phrase {
	var out []models.Phrase
	if d, ok := r.FishOnTop.Get(); ok {
		out = append(out, models.Say("report.fish_on_top", d))
	}
	if yes, ok := r.BaitShowering.Get(); ok {
		out = append(out, models.Say(map[bool]string{true: "report.showering", false: "report.no_showering"}[yes]))
	}
	if in, ok := r.EdgeInReach.Get(); ok {
		out = append(out, models.Say(map[bool]string{true: "report.edge_in", false: "report.edge_out"}[in]))
	}
	if d, ok := r.EdgeDepth.Get(); ok {
		out = append(out, models.Say("report.edge_depth", d))
	}
	if w, ok := r.Water.Get(); ok {
		out = append(out, models.Say("report.water", models.Word(w)))
	}
	if c, ok := r.InletHazardFrom.Get(); ok {
		out = append(out, models.Say("report.inlet", c))
	}
	return out
}
