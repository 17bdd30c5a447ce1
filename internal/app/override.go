package app

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/scoring"
	"forecastd/internal/store"
)

// Override keeps the captain's word against a limit. until is unknown for the
// end of tomorrow.
func (a *App) Override(ctx context.Context, portName, what, why string, until models.Opt[time.Time]) (string, error) {
	st, port, err := a.saying(portName)
	if err != nil {
		return "", err
	}
	what, why = models.PlainLine(what), models.PlainLine(why)
	switch {
	case what == "":
		return "", fmt.Errorf("say what is overridden: %s", overridable())
	case why == "":
		return "", errors.New(`an override needs its reason: add -why "..."`)
	}
	now := a.now().UTC()
	if err := a.mayOverride(ctx, st, port, what); err != nil {
		return "", err
	}
	end := until.Or(models.DateOf(now, port.Zone).AddDays(2).Start(port.Zone))
	if !end.After(now) {
		return "", fmt.Errorf("%s is past: an override ends later than now", dayClock(end, port))
	}
	id, err := st.AddOverride(ctx, store.Override{Port: port.Name, Override: models.Override{What: what, Why: why}, By: "command", From: now, Until: end})
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("override %d: %s, because %s; it holds until %s, for trips that end by then", id, what, why, dayClock(end, port)) +
		"\nthunder, gales, storms and watches are not lifted by it, and official warnings stay in force: the decision is the licensed captain's", nil
}

// mayOverride tells why something can't be overridden, and what can be.
func (a *App) mayOverride(ctx context.Context, st *store.Store, port config.Port, what string) error {
	now := a.now()
	lives, err := st.Warnings(ctx, allZones(port), models.Interval{Start: now.Add(-listedLately), End: now.Add(time.Second)})
	if err != nil {
		return err
	}
	var listed []models.Warning
	for _, l := range lives {
		listed = append(listed, l.Warning)
	}
	if err := scoring.CheckOverride(what, listed); err != nil {
		return fmt.Errorf("%w\nwhat can be overridden: %s", err, overridable())
	}
	return nil
}

// listedLately is how long ago a product was last listed to be known by name.
const listedLately = 6 * time.Hour

func overridable() string {
	return strings.Join([]string{
		scoring.OverrideAdvisory, scoring.OverrideOwn, scoring.OverrideNever, scoring.OverrideRide, scoring.OverrideInlet, scoring.OverrideVisibility,
	}, ", ") + ", or another advisory by its official name"
}

// Overrides lists the overrides that hold, a line each.
func (a *App) Overrides(ctx context.Context, portName string) ([]string, error) {
	st, port, err := a.saying(portName)
	if err != nil {
		return nil, err
	}
	found, err := st.Overrides(ctx, port.Name, models.Interval{Start: a.now(), End: a.now().AddDate(1, 0, 0)})
	if err != nil {
		return nil, err
	}
	var out []string
	for _, o := range found {
		// One that an older version kept holds nothing and is not told as if.
		if err := a.mayOverride(ctx, st, port, o.What); err != nil {
			out = append(out, fmt.Sprintf("%d  %s: lifts nothing, since %s", o.ID, o.What, strings.SplitN(err.Error(), "\n", 2)[0]))
			continue
		}
		out = append(out, fmt.Sprintf("%d  %s, because %s; until %s", o.ID, o.What, o.Why, dayClock(o.Until, port)))
	}
	return out, nil
}

// ClearOverride ends an override, or all that hold for the number 0.
func (a *App) ClearOverride(ctx context.Context, portName string, id int64) (string, error) {
	st, port, err := a.saying(portName)
	if err != nil {
		return "", err
	}
	found, err := st.Overrides(ctx, port.Name, models.Interval{Start: a.now(), End: a.now().AddDate(1, 0, 0)})
	if err != nil {
		return "", err
	}
	cleared := 0
	for _, o := range found {
		if id != 0 && o.ID != id {
			continue
		}
		if err := st.WithdrawOverride(ctx, o.ID, a.now()); err != nil {
			return "", err
		}
		cleared++
	}
	switch {
	case cleared == 0 && id != 0:
		return "", fmt.Errorf("no override %d holds: `forecastd override list` shows them", id)
	case cleared == 0:
		return "no override holds", nil
	}
	return fmt.Sprintf("%d cleared: the limits count again", cleared), nil
}
