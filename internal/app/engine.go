package app

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"math/big"
	"net/http"
	"net/mail"
	"slices"
	"strings"
	"sync"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/notify"
	"forecastd/internal/notify/email"
	"forecastd/internal/notify/webhook"
	"forecastd/internal/sched"
	"forecastd/internal/words"
)

// Names of the channels.
const (
	byMail    = "e-mail"
	byWebhook = "webhook"
)

// engine is the part of the daemon that hangs on the configuration: it is
// built whole, and replaced whole.
type engine struct {
	d      *Daemon
	cfg    *config.Config
	app    *App
	runner *sched.Runner
	outbox *notify.Outbox
	desk   notify.Desk
	// people are those who can be reached, by port.
	people map[string][]notify.Person
	sees   *sight
	// channels are the ways to people, by name.
	channels map[string]notify.Channel

	boards *boards
	scores scores
	pages  http.Handler

	wake chan struct{}
	// dead is given a value when a message was given up.
	dead chan struct{}
	// back is given a value when a boat has checked in.
	back chan struct{}
	// damage is what is wrong with the store that this one's stands in for.
	damage error
	// living ends with the engine's work.
	living  context.Context
	cancel  context.CancelFunc
	sending sync.WaitGroup
}

// newEngine builds all that can fail. What the one before has seen of the
// sources is carried on.
func (d *Daemon) newEngine(cfg *config.Config, before *engine) (*engine, error) {
	e := &engine{d: d, cfg: cfg, people: map[string][]notify.Person{}, wake: make(chan struct{}, 1), dead: make(chan struct{}, 1), back: make(chan struct{}, 1)}
	e.sees, e.boards, e.scores = newSight(d.now()), newBoards(), scores{held: map[string]scored{}}
	e.living, e.cancel = context.WithCancel(context.Background())
	if before != nil {
		e.sees, e.boards = before.sees, before.boards
		for _, p := range cfg.Ports {
			e.boards.changed(p.Name)
		}
	}
	o := d.o.Options
	o.Config, o.Registerer, o.Logger, o.Now, o.Store = cfg, d.base, d.log, d.now, nil
	o.OnDate = d.clock.hear
	a, err := New(o)
	if err != nil {
		return nil, err
	}
	a.store = d.store // which stays open when this engine is replaced
	e.app, e.damage = a, d.damage
	channels, err := d.channels(cfg)
	if err != nil {
		return nil, err
	}
	e.channels = channels
	var ledger notify.Ledger = d.store.Outbox()
	if d.o.DryRun != nil {
		ledger = &notify.Memory{} // so that nothing counts as told
	}
	for _, p := range cfg.Ports {
		e.people[p.Name] = reachable(cfg, p, channels)
	}
	if e.outbox, err = notify.NewOutbox(notify.OutboxOptions{
		Ledger: ledger, Channels: channels, Now: d.now, Random: jitter, Logger: d.log, Registerer: d.base, Dry: d.o.DryRun != nil,
		Dead: func(models.Message) { signal(e.dead) },
	}); err != nil {
		return nil, err
	}
	e.desk = notify.Desk{Ledger: ledger, Outbox: e.outbox, Domain: domain(cfg), Now: d.now}
	if e.runner, err = sched.New(sched.Options{Ledger: d.store, Now: d.now, Logger: d.log, Registerer: d.base}); err != nil {
		return nil, err
	}
	if e.pages, err = d.pagesFor(cfg); err != nil {
		return nil, err
	}
	jobs, err := e.jobs()
	if err != nil {
		return nil, err
	}
	for _, j := range jobs {
		if err := e.runner.Add(j); err != nil {
			return nil, err
		}
	}
	return e, nil
}

// start puts the engine to work until stop.
func (e *engine) start() error {
	e.sayWhoIsTold()
	ctx := e.living
	if all, err := e.app.lessons(ctx, learnBack); err != nil {
		e.d.log.Warn("what was learned can't be told", "error", err)
	} else {
		e.d.metrics.learned(all)
	}
	e.sending.Go(func() {
		if err := e.outbox.Run(ctx, e.wake); err != nil {
			e.d.log.Error("the outbox stopped", "error", err)
		}
	})
	e.sending.Go(func() { e.lookOften(ctx) })
	e.sending.Go(func() { e.watchDead(ctx) })
	if err := e.runner.Start(ctx); err != nil {
		return err
	}
	for _, p := range e.cfg.Ports {
		if e.sees.of(p.Name).At.IsZero() {
			e.sending.Go(func() { _ = e.runner.RunNow(ctx, collectJob(p)) }) // recorded and logged; it may be under way
		}
	}
	return nil
}

// stop ends the work under way, no later than ctx.
func (e *engine) stop(ctx context.Context) error {
	e.cancel() // the outbox ends its last message while the jobs end
	err := e.runner.Stop(ctx)
	e.sending.Wait()
	return errors.Join(err, e.app.Stop(ctx))
}

// nudge lets the outbox look at once.
func (e *engine) nudge() { signal(e.wake) }

// signal gives a value, unless one waits to be taken.
func signal(c chan<- struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}

// lookEvery is how often the outbox looks by itself, and whether a boat is back
// that those ashore were alarmed about: what was said by command was kept by
// another process, which can't nudge this one.
const lookEvery = time.Minute

