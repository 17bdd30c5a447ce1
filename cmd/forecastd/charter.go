package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/mail"
	"strings"

	"forecastd/internal/app"
	"forecastd/internal/models"
)

const aboutCharter = `
Keeps the bookings. What is not said is as on the configuration's usual trip.
A charter of the same name and day is updated, not doubled.

  forecastd charter add -date 2027-01-21 -name "the Okafors" -party family -guests 5
  forecastd charter list
  forecastd charter move "the Okafors" -date 2027-01-23 -start 08:00
  forecastd charter cancel "the Okafors" -why "north wind"

move and cancel take the name, or the date, of a booking from anywhere: the
configuration, the file or the calendar it names, or this command.`

func runCharter(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "charter", "add|list|move|cancel [NAME] [flags]", aboutCharter)
	var s sayFlags
	s.add(fs)
	var c charterFlags
	fs.StringVar(&c.date, "date", "", "the `DATE`, as 2027-01-21")
	fs.StringVar(&c.name, "name", "", "`NAME`: how the guests are addressed")
	fs.StringVar(&c.start, "start", "", "leave the dock at `TIME`, as 07:30")
	fs.StringVar(&c.end, "end", "", "be back at `TIME`, as 15:30")
	fs.StringVar(&c.party, "party", "", "experienced, mixed or family (any first-timer or child)")
	fs.StringVar(&c.kind, "kind", "", "charter, tournament or own")
	fs.StringVar(&c.ground, "ground", "", "the `NAME` of the ground")
	fs.StringVar(&c.contact, "contact", "", "the guests' e-mail `ADDRESS`")
	fs.IntVar(&c.guests, "guests", -1, "how many come")
	fs.StringVar(&c.why, "why", "", "the `REASON` for a move or a cancellation")
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	what := "list"
	if len(rest) > 0 {
		what, rest = rest[0], rest[1:]
	}
	if c.name == "" {
		c.name, rest = strings.Join(rest, " "), nil
	}
	if len(rest) > 0 {
		return fail(w.stderr, exitUsage, fmt.Errorf("the name is given twice: %q and %q", c.name, strings.Join(rest, " ")))
	}
	req, err := c.read()
	if err != nil {
		return fail(w.stderr, exitUsage, err)
	}
	req.Port = s.port
	none := models.Date{}
	switch what {
	case "list":
		return s.say(ctx, w, remembers, func(a *app.App, out io.Writer) error { return listCharters(ctx, a, s.port, out) })
	case "add":
		if req.Date == none {
			return fail(w.stderr, exitUsage, errors.New("charter add needs the day: -date 2027-01-21"))
		}
		return s.tell(ctx, w, func(a *app.App) ([]string, error) { return a.AddCharter(ctx, req) })
	case "move":
		switch {
		case c.name == "":
			return fail(w.stderr, exitUsage, errors.New("charter move needs the name or the date of a booking"))
		case req.Date == none:
			return fail(w.stderr, exitUsage, errors.New("charter move needs the new day: -date 2027-01-23"))
		}
		return s.tell(ctx, w, func(a *app.App) ([]string, error) {
			return a.MoveCharter(ctx, s.port, c.name, req.Date, req.Start, req.End, c.why)
		})
	case "cancel":
		if c.name == "" {
			return fail(w.stderr, exitUsage, errors.New("charter cancel needs the name or the date of a booking"))
		}
		return s.tell(ctx, w, func(a *app.App) ([]string, error) { return a.CancelCharter(ctx, s.port, c.name, c.why) })
	}
	return fail(w.stderr, exitUsage, fmt.Errorf("charter knows no %q: write add, list, move or cancel", what))
}

// tell runs what answers in sentences.
func (s *sayFlags) tell(ctx context.Context, w world, do func(*app.App) ([]string, error)) int {
	return s.say(ctx, w, needs, func(a *app.App, out io.Writer) error {
		told, err := do(a)
		for _, l := range told {
			fmt.Fprintln(out, l)
		}
		return err
	})
}

func listCharters(ctx context.Context, a *app.App, port string, out io.Writer) error {
	list, problems, err := a.Charters(ctx, port)
	if err != nil {
		return err
	}
	var told []string
	for _, b := range list {
		told = append(told, b.String())
	}
	lines(out, told, "nothing is booked from today on")
	if len(problems) > 0 {
		fmt.Fprint(out, "\nTo mind\n")
		for _, p := range problems {
			entry(out, "", p)
		}
	}
	return nil
}

type charterFlags struct {
	date, name, start, end, party, kind, ground, contact, why string
	guests                                                    int
}

func (c charterFlags) read() (req app.CharterRequest, err error) {
	req = app.CharterRequest{Name: c.name, Ground: c.ground}
	if c.date != "" {
		if req.Date, err = models.ParseDate(c.date); err != nil {
			return req, err
		}
	}
	for _, t := range []struct {
		s  string
		to *models.Opt[models.Clock]
	}{{c.start, &req.Start}, {c.end, &req.End}} {
		if t.s == "" {
			continue
		}
		v, err := models.ParseClock(t.s)
		if err != nil {
			return req, err
		}
		*t.to = models.Known(v)
	}
	party, err := oneOf("party", c.party, models.Experienced, models.Mixed, models.Family)
	if err != nil {
		return req, err
	}
	if party != "" {
		req.Party = models.Known(party)
	}
	kind, err := oneOf("kind", c.kind, models.Charter, models.Tournament, models.OwnTrip)
	if err != nil {
		return req, err
	}
	if kind != "" {
		req.Kind = models.Known(kind)
	}
	const most = 149 // more is no boat of this kind
	switch {
	case c.guests > most || c.guests < -1:
		return req, fmt.Errorf("-guests %d can't be right: write 0 to %d", c.guests, most)
	case c.guests >= 0:
		req.Guests = models.Known(c.guests)
	}
	if c.contact != "" {
		addr, err := mail.ParseAddress(c.contact)
		if err != nil {
			return req, fmt.Errorf("-contact %q is no e-mail address: write one, as guest@example.com", c.contact)
		}
		req.Contact = addr.Address
	}
	return req, nil
}
