package app

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"sync"
	"time"

	"forecastd/config"
	"forecastd/internal/fetch"
	"forecastd/internal/fetch/coops"
	"forecastd/internal/fetch/ndbc"
	"forecastd/internal/fetch/nws"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/words"
)

// Verdict is what became of something that the configuration names.
type Verdict string

// Verdicts.
const (
	Sound    Verdict = "ok"
	Doubtful Verdict = "doubt"     // it may be meant so, but look
	Wrong    Verdict = "wrong"     // it does not exist, or cannot serve
	NotAsked Verdict = "not asked" // nobody answered; nothing is known
)

// Finding is what the services say about one thing that the configuration
// names.
type Finding struct {
	Verdict Verdict
	// What is the thing, Why what was found, in plain words.
	What, Why string
}

// Notice is what has to stand at the head of everything told: empty, or that
// the data are invented.
func (a *App) Notice() string {
	if a.demo {
		return words.DemoNotice()
	}
	return ""
}

const (
	// perQuestion bounds the wait for one answer or one chain of them.
	perQuestion = 45 * time.Second
	// askedAtOnce is how many questions are under way at a time.
	askedAtOnce = 4
	// farStation is the distance from which a station tells little about the
	// grounds: common practice, no source.
	farStation = 60 * units.NauticalMile
	// probe is how far ahead a gridded product is read to see that it reaches
	// a ground.
	probe = 6 * time.Hour
)

// question is one thing to ask; it answers its findings.
type question func(context.Context) []Finding

// Check asks the services whether all that the configuration names exists and
// is what it is taken for. Findings are in the order of the configuration.
func (a *App) Check(ctx context.Context) []Finding {
	var ask []question
	use := a.cfg.Sources
	for _, p := range a.cfg.Ports {
		ask = append(ask, func(ctx context.Context) []Finding { return a.checkPort(ctx, p) })
		for _, g := range p.Grounds {
			ask = append(ask, func(ctx context.Context) []Finding { return a.checkCell(ctx, p, g) })
			if use.Gridpoint.Use {
				ask = append(ask, func(ctx context.Context) []Finding { return a.checkGrid(ctx, g) })
			}
		}
		for _, z := range p.Zones {
			ask = append(ask, func(ctx context.Context) []Finding { return a.checkZone(ctx, z) })
		}
		if use.Alerts.Use && len(p.Zones) > 0 {
			ask = append(ask, func(ctx context.Context) []Finding { return a.checkAlerts(ctx, p) })
		}
		if office, ok := p.TextOffice.Get(); ok && use.CoastalText.Use && len(p.Zones) > 0 {
			ask = append(ask, func(ctx context.Context) []Finding { return a.checkText(ctx, p, office) })
		}
		if use.NDBC.Use && len(p.Stations) > 0 {
			ask = append(ask, func(ctx context.Context) []Finding { return a.checkStations(ctx, p) })
		}
		if use.COOPS.Use {
			if t, ok := p.Tide.Get(); ok {
				ask = append(ask, func(ctx context.Context) []Finding { return a.checkTide(ctx, p, t) })
			}
			if s, ok := p.Current.Get(); ok {
				ask = append(ask, func(ctx context.Context) []Finding { return a.checkStream(ctx, p, s) })
			}
		}
		if use.Gridded.Use {
			for _, g := range p.Grounds {
				for _, m := range use.Gridded.Products {
					ask = append(ask, func(ctx context.Context) []Finding { return a.checkModel(ctx, p, g, m) })
				}
			}
		}
	}
	return askAll(ctx, ask)
}

// askAll asks several questions at a time and keeps their order.
func askAll(ctx context.Context, ask []question) []Finding {
	got := make([][]Finding, len(ask))
	slots := make(chan struct{}, askedAtOnce)
	var wg sync.WaitGroup
	for i, q := range ask {
		wg.Go(func() {
			slots <- struct{}{}
			defer func() { <-slots }()
			ctx, cancel := context.WithTimeout(ctx, perQuestion)
			defer cancel()
			got[i] = q(ctx)
		})
	}
	wg.Wait()
	return slices.Concat(got...)
}

