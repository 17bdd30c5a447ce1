package calendar

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Bounds of what is read.
const (
	// MaxBytes is the largest calendar, some ten thousand events.
	MaxBytes = 8 << 20
	// MaxEvents is how many events and occurrences come out at most.
	MaxEvents = 10000
)

// maxZoneParts bounds the STANDARD and DAYLIGHT parts of a calendar: a zone
// with its whole history has some two hundred.
const maxZoneParts = 2000

// Window says what of a calendar is wanted, and in which zone its floating
// and all-day times are.
type Window struct {
	Zone *time.Location
	// From and To bound the occurrences: those that overlap [From, To).
	From, To time.Time
}

// Read reads the events that lie in the window, earliest first. Problems are
// the events and lines that could not be used. The error is for what is no
// calendar, is cut off or passes a bound.
func Read(r io.Reader, w Window) ([]Event, []Problem, error) {
	b, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return nil, nil, fmt.Errorf("read the calendar: %w", err)
	}
	if len(b) > MaxBytes {
		return nil, nil, fmt.Errorf("%w: over %d octets", errTooLarge, MaxBytes)
	}
	if w.Zone == nil {
		w.Zone = time.UTC
	}
	rd := &reader{window: w, zones: map[string]*zone{}}
	if err := lines(b, rd.property, func(p Problem) { rd.problems = append(rd.problems, p) }); err != nil {
		return nil, rd.problems, err
	}
	switch {
	case rd.calendars == 0:
		return nil, rd.problems, errors.New("this is no calendar: no line BEGIN:VCALENDAR")
	case len(rd.stack) > 0:
		return nil, rd.problems, fmt.Errorf("the calendar is cut off: %s is not closed", rd.stack[len(rd.stack)-1])
	}
	events, err := rd.expand()
	slices.SortStableFunc(rd.problems, func(a, b Problem) int { return a.Line - b.Line })
	return events, rd.problems, err
}

// raw is a VEVENT as it stands in the file.
type raw struct {
	line  int
	props map[string][]property
}

func (r *raw) first(name string) (property, bool) {
	if list := r.props[name]; len(list) > 0 {
		return list[0], true
	}
	return property{}, false
}

func (r *raw) text(name string) string {
	p, _ := r.first(name)
	return p.value
}

type reader struct {
	window    Window
	stack     []string
	calendars int
	cancelAll bool
	event     *raw
	events    []*raw
	zones     map[string]*zone
	zone      *zone
	observed  *raw // STANDARD or DAYLIGHT
	zoneParts int
	problems  []Problem
}

// property takes one line of the file.
func (r *reader) property(p property) error {
	switch p.name {
	case "BEGIN":
		return r.begin(p)
	case "END":
		return r.end(p)
	}
	if len(r.stack) == 0 {
		r.problem(p.line, fmt.Errorf("%s stands outside of a calendar", p.name))
		return nil
	}
	switch r.stack[len(r.stack)-1] {
	case "VCALENDAR":
		if p.name == "METHOD" && strings.EqualFold(p.value, "CANCEL") {
			r.cancelAll = true
		}
	case "VEVENT":
		r.event.props[p.name] = append(r.event.props[p.name], p)
	case "VTIMEZONE":
		if p.name == "TZID" {
			r.zone.id = p.value
		}
	case "STANDARD", "DAYLIGHT":
		if r.observed != nil {
			r.observed.props[p.name] = append(r.observed.props[p.name], p)
		}
	}
	return nil
}

func (r *reader) begin(p property) error {
	name := strings.ToUpper(strings.TrimSpace(p.value))
	if len(r.stack) == 0 && name != "VCALENDAR" {
		return &Problem{Line: p.line, Err: fmt.Errorf("%q begins outside of a calendar", cut(name))}
	}
	if len(r.stack) > 8 {
		return &Problem{Line: p.line, Err: errors.New("parts of the calendar are nested too deep")}
	}
	inside := ""
	if len(r.stack) > 0 {
		inside = r.stack[len(r.stack)-1]
	}
	r.stack = append(r.stack, name)
	switch {
	case name == "VCALENDAR":
		r.calendars++
	case name == "VEVENT" && inside == "VCALENDAR":
		r.event = &raw{line: p.line, props: map[string][]property{}}
		if len(r.events) >= MaxEvents {
			return fmt.Errorf("%w: over %d events", errTooLarge, MaxEvents)
		}
	case name == "VEVENT":
		return &Problem{Line: p.line, Err: errors.New("an event begins inside of another part")}
	case name == "VTIMEZONE":
		r.zone = &zone{}
	case (name == "STANDARD" || name == "DAYLIGHT") && inside == "VTIMEZONE":
		r.observed = &raw{line: p.line, props: map[string][]property{}}
	}
	return nil
}