func (e *engine) lookOften(ctx context.Context) {
	t := time.NewTicker(lookEvery)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
			e.nudge()
		case <-e.back:
		}
		var acc account
		if err := e.tellBack(ctx, &acc); err != nil && ctx.Err() == nil {
			e.d.log.ErrorContext(ctx, "those ashore can't be told that the boat is back", "error", err)
		}
	}
}

// sayWhoIsTold tells the operator who will get messages, and who will not.
func (e *engine) sayWhoIsTold() {
	reached := map[string]bool{}
	for _, list := range e.people {
		for _, p := range list {
			reached[p.Name] = true
		}
	}
	switch {
	case len(e.cfg.People) == 0:
		e.d.log.Warn("nobody is told anything: the configuration names no people")
	case len(reached) == 0:
		e.d.log.Warn("nobody is told anything: the configuration has no mail and no webhook to reach people by", "people", len(e.cfg.People))
	}
	for _, p := range e.cfg.People {
		if !reached[p.Name] && len(reached) > 0 {
			e.d.log.Warn("a person can't be reached: the configuration lacks the channel for the address", "person", p.Name)
		}
	}
	if e.d.o.DryRun != nil {
		e.d.log.Info("dry run: messages are shown, none is sent")
	}
}

// channels builds the ways to people that the configuration asks for.
func (d *Daemon) channels(cfg *config.Config) (map[string]notify.Channel, error) {
	list := map[string]notify.Channel{}
	for name, c := range d.o.Channels {
		list[name] = c
	}
	if d.o.DryRun != nil { // shown whether or not the way there is configured
		for _, name := range []string{byMail, byWebhook} {
			list[name] = &notify.DryRun{Channel: name, Out: d.o.DryRun}
		}
	}
	if len(list) > 0 {
		return list, nil
	}
	if m, ok := cfg.Mail.Get(); ok {
		c, err := d.mail(m)
		if err != nil {
			return nil, err
		}
		list[byMail] = c
	}
	if w, ok := cfg.Webhook.Get(); ok {
		secret, err := d.secret("webhook.secret_file", w.SecretFile, "FORECASTD_WEBHOOK_SECRET")
		if err != nil {
			return nil, err
		}
		c, err := webhook.New(webhook.Options{Secret: []byte(secret.Reveal()), Now: d.now, UserAgent: "forecastd/" + d.o.Version})
		if err != nil {
			return nil, err
		}
		list[byWebhook] = c
	}
	return list, nil
}

func (d *Daemon) mail(m config.Mail) (*email.Channel, error) {
	var password config.Secret
	if m.User != "" {
		var err error
		if password, err = d.secret("mail.password_file", m.PasswordFile, "FORECASTD_MAIL_PASSWORD"); err != nil {
			return nil, err
		}
	}
	return email.New(email.Options{
		Host: m.Host, Port: m.Port, Encryption: email.Encryption(m.Encryption), Username: m.User, Password: password.Reveal(), From: m.From,
	})
}

// reachable are the people for a port's messages that a channel leads to.
func reachable(cfg *config.Config, port config.Port, channels map[string]notify.Channel) []notify.Person {
	var list []notify.Person
	for _, p := range cfg.People {
		routes := routesTo(channels, p.Address, p.Second)
		if len(routes) == 0 {
			continue
		}
		person := notify.Person{
			Name: p.Name, Routes: routes,
			Reader: words.Reader{Language: words.Language(p.Language), Measures: words.Measures(p.Units)},
			Quiet:  notify.Quiet{From: p.QuietFrom, To: p.QuietTo, Zone: port.Zone},
		}
		for _, n := range p.What {
			person.What = append(person.What, models.Notice(n))
		}
		person.Captain = p.Role == config.Captain
		list = append(list, person)
	}
	if !slices.ContainsFunc(list, func(p notify.Person) bool { return p.Captain }) {
		for i := range list { // who gets the call answers for the boat
			list[i].Captain = list[i].Wants(models.NoticeCall)
		}
	}
	return list
}

func routesTo(channels map[string]notify.Channel, addresses ...string) []models.Route {
	var routes []models.Route
	for _, address := range addresses {
		channel := byMail
		if strings.Contains(address, "://") {
			channel = byWebhook
		}
		if _, ok := channels[channel]; ok && address != "" {
			routes = append(routes, models.Route{Channel: channel, Address: address})
		}
	}
	return routes
}

// domain is the right side of our Message-IDs.
func domain(cfg *config.Config) string {
	from := cfg.Sources.Contact
	if m, ok := cfg.Mail.Get(); ok {
		from = m.From
	}
	if a, err := mail.ParseAddress(from); err == nil {
		if _, host, ok := strings.Cut(a.Address, "@"); ok {
			return host
		}
	}
	return "localhost"
}

// jitter is a random number from 0 up to 1.
func jitter() float64 {
	const steps = 1 << 30
	n, err := rand.Int(rand.Reader, big.NewInt(steps))
	if err != nil {
		return 0.5
	}
	return float64(n.Int64()) / steps
}

// everyJob is a schedule of UTC by a configured period.
func everyJob(period, offset time.Duration) (sched.Every, error) {
	s, err := sched.NewEvery(period, offset)
	if err != nil {
		return s, fmt.Errorf("schedule: %w", err)
	}
	return s, nil
}
