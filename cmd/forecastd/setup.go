package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/models"
)

const aboutSetup = `
Writes a commented configuration for a place. Zones, grid cell, time zone,
stations and predictions are looked up; what can't be had is left blank with
the reason. Nothing is overwritten unless -force is given. Boat, kites and
limits can't be looked up: change the starting values.

With -passphrase it reads a passphrase from standard input instead, for the
captain or the mate to log in to the pages with, and writes its hash to
forecastd.captain or forecastd.mate (else -o FILE).

Exit codes: 0 written; 1 written, but some services could not be asked; 2
nothing written.`

func runSetup(ctx context.Context, w world, args []string) int {
	flags := flagSet(w, "setup", "-at LAT,LON [flags]", aboutSetup)
	at := flags.String("at", "", "the mouth of the inlet at `LAT,LON`, as 27.2,-80.1 or \"27.2 N, 80.1 W\"")
	ground := flags.String("ground", "", "the ground at `LAT,LON`")
	name := flags.String("name", "", "the port's `NAME`")
	contact := flags.String("contact", "", "tell the services to write to `EMAIL` before they block (else $EMAIL)")
	to := flags.String("o", "forecastd.yaml", "write to `FILE` (- is standard output)")
	force := flags.Bool("force", false, "write over the file if there is one")
	role := flags.String("passphrase", "", "write the hash of the passphrase of `WHO`, captain or mate")
	rest, code, stop := parse(flags, w, args)
	if stop {
		return code
	}
	if len(rest) > 0 {
		return fail(w.stderr, exitUsage, fmt.Errorf("setup takes no argument %q: put a position with spaces in quotes", rest[0]))
	}
	if *role != "" {
		return setupPassphrase(w, *role, *to, *force)
	}
	req := app.SetupRequest{Name: *name, Contact: *contact}
	if req.Contact == "" {
		req.Contact = w.getenv("EMAIL")
	}
	if req.Contact != "" && !strings.Contains(req.Contact, "@") {
		return fail(w.stderr, exitUsage, fmt.Errorf("-contact %q is no e-mail address: write one, as captain@example.com", req.Contact))
	}
	var err error
	if *at == "" {
		return fail(w.stderr, exitUsage, errors.New("setup needs the place: forecastd setup -at 27.2,-80.1"))
	}
	if req.At, err = config.ParsePosition(*at); err != nil {
		return fail(w.stderr, exitUsage, fmt.Errorf("-at: %w", err))
	}
	if *ground != "" {
		g, err := config.ParsePosition(*ground)
		if err != nil {
			return fail(w.stderr, exitUsage, fmt.Errorf("-ground: %w", err))
		}
		req.Ground = models.Known(g)
	}
	if !*force && *to != "-" {
		// Asked before the services are, and again when it is written.
		if _, err := os.Lstat(*to); err == nil {
			return fail(w.stderr, exitUsage, exists(*to))
		}
	}
	d, err := app.Setup(ctx, app.Options{Now: w.now, Version: version(), Transport: w.transport}, req)
	if err == nil {
		err = writePrivate(w, *to, d.File, *force)
	}
	if err != nil {
		return fail(w.stderr, exitUsage, err)
	}
	say := w.stdout
	if *to == "-" {
		say = w.stderr
	}
	tellDraft(say, *to, d)
	if len(d.Unasked) > 0 {
		return exitPart
	}
	return exitOK
}

func exists(name string) error {
	return fmt.Errorf("%s exists: choose another file with -o, or write over it with -force", name)
}

// writePrivate writes a file that only its owner may read, and that is not
// there yet, unless force.
func writePrivate(w world, name string, b []byte, force bool) error {
	if name == "-" {
		return writeFile(w, name, b)
	}
	if force {
		if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("write over %s: %w", name, err)
		}
	}
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return exists(name)
	}
	if err == nil {
		_, err = f.Write(b)
		err = errors.Join(err, f.Close())
	}
	if err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	return nil
}

// tellDraft says what was found and what is left to do.
func tellDraft(out io.Writer, name string, d app.Draft) {
	where, file := "the configuration above", "FILE"
	if name != "-" {
		where, file = name, name
		fmt.Fprintf(out, "%s is written\n", name)
	}
	if len(d.Unasked) > 0 {
		fmt.Fprint(out, "\nCould not be asked\n")
		for _, f := range d.Unasked {
			entry(out, "", f.What+": "+f.Why)
		}
	}
	if len(d.Notes) > 0 {
		fmt.Fprint(out, "\nLook at\n")
		for _, n := range d.Notes {
			entry(out, "", n)
		}
	}
	fmt.Fprintf(out, "\nStill to fill in, in %s\n", where)
	for _, p := range d.Open {
		entry(out, fmt.Sprintf("line %d", p.Line), p.Path)
	}
	if len(d.Open) == 0 {
		entry(out, "", "nothing")
	}
	fmt.Fprintf(out, `
Boat, kites, usual trip and inlet depth are starting values: make them yours.
See on the chart that each official zone is the right one. People's addresses
will stand in it, so only its owner can read it: a daemon that runs as another
user needs to be let in. Then

  forecastd check -live -config %s
`, file)
}
