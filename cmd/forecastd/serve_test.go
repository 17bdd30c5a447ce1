package main

import (
	"bytes"
	"context"
	"net"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// lockedBuffer is written by the daemon while the test reads.
type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// The whole command on the demo: it says that it is ready to the service
// manager, shows the evening's call, tells that it lives, and ends when told
// to. The datagrams are those of sd_notify(3).
func TestServeTheDemoUnderAServiceManager(t *testing.T) {
	// A socket's name has room for some hundred bytes only.
	dir, err := os.MkdirTemp("", "sd")
	require.NoError(t, err)
	defer os.RemoveAll(dir)
	socket := filepath.Join(dir, "notify")
	l, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: socket, Net: "unixgram"})
	require.NoError(t, err)
	defer l.Close()
	heard := func() string {
		require.NoError(t, l.SetReadDeadline(time.Now().Add(30*time.Second)))
		b := make([]byte, 256)
		n, err := l.Read(b)
		require.NoError(t, err)
		return string(b[:n])
	}
	env := map[string]string{"NOTIFY_SOCKET": socket, "WATCHDOG_USEC": "300000"}
	var out, log lockedBuffer
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	code := make(chan int)
	go func() {
		w := world{stdout: &out, stderr: &log, getenv: func(k string) string { return env[k] }, now: time.Now, transport: offline{}}
		code <- run(ctx, w, []string{"serve", "-demo", "-dry-run", "-listen", "127.0.0.1:0"})
	}()
	require.Equal(t, "READY=1", heard())
	for deadline := time.Now().Add(30 * time.Second); !strings.Contains(out.String(), "evening call (first)"); {
		require.True(t, time.Now().Before(deadline), "no evening call:\n%s", log.String())
		require.Equal(t, "WATCHDOG=1", heard())
	}
	cancel()
	for word := heard(); word != "STOPPING=1"; word = heard() {
		require.Equal(t, "WATCHDOG=1", word)
	}
	require.Equal(t, exitOK, <-code)
	require.Contains(t, log.String(), "DEMO: invented data")
	require.Contains(t, out.String(), "DEMO: invented data")
}
