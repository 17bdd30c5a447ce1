package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/sched"
	"forecastd/internal/scoring"
	"forecastd/internal/store"
)

// How long after it was due a run is still worth making.
const (
	eveningLate = 5 * time.Hour
	morningLate = 3 * time.Hour
	tryAgain    = 5 * time.Minute
	callTimeout = 8 * time.Minute
)

// Names of the jobs of a port, as records and metrics have them.
func collectJob(p config.Port) string { return "collect " + p.Name }
func eveningJob(p config.Port) string { return "evening " + p.Name }
func morningJob(p config.Port) string { return "morning " + p.Name }
func checkJob(p config.Port) string   { return "check " + p.Name }

// jobs lists what the daemon does. The check comes at a time of its own, so
// that it does not fall on the evening and the morning.
func (e *engine) jobs() ([]sched.Job, error) {
	var jobs []sched.Job
	often, rounds := e.cfg.Daemon.CollectEvery, e.cfg.Daemon.CheckEvery
	for i, p := range e.cfg.Ports {
		// Ports take turns, so that they do not all ask in the same second.
		offset := time.Duration(i) * time.Minute % often
		collect, err := everyJob(often, offset)
		if err != nil {
			return nil, err
		}
		check, err := everyJob(rounds, (7*time.Minute+offset)%rounds)
		if err != nil {
			return nil, err
		}
		jobs = append(jobs,
			sched.Job{Name: collectJob(p), Schedule: collect, Timeout: min(often-time.Minute, callTimeout), Late: often, Do: e.collect(p)},
			sched.Job{Name: eveningJob(p), Schedule: sched.Daily{At: e.cfg.Daemon.Evening, Zone: p.Zone}, Timeout: callTimeout, Late: eveningLate, Retry: tryAgain, Do: e.evening(p)},
			sched.Job{Name: morningJob(p), Schedule: sched.Daily{At: e.cfg.Daemon.Morning, Zone: p.Zone}, Timeout: callTimeout, Late: morningLate, Retry: tryAgain, Do: e.morning(p)},
			sched.Job{Name: checkJob(p), Schedule: check, Timeout: callTimeout, Late: rounds / 2, Do: e.check(p)},
		)
	}
	plans, err := everyJob(5*time.Minute, 2*time.Minute)
	if err != nil {
		return nil, err
	}
	first := e.cfg.Ports[0].Zone
	return append(jobs,
		sched.Job{Name: jobLearn, Schedule: sched.Daily{At: models.Clock{Hour: 2, Minute: 15}, Zone: first}, Timeout: time.Hour, Late: 20 * time.Hour, Do: e.learn},
		sched.Job{Name: "float plans", Schedule: plans, Timeout: 2 * time.Minute, Do: e.floatPlans},
		sched.Job{Name: "retention", Schedule: sched.Daily{At: models.Clock{Hour: 1, Minute: 30}, Zone: first}, Timeout: time.Hour, Late: 20 * time.Hour, Do: e.retention},
	), nil
}

// account is what a run leaves to be explained.
type account struct {
	Port    string                   `json:"port,omitempty"`
	Sources map[string][]sourceState `json:"sources,omitempty"` // by ground
	Calls   []callAccount            `json:"calls,omitempty"`
	Stored  map[string]int           `json:"stored,omitempty"`
	Told    []toldAccount            `json:"told,omitempty"`
	Notes   []string                 `json:"notes,omitempty"`
}

type callAccount struct {
	Date models.Date `json:"date"`
	// Trip marks the booking; empty where nothing is booked.
	Trip    string `json:"trip,omitempty"`
	Call    int64  `json:"call,omitempty"`
	Verdict string `json:"verdict,omitempty"`
	// Told is what people are told, where it is another.
	Told string `json:"told,omitempty"`
	// News tells that what is told changed with this run.
	News bool   `json:"news"`
	Why  string `json:"why,omitempty"`
}

type toldAccount struct {
	Person string        `json:"person"`
	Notice models.Notice `json:"notice"`
	Key    string        `json:"key"`
	Reason models.Reason `json:"reason"`
	Held   models.Reason `json:"held_reason,omitempty"`
	Until  time.Time     `json:"held_until,omitzero"`
}

