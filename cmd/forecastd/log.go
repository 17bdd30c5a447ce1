package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/models"
)

const aboutLog = `
Writes into the captain's log what a day was like, or shows the last days of
it. Tactic and ride are what forecastd score holds the calls against, days
stayed in too.

  forecastd log "two on the long bait, nothing on top" -tactic kite -ride ok
  forecastd log -day 2027-01-18 -tactic "stay in"
  forecastd log

-back says that the boat is back inside: those ashore who have the float plan
are then not told that it is overdue. Of several trips that are out it is the
earliest; it can stand with the rest of an entry.

  forecastd log -back`

func runLog(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "log", "[TEXT] [flags]", aboutLog)
	var s sayFlags
	s.add(fs)
	day := fs.String("day", "", "tell of `DATE`, as 2027-01-18 (else today)")
	tactic := fs.String("tactic", "", "how it was fished: kite, \"helium kite\", \"sight cast\", \"kite then sight cast\", \"sight cast then kite\", either, \"stay in\"")
	ride := fs.String("ride", "", "easy, ok, rough or no")
	wind := fs.String("wind", "", "the `WIND` met, as \"14 kn\"")
	sea := fs.String("sea", "", "the `SEA` met, as \"4 ft\"")
	raised := fs.Int("raised", -1, "how many fish were raised")
	caught := fs.Int("caught", -1, "how many fish were caught")
	back := fs.Bool("back", false, "check in: the boat is back inside (with -day, from the trip of that day)")
	days := fs.Int("days", 30, "show the last `N` days")
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	req := app.LogRequest{Port: s.port, Note: strings.Join(rest, " "), By: byCommand}
	says := len(rest) > 0 && !listing(rest)
	for _, f := range []string{*tactic, *ride, *wind, *sea} {
		says = says || f != ""
	}
	says = says || *raised >= 0 || *caught >= 0 || *day != "" && !*back
	if !says && !*back {
		if *days < 0 || *days > 3650 {
			return fail(w.stderr, exitUsage, fmt.Errorf("-days %d can't be right: write 0 to 3650", *days))
		}
		return s.say(ctx, w, needsOld, func(a *app.App, out io.Writer) error {
			list, err := a.LogLines(ctx, s.port, *days)
			lines(out, list, fmt.Sprintf("the log of the last %d days is empty", *days))
			return err
		})
	}
	if err := readLog(&req, *day, *tactic, *ride, *wind, *sea, *raised, *caught); err != nil {
		return fail(w.stderr, exitUsage, err)
	}
	return s.say(ctx, w, needs, func(a *app.App, out io.Writer) error {
		if *back {
			told, err := a.CheckIn(ctx, s.port, req.Date, "command")
			if err != nil {
				return err
			}
			fmt.Fprintln(out, told)
		}
		if !says {
			return nil
		}
		told, err := a.Log(ctx, req)
		if err == nil {
			fmt.Fprintln(out, told)
		}
		return err
	})
}

func readLog(req *app.LogRequest, day, tactic, ride, wind, sea string, raised, caught int) (err error) {
	if day != "" {
		if req.Date, err = models.ParseDate(day); err != nil {
			return err
		}
	}
	req.Tactic, err = oneOf("tactic", tactic, models.TacticKite, models.TacticHelium, models.TacticSight, models.TacticKiteSight,
		models.TacticSightKite, models.TacticEither, models.TacticStayIn)
	if err != nil {
		return err
	}
	if ride != "" {
		rides := []models.Ride{models.RideEasy, models.RideOK, models.RideRough, models.RideNo}
		for _, r := range rides {
			if r.String() == ride {
				req.Ride = models.Known(r)
			}
		}
		if !req.Ride.Known() {
			return fmt.Errorf("-ride %q is none of these: easy, ok, rough, no", ride)
		}
	}
	if wind != "" {
		v, err := config.ParseSpeed(wind)
		if err != nil {
			return fmt.Errorf("-wind: %w", err)
		}
		req.Wind = models.Known(v)
	}
	if sea != "" {
		v, err := config.ParseHeight(sea)
		if err != nil {
			return fmt.Errorf("-sea: %w", err)
		}
		req.Sea = models.Known(v)
	}
	if raised >= 0 {
		req.Raised = models.Known(raised)
	}
	if caught >= 0 {
		req.Caught = models.Known(caught)
	}
	return nil
}
