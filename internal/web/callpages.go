package web

import (
	"fmt"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/words"
)

// callRoutes are the pages that show the call.
func (s *Server) callRoutes() []route {
	return []route{
		{Pattern: "GET /{$}", Page: nextPage, Keep: true},
		{Pattern: "GET /days", Page: daysPage, Keep: true},
		{Pattern: "GET /day", Page: dayPage, Keep: true},
		{Pattern: "GET /day/{date}", Page: dayPage, Keep: true},
		{Pattern: "GET /hours", Page: hoursPage, Keep: true},
		{Pattern: "GET /hours/{date}", Page: hoursPage, Keep: true},
		{Pattern: "GET /drift", Page: driftPage, Keep: true},
		{Pattern: "GET /spread", Page: spreadPage, Keep: true},
		{Pattern: "GET /sources", Page: sourcesPage, Keep: true},
		{Pattern: "GET /score", Page: scorePage, Keep: true},
		{Pattern: "GET /print", Page: printPage, Keep: true},
		{Pattern: "POST /call", Needs: Mate, Form: true, Do: s.callNow, Again: notCalled},
	}
}

// dayAsked finds the day that a page is asked for: by its path, by its query,
// or else the day at hand. An empty board, and a day at hand that no wind is
// known for, have no Trips; any other day that is not there is ErrNotFound.
func (v *view) dayAsked() (Board, Day, error) {
	b, err := v.Board()
	if err != nil {
		return b, Day{}, err
	}
	asked := v.Request.PathValue("date")
	if asked == "" {
		asked = v.ask("date")
	}
	date := b.Next
	if asked != "" {
		if date, err = models.ParseDate(asked); err != nil {
			return b, Day{}, fmt.Errorf("%w: %w", ErrNotFound, err)
		}
	}
	for _, d := range b.Days {
		if d.Date == date {
			return b, d, nil
		}
	}
	if asked != "" && date != b.Next {
		return b, Day{}, fmt.Errorf("the day %s: %w", date, ErrNotFound)
	}
	return b, Day{Date: b.Next}, nil
}

// callNow asks for a new call for a day.
func (s *Server) callNow(v *view, f *form) (done, error) {
	b, err := v.Board()
	if err != nil {
		return done{}, err
	}
	date := b.Next
	if asked := f.get("date"); asked != "" {
		if date, err = models.ParseDate(asked); err != nil {
			return done{}, fmt.Errorf("%w: %w", ErrNotFound, err)
		}
	}
	sentence, err := s.o.Hand.CallNow(v.Request.Context(), v.Port, date, v.Role)
	if err != nil {
		return done{}, err
	}
	to := "/"
	if date != b.Next {
		to = "/day/" + date.String()
	}
	return done{Sentence: sentence, To: v.Link(to)}, nil
}

// notCalled is the day at hand, with why no new call was asked for.
func notCalled(v *view, f *form) (page, error) {
	p, err := dayPage(v)
	if err != nil {
		return p, err
	}
	data := p.Data.(dayData)
	data.Wrong = f.problems()
	p.Data = data
	return p, nil
}

// part is a headed part of a page: sections of the call, what is drawn of
// them, and where it all comes from.
type part struct {
	Kind words.Part
	ID   string
	// Title stands over a drawing; the heading of the sections then stands
	// over the table behind it.
	Title    string
	Sections []words.Section
	Wide     figure
	Narrow   figure
	Sources  []string
	// More leads to the page with all of it.
	More, MoreName string
	// Folded is shown under its heading when it is opened.
	Folded bool
}

// Head is the heading of the first section.
func (p part) Head() string {
	if len(p.Sections) == 0 {
		return ""
	}
	return p.Sections[0].Head
}

// partOf tells a part of a call, with its sources.
func (v *view) partOf(c models.Call, kind words.Part) part {
	t := v.Tell(c.Date)
	p := part{Kind: kind, ID: strings.ReplaceAll(string(kind), " ", "-"), Sections: t.Part(kind, c, v.Now)}
	for i := range p.Sections {
		v.nameColumns(p.Sections[i].Table)
	}
	p.Sources = v.sourcesOf(c, kind)
	return p
}

// of is the part for the i-th trip of a day: its name on the page is its own.
func (p part) of(i int) part {
	if i > 0 {
		p.ID += "-" + itoa(i+1)
	}
	return p
}

// nameColumns gives the hour's column the name that a column needs for those
// who do not see the table.
func (v *view) nameColumns(t *words.Table) {
	if t != nil && len(t.Head) > 0 && t.Head[0] == "" {
		t.Head[0] = v.T("column.time")
	}
}

// sourcesOf tells where the values of a part come from and how old they are.
func (v *view) sourcesOf(c models.Call, kind words.Part) []string {
	var from func(name string) bool
	is := func(want string) func(string) bool { return func(name string) bool { return name == want } }
	alerts, texts, tides, stations := is(models.SourceAlerts), is(models.SourceCoastalText), is(models.SourceTides), is(models.SourceStations)
	forecast := func(name string) bool { return !alerts(name) && !texts(name) && !tides(name) && !stations(name) }
	switch kind {
	case words.PartWarnings:
		from = alerts
	case words.PartOfficial:
		from = texts
	case words.PartWater:
		from = tides
	case words.PartStations:
		from = stations
	case words.PartVerdict, words.PartHours:
		from = func(string) bool { return true }
	case words.PartFishing, words.PartDrift, words.PartSpread:
		from = forecast
	default:
		return nil
	}
	var kept []models.Provenance
	for _, s := range c.Sources {
		if from(s.Source) {
			kept = append(kept, s)
		}
	}
	c.Sources = kept
	var lines []string
	for _, s := range v.Tell(c.Date).Part(words.PartSources, c, v.Now) {
		lines = append(lines, s.Items...)
	}
	return lines
}

// expires is when a call is no longer good to go by: when the boat was to
// leave, and twelve hours after it was made at the latest. A call made anew
// while the boat is out is not old for that.
func expires(c models.Call) time.Time {
	end := c.Made.Add(goodFor)
	if leave, ok := c.Leave.Get(); ok && leave.After(c.Made) && leave.Before(end) {
		return leave
	}
	return end
}

// stamps are the instants of a call, for scripts.
type stamps struct{ Made, Leave, Expires string }

func stampsOf(c models.Call) stamps {
	s := stamps{Made: stamp(c.Made), Expires: stamp(expires(c))}
	if leave, ok := c.Leave.Get(); ok && leave.After(c.Made) {
		s.Leave = stamp(leave)
	}
	return s
}

// with is a trip with the view that tells it.
type with struct {
	V    *view
	Trip tripData
}

// With hands a trip to a template.
func (v *view) With(t tripData) with { return with{v, t} }

// told is a part with the words around it.
type told struct {
	P     part
	From  from
	Table string
}

// Part hands a part to a template.
func (v *view) Part(p part) told { return told{p, v.From(p.Sources), v.T("table")} }

// from is the list of sources with the words that open it.
type from struct {
	Sources []string
	Name    string
}

// From hands a list of sources to a template.
func (v *view) From(sources []string) from { return from{sources, v.T("from")} }
