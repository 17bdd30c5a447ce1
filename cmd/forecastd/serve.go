package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"os/signal"
	"path/filepath"
	"syscall"
	"time"

	"forecastd/config"
	"forecastd/internal/app"
)

const aboutServe = `
Runs for good: asks the services, remembers, makes the call each evening,
confirms it each morning, checks it in between, and tells the people that the
configuration names. At the address it listens on, by default of this machine
only, it answers people with the pages, and its operator at /healthz, /readyz
and /metrics; what it does it tells on standard error. SIGHUP reads the configuration again and takes it if it is
sound; SIGTERM ends it within ten seconds, and what it misses is made up after
the next start.

Exit codes: 0 told to end; 2 it could not start, and why.`

func runServe(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "serve", "[flags]", aboutServe)
	var data dataFlags
	data.add(fs)
	listen := fs.String("listen", "", "answer the pages and the operator at `ADDR`, as 127.0.0.1:8416 (else as configured; off: nowhere)")
	state := fs.String("state", "", "keep the store in `DIR` (else $STATE_DIRECTORY, else where the configuration's store was kept before, else beside the configuration; with -demo a temporary folder)")
	dry := fs.Bool("dry-run", false, "send no message, and print what would be sent")
	asJSON := fs.Bool("log-json", false, "log as JSON lines")
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if len(rest) > 0 {
		return fail(w.stderr, exitUsage, fmt.Errorf("serve takes no argument %q: give flags only", rest[0]))
	}
	var handler slog.Handler = slog.NewTextHandler(w.stderr, nil)
	if *asJSON {
		handler = slog.NewJSONHandler(w.stderr, nil)
	}
	o, clean, err := serveOptions(w, data, *state)
	if err != nil {
		return fail(w.stderr, exitUsage, err)
	}
	defer clean()
	o.Listen, o.Logger = *listen, slog.New(handler)
	if *dry {
		o.DryRun = w.stdout
	}
	if o.Demo {
		o.Logger.Info(app.DemoWords())
	}
	return serve(ctx, w, o)
}

// serveOptions are what the flags ask for. clean removes what was made for
// this run only.
func serveOptions(w world, data dataFlags, state string) (o app.ServeOptions, clean func(), err error) {
	clean = func() {}
	if o.Options, err = data.options(w); err != nil {
		return o, clean, err
	}
	o.Getenv = w.getenv
	if data.demo {
		if state == "" {
			if state, err = os.MkdirTemp("", "forecastd-demo-"); err != nil {
				return o, clean, fmt.Errorf("make a folder for the demo's store: %w", err)
			}
			made := state
			clean = func() { _ = os.RemoveAll(made) }
		}
		o.State = state
		return o, clean, nil
	}
	name, _, err := readConfig(w, data.config)
	if err != nil {
		return o, clean, err
	}
	o.Dir = filepath.Dir(name)
	o.Load = func() (*config.Config, error) { return data.load(w) }
	o.Search = storeSearch(w, name, state)
	o.State = o.Search.Find().Dir
	return o, clean, nil
}

// options are what the flags ask for, without building anything.
func (d *dataFlags) options(w world) (app.Options, error) {
	o := app.Options{Now: w.now, Version: version(), Transport: w.transport}
	if d.demo && (d.config != "" || d.replay != "") {
		return o, errors.New("-demo brings its own configuration and data: leave out -config and -replay")
	}
	if d.now != "" {
		at, err := time.Parse(time.RFC3339, d.now)
		if err != nil {
			return o, fmt.Errorf("-now %q is no time: write it as 2027-01-18T22:30:00Z", d.now)
		}
		start := w.now()
		o.Now = func() time.Time { return at.Add(w.now().Sub(start)) }
	}
	if d.demo {
		return app.DemoOptions(o, d.now != "")
	}
	cfg, err := d.load(w)
	if err != nil {
		return o, err
	}
	o.Config = cfg
	if d.replay != "" {
		return app.ReplayOptions(o, os.DirFS(d.replay), d.now != "")
	}
	return o, nil
}

// serve runs the daemon until ctx ends.
func serve(ctx context.Context, w world, o app.ServeOptions) int {
	d, err := app.StartDaemon(ctx, o)
	if err != nil {
		return fail(w.stderr, exitUsage, err)
	}
	manager := newManager(w.getenv)
	again := make(chan os.Signal, 1)
	signal.Notify(again, syscall.SIGHUP)
	defer signal.Stop(again)
	manager.tell("READY=1")
	beat, done := manager.heartbeat()
	defer done()
	for {
		select {
		case <-beat:
			if d.Alive() {
				manager.tell("WATCHDOG=1")
			}
		case <-again:
			manager.tell("RELOADING=1")
			_ = d.Reload(ctx) // logged, and the old configuration stays
			manager.tell("READY=1")
		case <-ctx.Done():
			manager.tell("STOPPING=1")
			o.Logger.Info("stopping")
			ending, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
			defer cancel()
			if err := d.Stop(ending); err != nil {
				return fail(w.stderr, exitPart, err)
			}
			return exitOK
		}
	}
}
