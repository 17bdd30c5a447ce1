package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"forecastd/internal/fetch/grib2"
)

const aboutGrib = `
Lists the fields of a GRIB edition 2 file, one a line: what, on which surface,
which run, valid when, on which grid, how packed, and the number of points, of
missing ones, least, mean and greatest value.

Exit codes: 0 all was read; 1 some of it; 2 the command line is wrong; 3 none.`

// runGrib is the command grib. It reads one file and prints what is in it.
func runGrib(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	w := world{stdout: stdout, stderr: stderr}
	fs := flagSet(w, "grib", "FILE [flags]", aboutGrib)
	where := fs.String("at", "", "also tell each field's value at `LAT,LON`, in degrees north and east")
	asJSON := fs.Bool("json", false, "print one JSON object per field")
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if len(rest) != 1 {
		return fail(stderr, exitUsage, fmt.Errorf("grib takes one FILE, not %d: forecastd grib FILE [-at LAT,LON] [-json]", len(rest)))
	}
	var at *grib2.Point
	if *where != "" {
		p, err := parsePlace(*where)
		if err != nil {
			return fail(stderr, exitUsage, err)
		}
		at = &p
	}
	b, err := os.ReadFile(rest[0])
	if err != nil {
		return fail(stderr, exitNoCall, fmt.Errorf("read the GRIB file: %w", err))
	}
	return listGrib(ctx, w, rest[0], b, at, *asJSON)
}

// listGrib prints the fields of b. Every error is printed once, with the
// message it belongs to.
func listGrib(ctx context.Context, w world, name string, b []byte, at *grib2.Point, asJSON bool) int {
	out := bufio.NewWriter(w.stdout)
	told := map[string]bool{}
	tell := func(err error) {
		if text := err.Error(); !told[text] {
			told[text] = true
			fail(w.stderr, exitPart, fmt.Errorf("%s: %w", name, err))
		}
	}
	fields, errs := grib2.Read(b)
	for _, err := range errs {
		tell(err)
	}
	read := 0
	for _, f := range fields {
		if err := ctx.Err(); err != nil {
			tell(fmt.Errorf("stopped before message %d: %w", f.Message, err))
			break
		}
		l, err := f.List(at)
		if err != nil {
			tell(err)
		} else {
			read++
		}
		if err := printListing(out, l, asJSON); err != nil {
			return fail(w.stderr, exitPart, err)
		}
	}
	if err := out.Flush(); err != nil {
		return fail(w.stderr, exitPart, fmt.Errorf("print the list: %w", err))
	}
	switch {
	case read == 0:
		return exitNoCall
	case len(told) > 0:
		return exitPart
	}
	return exitOK
}

func printListing(out io.Writer, l grib2.Listing, asJSON bool) error {
	if !asJSON {
		_, err := fmt.Fprintln(out, l)
		return err
	}
	e := json.NewEncoder(out)
	e.SetEscapeHTML(false)
	if err := e.Encode(l); err != nil {
		return fmt.Errorf("print message %d as JSON: %w", l.Message, err)
	}
	return nil
}

// parsePlace reads LAT,LON in degrees.
func parsePlace(s string) (grib2.Point, error) {
	lat, lon, ok := strings.Cut(s, ",")
	if !ok {
		return grib2.Point{}, fmt.Errorf("-at %q is no place: write it as LAT,LON in degrees, such as 25.77,-80.05", s)
	}
	var p grib2.Point
	for _, part := range []struct {
		text string
		to   *float64
		most float64
	}{{lat, &p.Lat, 90}, {lon, &p.Lon, 360}} {
		v, err := strconv.ParseFloat(strings.TrimSpace(part.text), 64)
		// Written so that not a number is refused as well.
		if err != nil || !(v >= -part.most && v <= part.most) {
			return grib2.Point{}, fmt.Errorf("-at %q is no place: %q is not a number of degrees within ±%g", s, part.text, part.most)
		}
		*part.to = v
	}
	return p, nil
}
