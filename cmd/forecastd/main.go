// Command forecastd makes the evening call for a charter boat from public
// weather and sea data. Run it without arguments for its commands.
package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"
	"time"
	_ "time/tzdata" // the port's clock must be right on a machine without zone files
)

// Exit codes.
const (
	exitOK     = 0
	exitPart   = 1 // part of it could not be done
	exitUsage  = 2 // the command line or the configuration is wrong
	exitNoCall = 3 // nothing could be made of the data there was
)

// world is what a command may touch.
type world struct {
	stdin          io.Reader
	stdout, stderr io.Writer
	getenv         func(string) string
	now            func() time.Time
	// transport does the requests; nil means the real services.
	transport http.RoundTripper
	// root is before the places of the system; empty but in tests.
	root string
}

type command struct {
	name, args, what string
	run              func(ctx context.Context, w world, args []string) int
}

func commands() []command {
	return []command{
		{"call", "[-day DAY] [-json]", "make the call for the next trip, or for a day", runCall},
		{"days", "", "tell the days ahead", runDays},
		{"load", "[-day DAY]", "print the load list for the day called", runLoad},
		{"whatif", "CHANGE ...", "show the call beside what it would be with some changes", runWhatIf},
		{"serve", "[-dry-run]", "run for good: collect, call, tell", runServe},
		{"report", "WHAT WORD", "say what was seen: fish on top, showering bait, edge, water, inlet", runReport},
		{"bait", "count KIND N", "keep the count of the pen, or show it", runBait},
		{"log", "TEXT", "write into the captain's log, or show it", runLog},
		{"charter", "add|list|move|cancel", "keep the bookings", runCharter},
		{"override", "WHAT -why REASON", "go against a limit, with the reason, or show what holds", runOverride},
		{"approve", "[ID]", "approve or refuse messages to guests, or show what waits", runApprove},
		{"score", "", "tell how the sources and our own calls did", runScore},
		{"explain", "RUN", "tell what became of a run of the daemon or of a call", runExplain},
		{"backup", "FILE", "copy the store while work goes on", runBackup},
		{"restore", "FILE", "put a backup in the place of the store", runRestore},
		{"check", "[-live]", "check the configuration, and with -live that all it names exists", runCheck},
		{"test", "[-person NAME]", "send a test message by each way to each person", runTest},
		{"setup", "-at LAT,LON", "write a commented configuration for a place", runSetup},
		{"record", "-out DIR", "record what the sources answer now, for replay", runRecord},
		{"grib", "FILE", "list the fields of a GRIB2 file", func(ctx context.Context, w world, args []string) int {
			return runGrib(ctx, args, w.stdout, w.stderr)
		}},
		{"version", "", "print the version", runVersion},
	}
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, world{stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr, getenv: os.Getenv, now: time.Now}, os.Args[1:])
	stop()
	os.Exit(code)
}

func run(ctx context.Context, w world, args []string) int {
	if len(args) == 0 {
		usage(w.stderr)
		return exitUsage
	}
	switch args[0] {
	case "help", "-h", "-help", "--help":
		usage(w.stdout)
		return exitOK
	}
	all := commands()
	i := slices.IndexFunc(all, func(c command) bool { return c.name == args[0] })
	if i < 0 {
		fmt.Fprintf(w.stderr, "forecastd: there is no command %q\n", args[0])
		usage(w.stderr)
		return exitUsage
	}
	return all[i].run(ctx, w, args[1:])
}

func usage(out io.Writer) {
	fmt.Fprint(out, `forecastd makes the evening call for a boat that fishes under kites: which
tactic, which hours, and whether to go at all. It never outranks an official
warning or the captain.

usage: forecastd COMMAND [flags]

`)
	for _, c := range commands() {
		fmt.Fprintf(out, "  %-34s %s\n", strings.TrimSpace(c.name+" "+c.args), c.what)
	}
	fmt.Fprint(out, `
Every command tells its flags with -h. To try it without any set-up:

  forecastd call -demo

Exit codes: 0 done; 1 done in part; 2 the command line or the configuration
is wrong; 3 nothing could be made of the data there was, and why.
`)
}
