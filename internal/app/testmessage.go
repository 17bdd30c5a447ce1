package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/url"
	"slices"
	"strings"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/notify"
	"forecastd/internal/words"
)

// Tried is what came of a test message by one way to one person.
type Tried struct {
	Person, Channel string
	// Address is where it went, as far as people may read it: of a web hook
	// the host.
	Address string
	// Err is why it was not taken over; nil where it was.
	Err error
}

// String tells it in a line.
func (t Tried) String() string {
	if t.Err != nil {
		return fmt.Sprintf("%s, %s %s: NOT SENT: %v", t.Person, t.Channel, t.Address, t.Err)
	}
	return fmt.Sprintf("%s, %s %s: taken over; ask whether it has arrived", t.Person, t.Channel, t.Address)
}

// SendTests sends a test message by each way to each person, or to the one of
// a name, and tells what came of each as it comes. No store is touched and no
// daemon is needed.
func SendTests(ctx context.Context, o ServeOptions, person string, each func(Tried)) error {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Getenv == nil {
		o.Getenv = func(string) string { return "" }
	}
	d := &Daemon{o: o, now: o.Now, log: slog.New(slog.DiscardHandler)}
	channels, err := d.channels(o.Config)
	if err != nil {
		return err
	}
	people := slices.DeleteFunc(slices.Clone(o.Config.People), func(p config.Person) bool {
		return person != "" && !strings.EqualFold(p.Name, person)
	})
	switch {
	case len(o.Config.People) == 0:
		return errors.New("nobody is told anything: the configuration names no people")
	case len(people) == 0:
		return fmt.Errorf("the configuration names no person %q", person)
	}
	n := 0
	for _, p := range people {
		for _, address := range []string{p.Address, p.Second} {
			if address == "" {
				continue
			}
			if err := ctx.Err(); err != nil {
				return err
			}
			each(sendTest(ctx, o.Config, channels, p, address, o.Now().Add(time.Duration(n))))
			n++
		}
	}
	return nil
}

// sendTest sends one. Each is another message by its time.
func sendTest(ctx context.Context, cfg *config.Config, channels map[string]notify.Channel, p config.Person, address string, now time.Time) Tried {
	out := Tried{Person: p.Name, Channel: byMail, Address: address}
	if u, err := url.Parse(address); err == nil && strings.Contains(address, "://") {
		out.Channel, out.Address = byWebhook, "at "+u.Host
	}
	routes := routesTo(channels, address)
	if len(routes) == 0 {
		out.Err = fmt.Errorf("the configuration has no %s to send by: fill in mail or webhook", out.Channel)
		return out
	}
	person := notify.Person{
		Name: p.Name, Routes: routes, Reader: words.Reader{Language: words.Language(p.Language), Measures: words.Measures(p.Units)},
		Quiet: notify.Quiet{Zone: cfg.Ports[0].Zone},
	}
	m := notify.Test(person, cfg.Ports[0].Port, false, now).Message(models.ReasonFirst, now, domain(cfg))
	ctx, cancel := context.WithTimeout(ctx, notify.PerTry)
	defer cancel()
	out.Err = channels[routes[0].Channel].Send(ctx, m, address)
	return out
}
