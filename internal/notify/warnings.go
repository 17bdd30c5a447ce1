package notify

import (
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Change is what became of an official product.
type Change string

// Changes.
const (
	Issued    Change = "issued"
	Extended  Change = "extended"
	Shortened Change = "shortened"
	Updated   Change = "updated" // other times or words, ending when it did
	Cancelled Change = "cancelled"
)

// WarningChange is one product with what became of it.
type WarningChange struct {
	Change  Change
	Warning models.Warning
	// Before is the product as it stood; unknown for a new one.
	Before models.Opt[models.Warning]
	// Also are the same product in other zones, in order.
	Also []models.Warning
}

// EventID names a product through its life as WarningID does, in all its zones
// together.
func EventID(w models.Warning) string {
	w.Zone = ""
	return strings.Trim(WarningID(w), "./")
}

// all are the product in every zone.
func (w WarningChange) all() []models.Warning {
	return append([]models.Warning{w.Warning}, w.Also...)
}

// alike tells whether it holds for the same time in every zone.
func (w WarningChange) alike() bool {
	return !slices.ContainsFunc(w.Also, func(o models.Warning) bool { return !o.Onset.Equal(w.Warning.Onset) || !sameEnd(o, w.Warning) })
}

func sameEnd(a, b models.Warning) bool {
	x, okX := a.Ends.Get()
	y, okY := b.Ends.Get()
	return okX == okY && x.Equal(y)
}

// whole is the product from its first beginning to its last end in any zone.
func (w WarningChange) whole() models.Warning {
	all := w.Warning
	for _, o := range w.Also {
		if o.Onset.Before(all.Onset) {
			all.Onset = o.Onset
		}
		end, ok := o.Ends.Get()
		if last, known := all.Ends.Get(); known && (!ok || end.After(last)) {
			all.Ends = o.Ends
		}
	}
	return all
}

// Join puts what became of one product in several zones together. What still
// holds somewhere is not cancelled. The list is not empty.
func Join(list []WarningChange) WarningChange {
	alive := slices.DeleteFunc(slices.Clone(list), func(w WarningChange) bool { return w.Change == Cancelled })
	if len(alive) == 0 {
		alive = list
	}
	slices.SortStableFunc(alive, func(a, b WarningChange) int { return strings.Compare(a.Warning.Zone, b.Warning.Zone) })
	out := alive[0]
	out.Also = slices.Clone(out.Also)
	for _, w := range alive[1:] {
		out.Also = append(out.Also, w.Warning)
	}
	// What matters most of what became of it anywhere.
	for _, c := range []Change{Extended, Shortened, Updated} {
		if i := slices.IndexFunc(alive, func(w WarningChange) bool { return w.Change == c }); i >= 0 {
			out.Change, out.Before = c, alive[i].Before
			break
		}
	}
	return out
}

// Became tells what became of a product that stood otherwise before.
func Became(before, now models.Warning) Change {
	if c, ok := changed(before, now); ok {
		return c
	}
	return Updated
}

// WarningID names a product through its life: by office, VTEC phenomenon,
// significance, event number and zone, and where it has no VTEC by event,
// office and zone.
func WarningID(w models.Warning) string {
	if p := strings.Split(strings.Trim(w.VTEC, "/"), "."); len(p) == 7 {
		return strings.Join([]string{p[2], p[3], p[4], p[5], w.Zone}, ".")
	}
	return strings.Join([]string{w.Event, w.Office, w.Zone}, "/")
}

// WarningChanges tells what changed between two readings of the feed. before
// is the last reading that succeeded. A product that ended by itself is no
// change, and neither is anything while the feed is unknown: what can't be
// read is not cancelled.
func WarningChanges(before, after models.Opt[[]models.Warning], now time.Time) []WarningChange {
	is, ok := after.Get()
	if !ok {
		return nil
	}
	was := before.Or(nil)
	find := func(list []models.Warning, id string) int {
		return slices.IndexFunc(list, func(w models.Warning) bool { return WarningID(w) == id })
	}
	var out []WarningChange
	for _, w := range is {
		i := find(was, WarningID(w))
		if over(w, now) {
			continue
		}
		if i < 0 {
			out = append(out, WarningChange{Change: Issued, Warning: w})
			continue
		}
		if c, ok := changed(was[i], w); ok {
			out = append(out, WarningChange{Change: c, Warning: w, Before: models.Known(was[i])})
		}
	}
	for _, w := range was {
		if !over(w, now) && find(is, WarningID(w)) < 0 {
			out = append(out, WarningChange{Change: Cancelled, Warning: w, Before: models.Known(w)})
		}
	}
	return out
}

func over(w models.Warning, now time.Time) bool {
	end, ok := w.Ends.Get()
	return ok && !now.Before(end)
}

func changed(a, b models.Warning) (Change, bool) {
	x, okX := a.Ends.Get()
	y, okY := b.Ends.Get()
	switch {
	case okX && !okY, okX && okY && y.After(x):
		return Extended, true
	case !okX && okY, okX && okY && y.Before(x):
		return Shortened, true
	case !a.Onset.Equal(b.Onset), a.Event != b.Event:
		return Updated, true
	}
	return "", false
}
