package web

import (
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/words"
)

// dayData is what the page of a day is filled with.
type dayData struct {
	Head, Long string
	// Called tells that there is a call at all; Wind that this day has one.
	Called, Wind bool
	// Wrong tells why a new call could not be asked for.
	Wrong []problem
	// Expired tells that a call of the day is too old to go by.
	Expired  bool
	Warnings warningsData
	Trips    []tripData
	Official []part
	Steps    []pageLink
	Date     string
}

// warningsData is what is official, verbatim.
type warningsData struct {
	Unknown, Any bool
	List         []warningData
	// Long tells that the words are more than a sheet of paper has room for.
	Long bool
	// Official is where the weather service tells its warnings.
	Official string
	Sources  []string
}

type warningData struct {
	words.Section
	Event, URL string
}

// tripData is the call for one trip.
type tripData struct {
	// N is its number on the day, from 1; Of how many there are.
	N, Of   int
	Head    string
	Verdict string
	// Lines are the times and how sure the call is.
	Lines   []string
	Expired bool
	stamps
	Lanes   part
	Why     []part
	More    []part
	Charter dayCharter
	Sources []string
}

// dayCharter is the charter of a trip; Open tells that the visitor may see
// the guests' name and the draft.
type dayCharter struct {
	Any, Open bool
	Guests    string
	Actions   string
	part
}

// nextPage is the day at hand.
func nextPage(v *view) (page, error) { return dayPage(v) }

// dayPage is one day, with the call for each of its trips.
func dayPage(v *view) (page, error) {
	b, d, err := v.dayAsked()
	if err != nil {
		return page{}, err
	}
	data := dayData{
		Called: !b.Made.IsZero(), Wind: len(d.Trips) > 0, Date: d.Date.String(),
		Warnings: v.warnings(b, d), Steps: v.steps(b, d),
	}
	title := "title.day"
	if data.Called || data.Wind {
		data.Long = v.Tell(d.Date).LongDay(d.Date)
	}
	today := models.DateOf(v.Now, zoneOf(b))
	switch d.Date {
	case today:
		data.Head, title = v.T("nav.today"), "nav.today"
	case today.AddDays(1):
		data.Head, title = v.T("nav.tomorrow"), "nav.tomorrow"
	}
	if !data.Called && !data.Wind {
		data.Head, title = v.T("title.no call"), "title.no call"
	}
	for i := range d.Trips {
		data.Trips = append(data.Trips, v.trip(d, i))
		data.Expired = data.Expired || data.Trips[i].Expired
	}
	if len(d.Trips) > 0 {
		c := newest(d).Call
		for _, kind := range []words.Part{words.PartWater, words.PartOfficial, words.PartStations, words.PartCautions} {
			p := v.partOf(c, kind)
			p.Folded = kind == words.PartOfficial || kind == words.PartStations
			if len(p.Sections) > 0 {
				data.Official = append(data.Official, p)
			}
		}
		v.Stamps = first(d)
	}
	// Before the first call the page looks again by itself.
	first := !data.Called && !data.Wind
	return page{Name: "day", Title: title, Data: data, Again: first, Fresh: first}, nil
}

// newest is the trip whose call was made last: what is told once for the day
// is taken from it.
func newest(d Day) TripCall {
	return slices.MaxFunc(d.Trips, func(a, b TripCall) int { return a.Call.Made.Compare(b.Call.Made) })
}

// first are the stamps of the call that expires first.
func first(d Day) *stamps {
	t := slices.MinFunc(d.Trips, func(a, b TripCall) int { return expires(a.Call).Compare(expires(b.Call)) })
	s := stampsOf(t.Call)
	return &s
}

// warnings are the official products of a day. Where one trip's call does not
// know them, they are unknown.
func (v *view) warnings(b Board, d Day) warningsData {
	w := warningsData{Official: webAddress(b.Official), Unknown: len(d.Trips) == 0}
	for _, t := range d.Trips {
		w.Unknown = w.Unknown || !t.Call.Warnings.Known()
	}
	if len(d.Trips) == 0 {
		return w
	}
	c := newest(d).Call
	if w.Unknown {
		c.Warnings = models.Unknown[[]models.Warning]()
	}
	p := v.partOf(c, words.PartWarnings)
	w.Sources = p.Sources
	list := officialOn(c, d.Date, b)
	w.Any = len(list) > 0
	letters := 0
	for i, s := range p.Sections {
		letters += len(s.Verbatim)
		one := warningData{Section: s}
		if len(list) == len(p.Sections) {
			one.URL = webAddress(list[i].URL)
			if len(s.Lines) > 0 {
				one.Event, one.Lines = s.Lines[0], s.Lines[1:]
			}
		}
		w.List = append(w.List, one)
	}
	w.Long = letters > sheetLetters
	return w
}

// sheetLetters is how much official text a sheet of paper has room for.
const sheetLetters = 1500

