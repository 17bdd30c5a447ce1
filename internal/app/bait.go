package app

import (
	"context"
	"fmt"
	"strings"

	"forecastd/config"
	"forecastd/internal/models"
)

// Bait keeps how many baits of a kind the pen of a port holds now. The other
// lots stay as they were counted last, each from its own day.
func (a *App) Bait(ctx context.Context, portName string, c models.Tally) (string, error) {
	st, port, err := a.saying(portName)
	if err != nil {
		return "", err
	}
	now := a.now().UTC()
	held, err := st.Pen(ctx, port.Name, now)
	if err != nil {
		return "", err
	}
	pen, err := held.Else(a.configuredPen(port)).Or(models.Pen{}).Count(c, now, models.DateOf(now, port.Zone))
	if err != nil {
		return "", err
	}
	if err := st.AddBaitCount(ctx, port.Name, pen); err != nil {
		return "", err
	}
	told := fmt.Sprintf("counted at %s: %s", dayClock(now, port), penText(pen))
	if kind, known := models.BaitKindOf(c.Kind); !known && c.Count > 0 {
		told += fmt.Sprintf("\n%q is a kind that nobody knows: it counts for no trip. Known are %s", kind.Name, knownBaits())
	}
	return told, nil
}

func knownBaits() string {
	var names []string
	for _, k := range models.BaitKinds() {
		names = append(names, k.Name)
	}
	return strings.Join(names, ", ")
}

// configuredPen is what the configured pens hold together, each from its own
// count on; as a whole it is as old as the oldest.
func (a *App) configuredPen(p config.Port) models.Opt[models.Pen] {
	var pen models.Pen
	for _, c := range a.cfg.Pens {
		at := c.Counted.Start(p.Zone)
		if pen.Counted.IsZero() || at.Before(pen.Counted) {
			pen.Counted = at
		}
		source := models.BaitHooked
		if c.Seasoned {
			source = models.BaitSeasoned
		}
		kind, _ := models.BaitKindOf(c.Bait)
		pen.Stock = append(pen.Stock, models.BaitStock{Kind: kind.Name, Count: c.Count, Source: source, Caught: models.Known(c.Counted), Counted: models.Known(at)})
	}
	if len(pen.Stock) == 0 {
		return models.Unknown[models.Pen]()
	}
	return models.Known(pen)
}

// Pen tells what was counted last.
func (a *App) Pen(ctx context.Context, portName string) (string, error) {
	st, port, err := a.saying(portName)
	if err != nil {
		return "", err
	}
	held, err := st.Pen(ctx, port.Name, a.now())
	if err != nil {
		return "", err
	}
	if pen, ok := held.Get(); ok {
		return fmt.Sprintf("counted at %s: %s", dayClock(pen.Counted, port), penText(pen)), nil
	}
	if pen, ok := a.configuredPen(port).Get(); ok {
		return fmt.Sprintf("by the configuration, of %s: %s", models.DateOf(pen.Counted, port.Zone), penText(pen)), nil
	}
	return "no bait was counted: forecastd bait count goggle-eye 40 keeps a count", nil
}

// penText tells the lots, and of those that were not counted with the last
// ones since when their count is.
func penText(p models.Pen) string {
	if len(p.Stock) == 0 {
		return "the pen is empty"
	}
	var lots []string
	for _, s := range p.Stock {
		lot := fmt.Sprintf("%d %s, %s", s.Count, s.Kind, s.Source)
		if d, ok := s.Caught.Get(); ok {
			lot += ", in the pen since " + d.String()
		}
		if at := p.CountedAt(s); !at.Equal(p.Counted) {
			lot += ", counted " + at.UTC().Format("2006-01-02 15:04 UTC")
		}
		lots = append(lots, lot)
	}
	return strings.Join(lots, "; ")
}
