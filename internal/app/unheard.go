package app

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/notify"
)

// unheardFor is how long what reached nobody is looked back at: while it
// stands it is tried anew, and given up anew.
const unheardFor = 3 * time.Hour

// unheard are the messages of a port that reached nobody and still would be of
// use; an empty port means all. What asked others to pass one on is not among
// them.
func (e *engine) unheard(ctx context.Context, port string) ([]models.Message, error) {
	now := e.d.now()
	list, err := e.desk.Ledger.Unheard(ctx, now.Add(-unheardFor))
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(list, func(m models.Message) bool {
		return notify.PassedOn(m) || !now.Before(m.Deadline) || port != "" && m.Port != port
	}), nil
}

// tellUnheard asks somebody else to pass on what no way to a person took: the
// first of the others whom a way leads to, the captain before the crew and the
// crew before those ashore, and the next where that fails too. What guests did
// not get the captain hears.
func (e *engine) tellUnheard(ctx context.Context, port config.Port, acc *account) error {
	list, err := e.unheard(ctx, port.Name)
	errs := []error{err}
	for _, m := range list {
		errs = append(errs, e.passOn(ctx, port, m, acc))
	}
	return errors.Join(errs...)
}

func (e *engine) passOn(ctx context.Context, port config.Port, m models.Message, acc *account) error {
	for _, p := range e.others(port, m.Person) {
		p.What, p.Captain = nil, true // told whatever they subscribed to: nobody else is left
		d := notify.PassOn(p, port.Port, m, e.d.now())
		last, err := e.desk.Ledger.Last(ctx, d.Key)
		if err != nil {
			return err
		}
		if asked, ok := last.Get(); ok && asked.State == models.MessageDead && asked.Digest == d.Digest {
			continue // nor they
		}
		return e.tell(ctx, d, acc)
	}
	return nil
}

// others are the people of a port but one, in the order in which they are
// asked to pass something on.
func (e *engine) others(port config.Port, name string) []notify.Person {
	rank := map[config.Role]int{config.Captain: 0, config.Mate: 1, config.Owner: 2, config.Shore: 3}
	role := map[string]int{}
	for _, p := range e.cfg.People {
		role[p.Name] = rank[p.Role]
	}
	list := slices.DeleteFunc(slices.Clone(e.people[port.Name]), func(p notify.Person) bool { return p.Name == name })
	slices.SortStableFunc(list, func(a, b notify.Person) int { return cmp.Compare(role[a.Name], role[b.Name]) })
	return list
}

// lacksHearing tells, a line each, what reached nobody.
func (e *engine) lacksHearing(ctx context.Context) []string {
	list, err := e.unheard(ctx, "")
	if err != nil {
		return []string{err.Error()}
	}
	const most = 5
	var lines []string
	for i, m := range list {
		if i == most {
			return append(lines, fmt.Sprintf("%d more messages reached nobody", len(list)-most))
		}
		who := m.Person
		if m.Notice == models.NoticeGuests {
			who = "guests" // nobody's business here
		}
		lines = append(lines, fmt.Sprintf("%s: a message (%s) did not reach %s: it is tried again while it holds, and others are asked to pass it on", m.Port, m.Notice, who))
	}
	return lines
}

// deaf says that messages reached nobody, and names nobody.
func (e *engine) deaf(ctx context.Context) error {
	list, err := e.unheard(ctx, "")
	if err != nil || len(list) == 0 {
		return err
	}
	return fmt.Errorf("%d messages reached nobody they were for: they are tried again while they hold, and others are asked to pass them on", len(list))
}

// watchDead hears of messages given up and sees to them at once, not at the
// next look.
func (e *engine) watchDead(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-e.dead:
		}
		for _, p := range e.cfg.Ports {
			var acc account
			if err := e.tellUnheard(ctx, p, &acc); err != nil && ctx.Err() == nil {
				e.d.log.ErrorContext(ctx, "nobody can be asked to pass on what was given up", "port", p.Name, "error", err)
			}
		}
	}
}