func (r *reader) end(p property) error {
	name := strings.ToUpper(strings.TrimSpace(p.value))
	if len(r.stack) == 0 || r.stack[len(r.stack)-1] != name {
		return &Problem{Line: p.line, Err: fmt.Errorf("END:%s closes nothing that is open", cut(name))}
	}
	r.stack = r.stack[:len(r.stack)-1]
	switch name {
	case "VEVENT":
		r.events = append(r.events, r.event)
		r.event = nil
	case "VTIMEZONE":
		if r.zone != nil && r.zone.id != "" {
			r.zones[r.zone.id] = r.zone
		}
		r.zone = nil
	case "STANDARD", "DAYLIGHT":
		if r.zoneParts++; r.zoneParts > maxZoneParts {
			return fmt.Errorf("%w: over %d parts of time zones", errTooLarge, maxZoneParts)
		}
		if r.zone != nil && r.observed != nil {
			if err := r.zone.observe(r.observed, r.window.To); err != nil {
				r.problem(r.observed.line, err)
			}
		}
		r.observed = nil
	}
	return nil
}

func (r *reader) problem(line int, err error) {
	if p, ok := errors.AsType[*Problem](err); ok {
		r.problems = append(r.problems, *p)
		return
	}
	r.problems = append(r.problems, Problem{Line: line, Err: err})
}

// hides tells of an event that could not be read, with what could be.
func (r *reader) hides(e parsed, err error) {
	p := Problem{Line: e.raw.line, Err: err}
	if inner, ok := errors.AsType[*Problem](err); ok {
		p = *inner
	}
	p.Event = &e.event
	start := strings.TrimSpace(e.raw.text("DTSTART"))
	if day, err := time.Parse(dateForm, start[:min(len(start), len(dateForm))]); err == nil && len(e.raw.props["RRULE"])+len(e.raw.props["RDATE"]) == 0 {
		p.Day = models.Known(models.DateOf(day, time.UTC))
	}
	r.problems = append(r.problems, p)
}

// moment is a time as written: a wall clock (kept as if it were UTC) with
// the zone that makes an instant of it.
type moment struct {
	wall time.Time
	in   *zone
	date bool
}

func (m moment) instant() time.Time { return m.in.instant(m.wall) }

// moments reads the values of a DTSTART, EXDATE, RDATE and their like.
func (r *reader) moments(p property) ([]moment, error) {
	in, err := r.zoneOf(p)
	if err != nil {
		return nil, err
	}
	var out []moment
	for _, v := range strings.Split(p.value, ",") {
		if len(out) > MaxEvents {
			return nil, errTooLarge
		}
		v = strings.TrimSpace(v)
		if strings.EqualFold(p.param["VALUE"], "PERIOD") {
			v, _, _ = strings.Cut(v, "/") // its start counts
		}
		m, err := readMoment(v, in)
		if err != nil {
			return nil, &Problem{Line: p.line, Err: fmt.Errorf("%s: %w", p.name, err)}
		}
		out = append(out, m)
	}
	return out, nil
}

func readMoment(v string, in *zone) (moment, error) {
	if wall, err := time.Parse(utcForm, v); err == nil {
		return moment{wall: wall, in: &zone{location: time.UTC}}, nil
	}
	if wall, err := time.Parse(localForm, v); err == nil {
		return moment{wall: wall, in: in}, nil
	}
	if wall, err := time.Parse(dateForm, v); err == nil {
		return moment{wall: wall, in: in, date: true}, nil
	}
	return moment{}, fmt.Errorf("%q is no time: 20270119T073000, 20270119T123000Z or 20270119 is wanted", cut(v))
}

// parsed is an event read, before its recurrence is expanded.
type parsed struct {
	raw   *raw
	event Event
	start moment
	days  int           // nominal length in days
	rest  time.Duration // and exact length on top
	// occurrence is the RECURRENCE-ID.
	occurrence models.Opt[moment]
}

