package app

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"forecastd/config"
	"forecastd/internal/notify"
	"forecastd/internal/store"
	"forecastd/internal/words"
)

// DemoWords stand at the head of what the demo tells.
func DemoWords() string { return words.DemoNotice() }

// ListenOff as an address listens nowhere.
const ListenOff = "off"

// ServeOptions are what a Daemon is made of. Options.Config and State are
// needed; the rest has defaults. Options.Store is the daemon's own and not
// looked at.
type ServeOptions struct {
	Options
	// State is the folder of the store.
	State string
	// Search is where commands look for it: they are left a note there. It
	// may be empty.
	Search StoreSearch
	// Listen takes the place of the configured address; ListenOff listens
	// nowhere.
	Listen string
	// DryRun, where given, gets the messages to read in place of the people,
	// and nothing counts as told.
	DryRun io.Writer
	// Getenv answers variables of the environment: secrets.
	Getenv func(string) string
	// Load reads the configuration again; nil can't.
	Load func() (*config.Config, error)
	// Channels take the place of those that the configuration asks for.
	Channels map[string]notify.Channel
}

// Daemon is the service that runs for years: it collects, remembers, calls,
// tells, and answers its operator.
type Daemon struct {
	o       ServeOptions
	now     func() time.Time
	log     *slog.Logger
	lock    *store.Lock // of the state folder
	store   *store.Store
	base    *prometheus.Registry // of all metrics; it outlives a reload
	metrics *daemonMetrics
	clock   *clock
	// key signs sessions and links.
	key     []byte
	started time.Time
	// dry is the folder of a dry run's copy of the store, gone with it.
	dry string

	door doorway // where people and the operator are answered

	// damage is what is wrong with the store that another one stands in for;
	// it is set before an engine over that one is at work.
	damage  error
	unwatch context.CancelFunc
	watched chan struct{} // closed when nobody watches the store any more

	reloading sync.Mutex // one reload at a time
	mu        sync.Mutex
	engine    *engine
}

// StartDaemon opens the store, builds all that the configuration asks for and
// begins to work. Where it fails, everything opened is closed again.
func StartDaemon(ctx context.Context, o ServeOptions) (d *Daemon, err error) {
	if o.Config == nil || o.State == "" {
		return nil, errors.New("serve: a configuration and a folder for the store are needed")
	}
	d = &Daemon{o: o, now: o.Now, log: o.Logger, base: prometheus.NewRegistry(), clock: newClock()}
	if d.now == nil {
		d.now = time.Now
	}
	if d.log == nil {
		d.log = slog.New(slog.DiscardHandler)
	}
	if d.o.Getenv == nil {
		d.o.Getenv = func(string) string { return "" }
	}
	d.started = d.now()
	defer func() {
		if err != nil {
			stopping, cancel := context.WithTimeout(context.WithoutCancel(ctx), graceful)
			defer cancel()
			err = errors.Join(err, d.Stop(stopping))
		}
	}()
	if d.metrics, err = newDaemonMetrics(d.base, o.Version); err != nil {
		return d, fmt.Errorf("register metrics of the daemon: %w", err)
	}
	if o.DryRun != nil { // beside a daemon, too
		if d.dry, err = dryState(ctx, o.State, d.now, d.log); err != nil {
			return d, err
		}
		o.State, d.o.State = d.dry, d.dry
	}
	if d.lock, err = store.LockDir(o.State, "serve", d.now); err != nil {
		return d, err
	}
	if err = d.openStore(ctx); err != nil {
		return d, err
	}
	d.leaveNote()
	if d.key, err = stateKey(o.State, rand.Reader); err != nil {
		return d, err
	}
	cut, err := d.store.CloseRuns(ctx)
	switch {
	case errors.Is(err, store.ErrFull): // people can still read the pages
		d.log.Error("nothing can be kept, and nobody can be told anything, until there is room again", "error", err)
	case err != nil:
		return d, err
	case cut > 0:
		d.log.Warn("the process before this one ended in the middle of work", "runs", cut)
	}
	if err := d.listen(ctx, d.address(o.Config)); err != nil {
		return d, err
	}
	e, err := d.newEngine(o.Config, nil)
	if err != nil {
		return d, err
	}
	d.swap(e)
	if err := e.start(); err != nil {
		return d, err
	}
	d.metrics.reloaded(d.now(), true)
	d.watchStore()
	d.log.Info("started", "version", o.Version, "listen", d.Addr(), "store", d.store.Path(), "ports", len(o.Config.Ports), "demo", o.Demo)
	return d, nil
}