// failed turns the failure of a look-up into a finding.
func failed(what string, err error) []Finding {
	var e *models.Error
	if !errors.As(err, &e) {
		return []Finding{{Wrong, what, err.Error()}}
	}
	host := "the service"
	if u, parse := url.Parse(e.URL); parse == nil && u.Host != "" {
		host = u.Host
	}
	switch e.Kind {
	case models.KindUnreachable:
		return []Finding{{NotAsked, what, "no connection to " + host}}
	case models.KindTimeout:
		return []Finding{{NotAsked, what, "no answer in time from " + host}}
	case models.KindCancelled:
		return []Finding{{NotAsked, what, "broken off"}}
	case models.KindRateLimited, models.KindServer:
		return []Finding{{NotAsked, what, fmt.Sprintf("%s has trouble now (HTTP %d): ask again later", host, e.Status)}}
	case models.KindRefused:
		return []Finding{{NotAsked, what, fmt.Sprintf("%s refuses to answer (HTTP %d)", host, e.Status)}}
	case models.KindNotRecorded:
		return []Finding{{NotAsked, what, "the recording holds no answer"}}
	case models.KindNotFound, models.KindBadConfig:
		return []Finding{{Wrong, what, cause(e)}}
	case models.KindBadContent, models.KindTooLarge, models.KindStale:
	}
	return []Finding{{Doubtful, what, "the answer is of no use: " + cause(e)}}
}

// cause is an error without its address, which tells people little.
func cause(e *models.Error) string {
	if e.Err != nil {
		return e.Err.Error()
	}
	return string(e.Kind)
}

// checkPort compares the port's clock with the services'.
func (a *App) checkPort(ctx context.Context, p config.Port) []Finding {
	what := "port " + p.Name
	at, err := nws.LookupPoint(ctx, a.client, nws.Base, p.At)
	if err != nil {
		return failed(what, err)
	}
	there, err := time.LoadLocation(at.TimeZone)
	if at.TimeZone == "" || err != nil {
		return []Finding{{Doubtful, what, fmt.Sprintf("the service names no time zone there, the configuration says %s", p.Zone)}}
	}
	// Summer and winter both, since zones may differ in one only.
	for _, t := range []time.Time{a.now(), a.now().AddDate(0, 6, 0)} {
		_, ours := t.In(p.Zone).Zone()
		_, theirs := t.In(there).Zone()
		if ours != theirs {
			return []Finding{{Doubtful, what, fmt.Sprintf("the clock there is %s, the configuration says %s", there, p.Zone)}}
		}
	}
	return []Finding{{Sound, what, fmt.Sprintf("clock %s, office %s", there, at.Office)}}
}

// checkCell asks where a ground lies: in which cell and which zone, and
// whether that is sea.
func (a *App) checkCell(ctx context.Context, p config.Port, g config.Ground) []Finding {
	what := "ground " + g.Name
	at, err := nws.LookupPoint(ctx, a.client, nws.Base, g.At)
	if err != nil {
		return failed(what+", cell and zone", err)
	}
	cell := fmt.Sprintf("%s %d,%d", at.Office, at.GridX, at.GridY)
	found := []Finding{{Sound, what + ", cell", cell}}
	if have, ok := g.Gridpoint.Get(); !ok {
		found[0].Why = cell + ", looked up for every call"
	} else if have != (config.Gridpoint{Office: at.Office, X: at.GridX, Y: at.GridY}) {
		found[0].Verdict = Doubtful
		found[0].Why = fmt.Sprintf("the service says %s, the configuration %s %d,%d: the grid has moved, or the position has", cell, have.Office, have.X, have.Y)
	}
	if marine, ok := at.Marine.Get(); ok && !marine {
		found[0].Verdict = Doubtful
		found[0].Why += "; land to the service, so it gives no sea there: set the ground further out"
	}
	zone := Finding{Sound, what + ", zone", at.Zone + ", which binds its trips"}
	switch i := slices.IndexFunc(p.Zones, func(z config.Zone) bool { return z.ID == at.Zone }); {
	case at.Zone == "":
		zone = Finding{Doubtful, zone.What, "the service names no zone there: see on the chart that one of yours holds it"}
	case slices.Contains(p.ZonesFor(g.Name), at.Zone):
	case i >= 0:
		zone = Finding{Doubtful, zone.What, fmt.Sprintf("%s is named, but does not bind trips to this ground: its warnings would be shown and not obeyed", at.Zone)}
	default:
		zone = Finding{Wrong, zone.What, fmt.Sprintf("%s is not among the port's zones, so no warning for the ground itself would ever be seen: add {id: %s, for: trip}", at.Zone, at.Zone)}
	}
	return append(found, zone)
}

