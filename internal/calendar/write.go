package calendar

import (
	"bytes"
	"fmt"
	"strings"
	"time"
	"unicode"

	ics "github.com/arran4/golang-ical"
)

// Feed is a calendar to be written.
type Feed struct {
	// Name is what calendars call it.
	Name string
	// Stamp is when it is written (DTSTAMP).
	Stamp  time.Time
	Events []Event
	// Zone is that of the all-day events.
	Zone *time.Location
}

// Write writes a calendar that is published (RFC 5546 3.2.1), in UTC, with
// CRLF and lines of at most 75 octets.
func Write(f Feed) ([]byte, error) {
	zone := f.Zone
	if zone == nil {
		zone = time.UTC
	}
	cal := ics.NewCalendarFor("forecastd")
	cal.SetProductId("-//forecastd//NONSGML forecastd//EN")
	cal.SetMethod(ics.MethodPublish)
	if f.Name != "" {
		cal.SetXWRCalName(clean(f.Name))
	}
	for _, e := range f.Events {
		if e.UID == "" || e.Start.IsZero() || e.End.Before(e.Start) {
			return nil, fmt.Errorf("write the event %q: it needs a UID, a start and an end not before it", e.Summary)
		}
		v := cal.AddEvent(clean(e.UID))
		v.SetDtStampTime(f.Stamp)
		v.SetSequence(e.Sequence)
		if at, ok := e.Occurrence.Get(); ok {
			v.SetProperty(ics.ComponentPropertyRecurrenceId, at.UTC().Format(utcForm))
		}
		if e.AllDay {
			v.SetAllDayStartAt(e.Start.In(zone))
			v.SetAllDayEndAt(e.End.In(zone))
		} else {
			v.SetStartAt(e.Start)
			v.SetEndAt(e.End)
		}
		v.SetSummary(clean(e.Summary))
		if e.Description != "" {
			v.SetDescription(clean(e.Description))
		}
		if e.Location != "" {
			v.SetLocation(clean(e.Location))
		}
		if e.Contact != "" {
			v.SetProperty(ics.ComponentProperty(ics.PropertyContact), clean(e.Contact))
		}
		status := ics.ObjectStatusConfirmed
		if e.Cancelled {
			status = ics.ObjectStatusCancelled
		}
		v.SetStatus(status)
	}
	var b bytes.Buffer
	if err := cal.SerializeTo(&b, ics.WithNewLineWindows); err != nil {
		return nil, fmt.Errorf("write the calendar: %w", err)
	}
	return b.Bytes(), nil
}

// clean takes control characters out, save for the line breaks that a text
// may have.
func clean(s string) string {
	s = strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\r\n", "\n")
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t':
			return r
		case r == '\r':
			return '\n'
		case unicode.IsControl(r):
			return -1
		}
		return r
	}, s)
}
