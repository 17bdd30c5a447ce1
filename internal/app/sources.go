package app

import (
	"context"
	"fmt"
	"time"

	"forecastd/config"
	"forecastd/internal/fetch"
	"forecastd/internal/fetch/coops"
	"forecastd/internal/fetch/gridded"
	"forecastd/internal/fetch/ndbc"
	"forecastd/internal/fetch/nws"
	"forecastd/internal/models"
)

// horizon is how far ahead hours are fetched: ten days and the rest of the
// day called.
const horizon = 11 * 24 * time.Hour

// When something new can be there, by source; for the gridded products that
// stands in their table.

// alertsAppear at any time.
func alertsAppear() fetch.Timetable { return fetch.Each(4 * time.Minute) }

// gridAppears whenever the office changes its grid: a few times a day, and in
// between as the weather turns. It is a little less than half an hour, so that
// a look each half hour finds it due.
func gridAppears() fetch.Timetable { return fetch.Each(28 * time.Minute) }

// reportsAppear every ten minutes to an hour; the waves of :50 some minutes
// after the hour (common practice, no source).
func reportsAppear() fetch.Timetable { return fetch.AtMinutes(10, 30, 50) }

// textAppears about 03:30 and 15:30 on the office's clock, with an update six
// hours after each, and again where it is late (common practice, no source).
func textAppears(zone *time.Location) fetch.Timetable {
	var list []models.Clock
	for _, hour := range []int{3, 9, 15, 21} {
		list = append(list, models.Clock{Hour: hour, Minute: 45}, models.Clock{Hour: hour + 1, Minute: 20}, models.Clock{Hour: hour + 2})
	}
	return fetch.AtClocks(zone, list...)
}

// tidesAppear once a day, to reach a day further.
func tidesAppear(zone *time.Location) fetch.Timetable {
	return fetch.AtClocks(zone, models.Clock{Hour: 0, Minute: 20})
}

// sources lists what a call for a ground asks, one row a source. To add a
// source, add its row.
func (a *App) sources(port config.Port, ground config.Ground) ([]fetch.Source, error) {
	var list []fetch.Source
	use := a.cfg.Sources
	zones := allZones(port)
	if use.Alerts.Use && len(zones) > 0 {
		list = append(list, aged(a.alerts(zones, []models.Position{port.At, ground.At}), use.Alerts.MaxAge, alertsAppear()))
	}
	if use.Gridpoint.Use {
		list = append(list, aged(nws.Gridpoint(a.client, nws.Base, ground.Ground, cell(ground), a.now), use.Gridpoint.MaxAge, gridAppears()))
	}
	if office, ok := port.TextOffice.Get(); ok && use.CoastalText.Use {
		list = append(list, aged(nws.CoastalText(a.client, nws.Base, office, zones, a.now), use.CoastalText.MaxAge, textAppears(port.Zone)))
	}
	if use.NDBC.Use && len(port.Stations) > 0 {
		var stations []ndbc.Station
		for _, s := range port.Stations {
			stations = append(stations, ndbc.Station{ID: s.ID, Wind: s.For(config.StationWind) || s.For(config.StationUpwind), Waves: s.For(config.StationSea)})
		}
		s, err := ndbc.New(ndbc.Options{Client: a.client, Stations: stations, Now: a.now})
		if err != nil {
			return nil, fmt.Errorf("stations of %s: %w", port.Name, err)
		}
		list = append(list, aged(s, use.NDBC.MaxAge, reportsAppear()))
	}
	if use.COOPS.Use {
		s, err := a.tides(port)
		if err != nil {
			return nil, err
		}
		if s != nil {
			list = append(list, aged(s, use.COOPS.MaxAge, tidesAppear(port.Zone)))
		}
	}
	if use.Gridded.Use {
		for _, name := range use.Gridded.Products {
			s, err := a.shared(port, name)
			if err != nil {
				list = append(list, unfit{string(name), err})
				continue
			}
			list = append(list, s)
		}
	}
	return list, nil
}

// alerts makes the source of official warnings. With a store it goes on where
// the last one stopped.
func (a *App) alerts(zones []string, way []models.Position) *nws.AlertsSource {
	s := nws.Alerts(a.client, nws.Base, zones, way, a.now)
	s.Limit = a.cfg.Sources.Alerts.MaxAge
	if a.store != nil {
		s.Recall = func(ctx context.Context) (models.WarningsKept, error) { return a.store.WarningsKept(ctx, zones) }
	}
	return s
}