// checkGrid reads the official grid at a ground once, to see that it holds
// wind and sea.
func (a *App) checkGrid(ctx context.Context, g config.Ground) []Finding {
	what := "ground " + g.Name + ", official grid"
	b, err := nws.Gridpoint(a.client, nws.Base, g.Ground, cell(g), a.now).Fetch(ctx)
	if err != nil {
		return failed(what, err)
	}
	winds, seas := 0, 0
	for _, s := range b.Series {
		w, h := known(s.Hours)
		winds, seas = winds+w, seas+h
	}
	switch {
	case winds == 0:
		return []Finding{{Doubtful, what, "holds no wind now"}}
	case seas == 0:
		return []Finding{{Doubtful, what, fmt.Sprintf("wind for %d hours, but no sea: the cell is land, or the office gives none", winds)}}
	}
	return []Finding{{Sound, what, fmt.Sprintf("wind for %d hours, sea for %d", winds, seas)}}
}

// known counts the hours with wind and those with sea.
func known(hours []models.Hour) (winds, seas int) {
	for _, h := range hours {
		if h.Wind.Known() {
			winds++
		}
		if h.Sea.Known() {
			seas++
		}
	}
	return winds, seas
}

// checkZone asks for the official name of a zone.
func (a *App) checkZone(ctx context.Context, z config.Zone) []Finding {
	what := "zone " + z.ID
	got, err := nws.LookupZone(ctx, a.client, nws.Base, z.ID)
	if err != nil {
		return failed(what, err)
	}
	if z.Use == config.ZoneTrip && !marineZone(z.ID) {
		return []Finding{{Doubtful, what, got.Name + ": no zone of the sea, marine warnings are never issued for it"}}
	}
	return []Finding{{Sound, what, got.Name}}
}

// marineZone tells zones of the sea and the Great Lakes from those on land by
// their first two letters (NWSI101702).
func marineZone(id string) bool {
	return len(id) > 2 && id[2] == 'Z' && strings.Contains(" AM AN GM LC LE LH LM LO LS PH PK PM PS PZ SL ", " "+id[:2]+" ")
}

// checkAlerts asks for the warnings of all zones, as a call does.
func (a *App) checkAlerts(ctx context.Context, p config.Port) []Finding {
	what := "warnings for " + p.Name
	at := []models.Position{p.At}
	for _, g := range p.Grounds {
		at = append(at, g.At)
	}
	b, err := a.alerts(allZones(p), at).Fetch(ctx)
	if err != nil {
		return failed(what, err)
	}
	list, ok := b.Warnings.Get()
	if !ok {
		return []Finding{{Doubtful, what, "the feed answered only in part"}}
	}
	return []Finding{{Sound, what, fmt.Sprintf("the feed answers; in force or coming: %d", len(list))}}
}

// checkText looks for each zone in the office's coastal waters forecast.
func (a *App) checkText(ctx context.Context, p config.Port, office string) []Finding {
	what := "coastal waters text of " + office
	zones := slices.DeleteFunc(allZones(p), func(id string) bool { return !marineZone(id) })
	b, err := nws.CoastalText(a.client, nws.Base, office, zones, a.now).Fetch(ctx)
	if err != nil {
		return failed(what, err)
	}
	var lacking []string
	for _, z := range zones {
		if !slices.ContainsFunc(b.Texts, func(t models.OfficialText) bool { return t.Zone == z }) {
			lacking = append(lacking, z)
		}
	}
	if len(lacking) > 0 {
		return []Finding{{Doubtful, what, "has nothing for " + strings.Join(lacking, ", ") + ": another office may write for them"}}
	}
	return []Finding{{Sound, what, "has " + strings.Join(zones, ", ")}}
}

// checkStations looks the port's stations up in the list of active ones.
func (a *App) checkStations(ctx context.Context, p config.Port) []Finding {
	list, _, err := ndbc.FetchStations(ctx, a.client, "")
	var found []Finding
	for _, s := range p.Stations {
		what := "station " + s.ID
		if err != nil {
			found = append(found, failed(what, err)...)
		} else {
			found = append(found, checkStation(p, s, what, list))
		}
	}
	return found
}

