package app

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"slices"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/notify"
	"forecastd/internal/store"
)

// draftID is a name that can't be guessed.
func draftID() (string, error) { return notify.NewNonce(rand.Reader) }

// planFloat keeps the float plans of a day's trips that go out, and calls off
// those that do not: the trip stays in, or is no longer booked. A plan whose
// time to leave has come stays until the boat checks in.
func (e *engine) planFloat(ctx context.Context, day madeDay) error {
	port, date := day.port, day.date
	plans, err := e.app.store.FloatPlans(ctx, port.Name, date)
	if err != nil {
		return err
	}
	now := e.d.now()
	going := map[string]bool{}
	var errs []error
	for _, m := range day.trips {
		b, booked := m.Booking.Get()
		if m.out {
			going[b.mark()] = true
			continue
		}
		from, okLeave := m.told.Leave.Get()
		to, okBack := m.told.Back.Get()
		if !booked || !m.told.Going || !okLeave || !okBack {
			continue
		}
		going[b.mark()] = true
		errs = append(errs, e.app.store.PlanFloat(ctx, store.FloatPlan{
			Port: port.Name, Date: date, Booking: b.mark(), Boat: m.Call.Boat.Name, Ground: m.Call.Ground.Name, People: aboard(m.Call),
			Leave: from, Back: to, Overdue: notify.FloatPlan{Leave: from, Back: to}.Overdue(),
		}))
	}
	for _, p := range plans {
		if !going[p.Booking] && now.Before(p.Leave) {
			errs = append(errs, e.app.store.MarkFloat(ctx, p, store.FloatCalledOff, now))
		}
	}
	return errors.Join(errs...)
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
	now := e.rightNow()
	var errs []error
	for _, port := range e.cfg.Ports {
		today := models.DateOf(now, port.Zone)
		for _, date := range []models.Date{today.AddDays(-1), today} {
			plans, err := e.app.store.FloatPlans(ctx, port.Name, date)
			errs = append(errs, err)
			for _, plan := range plans {
				if !plan.CalledOff.Known() {
					errs = append(errs, e.tellFloat(ctx, port, plan, now, &acc))
				}
			}
		}
	}
	return errors.Join(errs...)
}

// tellBack tells those ashore of boats that they were alarmed about and that
// have checked in since.
func (e *engine) tellBack(ctx context.Context, acc *account) error {
	now := e.rightNow()
	var errs []error
	for _, port := range e.cfg.Ports {
		today := models.DateOf(now, port.Zone)
		for _, date := range []models.Date{today.AddDays(-1), today} {
			plans, err := e.app.store.FloatPlans(ctx, port.Name, date)
			errs = append(errs, err)
			for _, plan := range plans {
				if plan.CheckedIn.Known() && plan.ToldOverdue.Known() && !plan.CalledOff.Known() {
					errs = append(errs, e.tellFloat(ctx, port, plan, now, acc))
				}
			}
		}
	}
	return errors.Join(errs...)
}

// askBoat asks those aboard whether they are back, before anybody ashore is
// alarmed.
func (e *engine) askBoat(ctx context.Context, port config.Port, f notify.FloatPlan, now time.Time, acc *account) error {
	var errs []error
	for _, p := range e.people[port.Name] {
		if p.Captain {
			errs = append(errs, e.tell(ctx, notify.AreYouBack(p, f, now), acc))
		}
	}
	return errors.Join(errs...)
}

func (e *engine) tellFloat(ctx context.Context, port config.Port, plan store.FloatPlan, now time.Time, acc *account) error {
	f := notify.FloatPlan{Port: port.Port, Trip: plan.Booking, Boat: e.cfg.Boat, Leave: plan.Leave, Back: plan.Back, Aboard: plan.People, Demo: e.app.demo}
	if g, ok := port.Ground(plan.Ground); ok {
		f.Ground = g.Ground
	}
	var err error
	if f.CheckIn, err = e.link(notify.ActionCheckIn, plan.Date.String()+" "+plan.Port, plan.Overdue.Add(24*time.Hour)); err != nil {
		return err
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
	if !in && !now.Before(f.AskAt()) && now.Before(plan.Overdue) {
		if err := e.askBoat(ctx, port, f, now, acc); err != nil {
			return err
		}
	}
	err = e.toEach(ctx, port.Name, acc, draft)
	if err == nil && event != "" {
		err = e.app.store.MarkFloat(ctx, plan, event, now)
	}
	return err
}

// CheckIn keeps that the boat is back inside, so that nobody ashore is told
// that it is overdue, and answers what it did in a sentence. The zero date is
// today, or yesterday where that is the trip that is out. Of several trips
// that are out by their plans it is the earliest: a word for the morning must
// not end the watch over the afternoon. by is who says so.
func (a *App) CheckIn(ctx context.Context, portName string, date models.Date, by string) (string, error) {
	st, port, err := a.saying(portName)
	if err != nil {
		return "", err
	}
	now := a.now()
	dates := []models.Date{date}
	if date == (models.Date{}) {
		today := models.DateOf(now, port.Zone)
		dates = []models.Date{today, today.AddDays(-1)}
	}
	var plans, out []store.FloatPlan
	for _, d := range dates {
		list, err := st.FloatPlans(ctx, port.Name, d)
		if err != nil {
			return "", err
		}
		plans = append(list, plans...)
		for _, p := range list {
			if !p.CalledOff.Known() && !p.CheckedIn.Known() && !now.Before(p.Leave) {
				out = append(out, p)
			}
		}
		if len(out) > 0 {
			break
		}
	}
	if len(out) == 0 {
		return "", notOut(plans, port, dates[0], now)
	}
	if err := st.CheckInFloat(ctx, out[0], by, now); err != nil {
		return "", err
	}
	told := fmt.Sprintf("back inside at %s from the trip of %s", clockOf(now, port), floatTimes(out[0], port))
	if out[0].ToldOverdue.Known() {
		told += "; those ashore were told that it is overdue, and are told now that it is back"
	} else {
		told += ": nobody ashore is told that it is overdue"
	}
	if len(out) > 1 {
		told += fmt.Sprintf("\nby its plan the trip of %s is out too: check in again when it is back", floatTimes(out[1], port))
	}
	return told, nil
}

// notOut tells why there is no trip to check in from.
func notOut(plans []store.FloatPlan, port config.Port, date models.Date, now time.Time) error {
	for _, p := range slices.Backward(plans) {
		switch in, ok := p.CheckedIn.Get(); {
		case ok:
			return fmt.Errorf("nothing is out: the trip of %s checked in at %s", floatTimes(p, port), dayClock(in, port))
		case p.CalledOff.Known():
			return fmt.Errorf("nothing is out: the trip of %s was called off", floatTimes(p, port))
		case now.Before(p.Leave):
			return fmt.Errorf("nothing is out: the trip of %s has not left by its plan; check in when it is back", floatTimes(p, port))
		}
	}
	return fmt.Errorf("no float plan is kept for %s: the daemon makes one in the morning of a booked day that goes out", date)
}

// floatTimes tells the times of a plan.
func floatTimes(p store.FloatPlan, port config.Port) string {
	return fmt.Sprintf("%s, %s to %s", p.Date, clockOf(p.Leave, port), clockOf(p.Back, port))
}
