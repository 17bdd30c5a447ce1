package calendar

import (
	"fmt"
	"sort"
	"strconv"
	"strings"
	"time"
)

// zone makes instants of wall clocks: a location of the tz database, or the
// rules of a VTIMEZONE for names that it does not have.
type zone struct {
	id       string
	location *time.Location
	onsets   []onset // in order of wall
	before   int     // seconds east before the first onset
}

// onset is a change of the clock.
type onset struct {
	// wall is the clock just before the change, as if it were UTC.
	wall     time.Time
	from, to int // seconds east of Greenwich
}

// zoneOf finds the zone of a property. Names of the tz database count as
// such, also at the end of a longer name; for the others the file's own
// VTIMEZONE decides.
func (r *reader) zoneOf(p property) (*zone, error) {
	id, ok := p.param["TZID"]
	if !ok {
		return &zone{location: r.window.Zone}, nil
	}
	for name := strings.Trim(id, "/"); name != ""; {
		if name != "Local" {
			if l, err := time.LoadLocation(name); err == nil {
				return &zone{id: id, location: l}, nil
			}
		}
		_, rest, more := strings.Cut(name, "/")
		if !more {
			break
		}
		name = rest
	}
	if z, ok := r.zones[id]; ok && len(z.onsets) > 0 {
		return z, nil
	}
	return nil, &Problem{Line: p.line, Err: fmt.Errorf("%s: the zone %q is neither known nor described by a VTIMEZONE before it", p.name, cut(id))}
}

// instant makes an instant of a wall clock. A time that a spring change skips
// is taken with the offset from before it, and of a time that comes twice the
// first is meant (RFC 5545 3.3.5).
func (z *zone) instant(wall time.Time) time.Time {
	if z.location == nil {
		return wall.Add(-time.Duration(z.offset(wall)) * time.Second)
	}
	y, m, d := wall.Date()
	t := time.Date(y, m, d, wall.Hour(), wall.Minute(), wall.Second(), 0, z.location)
	if t.Hour() != wall.Hour() || t.Minute() != wall.Minute() {
		// In the gap: the offset from before the change.
		_, before := time.Date(y, m, d, wall.Hour(), wall.Minute(), wall.Second(), 0, z.location).Add(-24 * time.Hour).Zone()
		return wall.Add(-time.Duration(before) * time.Second)
	}
	// time.Date gives either of two readings: take the first.
	_, now := t.Zone()
	if start, _ := t.ZoneBounds(); !start.IsZero() {
		if _, before := start.Add(-time.Second).In(z.location).Zone(); before > now {
			if first := t.Add(-time.Duration(before-now) * time.Second); first.Before(start) {
				return first
			}
		}
	}
	return t
}

// wall is the clock of the zone at an instant, as if it were UTC.
func (z *zone) wall(t time.Time) time.Time {
	offset := 0
	if z.location != nil {
		_, offset = t.In(z.location).Zone()
	} else {
		offset = z.before
		for _, o := range z.onsets {
			if o.wall.Add(-time.Duration(o.from) * time.Second).After(t) {
				break
			}
			offset = o.to
		}
	}
	return t.UTC().Add(time.Duration(offset) * time.Second)
}

// offset is the offset in force at a wall clock.
func (z *zone) offset(wall time.Time) int {
	i := sort.Search(len(z.onsets), func(i int) bool { return z.onsets[i].wall.After(wall) })
	if i == 0 {
		return z.before
	}
	o := z.onsets[i-1]
	// Clocks that jump forward skip what lies between: it counts by the
	// offset from before.
	if gap := time.Duration(o.to-o.from) * time.Second; gap > 0 && wall.Before(o.wall.Add(gap)) {
		return o.from
	}
	return o.to
}

// observe adds a STANDARD or DAYLIGHT part, up to the end of the window.
func (z *zone) observe(o *raw, until time.Time) error {
	start, ok := o.first("DTSTART")
	if !ok {
		return fmt.Errorf("the time zone %q has a part without DTSTART", cut(z.id))
	}
	wall, err := time.Parse(localForm, start.value)
	if err != nil {
		return &Problem{Line: start.line, Err: fmt.Errorf("DTSTART: %q is no local time", cut(start.value))}
	}
	from, err := readOffset(o, "TZOFFSETFROM")
	if err != nil {
		return err
	}
	to, err := readOffset(o, "TZOFFSETTO")
	if err != nil {
		return err
	}
	walls := []time.Time{wall}
	if p, ok := o.first("RRULE"); ok {
		// Some calendars describe a zone from 1601 on. Its rules are yearly, so
		// that a later beginning gives the same.
		if wall.Year() < 1970 {
			wall = time.Date(1970, wall.Month(), wall.Day(), wall.Hour(), wall.Minute(), wall.Second(), 0, time.UTC)
		}
		if walls, err = expandRule(p, wall, &zone{location: time.FixedZone("", from)}, time.Time{}, until.AddDate(1, 0, 0)); err != nil {
			return err
		}
	}
	for _, p := range o.props["RDATE"] {
		for _, v := range strings.Split(p.value, ",") {
			at, err := time.Parse(localForm, strings.TrimSpace(v))
			if err != nil {
				return &Problem{Line: p.line, Err: fmt.Errorf("RDATE: %q is no local time", cut(v))}
			}
			walls = append(walls, at)
		}
	}
	if len(z.onsets)+len(walls) > MaxEvents {
		return errTooLarge
	}
	for _, w := range walls {
		z.onsets = append(z.onsets, onset{w, from, to})
	}
	sort.SliceStable(z.onsets, func(i, j int) bool { return z.onsets[i].wall.Before(z.onsets[j].wall) })
	if len(z.onsets) > 0 {
		z.before = z.onsets[0].from
	}
	return nil
}

// readOffset reads "-0500" or "+013045" as seconds east.
func readOffset(o *raw, name string) (int, error) {
	p, ok := o.first(name)
	if !ok {
		return 0, fmt.Errorf("a part of a time zone has no %s", name)
	}
	v := strings.TrimSpace(p.value)
	bad := &Problem{Line: p.line, Err: fmt.Errorf("%s: %q is no offset: -0500 is wanted", name, cut(v))}
	if len(v) != 5 && len(v) != 7 || v[0] != '+' && v[0] != '-' {
		return 0, bad
	}
	seconds := 0
	for i := 1; i < len(v); i += 2 {
		n, err := strconv.ParseUint(v[i:i+2], 10, 8)
		if err != nil || n > 59 {
			return 0, bad
		}
		seconds = seconds*60 + int(n)
	}
	if len(v) == 5 {
		seconds *= 60
	}
	if seconds > 26*3600 {
		return 0, bad
	}
	if v[0] == '-' {
		seconds = -seconds
	}
	return seconds, nil
}
