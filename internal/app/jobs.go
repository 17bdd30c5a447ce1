package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
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
	Date    models.Date `json:"date"`
	Call    int64       `json:"call,omitempty"`
	Verdict string      `json:"verdict,omitempty"`
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
		held, problems := e.app.bookings(ctx, port, today, today.AddDays(2))
		acc.Notes = append(acc.Notes, problems...)
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
			for _, s := range data.Series {
				changed, err := e.d.store.AddSeries(ctx, port.Name, s)
				if changed {
					acc.Stored["series"]++
				}
				errs = append(errs, err)
			}
			n, err := e.d.store.AddObservations(ctx, data.Observations)
			acc.Stored["observations"] += n
			errs = append(errs, err)
			if zones := allZones(port); len(zones) > 0 {
				if list, ok := freshWarnings(data, zones); ok {
					news, err := e.d.store.SawWarnings(ctx, zones, list, e.d.now())
					acc.Stored["warning changes"] += len(news)
					errs = append(errs, err)
				}
			}
		}
		errs = append(errs, e.tellWarnings(ctx, port, held, &acc), e.tellTroubles(ctx, port, &acc))
		return errors.Join(errs...)
	}
}

// evening settles tomorrow.
func (e *engine) evening(port config.Port) func(context.Context, *models.Run) error {
	return func(ctx context.Context, run *models.Run) error {
		acc := account{Port: port.Name, Sources: map[string][]sourceState{}}
		defer acc.write(run)
		made, err := e.call(ctx, port, models.DateOf(run.Due, port.Zone).AddDays(1), &acc)
		if err != nil {
			return errors.Join(err, e.tellTrouble(ctx, port, e.noCall("evening", err), &acc))
		}
		return errors.Join(
			e.tellCall(ctx, port, made, false, &acc), e.tellGuests(ctx, port, made, &acc),
			e.tellTrouble(ctx, port, e.noCall("evening", nil), &acc))
	}
}

// morning confirms today, or changes it.
func (e *engine) morning(port config.Port) func(context.Context, *models.Run) error {
	return func(ctx context.Context, run *models.Run) error {
		acc := account{Port: port.Name, Sources: map[string][]sourceState{}}
		defer acc.write(run)
		made, err := e.call(ctx, port, models.DateOf(run.Due, port.Zone), &acc)
		if err != nil {
			return errors.Join(err, e.tellTrouble(ctx, port, e.noCall("morning", err), &acc))
		}
		return errors.Join(
			e.tellMorning(ctx, port, made, &acc), e.tellGuests(ctx, port, made, &acc), e.planFloat(ctx, made),
			e.tellTrouble(ctx, port, e.noCall("morning", nil), &acc))
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
			told, err := e.told(ctx, port, date)
			standing, ok := told.Get()
			// Once the boat has left, the day can't be called again: what is
			// issued then is told as a warning.
			if err != nil || !ok || !now.Before(standing.Leave.Or(e.cfg.Charters.Usual.Start.On(date, port.Zone))) {
				errs = append(errs, err)
				continue
			}
			made, err := e.call(ctx, port, date, &acc)
			if err != nil {
				errs = append(errs, err)
				continue
			}
			errs = append(errs, e.tellCall(ctx, port, made, true, &acc), e.tellGuests(ctx, port, made, &acc))
			if date == today {
				errs = append(errs, e.planFloat(ctx, made))
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
	k := e.cfg.Daemon.Keep
	done, err := e.d.store.Prune(ctx, e.d.now(), store.Retention{
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

// made is a call just made and kept, with where the day stands for people.
type made struct {
	Called
	id int64
	// told is where the day stands for those who are told, after this run;
	// turned tells that it is no longer what they were told first, and held
	// that this run's own result waits for a second one.
	told         models.Standing
	turned, held bool
	why          models.Phrase
}

// told is where a day stands for people.
func (e *engine) told(ctx context.Context, port config.Port, date models.Date) (models.Opt[models.Standing], error) {
	held, _ := e.app.bookings(ctx, port, date, date)
	_, ground, err := e.app.place(port.Name, bookedGround(held))
	if err != nil {
		return models.Unknown[models.Standing](), err
	}
	told, _, err := e.app.before(ctx, port.Name, ground.Name, date)
	return told, err
}

// call makes the call for a day, keeps it, and settles what it changes. What
// people are told follows from the calls kept alone, so that a run repeated
// after a crash tells nothing else.
func (e *engine) call(ctx context.Context, port config.Port, date models.Date, acc *account) (made, error) {
	c, err := e.app.CallFor(ctx, CallRequest{Port: port.Name, Date: date})
	if len(c.fetched.Sources) > 0 {
		acc.Sources[c.Outlook.Ground.Name] = e.sees.note(port.Name, c.fetched)
	}
	if ctx.Err() != nil {
		return made{}, ctx.Err() // what is missing is missing because we were told to end
	}
	if err != nil {
		acc.Calls = append(acc.Calls, callAccount{Date: date, Why: err.Error()})
		return made{}, err
	}
	m := made{Called: c}
	before, _, err := e.app.before(ctx, port.Name, c.Call.Ground.Name, date)
	if err != nil {
		return m, err
	}
	if m.id, err = e.app.Keep(ctx, c, false); err != nil {
		return m, err
	}
	after, runs, err := e.app.before(ctx, port.Name, c.Call.Ground.Name, date)
	if err != nil {
		return m, err
	}
	own := runs[len(runs)-1]
	m.told = after.Or(own)
	m.turned = !m.told.Made.Equal(runs[0].Made)
	news := !before.Known() || !before.Or(models.Standing{}).Made.Equal(m.told.Made)
	settled := settledBy(runs)
	m.held, m.why = settled.Held, settled.Why
	one := callAccount{Date: date, Call: m.id, Verdict: c.teller().Verdict(c.Call), News: news, Why: c.teller().Say(settled.Why)}
	if m.told.Tactic != own.Tactic {
		one.Told = string(m.told.Tactic)
	}
	acc.Calls = append(acc.Calls, one)
	e.d.metrics.called(port.Name, c.Call)
	e.d.log.InfoContext(ctx, "call made", "port", port.Name, "date", date.String(), "call", m.id, "verdict", one.Verdict,
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
