package app_test

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The watcher hears from a daemon whose rounds go well, and nothing from one
// that has no warnings.
func TestHeartbeat(t *testing.T) {
	var beats atomic.Int32
	watcher := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodGet && r.URL.Path == "/second-light" {
			beats.Add(1)
		}
		w.WriteHeader(http.StatusTeapot) // what it answers is not our business
	}))
	defer watcher.Close()
	c := &handClock{at: time.Date(2027, 1, 18, 15, 5, 0, 0, time.UTC)}
	coast, mute := invented{now: c.now}, atomic.Bool{}
	o := serveOptions(t, daemonConfig(t, "daemon: {heartbeat: "+watcher.URL+"/second-light}\n"), c.now, transportFunc(func(r *http.Request) (*http.Response, error) {
		if mute.Load() && strings.Contains(r.URL.Path, "alerts") {
			return response(r, http.StatusNotFound, "{}"), nil
		}
		return coast.RoundTrip(r)
	}), &mailbag{now: c.now})
	d := start(t, o)
	defer halt(t, d)
	eventually(t, "the first round is told", func() bool { return beats.Load() == 1 })
	c.pass(10 * time.Minute)
	require.NoError(t, d.RunNow(t.Context(), "collect Port Amparo"))
	require.Equal(t, int32(2), beats.Load())
	mute.Store(true)
	c.pass(40 * time.Minute) // past what the last good answer counts for
	_ = d.RunNow(t.Context(), "collect Port Amparo")
	require.Equal(t, int32(2), beats.Load(), "not ready")
}
