package app

import (
	"context"
	"errors"
	"strings"
	"time"

	"forecastd/config"
	"forecastd/internal/fetch"
	"forecastd/internal/fetch/nws"
	"forecastd/internal/models"
	"forecastd/internal/notify"
)

const (
	// downFor is how long a source may be missing before people hear of it;
	// the warnings' half as long.
	downFor = 2 * time.Hour
	// leastDisk is how much room the store needs to go on.
	leastDisk = 200 << 20
)

// tellTrouble tells what is wrong with the service itself, or that it is over.
func (e *engine) tellTrouble(ctx context.Context, port config.Port, t notify.Trouble, acc *account) error {
	if !t.Over {
		acc.Notes = append(acc.Notes, "trouble: "+t.Name)
	}
	return e.toEach(ctx, port.Name, acc, func(p notify.Person) notify.Draft {
		return notify.Troubled(p, port.Port, t, e.app.demo, e.d.now())
	})
}

// tellTroubles looks for what is wrong after the sources were asked.
func (e *engine) tellTroubles(ctx context.Context, port config.Port, acc *account) error {
	list := e.troubles(ctx, port)
	for _, t := range list {
		if !t.Over {
			acc.Notes = append(acc.Notes, "trouble: "+t.Name)
		}
	}
	e.sees.trouble(port.Name, list)
	var errs []error
	for _, p := range e.people[port.Name] {
		var drafts []notify.Draft
		for _, t := range list {
			drafts = append(drafts, notify.Troubled(p, port.Port, t, e.app.demo, e.d.now()))
		}
		errs = append(errs, e.tellTogether(ctx, drafts, acc))
	}
	return errors.Join(errs...)
}

// troubles are all that can be wrong, each said to be over where it is not.
func (e *engine) troubles(ctx context.Context, port config.Port) []notify.Trouble {
	now := e.d.now()
	look := e.sees.of(port.Name)
	var list []notify.Trouble
	for _, s := range look.Sources {
		limit := downFor
		if s.Name == nws.AlertsName {
			limit /= 2
		}
		t := notify.Trouble{
			Name: "source " + s.Name, What: models.Say("trouble.source", s.Name), Detail: models.Say("trouble.error", s.Error), Since: s.Since, Grave: required(s.Name),
			Cure: models.Say("trouble.source_cure"),
		}
		if s.Name == nws.AlertsName {
			t.What = models.Say("trouble.warnings")
			t.Cure = models.Say("trouble.warnings_cure")
		}
		t.Over = s.State != fetch.Missing || now.Sub(s.Since) < limit
		list = append(list, t)
	}
	if e.damage != nil {
		list = append(list, notify.Trouble{
			Name: "store", What: models.Say("trouble.store"), Grave: true,
			Detail: models.Say("trouble.error", e.damage.Error()), Cure: models.Say("trouble.store_cure"),
		})
	}
	if t, ok := e.clockTrouble(ctx); ok {
		list = append(list, t)
	}
	if free, ok := freeDisk(e.d.o.State); ok {
		list = append(list, notify.Trouble{
			Name: "disk", What: models.Say("trouble.disk"), Grave: true, Over: free >= leastDisk,
			Detail: models.Say("trouble.disk_detail", free/1_000_000),
			Cure:   models.Say("trouble.disk_cure"),
		})
	}
	return list
}

// noCall is the trouble that a call could not be made; nil says it could.
func (e *engine) noCall(which string, err error) notify.Trouble {
	t := notify.Trouble{
		Name: "no call", What: models.Say("trouble.no_call"), Grave: true, Over: err == nil,
		Cure: models.Say("trouble.no_call_cure"),
	}
	if err != nil {
		first, _, _ := strings.Cut(err.Error(), "\n") // what is missing stands in the run's record
		t.Detail = models.Say("trouble.error", which+": "+first)
	}
	return t
}
