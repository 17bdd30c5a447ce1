package app

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/words"
)

// OverError says that the trips of a day are over, so that none can be called.
type OverError struct {
	// Notice marks the demo.
	Notice string
	// Said tells it in the words of the configured language.
	Said string
}

// Error tells it.
func (e *OverError) Error() string { return e.Said }

// left is where a trip stands as people were told of it, and whether the boat
// has left on it or would have.
func (a *App) left(ctx context.Context, t slot, trip models.Trip, zone *time.Location) (told models.Opt[models.Standing], out bool, err error) {
	told, _, err = a.before(ctx, t)
	leave := told.Or(models.Standing{}).Leave.Or(trip.Start.On(t.date, zone))
	return told, !a.now().Before(leave), err
}

// over tells whether a trip has ended: the boat should be back.
func (a *App) over(t dayTrip, told models.Opt[models.Standing]) bool {
	back := t.trip.End.On(t.slot.date, t.port.Zone)
	return !a.now().Before(laterOf(back, told.Or(models.Standing{}).Back.Or(back)))
}

// NextTrip is the day of the next trip that can still be made: today's until
// its last trip has left, else tomorrow's.
func (a *App) NextTrip(ctx context.Context, portName, groundName string) (models.Date, error) {
	port, _, err := a.place(portName, groundName)
	if err != nil {
		return models.Date{}, err
	}
	today := models.DateOf(a.now(), port.Zone)
	trips, err := a.tripsOn(ctx, port, groundName, today)
	if err != nil {
		return today, err
	}
	for _, t := range trips {
		// What was called before can't be read from a damaged store: the
		// booked hours say when the trip leaves.
		if _, out, _ := a.left(ctx, t.slot, t.trip, port.Zone); !out {
			return today, nil
		}
	}
	return today.AddDays(1), nil
}

// CallsToCome makes the calls as CallsFor does, but for the trips that are
// over. It answers an *OverError where all that are asked for are.
func (a *App) CallsToCome(ctx context.Context, req CallRequest) ([]Called, error) {
	port, _, err := a.place(req.Port, "")
	if err != nil {
		return nil, err
	}
	if req.Date == (models.Date{}) {
		if req.Date, err = a.NextTrip(ctx, req.Port, req.Ground); err != nil {
			return nil, err
		}
	}
	if models.DateOf(a.now(), port.Zone) != req.Date {
		return a.CallsFor(ctx, req)
	}
	trips, err := a.tripsOn(ctx, port, req.Ground, req.Date)
	if err != nil {
		return nil, err
	}
	only, err := pick(trips, req.Trip)
	if err != nil {
		return nil, err
	}
	var ended []string
	for i, t := range trips {
		told, _, _ := a.before(ctx, t.slot)
		if (only < 0 || only == i) && a.over(t, told) {
			ended = append(ended, t.slot.mark)
		}
	}
	if len(ended) == len(trips) || only >= 0 && len(ended) == 1 {
		if only >= 0 {
			trips = trips[only : only+1]
		}
		return nil, a.tripsOver(req.Date, trips)
	}
	list, err := a.CallsFor(ctx, req)
	return slices.DeleteFunc(list, func(c Called) bool { return slices.Contains(ended, c.slot.mark) }), err
}

func (a *App) tripsOver(date models.Date, trips []dayTrip) *OverError {
	t := words.NewTeller(reader(a.cfg), trips[0].port.Zone, date)
	var names []string
	for _, o := range trips {
		names = append(names, tripName(o.trip, o.booked.Or(Booked{}).Name))
	}
	told := t.Say(models.Say("over.told", date, strings.Join(names, "; ")))
	return &OverError{Notice: a.Notice(), Said: fmt.Sprintf("%s\n%s", told, t.Say(models.Say("over.next")))}
}
