package main

import (
	"context"
	"fmt"
	"path/filepath"

	"forecastd/internal/app"
)

const aboutTest = `
Sends a test message by each way to each person of the configuration, at once,
and says what came of it. It goes by the same mail server and the same secrets
as the daemon, which need not run: run it as a user who can read them.

Exit codes: 0 all were taken over; 1 some; 2 the command line or the
configuration is wrong; 3 none.`

func runTest(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "test", "[flags]", aboutTest)
	var data dataFlags
	fs.StringVar(&data.config, "config", "", "read the configuration from `FILE` (else $FORECASTD_CONFIG, ./forecastd.yaml, /etc/forecastd/forecastd.yaml)")
	person := fs.String("person", "", "only to the person of this `NAME`")
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if len(rest) > 0 {
		return fail(w.stderr, exitUsage, fmt.Errorf("test takes no argument %q: name a person with -person", rest[0]))
	}
	o, err := data.options(w)
	if err != nil {
		return fail(w.stderr, exitUsage, err)
	}
	name, _, err := readConfig(w, data.config)
	if err != nil {
		return fail(w.stderr, exitUsage, err)
	}
	o.Dir = filepath.Dir(name)
	took, failed := 0, 0
	var lost error
	err = app.SendTests(ctx, app.ServeOptions{Options: o, Getenv: w.getenv}, *person, func(t app.Tried) {
		if t.Err != nil {
			failed++
		} else {
			took++
		}
		if _, err := fmt.Fprintln(w.stdout, t); err != nil {
			lost = err
		}
	})
	switch {
	case err != nil:
		return fail(w.stderr, exitUsage, err)
	case took == 0:
		return exitNoCall
	case failed > 0:
		return max(written(w, lost), exitPart)
	}
	return written(w, lost)
}