// officialOn lists the products of a day in the order in which they are told.
func officialOn(c models.Call, date models.Date, b Board) []models.Warning {
	return models.DuringGravestFirst(c.Warnings.Or(nil), date.Interval(zoneOf(b)))
}

// webAddress is an address that may stand in a link, empty where it is none
// of the web's.
func webAddress(s string) string {
	if strings.HasPrefix(s, "https://") || strings.HasPrefix(s, "http://") {
		return s
	}
	return ""
}

// trip tells the call for the i-th trip of a day.
func (v *view) trip(d Day, i int) tripData {
	c := d.Trips[i].Call
	t := v.Tell(c.Date)
	data := tripData{
		N: i + 1, Of: len(d.Trips), Verdict: capital(t.Verdict(c)), stamps: stampsOf(c),
		Expired: !v.Now.Before(expires(c)), Sources: v.sourcesOf(c, words.PartVerdict),
		Head: v.tripHead(c),
	}
	for _, s := range t.Part(words.PartVerdict, c, v.Now) {
		if len(s.Lines) > 1 {
			data.Lines = append(data.Lines, s.Lines[1:]...)
		}
	}
	data.Lanes = part{Kind: words.PartHours, ID: "hours", Title: v.T("lanes.head"), More: v.Link("/hours/"+c.Date.String()) + fragment("trip", i), MoreName: v.T("more.hours")}.of(i)
	if i > 0 {
		data.Lanes.MoreName = v.T("more.drawn")
	} else { // the page stays light: of a second trip the link leads to the drawings
		data.Lanes.Sections = v.partOf(c, words.PartHours).Sections
		data.Lanes.Wide, data.Lanes.Narrow = v.lanes(c, i, false), v.lanes(c, i, true)
	}
	add := func(list *[]part, kind words.Part, change func(*part)) {
		p := v.partOf(c, kind).of(i)
		if len(p.Sections) == 0 {
			return
		}
		if change != nil {
			change(&p)
		}
		*list = append(*list, p)
	}
	for _, kind := range []words.Part{words.PartChanged, words.PartReasons, words.PartWouldChange, words.PartMissing, words.PartOverrides} {
		add(&data.Why, kind, nil)
	}
	day := []string{"date", c.Date.String()}
	add(&data.More, words.PartSpread, func(p *part) {
		if i == 0 {
			p.Narrow = v.spreadSide(c, i, true)
		} else {
			p.Title, p.Sections = p.Head(), nil
		}
		p.More, p.MoreName = v.Link("/spread", day...)+fragment("trip", i), v.T("more.spread")
	})
	add(&data.More, words.PartLoad, nil)
	add(&data.More, words.PartDrift, func(p *part) {
		p.More, p.MoreName = v.Link("/drift", day...), v.T("more.drift")
	})
	add(&data.More, words.PartFishing, func(p *part) { p.Folded = true })
	add(&data.More, words.PartBait, nil)
	data.Charter = v.charterOf(d.Trips[i])
	return data
}

// tripHead names a trip.
func (v *view) tripHead(c models.Call) string {
	t := v.Tell(c.Date)
	return capital(v.T("trip", t.Word(string(c.Trip.Kind)), t.Word(string(c.Trip.Party)), c.Trip.Start, c.Trip.End))
}

// charterOf tells about the charter of a trip: to a visitor who is not logged
// in only what is to be done about it.
func (v *view) charterOf(t TripCall) dayCharter {
	c, ok := t.Call.Charter.Get()
	if !ok {
		return dayCharter{}
	}
	data := dayCharter{Any: true, Open: v.Role != Nobody}
	if data.Open {
		data.part = v.partOf(t.Call, words.PartCharter)
		data.Guests = t.Guests.Or("")
		return data
	}
	tell := v.Tell(t.Call.Date)
	var actions []string
	for _, a := range c.Actions {
		actions = append(actions, tell.Word(string(a)))
	}
	data.Actions = strings.Join(actions, ", ")
	return data
}

// steps lead to the days before and after.
func (v *view) steps(b Board, d Day) []pageLink {
	var list []pageLink
	at := slices.IndexFunc(b.Days, func(x Day) bool { return x.Date == d.Date })
	for _, i := range []int{at - 1, at + 1} {
		if at >= 0 && i >= 0 && i < len(b.Days) {
			date := b.Days[i].Date
			list = append(list, pageLink{Name: v.Tell(date).ShortDay(date), Link: v.Link("/day/" + date.String())})
		}
	}
	return list
}

// fragment leads to the i-th trip on a page.
func fragment(name string, i int) string {
	if i == 0 {
		return ""
	}
	return "#" + name + "-" + itoa(i+1)
}

// clockOf tells an instant on the port's clock.
func clockOf(b Board, t time.Time) models.Clock {
	l := t.In(zoneOf(b))
	return models.Clock{Hour: l.Hour(), Minute: l.Minute()}
}