// write leaves the account in the run.
func (acc *account) write(run *models.Run) {
	b, err := json.Marshal(acc)
	if err != nil {
		b = []byte(fmt.Sprintf("%q", "the account can't be written: "+err.Error()))
	}
	run.Account = b
}

// collect asks the sources, keeps what they answered, and tells what became
// of warnings and of the sources themselves.
func (e *engine) collect(port config.Port) func(context.Context, *models.Run) error {
	return func(ctx context.Context, run *models.Run) error {
		acc := account{Port: port.Name, Sources: map[string][]sourceState{}, Stored: map[string]int{}}
		defer acc.write(run)
		today := models.DateOf(e.d.now(), port.Zone)
		held, misfits := e.app.bookings(ctx, port, today, today.AddDays(2))
		acc.Notes = append(acc.Notes, forKeeping(misfits)...)
		var errs []error
		for _, ground := range groundsInUse(port, held) {
			c, err := e.app.collector(port, ground)
			if err != nil {
				return err
			}
			data := c.Collect(ctx)
			if err := ctx.Err(); err != nil {
				return err
			}
			acc.Sources[ground.Name] = e.sees.note(port.Name, data)
			errs = append(errs, noneAnswered(ground.Name, data))
			e.d.metrics.fetched(port.Name, data)
			e.app.predicted(port, &data)
			e.app.lastKnown(ctx, port, &data)
			e.boards.post(gathered{port: port, ground: ground, data: data})
			for _, s := range data.Series {
				changed, err := e.app.store.AddSeries(ctx, port.Name, s)
				if changed {
					acc.Stored["series"]++
				}
				errs = append(errs, err)
			}
			n, err := e.app.store.AddObservations(ctx, data.Observations)
			acc.Stored["observations"] += n
			errs = append(errs, err)
			// Kept under a time that is far off, a product would end that stands.
			if zones := allZones(port); len(zones) > 0 && e.clockFit(ctx) == nil {
				if seen, ok := freshWarnings(data, zones); ok {
					news, err := e.app.store.SawWarnings(ctx, zones, seen, e.d.now())
					acc.Stored["warning changes"] += len(news)
					errs = append(errs, err)
				}
			}
		}
		if err := e.clockFit(ctx); err != nil {
			errs = append(errs, err)
		} else {
			errs = append(errs, e.tellWarnings(ctx, port, held, &acc))
		}
		errs = append(errs, e.tellTroubles(ctx, port, &acc), e.tellUnheard(ctx, port, &acc))
		if err := errors.Join(errs...); err != nil {
			return err
		}
		e.beat(ctx)
		return nil
	}
}

// evening settles tomorrow.
func (e *engine) evening(port config.Port) func(context.Context, *models.Run) error {
	return func(ctx context.Context, run *models.Run) error {
		acc := account{Port: port.Name, Sources: map[string][]sourceState{}}
		defer acc.write(run)
		day, err := e.call(ctx, port, models.DateOf(run.Due, port.Zone).AddDays(1), false, &acc)
		return errors.Join(
			err, e.tellCall(ctx, day, false, &acc), e.tellGuests(ctx, day, &acc),
			e.tellTrouble(ctx, port, e.noCall("evening", err), &acc))
	}
}

// morning confirms today, or changes it.
func (e *engine) morning(port config.Port) func(context.Context, *models.Run) error {
	return func(ctx context.Context, run *models.Run) error {
		acc := account{Port: port.Name, Sources: map[string][]sourceState{}}
		defer acc.write(run)
		day, err := e.call(ctx, port, models.DateOf(run.Due, port.Zone), false, &acc)
		return errors.Join(
			err, e.tellMorning(ctx, day, &acc), e.tellGuests(ctx, day, &acc), e.planFloat(ctx, day),
			e.tellTrouble(ctx, port, e.noCall("morning", err), &acc))
	}
}

