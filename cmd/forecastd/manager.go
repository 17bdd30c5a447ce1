package main

import (
	"net"
	"strconv"
	"time"
)

// manager is the service manager that started us, where there is one. It
// hears of our life by datagrams on a socket that the environment names
// (sd_notify(3), sd_watchdog_enabled(3)).
type manager struct {
	socket string
	// every is how often it wants to hear that we live; 0 is never.
	every time.Duration
}

func newManager(getenv func(string) string) manager {
	m := manager{socket: getenv("NOTIFY_SOCKET")}
	if n, err := strconv.ParseInt(getenv("WATCHDOG_USEC"), 10, 64); err == nil && n > 0 && m.socket != "" {
		m.every = time.Duration(n) * time.Microsecond / 3
	}
	return m
}

// tell sends a word. One that is lost harms nobody: the manager acts on what
// does not come.
func (m manager) tell(word string) {
	if m.socket == "" {
		return
	}
	name := m.socket
	if name[0] == '@' { // the abstract namespace
		name = "\x00" + name[1:]
	}
	c, err := net.DialUnix("unixgram", nil, &net.UnixAddr{Name: name, Net: "unixgram"})
	if err != nil {
		return
	}
	defer c.Close()
	_, _ = c.Write([]byte(word))
}

// heartbeat is when to tell that we live, until done.
func (m manager) heartbeat() (beat <-chan time.Time, done func()) {
	if m.every == 0 {
		return nil, func() {}
	}
	t := time.NewTicker(m.every)
	return t.C, t.Stop
}