// parse reads one VEVENT.
func (r *reader) parse(e *raw) (parsed, error) {
	out := parsed{raw: e, event: Event{
		UID: models.PlainLine(e.text("UID")), Summary: models.PlainLine(e.text("SUMMARY")), Description: models.PlainText(e.text("DESCRIPTION")),
		Location: models.PlainLine(e.text("LOCATION")), Contact: models.PlainLine(e.text("CONTACT")), Line: e.line,
		Cancelled:   r.cancelAll || strings.EqualFold(e.text("STATUS"), "CANCELLED"),
		Transparent: strings.EqualFold(strings.TrimSpace(e.text("TRANSP")), "TRANSPARENT"),
	}}
	if class := strings.TrimSpace(e.text("CLASS")); class != "" && !strings.EqualFold(class, "PUBLIC") {
		out.event.Private = true
	}
	for _, p := range e.props["CATEGORIES"] {
		for _, c := range strings.Split(p.value, ",") {
			if c = models.PlainLine(c); c != "" {
				out.event.Categories = append(out.event.Categories, c)
			}
		}
	}
	if out.event.UID == "" {
		return out, errors.New("the event has no UID, so it could not be told from others when it is seen again")
	}
	if p, ok := e.first("SEQUENCE"); ok {
		n, err := strconv.Atoi(strings.TrimSpace(p.value))
		if err != nil {
			return out, &Problem{Line: p.line, Err: fmt.Errorf("SEQUENCE: %q is no number", cut(p.value))}
		}
		out.event.Sequence = n
	}
	one := func(name string) (moment, property, error) {
		p, ok := e.first(name)
		if !ok {
			return moment{}, p, nil
		}
		list, err := r.moments(p)
		if err != nil {
			return moment{}, p, err
		}
		return list[0], p, nil
	}
	var err error
	if out.start, _, err = one("DTSTART"); err != nil {
		return out, err
	}
	if out.start.in == nil {
		return out, errors.New("the event has no DTSTART")
	}
	out.event.AllDay = out.start.date
	if id, p, err := one("RECURRENCE-ID"); err != nil {
		return out, err
	} else if id.in != nil {
		if strings.EqualFold(p.param["RANGE"], "THISANDFUTURE") {
			return out, &Problem{Line: p.line, Err: errors.New("RANGE=THISANDFUTURE is not understood: change the occurrences one by one")}
		}
		out.occurrence = models.Known(id)
	}
	return out, r.length(&out)
}

// length reads DTEND or DURATION.
func (r *reader) length(out *parsed) error {
	if out.start.date {
		out.days = 1
	}
	if p, ok := out.raw.first("DTEND"); ok {
		list, err := r.moments(p)
		if err != nil {
			return err
		}
		end := list[0]
		if out.start.date {
			out.days = int(end.wall.Truncate(24*time.Hour).Sub(out.start.wall) / (24 * time.Hour))
			if end.date && out.days < 1 || !end.date {
				return &Problem{Line: p.line, Err: errors.New("DTEND does not fit the all-day DTSTART")}
			}
			return nil
		}
		if out.rest = end.instant().Sub(out.start.instant()); out.rest < 0 {
			return &Problem{Line: p.line, Err: errors.New("DTEND is before DTSTART")}
		}
		return nil
	}
	if p, ok := out.raw.first("DURATION"); ok {
		days, rest, err := readDuration(strings.TrimSpace(p.value))
		if err != nil {
			return &Problem{Line: p.line, Err: err}
		}
		if out.start.date && (rest != 0 || days < 1) {
			return &Problem{Line: p.line, Err: errors.New("DURATION does not fit the all-day DTSTART")}
		}
		out.days, out.rest = days, rest
	}
	return nil
}

// at places an event at a start.
func (p parsed) at(wall time.Time) Event {
	e := p.event
	e.Start = p.start.in.instant(wall).UTC()
	e.End = p.start.in.instant(wall.AddDate(0, 0, p.days)).Add(p.rest).UTC()
	return e
}

// longest bounds a DURATION: nobody charters for longer.
const longest = 366

// readDuration reads a positive dur-value (RFC 5545 3.3.6) as nominal days
// and an exact rest.
func readDuration(s string) (days int, rest time.Duration, err error) {
	bad := fmt.Errorf("DURATION: %q is no length: PT8H or P1D is wanted", cut(s))
	text, ok := strings.CutPrefix(strings.TrimPrefix(s, "+"), "P")
	if !ok || text == "" {
		return 0, 0, bad
	}
	inTime, n, digits := false, 0, 0
	for _, c := range text {
		if c >= '0' && c <= '9' {
			if digits++; digits > 7 {
				return 0, 0, bad
			}
			n = n*10 + int(c-'0')
			continue
		}
		if c == 'T' && digits == 0 && !inTime {
			inTime = true
			continue
		}
		if digits == 0 {
			return 0, 0, bad
		}
		switch {
		case c == 'W' && !inTime:
			days += 7 * n
		case c == 'D' && !inTime:
			days += n
		case c == 'H' && inTime:
			rest += time.Duration(n) * time.Hour
		case c == 'M' && inTime:
			rest += time.Duration(n) * time.Minute
		case c == 'S' && inTime:
			rest += time.Duration(n) * time.Second
		default:
			return 0, 0, bad
		}
		n, digits = 0, 0
	}
	if digits > 0 || strings.HasSuffix(text, "T") {
		return 0, 0, bad
	}
	if days > longest || rest > longest*24*time.Hour {
		return 0, 0, fmt.Errorf("DURATION: %s is over a year", s)
	}
	return days, rest, nil
}