// check makes the call again for the days that people were told of, and tells
// what turned.
func (e *engine) check(port config.Port) func(context.Context, *models.Run) error {
	return func(ctx context.Context, run *models.Run) error {
		acc := account{Port: port.Name, Sources: map[string][]sourceState{}}
		defer acc.write(run)
		now := e.d.now()
		today := models.DateOf(now, port.Zone)
		var errs []error
		for _, date := range []models.Date{today, today.AddDays(1)} {
			if now.Before(e.cfg.Daemon.Evening.On(date.AddDays(-1), port.Zone).Add(sched.Grace)) {
				continue // the evening has not come yet
			}
			again, err := e.callAgain(ctx, port, date)
			if err != nil || !again {
				errs = append(errs, err)
				continue
			}
			day, err := e.call(ctx, port, date, true, &acc)
			errs = append(errs, err, e.tellCall(ctx, day, true, &acc), e.tellGuests(ctx, day, &acc))
			if date == today {
				errs = append(errs, e.planFloat(ctx, day))
			}
		}
		return errors.Join(errs...)
	}
}

// learn holds the forecasts kept against the stations' reports, for the calls
// of the day and for the metrics.
func (e *engine) learn(ctx context.Context, run *models.Run) error {
	all, err := e.app.Learn(ctx)
	if err != nil {
		return err
	}
	if run.Account, err = json.Marshal(all); err != nil {
		return err
	}
	e.d.metrics.learned(all)
	return nil
}

// retention drops what is older than it should be.
func (e *engine) retention(ctx context.Context, run *models.Run) error {
	if err := e.clockFit(ctx); err != nil {
		return fmt.Errorf("nothing is erased: %w", err)
	}
	k := e.cfg.Daemon.Keep
	done, err := e.app.store.Prune(ctx, e.d.now(), store.Retention{
		Observations: k.Observations, Series: k.Series, Outlooks: k.Outlooks, Calls: k.Calls, Warnings: k.Warnings, Messages: k.Messages,
		Runs: k.Runs, Failed: k.FailedRuns, Contacts: k.Guests, MaxBytes: k.Bytes,
	})
	acc := account{Stored: done.Rows}
	if done.Erased > 0 {
		acc.Notes = append(acc.Notes, fmt.Sprintf("the guests of %d past bookings were erased", done.Erased))
	}
	if done.Over {
		acc.Notes = append(acc.Notes, "the store is still larger than it should be")
	}
	acc.write(run)
	return err
}

// made is a call just made and kept, with where the trip stands for people.
type made struct {
	Called
	id int64
	// told is where the trip stands for those who are told, after this run;
	// turned tells that it is no longer what they were told first, and held
	// that this run's own result waits for a second one.
	told         models.Standing
	turned, held bool
	why          models.Phrase
	// out tells that the boat has left on it, or would have: it is not called
	// again.
	out bool
}

// madeDay is what was made of a day: its trips in order of time.
type madeDay struct {
	port  config.Port
	date  models.Date
	trips []made
}

// news are the trips that turned for people with this run or since they were
// told first.
func (d madeDay) news() []made {
	return slices.DeleteFunc(slices.Clone(d.trips), func(m made) bool { return m.out || m.held || !m.turned })
}

// held tells that some of what this run found waits for a second run, and that
// there is nothing else to tell.
func (d madeDay) held() bool {
	return len(d.news()) == 0 && slices.ContainsFunc(d.trips, func(m made) bool { return m.held })
}

// left is where a trip that people were told of stands, and whether the boat
// has left on it or would have: then it can't be called again, and what is
// issued is told as a warning.
func (e *engine) left(ctx context.Context, t slot, trip models.Trip, zone *time.Location) (told models.Opt[models.Standing], out bool, err error) {
	return e.app.left(ctx, t, trip, zone)
}

// callAgain tells whether people were told of a day, and one of its trips is
// still to come.
func (e *engine) callAgain(ctx context.Context, port config.Port, date models.Date) (bool, error) {
	trips, err := e.app.tripsOn(ctx, port, "", date)
	if err != nil {
		return false, err
	}
	anyTold, anyToCome := false, false
	for _, t := range trips {
		told, out, err := e.left(ctx, t.slot, t.trip, port.Zone)
		if err != nil {
			return false, err
		}
		anyTold, anyToCome = anyTold || told.Known(), anyToCome || !out
	}
	return anyTold && anyToCome, nil
}

