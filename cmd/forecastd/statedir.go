package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"forecastd/internal/app"
)

// storeSearch is where the store of a configuration is looked for.
func storeSearch(w world, name, state string) app.StoreSearch {
	s := app.StoreSearch{Config: name, State: state}
	// systemd may name several folders; the first one is ours.
	if list := filepath.SplitList(w.getenv("STATE_DIRECTORY")); len(list) > 0 {
		s.Environment = list[0]
	}
	if list := filepath.SplitList(w.getenv("RUNTIME_DIRECTORY")); len(list) > 0 {
		s.Runtime = append(s.Runtime, list[0])
	}
	s.Runtime = append(s.Runtime, w.path("/run/forecastd"))
	if whole, err := filepath.Abs(name); err == nil && whole == w.path(systemConfig) {
		s.Packaged = w.path("/var/lib/forecastd")
	}
	return s
}

// systemConfig is where the configuration of a packaged daemon is.
const systemConfig = "/etc/forecastd/forecastd.yaml"

// path is a place of the system.
func (w world) path(name string) string { return filepath.Join(w.root, filepath.FromSlash(name)) }

// place tells where the store is, and says to people which one where that is
// not plain.
func (d *dataFlags) place(w world) (app.StorePlace, error) {
	if d.demo {
		if d.state != "" {
			return app.StorePlace{Dir: d.state, Asked: true}, nil
		}
		var err error
		if d.temp == "" {
			d.temp, err = os.MkdirTemp("", "forecastd-demo-")
		}
		return app.StorePlace{Dir: d.temp}, err
	}
	name, _, err := readConfig(w, d.config)
	if err != nil && d.state != "" {
		return app.StorePlace{Dir: d.state, Asked: true}, nil // restore needs no configuration
	}
	if err != nil {
		return app.StorePlace{}, err
	}
	p := storeSearch(w, name, d.state).Find()
	for _, said := range p.Said {
		fail(w.stderr, exitOK, errors.New(said))
	}
	return p, nil
}

// storeAt opens the store for a command that can't do without. Nobody but the
// daemon begins one in the daemon's place, and where one is begun people are
// told.
func (d *dataFlags) storeAt(ctx context.Context, w world, use storeUse, o *app.Options) error {
	p, err := d.place(w)
	if err != nil {
		return err
	}
	begins := use == needs && !p.Daemons || d.temp != ""
	fresh := d.temp == "" && !app.StoreThere(p.Dir)
	if o.Store, err = app.OpenStore(ctx, p.Dir, !begins, w.now, nil); err != nil {
		return whose(p, err)
	}
	switch {
	case o.Store == nil:
		return fmt.Errorf("%w: there is no store in %s; reports, bookings and forecastd serve begin one", errNoStore, p.Dir)
	case begins && fresh:
		fail(w.stderr, exitOK, fmt.Errorf("a store is begun in %s", p.Dir))
	}
	return nil
}

// whose adds to a refusal that the store is the daemon's.
func whose(p app.StorePlace, err error) error {
	if p.Daemons && errors.Is(err, fs.ErrPermission) {
		return fmt.Errorf("%w\nnothing was changed: run the command as root or as the daemon's user", err)
	}
	return err
}
