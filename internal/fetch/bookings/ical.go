package bookings

import (
	"bytes"
	"errors"
	"fmt"
	"strings"

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
		r.Problems = append(r.Problems, p.Error())
		r.Partial = true // the line may have been part of a booking
	}
	where := map[string]string{}
	for _, e := range events {
		if !strings.HasPrefix(strings.ToLower(e.Summary), strings.ToLower(o.Only)) {
			continue
		}
		at := fmt.Sprintf("line %d", e.Line)
		list, soft, err := fromEvent(e, o)
		for _, p := range soft {
			r.problem(at, "%v", p)
		}
		if err != nil {
			r.problem(at, "%v; the event is left out", err)
			r.Partial = true
			continue
		}
		for _, b := range list {
			where[b.ID] = at
		}
		r.Bookings = append(r.Bookings, list...)
	}
	return finish(r, where)
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
