package bookings

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"forecastd/internal/calendar"
	"forecastd/internal/models"
)

// ReadCalendar reads the bookings of an iCalendar file from a day on up to,
// not including, another.
func ReadCalendar(b []byte, o Options, from, to models.Date) (Result, error) {
	events, problems, err := calendar.Read(bytes.NewReader(b), calendar.Window{Zone: o.Zone, From: from.Start(o.Zone), To: to.Start(o.Zone)})
	if err != nil {
		return Result{}, err
	}
	var r Result
	for _, p := range problems {
		if p.Event == nil { // a line of no event, or of one that stands elsewhere
			r.Problems = append(r.Problems, p.Error())
			r.Partial = true
			continue
		}
		switch o.sort(*p.Event) {
		case booking:
			r.problem(fmt.Sprintf("line %d", p.Line), "%v; the event is left out", p.Err)
			r.hold(p.Day)
		case busy:
			if d, ok := p.Day.Get(); ok {
				r.Taken = append(r.Taken, d)
			}
		case neither:
		}
	}
	var where []string // of each booking
	for _, e := range events {
		switch o.sort(e) {
		case neither:
			continue
		case busy:
			r.Taken = append(r.Taken, daysOf(e, o.Zone)...)
			continue
		case booking:
		}
		at := fmt.Sprintf("line %d", e.Line)
		list, soft, err := fromEvent(e, o)
		for _, p := range soft {
			r.problem(at, "%v", p)
		}
		if err != nil {
			r.problem(at, "%v; the event is left out", err)
			r.Partial = true
			if !e.Cancelled {
				r.Taken = append(r.Taken, daysOf(e, o.Zone)...)
			}
			continue
		}
		for range list {
			where = append(where, at)
		}
		if r.Bookings = append(r.Bookings, list...); len(r.Bookings) > o.Most {
			break // finish says so
		}
	}
	return finish(r, where, o)
}

// sort is what an event of a calendar is to us.
type sort int

const (
	booking sort = iota
	busy         // no booking, but it takes the day
	neither
)

func (o Options) sort(e calendar.Event) sort {
	switch {
	case !e.Private && o.marked(e):
		return booking
	case e.Transparent || e.Cancelled:
		return neither
	}
	return busy
}

// marked tells whether one of the words says that an event is a booking.
func (o Options) marked(e calendar.Event) bool {
	if len(o.Marks) == 0 {
		return true
	}
	said := " " + strings.Join(strings.FieldsFunc(strings.ToLower(e.Summary), func(c rune) bool { return !unicode.IsLetter(c) && !unicode.IsDigit(c) }), " ") + " "
	for _, m := range o.Marks {
		if strings.Contains(said, " "+strings.ToLower(m)+" ") || slices.ContainsFunc(e.Categories, func(c string) bool { return strings.EqualFold(c, m) }) {
			return true
		}
	}
	return false
}

// longestEvent bounds the days that one event takes.
const longestEvent = 366

// daysOf are the days that an event touches.
func daysOf(e calendar.Event, zone *time.Location) []models.Date {
	days := []models.Date{models.DateOf(e.Start, zone)}
	for day := days[0].AddDays(1); day.Start(zone).Before(e.End) && len(days) < longestEvent; day = day.AddDays(1) {
		days = append(days, day)
	}
	return days
}

// fromEvent makes bookings of an event: one, or one for each day of an
// all-day event.
func fromEvent(e calendar.Event, o Options) (list []models.Booking, problems []error, err error) {
	b := blank(o)
	b.ID, b.Name, b.Cancelled = e.ID(), strings.TrimSpace(e.Summary), e.Cancelled
	if b.Name == "" {
		return nil, nil, errors.New("the event has no summary, so nobody knows whose booking it is")
	}
	if e.Contact != "" {
		_, _ = fill(&b, "contact", e.Contact, o) // anybody's contact, not always an address
	}
	for _, line := range strings.Split(e.Description, "\n") {
		key, value, ok := strings.Cut(line, ":")
		if !ok {
			continue
		}
		if _, err := fill(&b, heading(key), value, o); err != nil {
			problems = append(problems, fmt.Errorf("in the description: %w", err))
		}
	}
	b.Date = models.DateOf(e.Start, o.Zone)
	if e.AllDay {
		for day := b.Date; day.Start(o.Zone).Before(e.End); day = day.AddDays(1) {
			one := b
			if one.Date = day; day != b.Date {
				one.ID += " " + day.String()
			}
			if list = append(list, one); len(list) > 60 {
				return nil, problems, errors.New("the event takes over 60 days")
			}
		}
		return list, problems, checkHours(b.Trip)
	}
	start, end := e.Start.In(o.Zone), e.End.In(o.Zone)
	b.Trip.Start = models.Clock{Hour: start.Hour(), Minute: start.Minute()}
	if end.After(start) {
		if models.DateOf(end, o.Zone) != b.Date {
			return nil, problems, fmt.Errorf("the event from %s to %s runs over midnight: book it as two days", start.Format("Mon 15:04"), end.Format("Mon 15:04"))
		}
		b.Trip.End = models.Clock{Hour: end.Hour(), Minute: end.Minute()}
	}
	return []models.Booking{b}, problems, checkHours(b.Trip)
}