func checkStation(p config.Port, s config.Station, what string, list []ndbc.StationInfo) Finding {
	i := slices.IndexFunc(list, func(l ndbc.StationInfo) bool { return l.ID == s.ID })
	if i < 0 {
		why := "not in the list of active stations: mistyped, or out of service"
		if near := reporting(list, p.At, 3); len(near) > 0 {
			var names []string
			for _, n := range near {
				names = append(names, fmt.Sprintf("%s (%.0f nmi)", n.ID, n.Distance.NauticalMiles()))
			}
			why += "; the nearest that report are " + strings.Join(names, ", ")
		}
		return Finding{Wrong, what, why}
	}
	n := ndbc.Nearest(list[i:i+1], p.At, 1)[0]
	f := Finding{Sound, what, fmt.Sprintf("%s, %.0f nmi from %s", n.Name, n.Distance.NauticalMiles(), p.Name)}
	if met, ok := n.Met.Get(); !ok || !met {
		f.Verdict = Doubtful
		f.Why += "; it has not reported wind or sea lately"
	}
	if n.Distance > farStation {
		f.Verdict = Doubtful
		f.Why += "; that far off it tells little about the grounds"
	}
	return f
}

// reporting lists the stations nearest to a place that have reported wind or
// sea lately. Tsunami buoys and sailing drones are left out: the first measure
// neither, the others wander.
func reporting(list []ndbc.StationInfo, at models.Position, n int) []ndbc.Neighbour {
	list = slices.DeleteFunc(slices.Clone(list), func(s ndbc.StationInfo) bool {
		return !s.Met.Or(false) || s.Type == "dart" || s.Type == "usv"
	})
	near := ndbc.Nearest(list, at, n)
	return slices.DeleteFunc(near, func(s ndbc.Neighbour) bool { return s.Distance > farStation })
}

// checkTide looks a tide station up and asks it for predictions.
func (a *App) checkTide(ctx context.Context, p config.Port, t config.TideStation) []Finding {
	p.Current = models.Unknown[config.CurrentStation]()
	return a.checkPredictions(ctx, p, t.ID, "tide station "+t.ID, func(b fetch.Batch) int { return len(b.Tides) })
}

// checkStream does so with the station of the inlet's stream.
func (a *App) checkStream(ctx context.Context, p config.Port, s config.CurrentStation) []Finding {
	p.Tide = models.Unknown[config.TideStation]()
	return a.checkPredictions(ctx, p, s.ID, "inlet current station "+s.ID, func(b fetch.Batch) int { return len(b.Streams) })
}

func (a *App) checkPredictions(ctx context.Context, p config.Port, id, what string, count func(fetch.Batch) int) []Finding {
	var found []Finding
	if s, err := coops.FetchStation(ctx, a.client, "", id); err != nil {
		found = failed(what, err)
	} else {
		d := models.Apart(p.At, s.At)
		found = []Finding{{Sound, what, fmt.Sprintf("%s, %.0f nmi from %s", s.Name, d.NauticalMiles(), p.Name)}}
		if d > farStation {
			found[0].Verdict = Doubtful
			found[0].Why += "; that far off its water runs at other times"
		}
	}
	what += ", predictions"
	source, err := a.tides(p)
	if err != nil {
		return append(found, failed(what, err)...)
	}
	b, err := source.Fetch(ctx)
	switch {
	case err != nil:
		return append(found, failed(what, err)...)
	case count(b) == 0:
		return append(found, Finding{Doubtful, what, "none came: " + strings.Join(b.Notes, "; ")})
	}
	return append(found, Finding{Sound, what, fmt.Sprintf("%d turns of the water ahead", count(b))})
}

// checkModel reads the next hours of a gridded product, to see that it
// reaches a ground.
func (a *App) checkModel(ctx context.Context, p config.Port, g config.Ground, name config.Product) []Finding {
	what := fmt.Sprintf("ground %s, %s", g.Name, name)
	s, err := a.model(p, []config.Ground{g}, name, probe)
	if err != nil {
		return []Finding{{Wrong, what, err.Error() + ": take it out of sources.gridded.products"}}
	}
	b, err := s.Fetch(ctx)
	if err != nil {
		return failed(what, err)
	}
	n := 0
	for _, s := range b.Series {
		n += len(s.Hours)
	}
	if n == 0 {
		return []Finding{{Wrong, what, "gives nothing there: set a model point in open water"}}
	}
	return []Finding{{Sound, what, fmt.Sprintf("reaches it, run of %s", b.Series[0].Run.UTC().Format("2 January 15:04 UTC"))}}
}
