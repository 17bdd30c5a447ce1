package app

import (
	"context"
	"errors"
	"slices"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/notify"
	"forecastd/internal/store"
)

// byEvent puts the zones of a product together, in the order they were first
// seen.
func byEvent(lives []store.WarningLife) [][]store.WarningLife {
	var out [][]store.WarningLife
	for _, w := range lives {
		i := slices.IndexFunc(out, func(same []store.WarningLife) bool {
			return notify.EventID(same[0].Warning) == notify.EventID(w.Warning)
		})
		if i < 0 {
			out = append(out, []store.WarningLife{w})
			continue
		}
		out[i] = append(out[i], w)
	}
	return out
}

// becameOf tells what became of a product, in all its zones, since a time; ok
// is false for one that ended by itself.
func becameOf(same []store.WarningLife, since time.Time) (c notify.WarningChange, ok bool) {
	var list []notify.WarningChange
	old := slices.ContainsFunc(same, func(w store.WarningLife) bool { return !w.FirstSeen.After(since) })
	for _, w := range same {
		one := notify.WarningChange{Change: notify.Issued, Warning: w.Warning}
		was, changed := w.Was.Get()
		switch {
		case w.Ended.Known():
			switch w.How {
			case models.EndCancelled:
				one.Change = notify.Cancelled
			case models.EndUnlisted:
				one.Change = notify.Unlisted
			case models.EndExpired, models.EndReplaced: // by itself, or another took its place and is told
			}
			if one.Change == notify.Issued {
				continue
			}
			one.Before = models.Known(w.Warning)
		case w.FirstSeen.After(since) && old:
			one.Change = notify.Extended // to one more zone
		case changed && !w.FirstSeen.After(since) && w.Changed.Or(since).After(since):
			one.Change, one.Before = notify.Became(was, w.Warning), models.Known(was)
		}
		list = append(list, one)
	}
	if len(list) == 0 {
		return c, false
	}
	return notify.Join(list), true
}

// tellWarnings tells of the products that bind trips: those in force or
// coming, and those that were called off, one message for all zones of each.
// It goes by what the store holds, not by what just changed, so that a crash
// in between loses no news: whether anybody still has to be told is decided by
// what was told.
func (e *engine) tellWarnings(ctx context.Context, port config.Port, held []Booked, acc *account) error {
	now := e.d.now()
	lives, err := e.app.store.Warnings(ctx, tripZones(port), models.Interval{Start: now.Add(-24 * time.Hour), End: now.Add(time.Second)})
	if err != nil {
		return err
	}
	lives = slices.DeleteFunc(lives, func(w store.WarningLife) bool {
		end, ends := w.Ends.Get()
		return ends && !now.Before(end)
	})
	events := byEvent(lives)
	var errs []error
	for _, p := range e.people[port.Name] {
		if !p.Wants(models.NoticeAlert) {
			continue
		}
		list, err := e.warned(ctx, port, p, events, held)
		errs = append(errs, err, e.tellTogether(ctx, list, acc))
	}
	return errors.Join(errs...)
}

// warned are the drafts for one person about all products that are in force,
// coming, or no longer. What is over under one number and stands under
// another, with the same hours in the same zones, goes on.
func (e *engine) warned(ctx context.Context, port config.Port, p notify.Person, events [][]store.WarningLife, held []Booked) ([]notify.Draft, error) {
	now := e.d.now()
	stands := map[string]bool{}
	for _, same := range events {
		if change, ok := becameOf(same, now); ok && change.Change == notify.Issued {
			stands[e.warnedOf(port, p, change, same, held).Digest] = true
		}
	}
	var list []notify.Draft
	for _, same := range events {
		change, ok := becameOf(same, now)
		if !ok {
			continue
		}
		if change.Change.Gone() {
			stood := change
			stood.Change = notify.Issued
			if stands[e.warnedOf(port, p, stood, same, held).Digest] {
				continue
			}
		}
		d, err := e.warning(ctx, port, p, change, same, held)
		if err != nil {
			return nil, err
		}
		list = append(list, d)
	}
	return list, nil
}

// warning is the draft about a product as issued, or what became of it since
// the person was told.
func (e *engine) warning(ctx context.Context, port config.Port, p notify.Person, change notify.WarningChange, same []store.WarningLife, held []Booked) (notify.Draft, error) {
	// Nothing has changed since now: it is issued, or cancelled.
	d := e.warnedOf(port, p, change, same, held)
	past, err := e.desk.Ledger.Told(ctx, d.Key)
	if err != nil {
		return d, err
	}
	if told, ok := past.Get(); ok && change.Change == notify.Issued && told.Digest != d.Digest && told.Level > 0 {
		if change, _ = becameOf(same, told.Made); change.Change == notify.Issued {
			change.Change = notify.Updated // told before, and other now
		}
		d = e.warnedOf(port, p, change, same, held)
	}
	return d, nil
}

func (e *engine) warnedOf(port config.Port, p notify.Person, change notify.WarningChange, same []store.WarningLife, held []Booked) notify.Draft {
	leave := models.Unknown[time.Time]()
	for _, w := range same {
		leave = leave.Else(nextLeave(port, held, w.Warning))
	}
	return notify.Warned(p, port.Port, change, leave, e.app.demo, e.d.now())
}

// nextLeave is when the next booked trip that a product may touch leaves.
func nextLeave(port config.Port, held []Booked, w models.Warning) models.Opt[time.Time] {
	for _, b := range held {
		trip := models.Interval{Start: b.Trip.Start.On(b.Date, port.Zone), End: b.Trip.End.On(b.Date, port.Zone)}
		if !b.Cancelled && w.During(trip) {
			return models.Known(trip.Start)
		}
	}
	return models.Unknown[time.Time]()
}
