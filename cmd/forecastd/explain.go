package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"forecastd/internal/app"
)

const aboutExplain = `
Tells what became of a run of the daemon, or of a call made by hand: why it
ran, how it ended, what was asked and answered, what it kept, what was missing.

  forecastd explain last
  forecastd explain 17
  forecastd explain list`

func runExplain(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "explain", "RUN|last|list [flags]", aboutExplain)
	var s sayFlags
	s.add(fs)
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if len(rest) != 1 {
		return fail(w.stderr, exitUsage, errors.New("explain needs one run: its number, last, or list"))
	}
	if rest[0] == "list" {
		return s.say(ctx, w, needsOld, func(a *app.App, out io.Writer) error {
			const newest = 40
			list, err := a.RunLines(ctx, newest)
			lines(out, list, "no run is kept yet")
			return err
		})
	}
	a, err := s.data.openWith(ctx, w, needsOld)
	if err != nil {
		return s.failed(w, err)
	}
	defer s.data.done(w, a)
	text, err := a.Explain(ctx, rest[0])
	if err != nil {
		return s.failed(w, err)
	}
	_, err = fmt.Fprint(w.stdout, text)
	return written(w, err)
}
