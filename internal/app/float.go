package app

import (
	"context"
	"crypto/rand"
	"errors"
	"slices"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/notify"
	"forecastd/internal/store"
)

// draftID is a name that can't be guessed.
func draftID() (string, error) { return notify.NewNonce(rand.Reader) }

// planFloat keeps the float plan of a booked day that goes out, and calls it
// off where the boat stays in.
func (e *engine) planFloat(ctx context.Context, m made) error {
	port := m.Call.Port
	p, _, err := e.app.place(port.Name, "")
	if err != nil {
		return err
	}
	held, _ := e.app.bookings(ctx, p, m.Call.Date, m.Call.Date)
	booked := slices.ContainsFunc(held, func(b Booked) bool { return !b.Cancelled })
	leave, back, going := m.told.Leave, m.told.Back, m.told.Going && booked
	from, okLeave := leave.Get()
	to, okBack := back.Get()
	if !going || !okLeave || !okBack {
		err := e.d.store.MarkFloat(ctx, port.Name, m.Call.Date, store.FloatCalledOff, e.d.now())
		if errors.Is(err, store.ErrNotFound) {
			return nil // none was made
		}
		return err
	}
	f := notify.FloatPlan{Leave: from, Back: to}
	return e.d.store.PlanFloat(ctx, store.FloatPlan{
		Port: port.Name, Date: m.Call.Date, Boat: m.Call.Boat.Name, Ground: m.Call.Ground.Name, People: aboard(m.Call), Leave: from, Back: to, Overdue: f.Overdue(),
	})
}

// aboard counts crew and guests; unknown where nobody said how many come.
func aboard(c models.Call) models.Opt[int] {
	return models.MapOpt(c.Trip.Guests, func(guests int) int { return guests + c.Boat.Crew })
}

// floatPlans tells those ashore that the boat leaves, that it is overdue, and
// that it is back.
func (e *engine) floatPlans(ctx context.Context, run *models.Run) error {
	var acc account
	defer acc.write(run)
	now := e.d.now()
	var errs []error
	for _, port := range e.cfg.Ports {
		today := models.DateOf(now, port.Zone)
		for _, date := range []models.Date{today.AddDays(-1), today} {
			plan, err := e.d.store.FloatPlan(ctx, port.Name, date)
			if errors.Is(err, store.ErrNotFound) || err == nil && plan.CalledOff.Known() {
				continue
			}
			if err != nil {
				errs = append(errs, err)
				continue
			}
			errs = append(errs, e.tellFloat(ctx, port, plan, now, &acc))
		}
	}
	return errors.Join(errs...)
}

func (e *engine) tellFloat(ctx context.Context, port config.Port, plan store.FloatPlan, now time.Time, acc *account) error {
	f := notify.FloatPlan{Port: port.Port, Boat: e.cfg.Boat, Leave: plan.Leave, Back: plan.Back, Aboard: plan.People, Demo: e.app.demo}
	if g, ok := port.Ground(plan.Ground); ok {
		f.Ground = g.Ground
	}
	in := plan.CheckedIn.Known()
	var event store.FloatEvent
	var draft func(notify.Person) notify.Draft
	switch {
	case in && plan.ToldOverdue.Known():
		draft = func(p notify.Person) notify.Draft { return notify.Late(p, f, true, now) }
	case in, now.Before(plan.Leave):
		return nil
	case !now.Before(plan.Overdue):
		event, draft = store.FloatOverdue, func(p notify.Person) notify.Draft { return notify.Late(p, f, false, now) }
	default:
		event, draft = store.FloatLeft, func(p notify.Person) notify.Draft { return notify.Left(p, f, now) }
	}
	err := e.toEach(ctx, port.Name, acc, draft)
	if err == nil && event != "" {
		err = e.d.store.MarkFloat(ctx, plan.Port, plan.Date, event, now)
	}
	return err
}