// graceful bounds how long a stop may take.
const graceful = 10 * time.Second

// swap puts an engine to work and answers the one before.
func (d *Daemon) swap(e *engine) *engine {
	d.mu.Lock()
	defer d.mu.Unlock()
	before := d.engine
	d.engine = e
	return before
}

func (d *Daemon) current() *engine {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.engine
}

// Stop ends the daemon: first it answers no more, then it ends its work, then
// it closes the store. Work under way is cancelled and made up after the next
// start.
func (d *Daemon) Stop(ctx context.Context) error {
	var errs []error
	if d.watched != nil {
		d.unwatch()
		<-d.watched
	}
	errs = append(errs, d.shutDoor(ctx))
	if e := d.swap(nil); e != nil {
		errs = append(errs, e.stop(ctx))
	}
	if d.store != nil {
		errs = append(errs, d.store.Close())
		d.store = nil
	}
	errs = append(errs, d.lock.Release())
	d.lock = nil
	if d.dry != "" {
		errs = append(errs, os.RemoveAll(d.dry))
	}
	return errors.Join(errs...)
}

// Reload reads the configuration again and, if all of it can be built, works
// by it from now on, at its address to listen on too. Otherwise nothing changes.
func (d *Daemon) Reload(ctx context.Context) (err error) {
	d.reloading.Lock()
	defer d.reloading.Unlock()
	defer func() {
		d.metrics.reloaded(d.now(), err == nil)
		if err != nil {
			d.log.Error("the configuration was not taken: the one before still counts", "error", err)
		}
	}()
	if d.o.Load == nil {
		return errors.New("reload: there is no configuration file to read again")
	}
	cfg, err := d.o.Load()
	if err != nil {
		return fmt.Errorf("reload: %w", err)
	}
	before := d.current()
	if before == nil {
		return errors.New("reload: the daemon is not running")
	}
	next, err := d.newEngine(cfg, before)
	if err != nil {
		return fmt.Errorf("reload: %w", err)
	}
	stopping, cancel := context.WithTimeout(context.WithoutCancel(ctx), graceful)
	defer cancel()
	if err := d.move(stopping, d.address(before.cfg), d.address(cfg)); err != nil {
		next.cancel()
		return fmt.Errorf("reload: %w", errors.Join(err, next.app.Stop(stopping)))
	}
	if err := before.stop(stopping); err != nil {
		d.log.Warn("the work before the reload did not end cleanly", "error", err)
	}
	next.outbox.TakeOver(before.outbox)
	d.swap(next)
	if err := next.start(); err != nil {
		return fmt.Errorf("reload: start: %w", err)
	}
	d.log.Info("the configuration was read again", "ports", len(cfg.Ports), "people", len(cfg.People))
	return nil
}

// Alive tells whether the daemon still does its work: the sources are asked
// again and again, whatever they answer.
func (d *Daemon) Alive() bool {
	e := d.current()
	if e == nil {
		return true // between two configurations
	}
	for _, p := range e.cfg.Ports {
		last := e.sees.of(p.Name).At
		if last.IsZero() {
			last = e.sees.began
		}
		if d.now().Sub(last) > 6*e.cfg.Daemon.CollectEvery {
			return false
		}
	}
	return true
}

// Config is the configuration at work.
func (d *Daemon) Config() *config.Config {
	if e := d.current(); e != nil {
		return e.cfg
	}
	return d.o.Config
}

// RunNow runs a job at once and returns how it ended.
func (d *Daemon) RunNow(ctx context.Context, job string) error {
	e := d.current()
	if e == nil {
		return errors.New("the daemon is not running")
	}
	return e.runner.RunNow(ctx, job)
}