// call makes the calls for a day's trips, keeps them, and settles what they
// change; in a check not of those that the boat is out on. What people are
// told follows from the calls kept alone, so that a run repeated after a crash
// tells nothing else. A trip that no call could be made of is told of in the
// error; the others count.
func (e *engine) call(ctx context.Context, port config.Port, date models.Date, check bool, acc *account) (madeDay, error) {
	day := madeDay{port: port, date: date}
	calls, err := e.app.CallsFor(ctx, CallRequest{Port: port.Name, Date: date})
	for _, c := range calls {
		if len(c.fetched.Sources) > 0 {
			acc.Sources[c.Outlook.Ground.Name] = e.sees.note(port.Name, c.fetched)
		}
	}
	if ctx.Err() != nil {
		return day, ctx.Err() // what is missing is missing because we were told to end
	}
	if far := e.clockFit(ctx); far != nil { // asked now, the services have told us the time
		err = far
	}
	if err != nil {
		acc.Calls = append(acc.Calls, callAccount{Date: date, Why: err.Error()})
		return day, err
	}
	var errs []error
	for _, c := range calls {
		told, out, err := e.left(ctx, c.slot, c.Outlook.Trip, port.Zone)
		switch standing, ok := told.Get(); {
		case err != nil:
			errs = append(errs, err)
			continue
		case check && out && ok:
			day.trips = append(day.trips, made{Called: c.asTold(standing), told: standing, out: true})
			continue
		case check && out:
			continue
		case c.Fault != nil:
			acc.Calls = append(acc.Calls, callAccount{Date: date, Trip: c.slot.mark, Why: c.Fault.Error()})
			errs = append(errs, c.Fault)
			continue
		}
		m, err := e.keep(ctx, port, c, acc)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		day.trips = append(day.trips, m)
	}
	return day, errors.Join(errs...)
}

// asTold is the call as far as people were told of it.
func (c Called) asTold(s models.Standing) Called {
	o := c.Outlook
	c.Call = models.Call{
		Made: s.Made, Date: s.Date, Port: o.Port, Ground: o.Ground, Boat: o.Boat, Trip: o.Trip, Warnings: o.Warnings, Stood: o.Stood,
		Tactic: s.Tactic, Timing: s.Timing, Leave: s.Leave, Back: s.Back, Demo: o.Demo, Unbooked: c.slot.mark == "",
	}
	c.Fault = nil
	return c
}

// keep keeps one call and settles what it changes.
func (e *engine) keep(ctx context.Context, port config.Port, c Called, acc *account) (made, error) {
	m := made{Called: c}
	before, _, err := e.app.before(ctx, c.slot)
	if err != nil {
		return m, err
	}
	if m.id, err = e.app.Keep(ctx, c, false); err != nil {
		return m, err
	}
	after, runs, err := e.app.before(ctx, c.slot)
	if err != nil {
		return m, err
	}
	own := runs[len(runs)-1]
	m.told = after.Or(own)
	m.turned = !m.told.Made.Equal(runs[0].Made)
	news := !before.Known() || !before.Or(models.Standing{}).Made.Equal(m.told.Made)
	settled := settledBy(runs)
	m.held, m.why = settled.Held, settled.Why
	one := callAccount{Date: c.slot.date, Trip: c.slot.mark, Call: m.id, Verdict: c.teller().Verdict(c.Call), News: news, Why: c.teller().Say(settled.Why)}
	if m.told.Tactic != own.Tactic {
		one.Told = string(m.told.Tactic)
	}
	acc.Calls = append(acc.Calls, one)
	e.d.metrics.called(port.Name, c.Call)
	e.d.log.InfoContext(ctx, "call made", "port", port.Name, "date", c.slot.date.String(), "trip", tripName(c.Call.Trip, ""), "call", m.id, "verdict", one.Verdict,
		"confidence", string(c.Call.Confidence), "told", string(m.told.Tactic), "news", news)
	return m, nil
}

// settledBy is what the last of some runs changed of what the others told.
func settledBy(runs []models.Standing) (s scoring.Settled) {
	told, last := models.Unknown[models.Standing](), models.Unknown[models.Standing]()
	for _, r := range runs {
		s = scoring.Settle(r, told, last)
		told, last = models.Known(s.Told), models.Known(r)
	}
	return s
}
