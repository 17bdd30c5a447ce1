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
