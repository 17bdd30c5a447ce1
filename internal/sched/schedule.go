package sched

import (
	"fmt"
	"time"

	"forecastd/internal/models"
)

// Schedule tells when a job is due.
type Schedule interface {
	// Next returns the first instant after the given one at which the job is
	// due, or the zero time where it never is again. It is a pure function of
	// its argument.
	Next(after time.Time) time.Time
}

// Daily is due once each civil day of a zone at a time of its clock. In the
// hour that a spring change skips it is due at the end of the gap; of an hour
// that comes twice, the first time. A civil day that a zone left out
// altogether has no run.
type Daily struct {
	At   models.Clock
	Zone *time.Location
}

// Next returns the next time that it is due.
func (d Daily) Next(after time.Time) time.Time {
	day := models.DateOf(after, d.Zone)
	for range 4 { // today, tomorrow, and what lies behind a day left out
		if t, ok := instant(d.At, day, d.Zone); ok && t.After(after) {
			return t
		}
		day = day.AddDays(1)
	}
	return time.Time{}
}

// instant returns when a clock of the zone shows a time on a day; false where
// the zone has no such day.
func instant(c models.Clock, day models.Date, zone *time.Location) (time.Time, bool) {
	t := c.On(day, zone)
	return t, models.DateOf(t, zone) == day
}

// Every is due at fixed instants of UTC: Offset after each multiple of Period
// since midnight. Make it with [NewEvery].
type Every struct{ period, offset time.Duration }

// NewEvery returns the schedule of a poll each period, shifted by offset: six
// hours and 3 h 30 min means 03:30, 09:30, 15:30 and 21:30 UTC. The period is
// whole minutes that divide a day, so that it falls on the same times every
// day; the offset lies within it.
func NewEvery(period, offset time.Duration) (Every, error) {
	const day = 24 * time.Hour
	switch {
	case period < time.Minute:
		return Every{}, fmt.Errorf("every %v is too often: a minute is the least", period)
	case period%time.Minute != 0 || day%period != 0:
		return Every{}, fmt.Errorf("every %v does not divide a day: take for example 10m, 15m, 1h or 6h", period)
	case offset < 0 || offset >= period:
		return Every{}, fmt.Errorf("the offset %v lies outside the period of %v", offset, period)
	}
	return Every{period, offset}, nil
}

// Next returns the next time that it is due.
func (e Every) Next(after time.Time) time.Time {
	// Truncate counts from the zero time, which is a midnight of UTC.
	return after.UTC().Round(0).Add(-e.offset).Truncate(e.period).Add(e.period + e.offset)
}

// latest returns the last instant after from, up to and including now, at
// which a schedule is due.
func latest(s Schedule, from, now time.Time) (time.Time, bool) {
	var due time.Time
	for t := s.Next(from); !t.IsZero() && !t.After(now); t = s.Next(t) {
		due = t
	}
	return due, !due.IsZero()
}
