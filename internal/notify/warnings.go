package notify

import (
	"slices"
	"strings"

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
	// Cancelled: a product said so.
	Cancelled Change = "cancelled"
	// Unlisted: the feed no longer lists it, and no product said why.
	Unlisted Change = "unlisted"
)

// Gone tells whether the product holds no longer, as far as is known.
func (c Change) Gone() bool { return c == Cancelled || c == Unlisted }

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
// holds somewhere is not gone, and what is merely no longer listed somewhere is
// not cancelled. The list is not empty.
func Join(list []WarningChange) WarningChange {
	alive := slices.DeleteFunc(slices.Clone(list), func(w WarningChange) bool { return w.Change.Gone() })
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
	for _, c := range []Change{Extended, Shortened, Updated, Unlisted} {
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
// significance, the first event number and zone, and where it has no VTEC by event,
// office and zone.
func WarningID(w models.Warning) string {
	if w.Life != "" {
		return w.Life + "." + w.Zone
	}
	if p := strings.Split(strings.Trim(w.VTEC, "/"), "."); len(p) == 7 {
		return strings.Join([]string{p[2], p[3], p[4], p[5], w.Zone}, ".")
	}
	return strings.Join([]string{w.Event, w.Office, w.Zone}, "/")
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
