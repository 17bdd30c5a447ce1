package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"time"

	"forecastd/internal/app"
	"forecastd/internal/models"
)

const aboutCall = `
Makes the call for the next trip that can still be made: until today's trip has
left that is today's, then tomorrow's. Official warnings come first, then tactic,
times and confidence, the hours, the reasons, what would change it, and what is
missing. Where there is a store, it minds what was reported,
overridden, counted and booked, and is kept there itself.

A day with several bookings has a call for each, in order of time; each leaves
the boat its time at the dock. -trip picks one. With -json a day with one trip
prints one document over many lines, a day with several one document a line.

With -outlook it judges the hours in a file instead of asking the services, and
needs no configuration.`

// source says what a call is made of: the sources, or an outlook in a file.
type source struct {
	data                             dataFlags
	day, port, ground, trip, outlook string
	in                               app.Telling
	// keeps tells that the call is kept in the store, machine that it is
	// answered in a document, and that words go beside it.
	keeps, machine bool
}

func (s *source) add(fs *flag.FlagSet) {
	s.data.add(fs)
	s.data.addState(fs)
	addTelling(fs, &s.in)
	fs.StringVar(&s.day, "day", "", "call `DAY`: today, tomorrow or a date as 2027-01-19 (else that of the next trip that can still be made)")
	fs.StringVar(&s.port, "port", "", "call for the port of this `NAME` (else the first)")
	fs.StringVar(&s.ground, "ground", "", "call for the ground of this `NAME` (else that of the booking, else the port's first)")
	fs.StringVar(&s.trip, "trip", "", "of several trips of the day only this: its `NUMBER` in order of time, or the name of its guests")
	fs.StringVar(&s.outlook, "outlook", "", "judge the outlook in `FILE` (- is standard input)")
}

// calls makes the calls of the day's trips, at least one, or tells why not;
// then code is not exitOK. Of a trip that no call could be made of it tells why.
func (s *source) calls(ctx context.Context, w world) (list []app.Called, limits models.Limits, code int) {
	var err error
	if s.outlook != "" {
		var called app.Called
		called, limits, err = callFile(w, s.data, s.outlook)
		list = []app.Called{called}
		if err == nil && s.trip != "" {
			err = errors.New("-outlook is of one trip: leave out -trip")
		}
	} else {
		list, limits, err = callNow(ctx, w, s)
	}
	if s.machine {
		w.stdout = w.stderr
	}
	if err != nil {
		return nil, limits, tell(w, err)
	}
	var made []app.Called
	for _, c := range list {
		if c.Fault != nil {
			s.data.part = true
			fail(w.stderr, exitPart, fmt.Errorf("the trip of %s: %w", c.TripName(), c.Fault))
			continue
		}
		made = append(made, c.Told(s.in))
	}
	return made, limits, exitOK
}

func runCall(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "call", "[flags]", aboutCall)
	var from source
	from.add(fs)
	from.keeps = true
	asJSON := fs.Bool("json", false, "print the call document as JSON")
	explain := fs.Bool("explain", false, "show every factor of every hour")
	save := fs.String("save-outlook", "", "write the outlook that was judged to `FILE` (- is standard output, then nothing else is printed)")
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if len(rest) > 0 {
		return fail(w.stderr, exitUsage, fmt.Errorf("call takes no argument %q: give flags only", rest[0]))
	}
	from.machine = *asJSON || *save == "-"
	list, _, code := from.calls(ctx, w)
	if code != exitOK {
		return code
	}
	if *save != "" {
		if len(list) > 1 {
			return fail(w.stderr, exitUsage, fmt.Errorf("-save-outlook writes one trip and the day has %d: pick one with -trip", len(list)))
		}
		b, err := list[0].OutlookFile()
		if err == nil {
			err = writeFile(w, *save, b)
		}
		if err != nil {
			return fail(w.stderr, exitUsage, err)
		}
		if *save == "-" {
			return from.data.code()
		}
	}
	if *asJSON {
		b, err := app.CallsJSON(list, *explain)
		if err != nil {
			return fail(w.stderr, exitPart, err)
		}
		_, err = w.stdout.Write(b)
		return max(written(w, err), from.data.code())
	}
	_, err := io.WriteString(w.stdout, app.CallsText(list, *explain))
	return max(written(w, err), from.data.code())
}

func written(w world, err error) int {
	if err != nil {
		return fail(w.stderr, exitPart, fmt.Errorf("print the answer: %w", err))
	}
	return exitOK
}

func callFile(w world, data dataFlags, name string) (app.Called, models.Limits, error) {
	limits, in := models.DefaultLimits(), app.Telling{}
	if data.demo || data.replay != "" || data.state != "" {
		return app.Called{}, limits, errors.New("-outlook brings its own data: leave out -demo, -replay and -state")
	}
	b, err := readAll(name)
	if err != nil {
		return app.Called{}, limits, err
	}
	if data.config != "" {
		cfg, err := data.load(w)
		if err != nil {
			return app.Called{}, limits, err
		}
		limits, in = cfg.Limits, app.Configured(cfg)
	}
	var now models.Opt[time.Time]
	if data.now != "" {
		at, err := time.Parse(time.RFC3339, data.now)
		if err != nil {
			return app.Called{}, limits, fmt.Errorf("-now %q is no time: write it as 2027-01-18T22:30:00Z", data.now)
		}
		now = models.Known(at.UTC())
	}
	called, err := app.CallOutlookFile(b, limits, now)
	return called.Told(in), limits, err
}

func readAll(name string) ([]byte, error) {
	if name == "-" {
		b, err := io.ReadAll(os.Stdin)
		if err != nil {
			return nil, fmt.Errorf("read the outlook: %w", err)
		}
		return b, nil
	}
	b, err := os.ReadFile(name)
	if err != nil {
		return nil, fmt.Errorf("read the outlook: %w", err)
	}
	return b, nil
}

func callNow(ctx context.Context, w world, from *source) ([]app.Called, models.Limits, error) {
	a, err := from.data.openWith(ctx, w, remembers)
	if err != nil {
		return nil, models.Limits{}, err
	}
	defer from.data.done(w, a)
	date, err := a.Day(from.day, from.port)
	if err != nil {
		return nil, models.Limits{}, err
	}
	req := app.CallRequest{Port: from.port, Ground: from.ground, Date: date, Trip: from.trip}
	if !from.keeps {
		list, err := a.CallsToCome(ctx, req)
		if err == nil {
			err = app.Faults(list)
		}
		return list, a.Limits(), err
	}
	list, kept, err := a.CallsByHand(ctx, req)
	if kept != nil {
		from.data.part = true
		fail(w.stderr, exitPart, fmt.Errorf("the call could not be kept: %w", kept))
	}
	return list, a.Limits(), err
}

// stopApp closes what the app opened, within a bound.
func stopApp(w world, a *app.App) {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	if err := a.Stop(ctx); err != nil {
		fail(w.stderr, exitPart, err)
	}
}
