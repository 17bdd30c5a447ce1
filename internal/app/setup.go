package app

import (
	"context"
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"sync"
	"time"

	"forecastd/config"
	"forecastd/internal/fetch/coops"
	"forecastd/internal/fetch/ndbc"
	"forecastd/internal/fetch/nws"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// SetupRequest is what a captain knows of his place to begin with.
type SetupRequest struct {
	// At is the mouth of the inlet.
	At models.Position
	// Name is the port's; Contact the e-mail address that the services are
	// told. Without it nobody is asked. Both may be empty.
	Name, Contact string
	// Ground is where the boat fishes.
	Ground models.Opt[models.Position]
}

// Draft is a first configuration for a place.
type Draft struct {
	File []byte
	// Open is what has to be filled in before the file can be loaded.
	Open []*config.Problem
	// Unasked is what could not be asked, and why.
	Unasked []Finding
	// Notes are doubts about what was found, one plain sentence each.
	Notes []string
}

const (
	// nearStations is how many stations a draft lists.
	nearStations = 6
	// How far off predictions still tell about an inlet: a stream is told for
	// its own pass only, a tide for some way along the coast. Common practice,
	// no source.
	farTide   = 30 * units.NauticalMile
	farStream = 10 * units.NauticalMile
	// around is how far from the port zones are looked for where no ground is
	// known.
	around = 5 * units.NauticalMile
)

// Setup looks up what the public services know about a place and writes a
// commented configuration for it. What could not be had becomes a blank with
// the reason, so a draft always comes out; the error is for requests that make
// no sense.
func Setup(ctx context.Context, o Options, req SetupRequest) (Draft, error) {
	if !req.At.Valid() || !req.Ground.Or(req.At).Valid() {
		return Draft{}, errors.New("port and ground need a latitude within 90 and a longitude within 180 degrees")
	}
	l := lookup{place: config.Place{At: req.At, Name: req.Name, Contact: req.Contact, Ground: req.Ground, Why: map[string]string{}}}
	if req.Contact == "" {
		const why = "not asked, since the services want to know whom to write to"
		l.blank(why, "zone", "zones", "text_office", "gridpoint", "stations", "tide", "inlet_current")
		l.draft.Unasked = []Finding{{NotAsked, "all services", why + ": give -contact with your e-mail address"}}
	} else {
		a, err := newBare(o, req.Contact)
		if err != nil {
			return Draft{}, err
		}
		l.app = a
		l.all(ctx)
		if err := a.Stop(ctx); err != nil {
			return Draft{}, err
		}
	}
	if !req.Ground.Known() {
		l.blank("no ground was given", "ground")
		l.blank("the cell is the ground's, and no ground was given", "gridpoint")
	}
	var err error
	if l.draft.File, err = config.Template(l.place); err != nil {
		return Draft{}, err
	}
	_, err = config.Load("", l.draft.File)
	l.draft.Open = problems(err)
	return l.draft, nil
}

// problems takes the joined error of config.Load apart.
func problems(err error) []*config.Problem {
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		var list []*config.Problem
		for _, e := range joined.Unwrap() {
			list = append(list, problems(e)...)
		}
		return list
	}
	var p *config.Problem
	if errors.As(err, &p) {
		return []*config.Problem{p}
	}
	return nil
}

// lookup gathers what the services say about a place.
type lookup struct {
	app   *App
	place config.Place
	draft Draft
}

// blank gives the reason for keys that stay blank, unless there is one.
func (l *lookup) blank(why string, keys ...string) {
	for _, k := range keys {
		if l.place.Why[k] == "" {
			l.place.Why[k] = why
		}
	}
}

// missed does so for a failed look-up, and remembers what nobody answered.
func (l *lookup) missed(what string, err error, keys ...string) {
	f := failed(what, err)[0]
	l.blank(f.Why, keys...)
	if f.Verdict != Wrong {
		l.draft.Unasked = append(l.draft.Unasked, f)
	}
}

// answer is what one look-up gave.
type answer[T any] struct {
	got T
	err error
}

