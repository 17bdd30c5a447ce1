package calendar

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/teambition/rrule-go"

	"forecastd/internal/models"
)

const (
	// maxSteps bounds the work on one rule: some 130 years of days.
	maxSteps = 50000
	// maxBarren bounds how many rules of a calendar may name days that never
	// come, such as 30 February: each is searched up to the year 9999.
	maxBarren = 20
)

// errBarren tells of a rule without any occurrence.
var errBarren = errors.New("the rule names days that never come")

// expand makes events of what was read.
func (r *reader) expand() ([]Event, error) {
	masters := map[string]parsed{}
	moved := map[string]map[time.Time]parsed{} // by UID and original instant
	var order []string
	for _, e := range r.events {
		p, err := r.parse(e)
		if err != nil {
			r.hides(p, err)
			continue
		}
		uid := p.event.UID
		if _, ok := masters[uid]; !ok && moved[uid] == nil {
			order = append(order, uid)
		}
		if id, ok := p.occurrence.Get(); ok {
			if moved[uid] == nil {
				moved[uid] = map[time.Time]parsed{}
			}
			at := id.instant().UTC()
			if old, ok := moved[uid][at]; !ok || p.event.Sequence >= old.event.Sequence {
				moved[uid][at] = p
			}
			continue
		}
		if old, ok := masters[uid]; !ok || p.event.Sequence >= old.event.Sequence {
			masters[uid] = p // of two versions the later one counts
		}
	}
	var out []Event
	barren := 0
	for _, uid := range order {
		list, err := r.occurrences(masters, moved[uid], uid)
		if errors.Is(err, errBarren) {
			if barren++; barren > maxBarren {
				return nil, fmt.Errorf("%w: over %d rules that never happen", errTooLarge, maxBarren)
			}
		}
		if err != nil {
			r.hides(masters[uid], err)
			continue
		}
		if out = append(out, list...); len(out) > MaxEvents {
			return nil, fmt.Errorf("%w: over %d occurrences between %s and %s", errTooLarge, MaxEvents,
				r.window.From.Format(time.DateOnly), r.window.To.Format(time.DateOnly))
		}
	}
	slices.SortStableFunc(out, func(a, b Event) int { return a.Start.Compare(b.Start) })
	return out, nil
}

// occurrences are those of one UID that lie in the window.
func (r *reader) occurrences(masters map[string]parsed, moved map[time.Time]parsed, uid string) ([]Event, error) {
	var out []Event
	keep := func(e Event) {
		if e.Start.Before(r.window.To) && (e.End.After(r.window.From) || !e.Start.Before(r.window.From)) {
			out = append(out, e)
		}
	}
	if master, ok := masters[uid]; ok {
		walls, recurs, err := r.walls(master)
		if err != nil {
			return nil, err
		}
		for _, w := range walls {
			e := master.at(w)
			if recurs {
				e.Occurrence = models.Known(e.Start)
				if _, ok := moved[e.Start]; ok {
					continue
				}
			}
			keep(e)
		}
	}
	for at, p := range moved {
		e := p.at(p.start.wall)
		e.Occurrence = models.Known(at)
		if master, ok := masters[uid]; ok && master.event.Cancelled {
			e.Cancelled = true
		}
		keep(e)
	}
	return out, nil
}

