package main

import (
	"context"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/app"
	"forecastd/internal/models"
)

const aboutOverride = `
Keeps the captain's word against one of the limits, with the reason, for a
while; every call that goes by it says so. Without arguments it shows what
holds.

  forecastd override "own limit" -why "guests asked for it, experienced crew"
  forecastd override "small craft advisory" -why "lee of the point" -until 2027-01-19T15:00:00-05:00
  forecastd override clear 3      clear alone ends all

What can be overridden: small craft advisory (or another advisory by its
official name), own limit, never limit, ride, inlet, visibility. Gales,
storms, watches and thunder can't be, and are refused. It lifts no official warning: the
decision and the duty stay with the licensed captain.`

func runOverride(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "override", "[WHAT -why REASON] [flags]", aboutOverride)
	var s sayFlags
	s.add(fs)
	why := fs.String("why", "", "the `REASON`, which every call tells")
	until := fs.String("until", "", "hold until `TIME` (RFC 3339; else the end of tomorrow)")
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if listing(rest) && *why == "" && *until == "" {
		return s.say(ctx, w, needsOld, func(a *app.App, out io.Writer) error {
			list, err := a.Overrides(ctx, s.port)
			lines(out, list, "no override holds")
			return err
		})
	}
	if len(rest) > 0 && rest[0] == "clear" {
		return s.clear(ctx, w, rest[1:])
	}
	var end models.Opt[time.Time]
	if *until != "" {
		at, err := time.Parse(time.RFC3339, *until)
		if err != nil {
			return fail(w.stderr, exitUsage, fmt.Errorf("-until %q is no time: write it as 2027-01-19T15:00:00-05:00", *until))
		}
		end = models.Known(at.UTC())
	}
	return s.say(ctx, w, needs, func(a *app.App, out io.Writer) error {
		told, err := a.Override(ctx, s.port, strings.Join(rest, " "), *why, end)
		if err == nil {
			fmt.Fprintln(out, told)
		}
		return err
	})
}

func (s *sayFlags) clear(ctx context.Context, w world, rest []string) int {
	id := int64(0)
	if len(rest) > 0 {
		n, err := strconv.ParseInt(rest[0], 10, 64)
		if err != nil || n < 1 || len(rest) > 1 {
			return fail(w.stderr, exitUsage, fmt.Errorf("%q is no number of an override: `forecastd override list` shows them", strings.Join(rest, " ")))
		}
		id = n
	}
	return s.say(ctx, w, needsOld, func(a *app.App, out io.Writer) error {
		told, err := a.ClearOverride(ctx, s.port, id)
		if err == nil {
			fmt.Fprintln(out, told)
		}
		return err
	})
}
