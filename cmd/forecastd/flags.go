package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"forecastd/config"
	"forecastd/internal/app"
)

// flagSet makes the flags of a command. Its usage text says what the command
// does.
func flagSet(w world, name, args, about string) *flag.FlagSet {
	fs := flag.NewFlagSet(name, flag.ContinueOnError)
	fs.Usage = func() {
		fmt.Fprintf(fs.Output(), "usage: forecastd %s\n\n%s\n", strings.TrimSpace(name+" "+args), strings.TrimSpace(about))
		flags := 0
		fs.VisitAll(func(*flag.Flag) { flags++ })
		if flags > 0 {
			fmt.Fprint(fs.Output(), "\nflags:\n")
			fs.PrintDefaults()
		}
	}
	return fs
}

// parse reads flags wherever they stand and answers the other arguments.
// stop tells that the command is over, with which exit code. Help was asked
// for and goes to standard output; a mistake is told in a line.
func parse(fs *flag.FlagSet, w world, args []string) (rest []string, code int, stop bool) {
	usage := fs.Usage
	fs.Usage = func() {}
	fs.SetOutput(io.Discard)
	for {
		err := fs.Parse(args)
		if errors.Is(err, flag.ErrHelp) {
			fs.SetOutput(w.stdout)
			usage()
			return nil, exitOK, true
		}
		if err != nil {
			return nil, fail(w.stderr, exitUsage, fmt.Errorf("%w: forecastd %s -h tells the flags", err, fs.Name())), true
		}
		if fs.NArg() == 0 {
			return rest, exitOK, false
		}
		rest = append(rest, fs.Arg(0))
		args = fs.Args()[1:]
	}
}

// dataFlags say where configuration and data come from.
type dataFlags struct {
	config, replay, now, state string
	demo                       bool
	temp                       string // the demo's own state folder
	part                       bool   // the store could not be used
	says                       bool   // of what people say, whenever it is
}

func (d *dataFlags) add(fs *flag.FlagSet) {
	fs.StringVar(&d.config, "config", "", "read the configuration from `FILE` (else $FORECASTD_CONFIG, ./forecastd.yaml, /etc/forecastd/forecastd.yaml)")
	fs.BoolVar(&d.demo, "demo", false, "use the built-in invented boat, coast and weather")
	fs.StringVar(&d.replay, "replay", "", "answer every request from the recording in `DIR`, and from nowhere else")
	fs.StringVar(&d.now, "now", "", "act as if it were `TIME` (RFC 3339)")
}

// addState adds the flag that says where the store is.
func (d *dataFlags) addState(fs *flag.FlagSet) {
	fs.StringVar(&d.state, "state", "", "keep the store in `DIR` (else $STATE_DIRECTORY, else where a daemon of the configuration keeps it, else beside the configuration; a call with -replay or -now uses one only where it is given here)")
}

// addTelling adds the flags that say how a command tells.
func addTelling(fs *flag.FlagSet, in *app.Telling) {
	fs.Func("language", "tell it in `LANGUAGE`, a code such as en, es or pt (else as configured)", in.SetLanguage)
	fs.Func("units", "tell it in `UNITS`: nautical or metric (else as configured)", in.SetUnits)
}

// remember opens the store for a command that can do without: where there is
// none it goes without, and where it can't be used, it says so and goes on.
func (d *dataFlags) remember(ctx context.Context, w world, o *app.Options) error {
	if d.state == "" && (d.demo || d.replay != "" || d.now != "" && !d.says) {
		return nil
	}
	p, err := d.place(w)
	if err != nil {
		return err
	}
	o.Store, o.StoreFault = app.OpenStore(ctx, p.Dir, !p.Asked, w.now, nil)
	o.StoreFault = whose(p, o.StoreFault)
	if o.StoreFault != nil {
		d.part = true
		fail(w.stderr, exitPart, fmt.Errorf("goes on without what was reported and kept: %w", o.StoreFault))
	}
	return nil
}

// code is the exit code of what was made: in part, where the store could not
// be used.
func (d *dataFlags) code() int {
	if d.part {
		return exitPart
	}
	return exitOK
}

