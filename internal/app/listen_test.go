package app_test

import (
	"net"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
)

// A reload listens at the address that the configuration now names; one that
// can't be had changes nothing, and is told.
func TestReloadListensAtTheNewAddress(t *testing.T) {
	free := func() string {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		require.NoError(t, err)
		defer l.Close()
		return l.Addr().String()
	}
	began := time.Now()
	now := func() time.Time { return evening().Add(time.Since(began)) }
	o := serveOptions(t, daemonConfig(t, ""), now, invented{now: now}, &mailbag{now: now})
	text := func(addr string) string { return daemonText + "daemon: {listen: \"" + addr + "\"}\n" }
	at := free()
	o.Listen = ""
	o.Load = func() (*config.Config, error) { return config.Load("forecastd.yaml", []byte(text(at))) }
	var err error
	o.Config, err = o.Load()
	require.NoError(t, err)
	d, err := app.StartDaemon(t.Context(), o)
	require.NoError(t, err)
	t.Cleanup(func() { halt(t, d) })
	answers := func(addr string) bool {
		r, err := http.Get("http://" + addr + "/healthz")
		if err != nil {
			return false
		}
		require.NoError(t, r.Body.Close())
		return r.StatusCode == http.StatusOK
	}
	first := at
	require.True(t, answers(first))

	at = free()
	require.NoError(t, d.Reload(t.Context()))
	require.Equal(t, at, d.Addr())
	require.True(t, answers(at))
	require.False(t, answers(first))

	second := at
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	at = taken.Addr().String()
	before := d.Config()
	require.ErrorContains(t, d.Reload(t.Context()), "listen on "+at)
	require.Same(t, before, d.Config())
	require.True(t, answers(second))
}
