package sched

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/robfig/cron/v3"

	"forecastd/internal/models"
)

// longestSpec is more than anybody writes: each minute listed takes 170.
const longestSpec = 300

// star marks a field that was written as a star in cron's bit sets.
const star = 1 << 63

// Parse reads the five fields of a crontab (minute, hour, day of the month,
// month, day of the week), or @hourly, @daily, @weekly, @monthly and their
// like, in a zone; or "@every 15m" (see [NewEvery]).
//
// Each civil time that a spec names comes once: one that a clock change takes
// away at the end of the gap, one that comes twice the first time. A poll that
// should come at even intervals of true time wants UTC.
//
// What cannot be meant is refused: a zone inside the spec, a day of the month
// together with a day of the week (which would add up, not narrow down), and
// what never comes in a common year.
func Parse(spec string, zone *time.Location) (Schedule, error) {
	s, err := parse(strings.TrimSpace(spec), zone)
	if err != nil {
		return nil, fmt.Errorf("schedule %.60q: %w", spec, err)
	}
	return s, nil
}

func parse(spec string, zone *time.Location) (Schedule, error) {
	switch {
	case zone == nil:
		return nil, errors.New("a time zone is needed")
	case spec == "":
		return nil, errors.New("it is empty: write it like 30 17 * * *")
	case len(spec) > longestSpec:
		return nil, fmt.Errorf("it is longer than %d characters", longestSpec)
	case strings.Contains(strings.ToUpper(spec), "TZ="):
		return nil, errors.New("the time zone does not belong here: it is the port's")
	}
	if period, ok := strings.CutPrefix(spec, "@every"); ok {
		d, err := time.ParseDuration(strings.TrimSpace(period))
		if err != nil {
			return nil, errors.New("after @every a period is wanted, like 15m or 6h")
		}
		return NewEvery(d, 0)
	}
	parsed, err := cron.ParseStandard(spec)
	if err != nil {
		if f := strings.Fields(spec); len(f) == 5 && strings.Contains(f[4], "7") {
			err = fmt.Errorf("%w (Sunday is 0 or SUN)", err)
		}
		return nil, err
	}
	fields, ok := parsed.(*cron.SpecSchedule)
	if !ok {
		return nil, fmt.Errorf("no schedule of civil times (%T)", parsed)
	}
	for _, bits := range []uint64{fields.Minute, fields.Hour, fields.Dom, fields.Month, fields.Dow} {
		if bits&^star == 0 {
			return nil, errors.New("a field names no value")
		}
	}
	if fields.Dom&star == 0 && fields.Dow&star == 0 {
		return nil, errors.New("it sets both a day of the month and a day of the week: leave one of them *")
	}
	fields.Location = time.UTC
	// 2027 is a common year: what comes only on 29 February is refused.
	newYear := time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC)
	if next := fields.Next(newYear.Add(-time.Second)); next.IsZero() || next.Year() != newYear.Year() {
		return nil, errors.New("there are years in which it never comes")
	}
	return civil{fields, zone}, nil
}

// civil is a crontab on the clock of a zone. The fields are matched against
// the face of the clock, as if it never changed, and what matches is then
// looked up in the zone: matching them against real instants would skip what
// falls into a gap and repeat what comes twice.
type civil struct {
	fields *cron.SpecSchedule
	zone   *time.Location
}

// Next returns the next time that it is due.
func (c civil) Next(after time.Time) time.Time {
	l := after.In(c.zone)
	face := time.Date(l.Year(), l.Month(), l.Day(), l.Hour(), l.Minute(), l.Second(), l.Nanosecond(), time.UTC)
	for {
		face = c.fields.Next(face)
		if face.IsZero() {
			return face
		}
		clock := models.Clock{Hour: face.Hour(), Minute: face.Minute()}
		if t, ok := instant(clock, models.DateOf(face, time.UTC), c.zone); ok && t.After(after) {
			return t
		}
	}
}
