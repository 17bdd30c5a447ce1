package main

import (
	"bufio"
	"io"
	"os/exec"
	"strings"
	"sync"

	"github.com/rogpeppe/go-internal/testscript"
)

// daemons are the real processes that scripts have started, by script and name.
type daemons struct {
	mu   sync.Mutex
	list map[string]*exec.Cmd
}

func (d *daemons) put(name string, c *exec.Cmd) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.list == nil {
		d.list = map[string]*exec.Cmd{}
	}
	d.list[name] = c
}

func (d *daemons) get(name string) *exec.Cmd {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.list[name]
}

// serves starts a daemon and waits until it says that it has started.
func (d *daemons) serves(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: serves NAME [ARGUMENTS]")
	}
	program, err := exec.LookPath("forecastd")
	ts.Check(err)
	c := exec.Command(program, append([]string{"serve"}, args[1:]...)...)
	c.Dir = ts.MkAbs(".")
	for _, name := range []string{"PATH", "HOME", "ROOT", "SERVICES", "STATE_DIRECTORY", "RUNTIME_DIRECTORY"} {
		c.Env = append(c.Env, name+"="+ts.Getenv(name))
	}
	out, err := c.StderrPipe()
	ts.Check(err)
	ts.Check(c.Start())
	ts.Defer(func() { _ = c.Process.Kill(); _ = c.Wait() })
	d.put(ts.Name()+args[0], c)
	lines := bufio.NewScanner(out)
	var told strings.Builder
	for lines.Scan() {
		told.WriteString(lines.Text() + "\n")
		if strings.Contains(lines.Text(), "msg=started version=") {
			go func() { _, _ = io.Copy(io.Discard, out) }()
			return
		}
	}
	ts.Fatalf("the daemon did not start:\n%s", told.String())
}

// killed ends a daemon as a crash does, and waits until it is gone.
func (d *daemons) killed(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 || d.get(ts.Name()+args[0]) == nil {
		ts.Fatalf("usage: killed NAME")
	}
	c := d.get(ts.Name() + args[0])
	ts.Check(c.Process.Kill())
	_ = c.Wait() // it was killed
}
