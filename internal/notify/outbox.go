package notify

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"forecastd/internal/models"
)

// Channel takes messages over for delivery.
type Channel interface {
	// Send gives the message to address. It returns nil only when the other
	// side has taken it over for good, and otherwise an error that wraps
	// *models.Error, whose kind says whether trying again may help. It
	// honours ctx. Sending the same message twice is allowed and carries the
	// same ID.
	Send(ctx context.Context, m models.Message, address string) error
}

const (
	// PerTry is how long one try may last.
	PerTry = 60 * time.Second
	// KeepsFailing is after how many failed tries the next route is taken.
	KeepsFailing = 3

	firstPause, longestPause = 30 * time.Second, 15 * time.Minute

	// longestAsked is how long a channel may ask us to wait.
	longestAsked = time.Hour
	// LastMoments is how long a message under way may still take when all is
	// told to end: cut off, it could be with the other side already, and would
	// go out again.
	LastMoments = 8 * time.Second
)

// OutboxOptions are what an Outbox is made of.
type OutboxOptions struct {
	Ledger   Ledger
	Channels map[string]Channel
	// Now is the clock; nil means time.Now.
	Now func() time.Time
	// Random returns numbers from 0 up to 1, for the jitter.
	Random func() float64
	Logger *slog.Logger
	// Registerer gets the metrics; nil keeps them to ourselves.
	Registerer prometheus.Registerer
	// Dead, where given, hears of each message that is given up. It must not
	// wait.
	Dead func(models.Message)
	// Dry tells that the channels show messages and send none.
	Dry bool
}

// Outbox gets the messages of a ledger out. One goroutine runs it.
type Outbox struct {
	ledger   Ledger
	channels map[string]Channel
	now      func() time.Time
	random   func() float64
	log      *slog.Logger
	metrics  *metrics
	// unmarked are messages that went out while the ledger could not be
	// written: they are marked, not sent, the next time.
	unmarked map[string]models.Message
	said     map[string]string
	dead     func(models.Message)
	dry      bool
}

