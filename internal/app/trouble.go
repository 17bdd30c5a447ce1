package app

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"forecastd/config"
	"forecastd/internal/fetch"
	"forecastd/internal/notify"
)

const (
	// downFor is how long a source may be missing before people hear of it;
	// the warnings' half as long.
	downFor = 2 * time.Hour
	// clockOff is how far a document may lie ahead of our clock.
	clockOff = 15 * time.Minute
	// leastDisk is how much room the store needs to go on.
	leastDisk = 200 << 20
)

// tellTrouble tells what is wrong with the service itself, or that it is over.
func (e *engine) tellTrouble(ctx context.Context, port config.Port, t notify.Trouble, acc *account) error {
	if !t.Over {
		acc.Notes = append(acc.Notes, "trouble: "+t.What)
	}
	return e.toEach(ctx, port.Name, acc, func(p notify.Person) notify.Draft {
		return notify.Troubled(p, port.Port, t, e.app.demo, e.d.now())
	})
}

// tellTroubles looks for what is wrong after the sources were asked.
func (e *engine) tellTroubles(ctx context.Context, port config.Port, acc *account) error {
	var errs []error
	for _, t := range e.troubles(port) {
		errs = append(errs, e.tellTrouble(ctx, port, t, acc))
	}
	return errors.Join(errs...)
}

// troubles are all that can be wrong, each said to be over where it is not.
func (e *engine) troubles(port config.Port) []notify.Trouble {
	now := e.d.now()
	look := e.sees.of(port.Name)
	var list []notify.Trouble
	for _, s := range look.Sources {
		limit := downFor
		if s.Name == alertsSource {
			limit /= 2
		}
		t := notify.Trouble{
			Name: "source " + s.Name, What: "no data from " + s.Name, Detail: s.Error, Since: s.Since, Grave: required(s.Name),
			Cure: "calls go on without it and say so; if it lasts, see whether the connection stands: forecastd check -live",
		}
		if s.Name == alertsSource {
			t.What = "official warnings can't be read"
			t.Cure = "listen to the official broadcast (weather radio, VHF)"
		}
		t.Over = s.State != fetch.Missing || now.Sub(s.Since) < limit
		list = append(list, t)
	}
	list = append(list, notify.Trouble{
		Name: "clock", What: "the clock of this machine is behind", Grave: true, Over: look.Ahead <= clockOff,
		Detail: fmt.Sprintf("a document was issued %s ahead of it", look.Ahead.Round(time.Minute)),
		Cure:   "set the clock and let it be kept (NTP): ages and hours are judged by it",
	})
	if free, ok := freeDisk(e.d.o.State); ok {
		list = append(list, notify.Trouble{
			Name: "disk", What: "the disk is filling", Grave: true, Over: free >= leastDisk,
			Detail: fmt.Sprintf("%d MB are free where the store is", free/1_000_000),
			Cure:   "free some space, or lower daemon.keep",
		})
	}
	return list
}

// noCall is the trouble that a call could not be made; nil says it could.
func (e *engine) noCall(which string, err error) notify.Trouble {
	t := notify.Trouble{
		Name: "no call", What: "no call could be made", Grave: true, Over: err == nil,
		Cure: "it is tried again; until then judge by the official forecast and your own eyes",
	}
	if err != nil {
		first, _, _ := strings.Cut(err.Error(), "\n") // what is missing stands in the run's record
		t.Detail = which + ": " + first
	}
	return t
}
