package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/require"

	"forecastd/internal/app"
	"forecastd/internal/demo"
	"forecastd/internal/fetch/replay"
)

// TestMain runs the real program where a script says forecastd, but for the
// network: nothing but the folder in $SERVICES and the demo's recording ever
// answers, and without $SERVICES there is no connection.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"forecastd": func() {
		w := world{stdin: os.Stdin, stdout: os.Stdout, stderr: os.Stderr, getenv: os.Getenv, now: time.Now, transport: offline{}, root: os.Getenv("ROOT")}
		if dir := os.Getenv("SERVICES"); dir != "" {
			w.now = func() time.Time { return time.Date(2027, 1, 18, 22, 30, 0, 0, time.UTC) }
			recording, err := replay.Open(demo.Recording(), w.now)
			if err != nil {
				panic(err)
			}
			w.transport = folder{dir, recording}
		}
		os.Exit(run(context.Background(), w, os.Args[1:]))
	}})
}

type offline struct{}

func (offline) RoundTrip(*http.Request) (*http.Response, error) {
	return nil, fmt.Errorf("dial: %w", syscall.ECONNREFUSED)
}

// folder answers from files by host and path, with an @ for the question mark,
// then from a recording, and with 404 else.
type folder struct {
	dir       string
	recording http.RoundTripper
}

func (f folder) RoundTrip(r *http.Request) (*http.Response, error) {
	name := r.URL.Host + r.URL.Path
	if r.URL.RawQuery != "" {
		name += "@" + r.URL.RawQuery
	}
	status := http.StatusOK
	b, err := os.ReadFile(filepath.Join(f.dir, filepath.FromSlash(name)))
	if err != nil {
		if resp, err := f.recording.RoundTrip(r); err == nil {
			return resp, nil
		}
		b = nil
	}
	if len(b) == 0 { // an empty file stands for what the service does not have
		status, b = http.StatusNotFound, []byte(`{"status":404}`)
	}
	return &http.Response{StatusCode: status, Request: r, Header: http.Header{}, Body: io.NopCloser(bytes.NewReader(b)), ContentLength: int64(len(b))}, nil
}

// TestScripts runs every command as people do. Each script is a sequence of
// commands; "exits N" runs one and wants its exit code.
func TestScripts(t *testing.T) {
	var running daemons
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "waiting": waiting, "inoutbox": inoutbox, "held": held, "mode": mode, "serves": running.serves, "killed": running.killed,
		},
	})
}

// held opens the store in a folder as a daemon does, until the script ends.
func held(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: held FOLDER")
	}
	st, err := app.OpenStore(context.Background(), ts.MkAbs(args[0]), false, time.Now, nil)
	ts.Check(err)
	ts.Check(st.Ready(context.Background()))
	ts.Defer(func() { ts.Check(st.Close()) })
}

// mode wants the rights of a file.
func mode(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: mode OCTAL FILE")
	}
	info, err := os.Stat(ts.MkAbs(args[1]))
	ts.Check(err)
	if got := strconv.FormatUint(uint64(info.Mode().Perm()), 8); got != args[0] {
		ts.Fatalf("%s has the rights %s, want %s", args[1], got, args[0])
	}
}

func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE COMMAND [ARGUMENTS]")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	var exit *exec.ExitError
	got := 0
	switch {
	case errors.As(err, &exit):
		got = exit.ExitCode()
	case err != nil:
		ts.Fatalf("run %s: %v", args[1], err)
	}
	if got != want {
		ts.Fatalf("%s exits with %d, want %d", strings.Join(args[1:], " "), got, want)
	}
}

// inside runs the program in this process.
func inside(args ...string) (code int, stdout, stderr string) {
	var out, errs bytes.Buffer
	w := world{stdout: &out, stderr: &errs, getenv: func(string) string { return "" }, now: time.Now, transport: offline{}}
	code = run(context.Background(), w, args)
	return code, out.String(), errs.String()
}

func TestEveryCommandTellsItsUsage(t *testing.T) {
	for _, c := range commands() {
		for _, flag := range []string{"-h", "-help", "--help"} {
			code, out, errs := inside(c.name, flag)
			require.Equal(t, exitOK, code, c.name)
			require.Empty(t, errs, c.name)
			require.True(t, strings.HasPrefix(out, "usage: forecastd "+c.name), out)
			require.NotContains(t, out, "\t\t\t")
		}
	}
}

func TestEveryCommandRefusesAnUnknownFlag(t *testing.T) {
	for _, c := range commands() {
		code, out, errs := inside(c.name, "-frob")
		require.Equal(t, exitUsage, code, c.name)
		require.Empty(t, out, c.name)
		require.Equal(t, "forecastd: flag provided but not defined: -frob: forecastd "+c.name+" -h tells the flags\n", errs)
	}
}

// Everything that is made of the demo's data says so first.
func TestEveryOutputOfTheDemoSaysSo(t *testing.T) {
	const notice = "DEMO: invented data."
	for _, args := range [][]string{
		{"call", "-demo"}, {"call", "-demo", "-explain"}, {"call", "-demo", "-day", "today"}, {"days", "-demo"}, {"load", "-demo"},
		{"whatif", "-demo", "wind +5kn"}, {"check", "-demo"}, {"check", "-demo", "-live"},
		{"report", "-demo"}, {"report", "showering", "yes", "-demo"}, {"bait", "-demo"}, {"log", "-demo"}, {"charter", "-demo"}, {"override", "-demo"},
		{"approve", "-demo"}, {"score", "-demo"}, {"explain", "list", "-demo"},
	} {
		_, out, errs := inside(args...)
		require.True(t, strings.HasPrefix(out, notice), "%v: %s%s", args, out, errs)
	}
}

// A pipe that closes is told and not taken for success.
func TestOutputThatCannotBePrinted(t *testing.T) {
	for _, args := range [][]string{{"version"}, {"call", "-demo"}, {"check", "-demo"}, {"check", "-demo", "-live"}, {"days", "-demo"}, {"load", "-demo"}} {
		var errs bytes.Buffer
		w := world{stdout: closed{}, stderr: &errs, getenv: func(string) string { return "" }, now: time.Now, transport: offline{}}
		require.Equal(t, exitPart, run(t.Context(), w, args), "%v", args)
		require.Contains(t, errs.String(), "print", "%v", args)
	}
}

type closed struct{}

func (closed) Write([]byte) (int, error) { return 0, syscall.EPIPE }