// done ends what open began.
func (d *dataFlags) done(w world, a *app.App) {
	stopApp(w, a)
	if d.temp != "" {
		if err := os.RemoveAll(d.temp); err != nil {
			fail(w.stderr, exitPart, err)
		}
	}
}

// storeUse says what a command wants of the store.
type storeUse int

const (
	noStore   storeUse = iota // has no use for it
	remembers                 // uses one that is there
	needsOld                  // reads one that must be there
	needs                     // makes one where there is none
)

// open builds the app that the flags ask for, without a store.
func (d *dataFlags) open(w world) (*app.App, error) {
	return d.openWith(context.Background(), w, noStore)
}

// errNoStore says that nothing was kept yet.
var errNoStore = errors.New("nothing is kept yet")

// openWith builds the app that the flags ask for. Its errors are for people.
func (d *dataFlags) openWith(ctx context.Context, w world, use storeUse) (*app.App, error) {
	if d.demo && (d.config != "" || d.replay != "") {
		return nil, errors.New("-demo brings its own configuration and data: leave out -config and -replay")
	}
	o := app.Options{Now: w.now, Version: version(), Transport: w.transport}
	a, err := d.build(ctx, w, use, &o)
	if err != nil && o.Store != nil {
		err = errors.Join(err, o.Store.Close())
	}
	if err != nil && d.temp != "" {
		err = errors.Join(err, os.RemoveAll(d.temp))
	}
	return a, err
}

func (d *dataFlags) build(ctx context.Context, w world, use storeUse, o *app.Options) (*app.App, error) {
	switch use {
	case remembers:
		if err := d.remember(ctx, w, o); err != nil {
			return nil, err
		}
	case needs, needsOld:
		if err := d.storeAt(ctx, w, use, o); err != nil {
			return nil, err
		}
	}
	if d.now != "" {
		at, err := time.Parse(time.RFC3339, d.now)
		if err != nil {
			return nil, fmt.Errorf("-now %q is no time: write it as 2027-01-18T22:30:00Z", d.now)
		}
		start := w.now()
		o.Now = func() time.Time { return at.Add(w.now().Sub(start)) }
	}
	if d.demo {
		return app.NewDemo(*o, d.now != "")
	}
	name, b, err := readConfig(w, d.config)
	if err != nil {
		return nil, err
	}
	if o.Config, err = config.Load(name, b); err != nil {
		return nil, err
	}
	o.Dir = filepath.Dir(name)
	if d.replay != "" {
		return app.NewReplay(*o, os.DirFS(d.replay), d.now != "")
	}
	return app.New(*o)
}

// load reads the configuration.
func (d *dataFlags) load(w world) (*config.Config, error) {
	name, b, err := readConfig(w, d.config)
	if err != nil {
		return nil, err
	}
	return config.Load(name, b)
}

func readConfig(w world, asked string) (string, []byte, error) {
	names := []string{"forecastd.yaml", w.path(systemConfig)}
	if env := w.getenv("FORECASTD_CONFIG"); env != "" {
		names = []string{env}
	}
	if asked != "" {
		names = []string{asked}
	}
	for _, name := range names {
		b, err := os.ReadFile(name)
		if errors.Is(err, os.ErrNotExist) && len(names) > 1 {
			continue
		}
		if err != nil {
			return name, nil, fmt.Errorf("read the configuration: %w", err)
		}
		return name, b, nil
	}
	return "", nil, fmt.Errorf("there is no configuration: neither %s exists; write one with `forecastd setup -at LAT,LON`, or try `forecastd call -demo`", strings.Join(names, " nor "))
}

// fail prints an error for people, one line a cause, and answers the code.
func fail(out io.Writer, code int, err error) int {
	for line := range strings.Lines(err.Error()) {
		fmt.Fprintf(out, "forecastd: %s\n", strings.TrimRight(line, "\n"))
	}
	return code
}

// writeFile writes what a flag asked to be kept; "-" is standard output.
func writeFile(w world, name string, b []byte) error {
	if name == "-" {
		_, err := w.stdout.Write(b)
		return err
	}
	if err := os.WriteFile(name, b, 0o644); err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	return nil
}