// fetchIn runs a look-up beside others, within the bound of one question.
func fetchIn[T any](ctx context.Context, wg *sync.WaitGroup, to *answer[T], ask func(context.Context) (T, error)) {
	wg.Go(func() {
		ctx, cancel := context.WithTimeout(ctx, perQuestion)
		defer cancel()
		to.got, to.err = ask(ctx)
	})
}

func (l *lookup) all(ctx context.Context) {
	client := l.app.client
	seaward := l.place.Ground.Or(l.place.At)
	var port answer[nws.Point]
	var sea []answer[nws.Point]
	var stations answer[[]ndbc.StationInfo]
	var tides, streams answer[[]coops.Listed]
	places := []models.Position{seaward}
	if !l.place.Ground.Known() {
		places = ring(l.place.At, around)
	}
	sea = make([]answer[nws.Point], len(places))

	var wg sync.WaitGroup
	fetchIn(ctx, &wg, &port, func(ctx context.Context) (nws.Point, error) {
		return nws.LookupPoint(ctx, client, nws.Base, l.place.At)
	})
	for i, at := range places {
		fetchIn(ctx, &wg, &sea[i], func(ctx context.Context) (nws.Point, error) {
			return nws.LookupPoint(ctx, client, nws.Base, at)
		})
	}
	fetchIn(ctx, &wg, &stations, func(ctx context.Context) ([]ndbc.StationInfo, error) {
		list, _, err := ndbc.FetchStations(ctx, client, "")
		return list, err
	})
	fetchIn(ctx, &wg, &tides, func(ctx context.Context) ([]coops.Listed, error) {
		return coops.FetchStations(ctx, client, "", coops.TidePredictions)
	})
	fetchIn(ctx, &wg, &streams, func(ctx context.Context) ([]coops.Listed, error) {
		return coops.FetchStations(ctx, client, "", coops.StreamPredictions)
	})
	wg.Wait()

	l.clock(port, sea)
	l.zones(ctx, port, sea)
	if l.place.Ground.Known() {
		l.cell(sea[0])
	}
	l.stations(stations, seaward)
	tide, stream := regexp.MustCompile(`^\d{7}$`), regexp.MustCompile(`^[A-Za-z]{1,3}\d{4,5}$`)
	l.place.Tide = l.prediction("tide", "the list of tide stations", tides, farTide,
		func(s coops.Listed) bool { return tide.MatchString(s.ID) })
	l.place.Current = l.prediction("inlet_current", "the list of current stations", streams, farStream,
		func(s coops.Listed) bool { return stream.MatchString(s.ID) && s.Bin > 0 })
}

// ring is eight places around one.
func ring(at models.Position, radius units.Length) []models.Position {
	var list []models.Position
	for i := range 8 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 4)
		p := models.Position{
			Lat: at.Lat + radius.NauticalMiles()/60*cos,
			Lon: at.Lon + radius.NauticalMiles()/60*sin/math.Max(math.Cos(at.Lat*math.Pi/180), 0.01),
		}
		if p.Valid() {
			list = append(list, p)
		}
	}
	return list
}

// clock takes the time zone from the port, else from the sea beside it.
func (l *lookup) clock(port answer[nws.Point], sea []answer[nws.Point]) {
	for _, p := range append([]answer[nws.Point]{port}, sea...) {
		if _, err := time.LoadLocation(p.got.TimeZone); p.err == nil && p.got.TimeZone != "" && err == nil {
			l.place.Zone = p.got.TimeZone
			return
		}
	}
	if port.err != nil {
		l.missed("time zone of the port", port.err, "zone")
	}
}