// walls are the starts of an event by its own clock.
func (r *reader) walls(p parsed) (walls []time.Time, recurs bool, err error) {
	walls = []time.Time{p.start.wall}
	rules := p.raw.props["RRULE"]
	recurs = len(rules) > 0 || len(p.raw.props["RDATE"]) > 0
	if !recurs {
		return walls, false, nil
	}
	if ex := p.raw.props["EXRULE"]; len(ex) > 0 {
		return nil, true, &Problem{Line: ex[0].line, Err: fmt.Errorf("EXRULE is no longer part of the standard and not understood: use EXDATE")}
	}
	// A day more on each side: the window is in instants, rules in wall clocks.
	length := time.Duration(p.days+1)*24*time.Hour + p.rest
	from, to := p.start.in.wall(r.window.From.Add(-length)).AddDate(0, 0, -1), p.start.in.wall(r.window.To).AddDate(0, 0, 1)
	for _, rule := range rules {
		list, err := expandRule(rule, p.start.wall, p.start.in, from, to)
		if err != nil {
			return nil, true, err
		}
		walls = append(walls, list...)
	}
	for _, prop := range p.raw.props["RDATE"] {
		list, err := r.moments(prop)
		if err != nil {
			return nil, true, err
		}
		for _, m := range list {
			walls = append(walls, p.start.in.wall(m.instant()))
		}
	}
	slices.SortFunc(walls, time.Time.Compare)
	walls = slices.CompactFunc(walls, time.Time.Equal)
	out := map[time.Time]bool{}
	outDays := map[string]bool{}
	for _, prop := range p.raw.props["EXDATE"] {
		list, err := r.moments(prop)
		if err != nil {
			return nil, true, err
		}
		for _, m := range list {
			if m.date {
				outDays[m.wall.Format(dateForm)] = true
				continue
			}
			out[m.instant().UTC()] = true
		}
	}
	walls = slices.DeleteFunc(walls, func(w time.Time) bool {
		return outDays[w.Format(dateForm)] || out[p.start.in.instant(w).UTC()]
	})
	return walls, true, nil
}

// expandRule lists the wall clocks of a rule in [from, to). The clock is kept
// as if it were UTC, so that the rule never meets a change of the clock; a
// time that a change skips is dealt with when it becomes an instant.
func expandRule(p property, start time.Time, in *zone, from, to time.Time) ([]time.Time, error) {
	fail := func(format string, args ...any) error {
		return &Problem{Line: p.line, Err: fmt.Errorf("RRULE: "+format, args...)}
	}
	if len(p.value) > 1000 {
		return nil, fail("the rule has %d characters", len(p.value))
	}
	if start.Year() < 1900 || start.Year() > 2200 {
		return nil, fail("the rule starts in the year %d", start.Year())
	}
	o, err := rrule.StrToROption(strings.ToUpper(strings.TrimSpace(p.value)))
	if err != nil {
		return nil, fail("%w", err)
	}
	for _, list := range []*[]int{&o.Byhour, &o.Byminute, &o.Bysecond} {
		slices.Sort(*list)
		*list = slices.Compact(*list)
	}
	switch {
	case o.Freq > rrule.DAILY:
		return nil, fail("nothing that repeats within the day is understood")
	case max(1, len(o.Byhour))*max(1, len(o.Byminute))*max(1, len(o.Bysecond)) > 24:
		return nil, fail("more than 24 times a day")
	case len(o.Byeaster) > 0:
		return nil, fail("BYEASTER is not part of the standard")
	case o.Count < 0 || o.Interval < 0 || strings.Contains(p.value, "INTERVAL=0"):
		return nil, fail("COUNT and INTERVAL must be positive")
	}
	o.Dtstart = start
	if !o.Until.IsZero() {
		until := strings.ToUpper(p.value[strings.Index(strings.ToUpper(p.value), "UNTIL=")+len("UNTIL="):])
		until, _, _ = strings.Cut(until, ";")
		switch {
		case len(until) == len(dateForm): // the whole of that day
			o.Until = o.Until.AddDate(0, 0, 1).Add(-time.Second)
		case strings.HasSuffix(until, "Z"):
			o.Until = in.wall(o.Until)
		}
	}
	rule, err := rrule.NewRRule(*o)
	if err != nil {
		return nil, fail("%w", err)
	}
	var out []time.Time
	next := rule.Iterator()
	for n := range maxSteps {
		w, ok := next()
		if !ok && n == 0 && o.Until.IsZero() {
			return nil, fail("%w", errBarren)
		}
		if !ok || !w.Before(to) {
			return out, nil
		}
		if !w.Before(from) {
			out = append(out, w)
		}
	}
	return nil, fail("over %d occurrences up to %s", maxSteps, to.Format(time.DateOnly))
}
