package main

import (
	"bufio"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"strings"

	"forecastd/internal/app"
)

// byCommand is who speaks by a command.
const byCommand = "command"

// sayFlags are those of the commands that keep or show what people say.
type sayFlags struct {
	data dataFlags
	port string
}

func (s *sayFlags) add(fs *flag.FlagSet) {
	s.data.says = true
	fs.StringVar(&s.data.config, "config", "", "read the configuration from `FILE` (else $FORECASTD_CONFIG, ./forecastd.yaml, /etc/forecastd/forecastd.yaml)")
	fs.BoolVar(&s.data.demo, "demo", false, "use the built-in invented boat and coast; what is said is forgotten unless -state is given")
	fs.StringVar(&s.data.now, "now", "", "act as if it were `TIME` (RFC 3339)")
	fs.StringVar(&s.data.state, "state", "", "keep the store in `DIR` (else $STATE_DIRECTORY, else where a daemon of the configuration keeps it, else beside the configuration)")
	fs.StringVar(&s.port, "port", "", "speak of the port of this `NAME` (else the first)")
}

// say opens the app with a store, lets do write its answer, and ends it all.
func (s *sayFlags) say(ctx context.Context, w world, use storeUse, do func(a *app.App, out io.Writer) error) int {
	a, err := s.data.openWith(ctx, w, use)
	if err != nil {
		return s.failed(w, err)
	}
	defer s.data.done(w, a)
	out := bufio.NewWriter(w.stdout)
	head(out, a.Notice())
	if err := do(a, out); err != nil {
		return s.failed(w, err)
	}
	if s.data.temp != "" && use == needs {
		fmt.Fprint(out, "\nThis demo forgets it again: -state DIR keeps it.\n")
	}
	return written(w, out.Flush())
}

func (s *sayFlags) failed(w world, err error) int {
	if errors.Is(err, errNoStore) || errors.Is(err, app.ErrNoRun) {
		return fail(w.stderr, exitNoCall, err)
	}
	return fail(w.stderr, exitUsage, err)
}

// lines prints a line each, or what to say where there is none.
func lines(out io.Writer, list []string, none string) {
	if len(list) == 0 {
		fmt.Fprintln(out, none)
		return
	}
	for _, l := range list {
		fmt.Fprintln(out, l)
	}
}

// listing tells whether a command without arguments, or with "list", is asked
// to show what there is.
func listing(rest []string) bool { return len(rest) == 0 || len(rest) == 1 && rest[0] == "list" }

const aboutReport = `
Keeps what somebody on the water has seen, with the time. The newest word on
each thing goes into the calls until it has aged out; without arguments it
shows what counts now.

  forecastd report fish-on-top today      or yesterday, or none; by date
  forecastd report showering yes          or no; counts for 36 hours
  forecastd report edge in 140 ft         or in, or out; counts for 36 hours
  forecastd report water "clean green"    or clear, "blue edge", dirty; 36 hours
  forecastd report inlet from 13:00       the next 13:00, to that day's end
  forecastd report inlet ok               takes it back`

func runReport(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "report", "[WHAT WORD ...] [flags]", aboutReport)
	var s sayFlags
	s.add(fs)
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if listing(rest) {
		return s.say(ctx, w, needsOld, func(a *app.App, out io.Writer) error {
			list, err := a.Reported(ctx, s.port)
			lines(out, list, "nothing was reported that still counts")
			return err
		})
	}
	return s.say(ctx, w, needs, func(a *app.App, out io.Writer) error {
		told, err := a.Report(ctx, s.port, rest, byCommand)
		if err == nil {
			fmt.Fprintln(out, a.Say(s.port, told))
		}
		return err
	})
}

const aboutApprove = `
Shows the messages to guests that wait for the captain's word, and with the ID
of one (its first characters will do) lets the daemon send it, or with -refuse
drops it. What is approved can't be taken back.`

func runApprove(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "approve", "[ID] [flags]", aboutApprove)
	var s sayFlags
	s.add(fs)
	refuse := fs.Bool("refuse", false, "drop it instead: nothing is sent")
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if len(rest) > 1 {
		return fail(w.stderr, exitUsage, fmt.Errorf("approve takes one ID, not %q as well: each is answered by itself", rest[1]))
	}
	return s.say(ctx, w, needsOld, func(a *app.App, out io.Writer) error {
		if !listing(rest) {
			told, err := a.AnswerDraft(ctx, rest[0], !*refuse, byCommand)
			if err == nil {
				fmt.Fprintln(out, told)
			}
			return err
		}
		if *refuse {
			return errors.New("-refuse needs the ID of a draft")
		}
		drafts, err := a.Drafts(ctx)
		if err != nil {
			return err
		}
		if len(drafts) == 0 {
			fmt.Fprintln(out, "no message to guests waits for your word")
		}
		for i, d := range drafts {
			if i > 0 {
				fmt.Fprintln(out)
			}
			fmt.Fprintf(out, "%s\n  for the trip of %s, to %s; open until %s\n  %s\n", d.ID, d.Date, d.Message.Person, d.Expires.Format("2006-01-02 15:04 UTC"), d.Message.Subject)
			for line := range strings.Lines(d.Message.Text) {
				fmt.Fprintf(out, "  | %s\n", strings.TrimRight(line, "\n"))
			}
		}
		return nil
	})
}

const aboutScore = `
Holds the forecasts that were kept against what the configured stations
reported later, source by source and day of lead by day of lead, and our own
calls against the stations and the captain's log; with how many cases each
line rests on.`

func runScore(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "score", "[flags]", aboutScore)
	var s sayFlags
	s.add(fs)
	ground := fs.String("ground", "", "score the ground of this `NAME` (else the port's first)")
	days := fs.Int("days", 120, "look back `N` days")
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if len(rest) > 0 {
		return fail(w.stderr, exitUsage, fmt.Errorf("score takes no argument %q: give flags only", rest[0]))
	}
	if *days < 1 || *days > 3650 {
		return fail(w.stderr, exitUsage, fmt.Errorf("-days %d can't be right: write 1 to 3650", *days))
	}
	a, err := s.data.openWith(ctx, w, needsOld)
	if err != nil {
		return s.failed(w, err)
	}
	defer s.data.done(w, a)
	score, err := a.Score(ctx, s.port, *ground, *days)
	if err != nil {
		return s.failed(w, err)
	}
	_, err = io.WriteString(w.stdout, a.ScoreText(score))
	return written(w, err)
}
