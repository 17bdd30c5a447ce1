package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"strings"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/models"
)

const aboutCheck = `
Reads the configuration and tells every mistake in it, each with its line and
its cure; or that it is sound, and what it names. With -live it asks the
services whether all of that exists: zones and their official names, grid
cells, stations, tides, the coastal waters text, and whether the gridded
products reach the grounds. With -demo or -replay it asks the recording.

Exit codes: 0 all is well; 1 something could not be asked, is doubtful, or
would be heard by nobody; 2
something is wrong.`

func runCheck(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "check", "[flags]", aboutCheck)
	var data dataFlags
	data.add(fs)
	live := fs.Bool("live", false, "ask whether all that the configuration names exists")
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if len(rest) > 0 {
		return fail(w.stderr, exitUsage, fmt.Errorf("check takes no argument %q: name the file with -config", rest[0]))
	}
	a, err := data.open(w)
	if err != nil {
		return fail(w.stderr, exitUsage, err)
	}
	defer stopApp(w, a)
	out := bufio.NewWriter(w.stdout)
	head(out, a.Notice())
	name := "the demo's configuration"
	if !data.demo {
		if name, _, err = readConfig(w, data.config); err != nil {
			return fail(w.stderr, exitUsage, err)
		}
	}
	fmt.Fprintf(out, "%s is sound\n", name)
	summarize(out, a.Config())
	code = exitOK
	if !data.demo && len(a.Config().Unheard()) > 0 {
		code = exitPart
	}
	for _, f := range a.CheckBookings(ctx, *live) {
		if f.Verdict == app.Sound {
			entry(out, "bookings", f.What+": "+f.Why)
			continue
		}
		code = exitPart
		entry(out, "DOUBT", f.What+": "+f.Why)
	}
	if *live {
		if err := out.Flush(); err != nil { // the services may take a while
			return written(w, err)
		}
		code = max(code, tellFindings(out, a.Check(ctx)))
	}
	if err := out.Flush(); err != nil {
		return written(w, err)
	}
	return code
}

// head prints what has to stand above everything, if there is anything.
func head(out io.Writer, notice string) {
	if notice != "" {
		fmt.Fprintf(out, "%s\n\n", notice)
	}
}

// tellFindings prints what the services said and answers the exit code.
func tellFindings(out io.Writer, found []app.Finding) int {
	count := map[app.Verdict]int{}
	fmt.Fprint(out, "\nWhat the services say\n")
	for _, f := range found {
		count[f.Verdict]++
		entry(out, string(f.Verdict), f.What+": "+f.Why)
	}
	fmt.Fprintf(out, "\n%d ok, %d doubtful, %d wrong, %d not asked\n",
		count[app.Sound], count[app.Doubtful], count[app.Wrong], count[app.NotAsked])
	switch {
	case count[app.Wrong] > 0:
		return exitUsage
	case count[app.Doubtful]+count[app.NotAsked] > 0:
		return exitPart
	}
	return exitOK
}

// summarize tells what a configuration names, so that a slip shows.
func summarize(out io.Writer, c *config.Config) {
	for _, p := range c.Ports {
		fmt.Fprintf(out, "\n%s\n", p.Name)
		entry(out, "at", fmt.Sprintf("%s, clock %s", p.At, p.Zone))
		for _, g := range p.Grounds {
			text := fmt.Sprintf("%s, %.0f ft, %.0f min out", g.Name, g.Depth.Feet(), g.Run.Minutes())
			if cell, ok := g.Gridpoint.Get(); ok {
				text += fmt.Sprintf(", cell %s %d,%d", cell.Office, cell.X, cell.Y)
			}
			entry(out, "ground", text)
		}
		binding := 0
		for _, z := range p.Zones {
			text := z.ID + ", shown only"
			if z.Use == config.ZoneTrip {
				binding++
				text = z.ID + ", binds trips"
				if len(z.Grounds) > 0 {
					text += " to " + strings.Join(z.Grounds, ", ")
				}
			}
			entry(out, "zone", text)
		}
		if binding == 0 {
			entry(out, "zone", "none that binds trips: NO OFFICIAL WARNING WILL EVER BE SEEN; add the zones of inlet and ground under zones")
		}
		if office, ok := p.TextOffice.Get(); ok {
			entry(out, "text", "coastal waters forecast of "+office)
		}
		for _, s := range p.Stations {
			var uses []string
			for _, u := range s.Uses {
				uses = append(uses, string(u))
			}
			entry(out, "station", s.ID+", for "+strings.Join(uses, ", "))
		}
		if t, ok := p.Tide.Get(); ok {
			entry(out, "tide", "station "+t.ID)
		}
		if s, ok := p.Current.Get(); ok {
			entry(out, "current", fmt.Sprintf("station %s, bin %d, in the inlet", s.ID, s.Bin))
		}
	}
	fmt.Fprint(out, "\nThe boat and the rest\n")
	entry(out, "boat", fmt.Sprintf("%s, %s, %.0f ft, crew of %d", c.Boat.Name, c.Boat.Kind, c.Boat.Length.Feet(), c.Boat.Crew))
	var kites []string
	for _, k := range c.Kites {
		kites = append(kites, k.Name)
	}
	entry(out, "kites", orNone(strings.Join(kites, ", ")))
	entry(out, "bookings", fmt.Sprintf("%d in the configuration", len(c.Charters.Bookings)))
	entry(out, "sources", orNone(strings.Join(sources(c.Sources), ", ")))
	entry(out, "told in", fmt.Sprintf("%s units, language %s", c.Units, c.Language))
	entry(out, "messages", told(c))
	for _, line := range c.Frail() {
		entry(out, "mind", line)
	}
	for _, line := range c.Unheard() {
		entry(out, "DOUBT", line)
	}
}

// told says who gets messages from forecastd serve.
func told(c *config.Config) string {
	var names []string
	lost := 0
	for _, p := range c.People {
		if !c.Reached(p.Address) && !c.Reached(p.Second) {
			lost++
			continue
		}
		names = append(names, p.Name)
	}
	switch {
	case len(c.People) == 0:
		return "nobody: the file names no people"
	case len(names) == 0:
		return fmt.Sprintf("nobody: people named: %d, but there is no mail and no webhook to reach them by", lost)
	case lost > 0:
		return fmt.Sprintf("%s; %d more out of reach, for mail or webhook is missing", strings.Join(names, ", "), lost)
	}
	return strings.Join(names, ", ")
}

func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}

// sources lists the services that are asked.
func sources(s config.Sources) []string {
	var list []string
	for _, one := range []struct {
		name string
		use  bool
	}{
		{"alerts", s.Alerts.Use}, {"gridpoint", s.Gridpoint.Use}, {"coastal text", s.CoastalText.Use},
		{models.SourceStations, s.NDBC.Use}, {models.SourceTides, s.COOPS.Use},
	} {
		if one.use {
			list = append(list, one.name)
		}
	}
	if s.Gridded.Use {
		for _, p := range s.Gridded.Products {
			list = append(list, string(p))
		}
	}
	return list
}

// entry prints a word and what belongs to it, wrapped with a hanging indent.
func entry(out io.Writer, word, text string) {
	const indent, width = 13, 78
	line := fmt.Sprintf("  %-*s", indent-2, word)
	at := len(line)
	for i, f := range strings.Fields(text) {
		switch {
		case i == 0:
		case at+1+len(f) > width:
			line += "\n" + strings.Repeat(" ", indent)
			at = indent
		default:
			line += " "
			at++
		}
		line += f
		at += len(f)
	}
	fmt.Fprintln(out, line)
}
