package app

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/scoring"
)

// dayTrip is one trip of a day on its way to a call.
type dayTrip struct {
	port   config.Port
	ground config.Ground
	// booked is unknown for the day without a booking, called for the usual
	// trip.
	booked models.Opt[Booked]
	trip   models.Trip
	slot   slot
}

// tripsOn lists the trips of a day in order of time: its bookings, or the
// usual trip where there is none.
func (a *App) tripsOn(ctx context.Context, port config.Port, groundName string, date models.Date) ([]dayTrip, error) {
	held, _ := a.bookings(ctx, port, date, date)
	held = slices.DeleteFunc(held, func(b Booked) bool { return b.Cancelled })
	var marks []string
	for _, b := range held {
		marks = append(marks, b.mark())
	}
	add := func(list []dayTrip, t dayTrip, name, mark string) ([]dayTrip, error) {
		if groundName != "" {
			name = groundName
		}
		var err error
		if t.port, t.ground, err = a.place(port.Name, name); err != nil {
			return nil, err
		}
		t.slot = slot{port: port.Name, ground: t.ground.Name, date: date, mark: mark, booked: marks}
		return append(list, t), nil
	}
	if len(held) == 0 {
		return add(nil, dayTrip{trip: a.cfg.Charters.Usual}, "", "")
	}
	var list []dayTrip
	var err error
	for _, b := range held {
		if list, err = add(list, dayTrip{booked: models.Known(b), trip: b.Trip}, b.Ground, b.mark()); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// CallFor makes the call of a day, or of one of its trips; where several are
// booked and none is picked, of the first. It answers a *NoCallError where no
// source gave any wind.
func (a *App) CallFor(ctx context.Context, req CallRequest) (Called, error) {
	list, err := a.CallsFor(ctx, req)
	if err != nil {
		return Called{}, err
	}
	return list[0], list[0].Fault
}

// CallsFor asks all sources and makes a call for each trip of the day, or for
// the one that is picked, ready to be told. Each knows the others: a trip
// leaves no sooner than the turnaround after the one before it is back. One
// that no call can be made of has its Fault. There is at least one.
func (a *App) CallsFor(ctx context.Context, req CallRequest) ([]Called, error) {
	port, _, err := a.place(req.Port, "")
	if err != nil {
		return nil, err
	}
	date := req.Date
	if date == (models.Date{}) {
		if date, err = a.NextTrip(ctx, req.Port, req.Ground); err != nil {
			return nil, err
		}
	}
	trips, err := a.tripsOn(ctx, port, req.Ground, date)
	if err != nil {
		return nil, err
	}
	only, err := pick(trips, req.Trip)
	if err != nil {
		return nil, err
	}
	list, err := a.judgeTrips(ctx, trips)
	if err != nil || only < 0 {
		return list, err
	}
	return list[only : only+1], nil
}

// pick finds a trip by number or name; -1 is all of them.
func pick(trips []dayTrip, which string) (int, error) {
	if which == "" {
		return -1, nil
	}
	if !trips[0].booked.Known() {
		return 0, fmt.Errorf("there is no trip %q: nothing is booked on %s", which, trips[0].slot.date)
	}
	n, err := strconv.Atoi(which)
	var found []int
	var names []string
	for i, t := range trips {
		b := t.booked.Or(Booked{})
		if err == nil && n == i+1 {
			return i, nil
		}
		if strings.EqualFold(b.Name, which) {
			found = append(found, i)
		}
		names = append(names, fmt.Sprintf("%d (%s)", i+1, tripName(t.trip, b.Name)))
	}
	if len(found) == 1 {
		return found[0], nil
	}
	return 0, fmt.Errorf("-trip %q is not one trip of %s: write the number or the name of %s", which, trips[0].slot.date, strings.Join(names, " or "))
}

// tripName tells a trip by its times and guests.
func tripName(t models.Trip, guests string) string {
	s := fmt.Sprintf("%s to %s", t.Start, t.End)
	if guests != "" {
		s += ", " + guests
	}
	return s
}

// ready is a trip with what was gathered for it.
type ready struct {
	dayTrip
	g       gathered
	outlook models.Outlook
	told    models.Opt[models.Standing]
	runs    []models.Standing
	days    []models.DayOutlook
}

// judgeTrips gathers for the trips of a day and judges them.
func (a *App) judgeTrips(ctx context.Context, trips []dayTrip) ([]Called, error) {
	var list []ready
	for _, t := range trips {
		r := ready{dayTrip: t}
		i := slices.IndexFunc(list, func(o ready) bool { return o.ground.Name == t.ground.Name })
		var err error
		if i >= 0 {
			r.g, r.days = list[i].g, list[i].days
		} else {
			if r.g, err = a.gather(ctx, t.port, t.ground); err != nil {
				return nil, err
			}
			r.days = a.shortDays(r.g, 1)
		}
		if r.told, r.runs, err = a.before(ctx, t.slot); err != nil {
			r.g.mem.gap("what was called before", err.Error())
		}
		r.outlook = a.outlook(r.g, t.slot.date, t.trip)
		list = append(list, r)
	}
	return a.judgeReady(list), nil
}

// judgeReady judges the trips of a day that all is gathered for; none of none.
func (a *App) judgeReady(list []ready) []Called {
	calls := a.judgeInTurn(list, nil)
	if len(calls) < 2 {
		return calls
	}
	// A trip that stays in needs no time at the dock: those before it are free
	// of it.
	in := map[int]bool{}
	for i, c := range calls[1:] {
		in[i+1] = c.Fault == nil && !c.Call.Back.Known()
	}
	if slices.ContainsFunc(calls[1:], func(c Called) bool { return c.Fault == nil && !c.Call.Back.Known() }) {
		calls = a.judgeInTurn(list, in)
	}
	return calls
}

// judgeInTurn judges the trips of a day in order of time. Trips known to stay
// in bind none before them.
func (a *App) judgeInTurn(list []ready, in map[int]bool) []Called {
	out := make([]Called, 0, len(list))
	back, taken := models.Unknown[time.Time](), models.BaitCount{}
	for i, t := range list {
		c := a.judgeTrip(t, len(in), scoring.With{After: back, Before: a.leavesNext(list, i, in), Taken: taken})
		taken = taken.Plus(c.Call.Bait.Or(models.BaitPlan{}).Needed.Or(models.BaitCount{}))
		c.Alone = len(list) == 1
		out = append(out, c)
		at := c.Call.Back
		if told, ok := t.told.Get(); ok && told.Going && !a.now().Before(told.Leave.Or(a.now().Add(time.Minute))) {
			at = told.Back // it is out, by what was told
		}
		if later, ok := at.Get(); ok && later.After(back.Or(time.Time{})) {
			back = at
		}
	}
	return out
}

// leavesNext is when the boat leaves on the next trip after one. No trip is cut
// short of its booked end for the one after it: bookings too close to turn
// round between are kept by the later one, which starts later.
func (a *App) leavesNext(list []ready, i int, in map[int]bool) models.Opt[time.Time] {
	date, zone := list[i].slot.date, list[i].port.Zone
	for j := i + 1; j < len(list); j++ {
		if in[j] {
			continue
		}
		start := list[j].trip.Start.On(date, zone)
		return models.Known(laterOf(start, list[i].trip.End.On(date, zone).Add(a.cfg.Limits.Turnaround)))
	}
	return models.Unknown[time.Time]()
}

// judgeTrip makes the call of a trip among the others of the day, in one of the
// passes over them.
func (a *App) judgeTrip(t ready, pass int, with scoring.With) Called {
	g, date := t.g, t.slot.date
	c := Called{
		Outlook: t.outlook, Now: a.now(), Reader: reader(a.cfg), Booking: t.booked, fetched: g.data, slot: t.slot, with: with,
	}
	with.Told, with.Runs, with.Days, with.Pen, with.Gear = t.told, t.runs, t.days, g.mem.pen, a.cfg.Gear
	with.Unbooked = !t.booked.Known()
	with.Booking = models.MapOpt(t.booked, func(b Booked) models.Booking { return b.Booking })
	c.Call, c.Fault = a.called(t, pass, with)
	if c.Fault != nil {
		return c
	}
	if a.store != nil && c.Outlook.HistoryDays == 0 {
		days := g.mem.learned.leastDays(g.data.Series, t.ground.Name, date.Interval(t.port.Zone))
		c.Call.Missing = append(slices.Clip(c.Call.Missing), assumption(days)) // told, and no less sure for it: sure it may not be anyway
	}
	c.Call.Observed = newest(c.Outlook.Observed)
	return c
}
