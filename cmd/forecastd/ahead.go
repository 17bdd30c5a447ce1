package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"forecastd/internal/app"
)

const aboutDays = `
Tells up to ten days ahead: each day's likely tactic, hours, ride and
confidence, where it lies against a front, and the best days for each party.`

func runDays(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "days", "[flags]", aboutDays)
	var data dataFlags
	data.add(fs)
	data.addState(fs)
	var in app.Telling
	addTelling(fs, &in)
	port := fs.String("port", "", "tell of the port of this `NAME` (else the first)")
	ground := fs.String("ground", "", "tell of the ground of this `NAME` (else the port's first)")
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if len(rest) > 0 {
		return fail(w.stderr, exitUsage, fmt.Errorf("days takes no argument %q: give flags only", rest[0]))
	}
	a, err := data.openWith(ctx, w, remembers)
	if err != nil {
		return fail(w.stderr, exitUsage, err)
	}
	defer data.done(w, a)
	text, err := a.DaysText(ctx, *port, *ground, in)
	if err != nil {
		return tell(w, err)
	}
	_, err = io.WriteString(w.stdout, text)
	return max(written(w, err), data.code())
}

const aboutLoad = `
Prints the load list for the day called, that of the next trip that can still be
made where no day is named: what goes aboard, how many, for which position of the spread, and where it lives. A day with several trips
has a list for all of them, which tells what is for which; -trip picks one.`

func runLoad(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "load", "[flags]", aboutLoad)
	var from source
	from.add(fs)
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if len(rest) > 0 {
		return fail(w.stderr, exitUsage, fmt.Errorf("load takes no argument %q: give flags only", rest[0]))
	}
	list, _, code := from.calls(ctx, w)
	if code != exitOK {
		return code
	}
	_, err := io.WriteString(w.stdout, app.LoadLists(list))
	return max(written(w, err), from.data.code())
}

const aboutWhatIf = `
Shows the call beside what it would be if some things were otherwise. Each
change is one argument in quotes:

  "wind +5kn"  "gust -3kn"  "sea +2ft"  "front 3h later"  "front 2h earlier"
  "current off"  "current turned"  "current +1kn"  "thunder +20"  "cloud 80"
  "rain 10"  "visibility 0.5nmi"  "helium off"

It changes no forecast and no warning.`

func runWhatIf(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "whatif", "[flags] CHANGE ...", aboutWhatIf)
	var from source
	from.add(fs)
	changes, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if len(changes) == 0 {
		return fail(w.stderr, exitUsage, errors.New(`whatif needs a change, as "wind +5kn": see forecastd whatif -h`))
	}
	list, limits, code := from.calls(ctx, w)
	if code != exitOK {
		return code
	}
	var out strings.Builder
	for i, called := range list {
		text, err := called.WhatIf(changes, limits)
		if err != nil {
			return fail(w.stderr, exitUsage, err)
		}
		if i > 0 {
			out.WriteByte('\n')
		}
		out.WriteString(text)
	}
	_, err := io.WriteString(w.stdout, out.String())
	return max(written(w, err), from.data.code())
}

// tell prints why there is no call and answers the exit code.
func tell(w world, err error) int {
	var over *app.OverError
	if errors.As(err, &over) {
		// An answer, though no call: it goes where calls go, after the notice.
		head(w.stdout, over.Notice)
		fmt.Fprintln(w.stdout, over.Said)
		return exitNoCall
	}
	var none *app.NoCallError
	var noDays *app.NoDaysError
	if errors.As(err, &none) || errors.As(err, &noDays) {
		return fail(w.stderr, exitNoCall, err)
	}
	return fail(w.stderr, exitUsage, err)
}
