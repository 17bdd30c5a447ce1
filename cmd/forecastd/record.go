package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"forecastd/internal/app"
)

const aboutRecord = `
Makes one call and keeps all that the public services answered in a new folder,
so that forecastd call -replay DIR makes the same call again, without any
connection and at any time. The configuration is not copied into it.

Exit codes: 0 recorded; 1 recorded, but not all; 2 the command line or the
configuration is wrong; 3 nothing could be recorded.`

func runRecord(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "record", "-out DIR [flags]", aboutRecord)
	var data dataFlags
	data.add(fs)
	dir := fs.String("out", "", "write the recording into `DIR`, which is made or is empty")
	day := fs.String("day", "tomorrow", "call `DAY`: today, tomorrow or a date as 2027-01-19")
	port := fs.String("port", "", "call for the port of this `NAME` (else the first)")
	ground := fs.String("ground", "", "call for the ground of this `NAME` (else the port's first)")
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	usage := func(err error) int { return fail(w.stderr, exitUsage, err) }
	switch {
	case len(rest) > 0:
		return usage(fmt.Errorf("record takes no argument %q: name the folder with -out", rest[0]))
	case *dir == "":
		return usage(errors.New("record needs a folder: forecastd record -out DIR"))
	case data.demo || data.replay != "":
		return usage(errors.New("record asks the live services: leave out -demo and -replay, a recording is not made of another"))
	case data.now != "":
		return usage(errors.New("record keeps what the services answer now: leave out -now"))
	}
	a, err := data.open(w)
	if err != nil {
		return usage(err)
	}
	defer stopApp(w, a)
	req := app.CallRequest{Port: *port, Ground: *ground}
	if req.Date, err = a.Day(*day, *port); err != nil {
		return usage(err)
	}
	rec, err := app.Record(ctx, app.Options{Config: a.Config(), Now: w.now, Version: version(), Transport: w.transport}, *dir, req)
	if err != nil {
		return fail(w.stderr, exitNoCall, err)
	}
	out := bufio.NewWriter(w.stdout)
	code = tellRecorded(out, *dir, data.config, rec)
	if err := out.Flush(); err != nil {
		return written(w, err)
	}
	return code
}

func tellRecorded(out *bufio.Writer, dir, config string, rec app.Recorded) int {
	fmt.Fprintf(out, "%s holds %d answers, %s\n", dir, rec.Answers, size(rec.Bytes))
	code := exitOK
	if len(rec.Skipped) > 0 {
		code = exitPart
		fmt.Fprint(out, "\nNot kept\n")
		for _, s := range rec.Skipped {
			entry(out, "", s)
		}
	}
	if len(rec.Missing) > 0 {
		code = exitPart
		fmt.Fprint(out, "\nMissing while it was recorded, and missing in each replay\n")
		for _, g := range rec.Missing {
			entry(out, "", g.What+": "+g.Why)
		}
	}
	if !rec.Called.Known() {
		code = exitPart
		fmt.Fprint(out, "\nNo call could be made of it: no source gave any wind.\n")
	}
	if config != "" {
		config = "-config " + config + " "
	}
	fmt.Fprintf(out, "\nTo make the call again, as of %s:\n\n  forecastd call %s-replay %s\n",
		rec.AsOf.Format("2006-01-02 15:04 UTC"), config, filepath.Clean(dir))
	return code
}

// size tells bytes as people do.
func size(n int64) string {
	switch {
	case n >= 1e6:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	case n >= 1e3:
		return fmt.Sprintf("%.1f kB", float64(n)/1e3)
	}
	return fmt.Sprintf("%d bytes", n)
}