// shared is the source of a gridded product for all grounds of a port. All
// ports of the configuration that read the same files of a product share what
// is fetched of it. The caller holds a.mu.
func (a *App) shared(port config.Port, name config.Product) (fetch.Source, error) {
	views, ok := a.models[name]
	if !ok {
		p, err := gridded.Lookup(string(name))
		if err != nil {
			return nil, err
		}
		var ports []gridded.Port
		for _, p := range a.cfg.Ports {
			ports = append(ports, gridded.Port{Places: places(p.Grounds, name), Office: p.TextOffice.Or("")})
		}
		list, faults := gridded.Share(a.client, gridded.Options{Product: p, Horizon: horizon, MaxAge: a.cfg.Sources.Gridded.MaxAge, Now: a.now}, ports)
		views = map[string]view{}
		for i, p := range a.cfg.Ports {
			views[p.Name] = view{list[i], faults[i]}
		}
		a.models[name] = views
	}
	v := views[port.Name]
	if v.fault != nil {
		return nil, fmt.Errorf("gridded products for %s: %w", port.Name, v.fault)
	}
	return v.View, nil
}

// view is a port's part of a shared product, or why it can't have it.
type view struct {
	*gridded.View
	fault error
}

// places are where a product is read for some grounds.
func places(grounds []config.Ground, name config.Product) []gridded.Place {
	var list []gridded.Place
	for _, g := range grounds {
		list = append(list, gridded.Place{Ground: g.Name, At: g.ModelPoint(name)})
	}
	return list
}

// model makes the source of a gridded product at some grounds.
func (a *App) model(port config.Port, grounds []config.Ground, name config.Product, ahead time.Duration) (*gridded.Source, error) {
	p, err := gridded.Lookup(string(name))
	if err != nil {
		return nil, err
	}
	s, err := gridded.New(a.client, gridded.Options{
		Product: p, Places: places(grounds, name), Office: port.TextOffice.Or(""), Horizon: ahead, MaxAge: a.cfg.Sources.Gridded.MaxAge, Now: a.now,
	})
	if err != nil {
		return nil, fmt.Errorf("gridded products for %s: %w", port.Name, err)
	}
	return s, nil
}

// tides is the source for the port's tide and inlet stations; nil where it has
// none.
func (a *App) tides(p config.Port) (fetch.Source, error) {
	o := coops.Options{
		Client: a.client, Now: a.now,
		Tide: models.MapOpt(p.Tide, func(s config.TideStation) coops.Tide { return coops.Tide{Station: s.ID, Later: s.Later} }),
		Stream: models.MapOpt(p.Current, func(s config.CurrentStation) coops.Stream {
			return coops.Stream{Station: s.ID, Bin: s.Bin, Later: s.Later}
		}),
	}
	if !o.Tide.Known() && !o.Stream.Known() {
		return nil, nil
	}
	s, err := coops.New(o)
	if err != nil {
		return nil, fmt.Errorf("tide stations of %s: %w", p.Name, err)
	}
	return s, nil
}

// allZones are the zones asked about, those that bind the trip and those that
// are only shown.
func allZones(port config.Port) []string {
	var ids []string
	for _, z := range port.Zones {
		ids = append(ids, z.ID)
	}
	return ids
}

// cell is the configured cell of the official grid.
func cell(g config.Ground) models.Opt[nws.Point] {
	return models.MapOpt(g.Gridpoint, func(c config.Gridpoint) nws.Point {
		return nws.Point{Office: c.Office, GridX: c.X, GridY: c.Y}
	})
}

// unfit is a product that can't serve the port, which costs that product and
// not the call.
type unfit struct {
	name string
	err  error
}

// Name is the product's name.
func (u unfit) Name() string { return u.name }

// MaxAge is none: there is no answer to keep.
func (u unfit) MaxAge() time.Duration { return 0 }

// Oldest is none, as MaxAge.
func (u unfit) Oldest() time.Duration { return 0 }

// Fetch tells why the product can't serve.
func (u unfit) Fetch(context.Context) (fetch.Batch, error) {
	return fetch.Batch{}, &models.Error{Kind: models.KindBadConfig, Source: u.name, Err: u.err}
}

// timed is a source whose answers count as long as the configuration says, and
// that is asked by a timetable.
type timed struct {
	fetch.Source
	limit   time.Duration
	appears fetch.Timetable
}

func (s timed) MaxAge() time.Duration { return s.limit }

// Next is when something new can be there.
func (s timed) Next(last time.Time) time.Time { return s.appears(last) }

func aged(s fetch.Source, limit time.Duration, appears fetch.Timetable) fetch.Source {
	return timed{s, limit, appears}
}

var _ fetch.Paced = timed{}
