package app

import (
	"context"
	"fmt"
	"sync"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/notify"
)

const (
	// clockOff is by how much our clock may differ from the services'.
	clockOff = 15 * time.Minute
	// clockFar is from where on days and hours would be wrong: no call is made,
	// and what is seen is not kept under our time.
	clockFar = 2 * time.Hour
	// heardFor is how long a service's clock is believed to go on at our pace.
	heardFor = 3 * time.Hour
)

// clock compares ours with those of the services. What they said goes on by
// the process's own steady clock, so that a jump of ours shows at once, and
// that it was set right shows too.
type clock struct {
	mu    sync.Mutex
	heard map[string]heardDate
}

type heardDate struct{ theirs, steady time.Time }

func newClock() *clock { return &clock{heard: map[string]heardDate{}} }

// hear takes what a host's clock said.
func (c *clock) hear(host string, theirs, _ time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.heard[host] = heardDate{theirs, time.Now()}
}

// ahead is by how much now is ahead of the services' clocks, negative where it
// is behind; unknown where none was heard lately. One that agrees proves ours
// right. Where none does the newest counts: a copy kept on the way makes a
// clock look slow, and nothing makes it look fast.
func (c *clock) ahead(now time.Time) models.Opt[time.Duration] {
	c.mu.Lock()
	defer c.mu.Unlock()
	least := models.Unknown[time.Duration]()
	for _, h := range c.heard {
		age := time.Since(h.steady)
		if age > heardFor {
			continue
		}
		d := now.Round(0).Sub(h.theirs.Add(age))
		if d.Abs() <= clockOff {
			return models.Known(d)
		}
		if was, ok := least.Get(); !ok || d < was {
			least = models.Known(d)
		}
	}
	return least
}

// clockAhead is by how much our clock is ahead, and where that is known from:
// the services, or where they say nothing, what the store holds already.
func (e *engine) clockAhead(ctx context.Context) (ahead models.Opt[time.Duration], detail string, err error) {
	now := e.d.now()
	if d, ok := e.d.clock.ahead(now).Get(); ok {
		if d < 0 {
			return models.Known(d), "trouble.clock_behind", nil
		}
		return models.Known(d), "trouble.clock_ahead", nil
	}
	newest, err := e.app.store.NewestAnswer(ctx, time.Time{})
	if at, ok := newest.Get(); err == nil && ok && at.Sub(now) > clockOff {
		return models.Known(now.Sub(at)), "trouble.clock_store", nil
	}
	return ahead, "", err
}

// clockTrouble is what is wrong with our clock; ok is false where nobody can
// tell, so that it is said to be over only when it is.
func (e *engine) clockTrouble(ctx context.Context) (t notify.Trouble, ok bool) {
	ahead, detail, err := e.clockAhead(ctx)
	d, known := ahead.Get()
	if err != nil || !known {
		return t, false
	}
	return notify.Trouble{
		Name: "clock", What: models.Say("trouble.clock"), Grave: true, Over: d.Abs() <= clockOff,
		Detail: models.Say(detail, d.Abs()), Cure: models.Say("trouble.clock_cure"),
	}, true
}

// clockFit answers an error where our clock is so far off that a call would be
// for the wrong day or hour.
func (e *engine) clockFit(ctx context.Context) error {
	ahead, _, err := e.clockAhead(ctx)
	d := ahead.Or(0)
	switch {
	case err != nil:
		return err
	case d > clockFar:
		return fmt.Errorf("the clock of this machine is %s ahead of the services': set it", d.Round(time.Minute))
	case d < -clockFar:
		return fmt.Errorf("the clock of this machine is %s behind: set it", -d.Round(time.Minute))
	}
	return nil
}

// rightNow is the time by the services' clocks where ours is far off, else by
// ours: for what must not wait until somebody sets it.
func (e *engine) rightNow() time.Time {
	now := e.d.now()
	if d := e.d.clock.ahead(now).Or(0); d.Abs() > clockFar {
		return now.Add(-d)
	}
	return now
}
