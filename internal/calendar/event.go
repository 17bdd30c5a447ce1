// Package calendar reads and writes iCalendar (RFC 5545).
//
// Reading takes what real calendars hold: zones by TZID, with or without a
// VTIMEZONE that the world knows, all-day and floating times, recurrence with
// exceptions and moved or cancelled occurrences, folded lines, any line ending,
// a byte order mark. Recurring events are expanded within a window, and both
// the size of the file and the number of occurrences are bounded. An event
// that can't be read is told with its line and does not hide the others.
package calendar

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"time"

	"forecastd/internal/models"
)

// Event is one event, or one occurrence of a recurring one.
type Event struct {
	UID string
	// Occurrence is when this occurrence of a recurring event was to start
	// by its rule; unknown for an event that does not recur. With the UID it
	// names the occurrence even after it was moved.
	Occurrence models.Opt[time.Time]
	// Start and End are instants; End equals Start where no end is given.
	Start, End time.Time
	// AllDay tells that Start and End are the starts of civil days in the
	// reader's zone, End exclusive.
	AllDay                                  bool
	Summary, Description, Location, Contact string
	Categories                              []string
	// Private tells that the event is CLASS:PRIVATE or CONFIDENTIAL, or of a
	// class that we don't know, which counts as private (RFC 5545 3.8.1.3).
	Private bool
	// Transparent tells that it takes no time (TRANSP:TRANSPARENT).
	Transparent bool
	Cancelled   bool
	Sequence    int
	// Line is where the event begins in what was read.
	Line int
}

// ID names the event or occurrence, the same each time it is read.
func (e Event) ID() string {
	if at, ok := e.Occurrence.Get(); ok {
		return e.UID + "/" + at.UTC().Format(utcForm)
	}
	return e.UID
}

// UID makes a globally unique UID from a name of our own.
func UID(name string) string {
	sum := sha256.Sum256([]byte("forecastd calendar\n" + name))
	return hex.EncodeToString(sum[:16]) + "@forecastd"
}

// Problem is something in a calendar that could not be used.
type Problem struct {
	Line int
	Err  error
	// Event is what could be read of the event that it hides; nil where it
	// hides none. Day is when that begins, by its own clock; unknown where
	// that can't be told or it recurs.
	Event *Event
	Day   models.Opt[models.Date]
}

// Error tells the line and the cause.
func (p *Problem) Error() string { return fmt.Sprintf("line %d: %v", p.Line, p.Err) }

// Unwrap returns the cause.
func (p *Problem) Unwrap() error { return p.Err }

const (
	utcForm   = "20060102T150405Z"
	localForm = "20060102T150405"
	dateForm  = "20060102"
)