// NewOutbox builds an Outbox.
func NewOutbox(o OutboxOptions) (*Outbox, error) {
	if o.Ledger == nil || o.Random == nil {
		return nil, errors.New("outbox: a ledger and a source of random numbers are needed")
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	m, err := newMetrics(o.Registerer)
	if err != nil {
		return nil, fmt.Errorf("register metrics of the outbox: %w", err)
	}
	return &Outbox{
		ledger: o.Ledger, channels: o.Channels, now: o.Now, random: o.Random, log: o.Logger, metrics: m,
		unmarked: map[string]models.Message{}, said: map[string]string{}, dead: o.Dead, dry: o.Dry,
	}, nil
}

// TakeOver takes from an Outbox that no longer runs what went out and could
// not be marked yet. It is called before Run.
func (o *Outbox) TakeOver(before *Outbox) {
	for id, m := range before.unmarked {
		o.unmarked[id] = m
	}
}

// Add writes a message down to be sent, with those that it tells along.
func (o *Outbox) Add(ctx context.Context, m models.Message, along ...models.Message) error {
	if len(m.Routes) == 0 {
		return fmt.Errorf("write down a message for %s: no way to reach them", m.Person)
	}
	if err := o.ledger.Put(ctx, m, along...); err != nil {
		return fmt.Errorf("write down a message for %s: %w", m.Person, err)
	}
	o.metrics.messages.WithLabelValues(string(m.Notice), string(m.Reason)).Inc()
	return nil
}

// Run sends what is due until ctx ends: at once, whenever wake is given a
// value, and when a try is due again. A ledger that can't be read is tried
// again.
func (o *Outbox) Run(ctx context.Context, wake <-chan struct{}) error {
	for {
		next, err := o.Flush(ctx)
		if ctx.Err() != nil {
			return nil
		}
		if err != nil {
			o.log.ErrorContext(ctx, "the outbox can't get at its ledger", "error", err)
			next = models.Known(o.now().Add(firstPause))
		}
		if !wait(ctx, wake, models.MapOpt(next, func(at time.Time) time.Duration { return at.Sub(o.now()) })) {
			return nil
		}
	}
}

// wait waits for a wake or for the pause to pass; false means that ctx ended.
func wait(ctx context.Context, wake <-chan struct{}, pause models.Opt[time.Duration]) bool {
	var due <-chan time.Time
	if d, ok := pause.Get(); ok {
		t := time.NewTimer(max(0, d))
		defer t.Stop()
		due = t.C
	}
	select {
	case <-ctx.Done():
		return false
	case <-wake:
	case <-due:
	}
	return true
}

// Flush tries every message that is due once, and returns when the next one
// will be.
func (o *Outbox) Flush(ctx context.Context) (models.Opt[time.Time], error) {
	none := models.Unknown[time.Time]()
	for id, m := range o.unmarked {
		if err := o.ledger.Save(ctx, m); err != nil {
			return none, fmt.Errorf("mark message %s as sent: %w", id, err)
		}
		delete(o.unmarked, id)
	}
	list, err := o.ledger.Waiting(ctx)
	if err != nil {
		return none, fmt.Errorf("read the messages that wait: %w", err)
	}
	next, left := none, 0
	for _, m := range list {
		if ctx.Err() != nil {
			return none, ctx.Err()
		}
		if o.due(m) {
			m = o.try(ctx, m)
			if ctx.Err() != nil && m.State == models.MessageWaiting {
				return none, ctx.Err() // we gave up, not the channel: nothing is held against it
			}
			if err := o.ledger.Save(context.WithoutCancel(ctx), m); err != nil {
				if m.State == models.MessageSent {
					o.unmarked[m.ID] = m
				}
				return none, fmt.Errorf("save the state of message %s: %w", m.ID, err)
			}
		}
		if m.State == models.MessageWaiting {
			left++
			if at, ok := next.Get(); !ok || m.NextTry.Before(at) {
				next = models.Known(m.NextTry)
			}
		}
	}
	o.metrics.waiting.Set(float64(left))
	return next, nil
}

// due tells whether a message is to be tried now: its time has come, or is so
// far off that it was set by a clock that was wrong, or it has none left.
func (o *Outbox) due(m models.Message) bool {
	wait := m.NextTry.Sub(o.now())
	return wait <= 0 || wait > 2*longestAsked || !o.now().Before(m.Deadline)
}

// try sends a message once and returns it as it stands after.
func (o *Outbox) try(ctx context.Context, m models.Message) models.Message {
	m = clone(m)
	i, ok := pick(m.Routes)
	switch {
	case !o.now().Before(m.Deadline):
		return o.bury(ctx, m, "its deadline passed before any channel took it"+after(m.Fault))
	case !ok:
		return o.bury(ctx, m, "every channel refused it"+after(m.Fault))
	}
	route := m.Routes[i]
	err := error(&models.Error{Kind: models.KindBadConfig, Source: "outbox", Err: fmt.Errorf("there is no channel %q", route.Channel)})
	if channel, ok := o.channels[route.Channel]; ok {
		err = o.send(ctx, channel, m, route.Address)
	}
	if err == nil {
		m.State, m.Done, m.SentBy, m.Fault = models.MessageSent, models.Known(o.now()), route.Channel, ""
		o.metrics.tries.WithLabelValues(route.Channel, "sent").Inc()
		said := "message sent"
		if o.dry {
			said = "message shown, not sent: this is a dry run"
		}
		o.log.InfoContext(ctx, said, "id", m.ID, "notice", m.Notice, "person", logged(m), "channel", route.Channel, "reason", m.Reason)
		delete(o.said, m.ID)
		return m
	}
	kind := kindOf(err)
	o.metrics.tries.WithLabelValues(route.Channel, string(kind)).Inc()
	m.Fault = models.PlainLine(route.Channel + ": " + err.Error()) // it may quote the server
	if o.said[m.ID] != m.Fault {
		o.said[m.ID] = m.Fault
		o.log.WarnContext(ctx, "message not sent", "id", m.ID, "notice", m.Notice, "person", logged(m), "channel", route.Channel, "kind", kind, "error", discreet(m, err.Error()))
	}
	m.Routes[i] = failed(route, kind)
	if _, ok := pick(m.Routes); !ok {
		return o.bury(ctx, m, "every channel refused it"+after(m.Fault))
	}
	pause := o.pause(m.Routes, i)
	if e, ok := errors.AsType[*models.Error](err); ok && pause > 0 {
		pause = max(pause, min(e.RetryAfter, longestAsked))
	}
	m.NextTry = o.now().Add(pause)
	return m
}

func (o *Outbox) send(ctx context.Context, c Channel, m models.Message, address string) error {
	sending, cancel := context.WithTimeout(context.WithoutCancel(ctx), PerTry)
	defer cancel()
	defer context.AfterFunc(ctx, func() { time.AfterFunc(LastMoments, cancel) })()
	return c.Send(sending, m, address)
}

func (o *Outbox) bury(ctx context.Context, m models.Message, why string) models.Message {
	m.State, m.Done, m.Fault = models.MessageDead, models.Known(o.now()), why
	o.metrics.dead.WithLabelValues(string(m.Notice)).Inc()
	o.log.ErrorContext(ctx, "message given up: nobody was told", "id", m.ID, "notice", m.Notice, "person", logged(m), "error", discreet(m, why))
	delete(o.said, m.ID)
	if o.dead != nil {
		o.dead(m)
	}
	return m
}

func after(fault string) string {
	if fault == "" {
		return ""
	}
	return "; last, " + fault
}

// pick chooses the route to try: the first that does not keep failing, or
// where all do, the one that failed least. ok is false where all are closed.
func pick(routes []models.Route) (int, bool) {
	best := -1
	for i, r := range routes {
		switch {
		case r.Closed:
		case r.Failures < KeepsFailing:
			return i, true
		case best < 0 || r.Failures < routes[best].Failures:
			best = i
		}
	}
	return best, best >= 0
}

// failed counts a failure against a route. A refusal closes it. Of a fault in
// the configuration (a wrong password) it is known that trying again at once
// is no use, but somebody may mend it: the next route is taken, and this one
// stays open.
func failed(r models.Route, k models.Kind) models.Route {
	r.Failures++
	switch k {
	case models.KindRefused, models.KindNotFound, models.KindTooLarge, models.KindBadContent:
		r.Closed = true
	case models.KindBadConfig:
		r.Failures = max(r.Failures, KeepsFailing)
	case models.KindCancelled, models.KindTimeout, models.KindUnreachable, models.KindRateLimited, models.KindServer, models.KindNotRecorded, models.KindStale:
		// It stays open, and what is unheard of too: it is tried again.
	}
	return r
}

func kindOf(err error) models.Kind {
	if e, ok := errors.AsType[*models.Error](err); ok {
		return e.Kind
	}
	return models.KindServer
}

// pause is the wait after route i failed: none where another route takes
// over, else doubled with each failure and shortened at random by up to half,
// so that messages that failed together do not come back together.
func (o *Outbox) pause(routes []models.Route, i int) time.Duration {
	if next, _ := pick(routes); next != i && routes[next].Failures < KeepsFailing {
		return 0
	}
	n := routes[i].Failures
	d := min(firstPause<<min(max(n-1, 0), 10), longestPause)
	return d/2 + time.Duration(float64(d/2)*o.random())
}
