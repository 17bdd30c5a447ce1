package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"forecastd/config"
	"forecastd/internal/fetch"
	"forecastd/internal/fetch/nws"
	"forecastd/internal/models"
	"forecastd/internal/models/kite"
	"forecastd/internal/models/outlook"
	"forecastd/internal/scoring"
)

// CallRequest says which call. Empty names mean the first port and the ground
// of the booking, or the port's first; the zero date means that of the next
// trip that can still be made. Trip picks one of the day's: its number in order of time, from
// 1, or the name of its guests; empty means all, or the first.
type CallRequest struct {
	Port, Ground string
	Date         models.Date
	Trip         string
}

// NoCallError says that no call could be made.
type NoCallError struct {
	Date models.Date
	// Missing is what could not be had, and why.
	Missing []models.Gap
}

// Error tells what is missing, one line each.
func (e *NoCallError) Error() string {
	lines := []string{fmt.Sprintf("no call can be made for %s: no source gave any wind for it", e.Date)}
	for _, g := range e.Missing {
		lines = append(lines, fmt.Sprintf("  missing: %s: %s", g.What, g.Why))
	}
	return strings.Join(append(lines, "  official warnings are unknown to this tool now: listen to the official broadcast"), "\n")
}

// farthest is how many days ahead a call can be made.
const farthest = 10

// gathered is what all sources together gave for a port and one of its
// grounds.
type gathered struct {
	port   config.Port
	ground config.Ground
	data   fetch.Collection
	mem    remembered
}

// gather asks all sources. The collector of a ground lives as long as the App,
// since it remembers the last good answers, and the warnings' source which
// warnings it has seen.
func (a *App) gather(ctx context.Context, port config.Port, ground config.Ground) (gathered, error) {
	c, err := a.collector(port, ground)
	if err != nil {
		return gathered{}, err
	}
	data := c.Collect(ctx)
	a.predicted(port, &data)
	a.lastKnown(ctx, port, &data)
	return gathered{port, ground, data, a.remember(ctx, port, ground)}, nil
}

// lastKnown puts beside an unknown feed of warnings the products that stood
// when it was last read and whose time is not over: that they can't be seen
// does not end them.
func (a *App) lastKnown(ctx context.Context, port config.Port, data *fetch.Collection) {
	if data.Warnings.Known() || a.store == nil {
		return
	}
	kept, err := a.store.WarningsKept(ctx, allZones(port))
	if err != nil {
		data.Lacks = append(data.Lacks, models.Gap{What: nws.AlertsName, Why: "what was in force before can't be read: " + err.Error()})
		return
	}
	for _, w := range kept.Alive {
		if end, ok := w.Ends.Get(); !ok || a.now().Before(end) {
			data.Stood = append(data.Stood, w.Warning)
		}
	}
}

func (a *App) collector(port config.Port, ground config.Ground) (*fetch.Collector, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	key := [2]string{port.Name, ground.Name}
	if c := a.collectors[key]; c != nil {
		return c, nil
	}
	sources, err := a.sources(port, ground)
	if err != nil {
		return nil, err
	}
	c := fetch.NewCollector(fetch.CollectorOptions{Sources: sources, Now: a.now})
	a.collectors[key] = c
	return c, nil
}

// outlook joins what was gathered for a trip on a day.
func (a *App) outlook(g gathered, date models.Date, trip models.Trip) models.Outlook {
	return outlook.Build(a.input(g, date, trip))
}

// input is what was gathered, as far as it goes into the outlook of a trip.
func (a *App) input(g gathered, date models.Date, trip models.Trip) outlook.Input {
	reports := g.mem.reports(date)
	reports.Season = reports.Season.Else(models.Known(a.cfg.Season.On(date)))
	series := byTrust(g.data.Series, a.cfg.Sources.Gridded.Products)
	day := date.Interval(g.port.Zone)
	return outlook.Input{
		Now: a.now(), Date: date, Port: g.port.Port, Ground: g.ground.Ground, Boat: a.cfg.Boat, Kites: kites(a.cfg.Kites),
		Trip: trip, Reports: reports, Overrides: g.mem.overrides(date, trip),
		Errors: g.mem.learned.Errors, HistoryDays: g.mem.learned.HistoryDays(series, g.ground.Name, day), Courses: a.cfg.Limits.Courses,
		Series: series, Inlet: g.data.Inlet, Tides: g.data.Tides, Streams: g.data.Streams,
		Observed: g.data.Observations, Warnings: g.data.Warnings, Stood: g.data.Stood, Texts: textsFor(g.port, g.ground, g.data.Texts),
		Sources: g.data.From, Gaps: slices.Concat(gaps(g.data), g.mem.gaps), Demo: a.demo,
	}
}