// zones lists the marine zones of ground, port and what lies around, and asks
// for their names and offices. Warnings of all of them bind trips: to take one
// out is the captain's decision.
func (l *lookup) zones(ctx context.Context, port answer[nws.Point], sea []answer[nws.Point]) {
	const what = "zones of the place"
	var ids []string
	var failure error
	for _, p := range append(slices.Clone(sea), port) {
		if p.err != nil {
			failure = p.err
		} else if marineZone(p.got.Zone) && !slices.Contains(ids, p.got.Zone) {
			ids = append(ids, p.got.Zone)
		}
	}
	if failure != nil {
		l.missed(what, failure)
	}
	if len(ids) == 0 {
		if failure != nil {
			l.blank(failed(what, failure)[0].Why, "zones", "text_office")
		} else {
			l.blank("the service names no zone of the sea there", "zones", "text_office")
		}
		return
	}
	found := make([]answer[nws.Zone], len(ids))
	var wg sync.WaitGroup
	for i, id := range ids {
		fetchIn(ctx, &wg, &found[i], func(ctx context.Context) (nws.Zone, error) {
			return nws.LookupZone(ctx, l.app.client, nws.Base, id)
		})
	}
	wg.Wait()
	for i, id := range ids {
		z := config.FoundZone{ID: id, Name: found[i].got.Name, Use: config.ZoneTrip}
		if found[i].err != nil {
			z.Name = "its name is not known: see the chart"
			l.missed("name of zone "+id, found[i].err)
		}
		l.place.Zones = append(l.place.Zones, z)
		if l.place.TextOffice == "" && len(found[i].got.Offices) > 0 {
			l.place.TextOffice = found[i].got.Offices[0]
		}
	}
	if l.place.TextOffice == "" {
		l.blank("the service names no office for these zones", "text_office")
	}
	if !l.place.Ground.Known() {
		l.draft.Notes = append(l.draft.Notes, fmt.Sprintf("the zones are those within %.0f nmi of the port: add the one that your ground lies in", around.NauticalMiles()))
	}
}

// cell takes the cell of the ground.
func (l *lookup) cell(ground answer[nws.Point]) {
	if ground.err != nil {
		l.missed("grid cell of the ground", ground.err, "gridpoint")
		return
	}
	p := ground.got
	l.place.Gridpoint = models.Known(config.Gridpoint{Office: p.Office, X: p.GridX, Y: p.GridY})
	if marine, ok := p.Marine.Get(); ok && !marine {
		l.draft.Notes = append(l.draft.Notes, "the ground is land to the weather service, which gives no sea there: check its position, or set it further out")
	}
}

// stations lists the stations that report, nearest to the grounds first.
func (l *lookup) stations(all answer[[]ndbc.StationInfo], at models.Position) {
	if all.err != nil {
		l.missed("the list of stations", all.err, "stations")
		return
	}
	fits := regexp.MustCompile(`^[A-Z0-9]{5}$`)
	list := slices.DeleteFunc(slices.Clone(all.got), func(s ndbc.StationInfo) bool {
		return !fits.MatchString(s.ID)
	})
	for _, n := range reporting(list, at, nearStations) {
		uses := []config.StationUse{config.StationWind}
		if n.Type == "buoy" {
			uses = append(uses, config.StationSea)
		}
		l.place.Stations = append(l.place.Stations, config.FoundStation{ID: n.ID, Name: n.Name, Distance: n.Distance, Uses: uses})
	}
	if len(l.place.Stations) == 0 {
		l.blank(fmt.Sprintf("no station within %.0f nmi has reported lately", farStation.NauticalMiles()), "stations")
		return
	}
	l.draft.Notes = append(l.draft.Notes, "what each station measures is on its page: a wave buoy has no anemometer, so take wind out of its line, and keep those that stand for your grounds")
}

// prediction finds the nearest station with predictions that the
// configuration can hold.
func (l *lookup) prediction(key, what string, all answer[[]coops.Listed], farthest units.Length, fits func(coops.Listed) bool) models.Opt[config.FoundPrediction] {
	none := models.Unknown[config.FoundPrediction]()
	if all.err != nil {
		l.missed(what, all.err, key)
		return none
	}
	best := none
	for _, s := range all.got {
		d := models.Apart(l.place.At, s.At)
		if have, ok := best.Get(); fits(s) && (!ok || d < have.Distance) {
			best = models.Known(config.FoundPrediction{ID: s.ID, Name: s.Name, Distance: d, Bin: s.Bin})
		}
	}
	b, ok := best.Get()
	switch {
	case !ok:
		l.blank("the service lists none", key)
		return none
	case b.Distance > farthest:
		l.blank(fmt.Sprintf("the nearest is %s, %s, %.0f nmi off, too far to stand for the inlet", b.ID, b.Name, b.Distance.NauticalMiles()), key)
		return none
	}
	return best
}
