// Package app wires the rooms together: it builds the sources that a
// configuration asks for, keeps the life cycle, and holds the use cases
// behind each command. It never sees a flag, a signal or the environment, so
// that tests and other programs can embed it.
package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"forecastd/config"
	"forecastd/internal/fetch"
	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
	"forecastd/internal/store"
	"forecastd/internal/words"
)

// Options are what an App is made of. Config is needed; the rest has
// defaults.
type Options struct {
	Config *config.Config
	// Transport does the requests; nil means the real services.
	Transport http.RoundTripper
	// Now is the clock; nil means time.Now.
	Now func() time.Time
	// Logger hears what goes on; nil is silent.
	Logger *slog.Logger
	// Registerer gets the metrics; nil keeps them to ourselves.
	Registerer prometheus.Registerer
	// Version goes into the User-Agent.
	Version string
	// OnDate hears what the services' clocks say; see httpx.Options.
	OnDate func(host string, theirs, ours time.Time)
	// Demo marks everything told as invented data.
	Demo bool
	// Store remembers; nil remembers nothing. The App closes it when it
	// stops.
	Store *store.Store
	// StoreFault is why there is no store where one was wanted: calls go on
	// without it and say so.
	StoreFault error
	// Dir is the folder that file names in the configuration start from.
	Dir string
	// wrap goes around the transport, below limits and retries.
	wrap func(http.RoundTripper, func() time.Time) (http.RoundTripper, error)
}

// App is the service around one configuration.
type App struct {
	cfg     *config.Config
	now     func() time.Time
	log     *slog.Logger
	client  *httpx.Client
	demo    bool
	started bool
	store   *store.Store // nil: nothing is remembered
	// storeFault is why the store is not there.
	storeFault error
	dir        string

	mu         sync.Mutex
	collectors map[[2]string]*fetch.Collector     // by port and ground
	models     map[config.Product]map[string]view // by product and port

	// days are the days ahead that were judged, calls the trips.
	days  *held[[]models.DayOutlook]
	calls *held[models.Call]

	// closers are torn down last first.
	closers []closer
}

type closer struct {
	name string
	stop func(context.Context) error
}

// New builds an App without asking anybody anything.
func New(o Options) (*App, error) {
	if o.Config == nil {
		return nil, errors.New("app: a configuration is needed")
	}
	a, err := newBare(o, o.Config.Sources.Contact)
	if err != nil {
		return nil, err
	}
	a.cfg = o.Config
	a.store, a.storeFault, a.dir = o.Store, o.StoreFault, o.Dir
	if a.store != nil {
		a.onStop("store", func(context.Context) error { return a.store.Close() })
	}
	return a, nil
}

// newBare builds what asks the services, without a configuration. The contact
// is an e-mail address.
func newBare(o Options, contact string) (*App, error) {
	if err := words.Check(); err != nil {
		return nil, err
	}
	a := &App{now: o.Now, log: o.Logger, demo: o.Demo, collectors: map[[2]string]*fetch.Collector{}, models: map[config.Product]map[string]view{},
		days: newHeld[[]models.DayOutlook](mostDays), calls: newHeld[models.Call](mostCalls)}
	if a.now == nil {
		a.now = time.Now
	}
	if a.log == nil {
		a.log = slog.New(slog.DiscardHandler)
	}
	transport, limits := o.Transport, map[string]httpx.Limit(nil)
	if transport == nil {
		live := httpx.LiveTransport()
		transport, limits = live, httpx.PoliteLimits()
		a.onStop("connections", func(context.Context) error { live.CloseIdleConnections(); return nil })
	}
	if o.wrap != nil {
		var err error
		if transport, err = o.wrap(transport, a.now); err != nil {
			return nil, err
		}
	}
	version := o.Version
	if version == "" {
		version = "dev"
	}
	client, err := httpx.New(httpx.Options{
		Transport: transport, UserAgent: fmt.Sprintf("forecastd/%s (%s)", version, contact),
		Now: a.now, Registerer: o.Registerer, Logger: a.log, Limits: limits, OnDate: o.OnDate,
	})
	if err != nil {
		return nil, fmt.Errorf("build the client: %w", err)
	}
	a.client = client
	return a, nil
}

// Config is what the App was built on. It is not to be changed.
func (a *App) Config() *config.Config { return a.cfg }

// Start begins the life of the App. It may be called once.
func (a *App) Start(context.Context) error {
	if a.started {
		return errors.New("app: started already")
	}
	a.started = true
	a.log.Info("started", "port", a.cfg.Ports[0].Name, "demo", a.demo)
	return nil
}

// Stop ends it: what was opened last is closed first, all within ctx.
func (a *App) Stop(ctx context.Context) error {
	var errs []error
	for i := len(a.closers) - 1; i >= 0; i-- {
		if err := a.closers[i].stop(ctx); err != nil {
			errs = append(errs, fmt.Errorf("stop %s: %w", a.closers[i].name, err))
		}
	}
	a.closers = nil
	return errors.Join(errs...)
}

func (a *App) onStop(name string, stop func(context.Context) error) {
	a.closers = append(a.closers, closer{name, stop})
}

// place finds a port and a ground by name; empty names mean the first.
func (a *App) place(port, ground string) (config.Port, config.Ground, error) {
	for _, p := range a.cfg.Ports {
		if port != "" && p.Name != port {
			continue
		}
		if ground == "" {
			return p, p.Grounds[0], nil
		}
		if g, ok := p.Ground(ground); ok {
			return p, g, nil
		}
		if port != "" {
			break
		}
	}
	return config.Port{}, config.Ground{}, fmt.Errorf("the configuration has no ground %q at port %q", ground, port)
}