// newest keeps the last report of each station; a station that tells wind and
// waves at different times keeps the last of each in one.
func newest(list []models.Observation) []models.Observation {
	var out []models.Observation
	for _, o := range list {
		i := slices.IndexFunc(out, func(p models.Observation) bool { return p.Station == o.Station })
		if i < 0 {
			out = append(out, o)
			continue
		}
		if !o.Sea.Known() {
			o.Sea, o.Period = out[i].Sea, out[i].Period
		}
		out[i] = o
	}
	return out
}

// Days judges the days ahead. It answers a *NoDaysError where there is no wind
// for any.
func (a *App) Days(ctx context.Context, portName, groundName string) ([]models.DayOutlook, models.Port, error) {
	port, ground, err := a.place(portName, groundName)
	if err != nil {
		return nil, models.Port{}, err
	}
	g, err := a.gather(ctx, port, ground)
	if err != nil {
		return nil, models.Port{}, err
	}
	days := a.shortDays(g, 1)
	if len(days) == 0 {
		return nil, port.Port, &NoDaysError{Missing: append(gaps(g.data), g.mem.gaps...)}
	}
	return days, port.Port, nil
}

// ahead builds the outlook of each day, from so many days ahead on, that some
// wind is known for, and today's whatever is known.
func (a *App) ahead(g gathered, first int) []models.Outlook {
	today := models.DateOf(a.now(), g.port.Zone)
	var list []models.Outlook
	for n := first; n <= farthest; n++ {
		date := today.AddDays(n)
		if o := a.outlook(g, date, a.tripOf(g, date)); n == 0 || knowsWind(o) {
			list = append(list, o)
		}
	}
	return list
}

// judge makes the call from an outlook, unless it knows no wind.
func judge(o models.Outlook, lim models.Limits, with scoring.With) (models.Call, error) {
	if !knowsWind(o) {
		return models.Call{}, &NoCallError{Date: o.Date, Missing: o.Missing}
	}
	return scoring.Judge(o, lim, with), nil
}

func knowsWind(o models.Outlook) bool {
	return slices.ContainsFunc(o.Middle.Hours, func(h models.Hour) bool {
		return h.Wind.Known() && models.DateOf(h.At, o.Port.Zone) == o.Date
	})
}

// kites are the captain's kites with the ranges he reads near the water
// carried up to where they fly.
func kites(own []models.Kite) []models.Kite {
	var list []models.Kite
	for _, k := range own {
		list = append(list, kite.AsRead(k))
	}
	return list
}

// byTrust puts the official forecast first, then the gridded products in the
// order of the configuration.
func byTrust(series []models.Series, products []config.Product) []models.Series {
	rank := func(s models.Series) int {
		if s.Official {
			return -1
		}
		if i := slices.Index(products, config.Product(s.Source)); i >= 0 {
			return i
		}
		return len(products)
	}
	out := slices.Clone(series)
	slices.SortStableFunc(out, func(x, y models.Series) int { return rank(x) - rank(y) })
	return out
}

// textsFor keeps the coastal waters text of the zones that bind the trip.
func textsFor(port config.Port, ground config.Ground, texts []models.OfficialText) []models.OfficialText {
	var kept []models.OfficialText
	for _, z := range port.ZonesFor(ground.Name) {
		for _, t := range texts {
			if t.Zone == z {
				kept = append(kept, t)
			}
		}
	}
	return kept
}

// gaps tells which sources could not be had, or only in an old answer, and what
// is lacking of the others.
func gaps(c fetch.Collection) []models.Gap {
	var list []models.Gap
	for _, s := range c.Sources {
		switch {
		case s.State == fetch.Missing && s.Err != nil:
			list = append(list, models.Gap{What: s.Name, Why: plain(s.Err)})
		case s.State == fetch.Kept:
			list = append(list, models.Gap{What: s.Name, Why: fmt.Sprintf("failed now; its answer of %s ago stands in", s.Age.Round(time.Minute))})
		}
	}
	return append(list, c.Lacks...)
}

// plain tells why a source failed without its name and address, which the
// reader of a call has no use for; the log has them.
func plain(err error) string {
	var e *models.Error
	if !errors.As(err, &e) {
		return err.Error()
	}
	why := string(e.Kind)
	if e.Status != 0 {
		why += fmt.Sprintf(" (HTTP %d)", e.Status)
	}
	if e.Err != nil {
		why += ": " + e.Err.Error()
	}
	return why
}
