package main

import (
	"bytes"
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/app"
	"forecastd/internal/store"
)

// The captain's own user can't look into the daemon's folder: a command says so,
// changes nothing and begins no second store.
func TestTheDaemonsStoreOfAnotherUser(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.Chmod(filepath.Dir(dir), 0o755))
	require.NoError(t, os.Chmod(dir, 0o777)) // so that a store could be begun here
	cfg := filepath.Join(dir, "boat.yaml")
	require.NoError(t, os.WriteFile(cfg, []byte(smallConfig), 0o644))
	state := filepath.Join(dir, "state")
	st, err := app.OpenStore(t.Context(), state, false, time.Now, nil)
	require.NoError(t, err)
	require.NoError(t, st.Close())
	require.NoError(t, app.StoreSearch{Config: cfg}.Leave(state))
	require.NoError(t, os.Chmod(state, 0o000))
	t.Cleanup(func() { require.NoError(t, os.Chmod(state, 0o700)) })

	type answer struct {
		code      int
		out, errs string
	}
	ask := func(args ...string) answer {
		done := make(chan answer)
		go func() {
			if os.Geteuid() == 0 {
				runtime.LockOSThread() // never unlocked: the thread ends with the goroutine
				if err := syscall.Setfsuid(65534); err != nil {
					done <- answer{errs: err.Error()}
					return
				}
			}
			var out, errs bytes.Buffer
			w := world{stdout: &out, stderr: &errs, getenv: func(string) string { return "" }, now: time.Now, transport: offline{}, root: dir}
			done <- answer{run(t.Context(), w, append(args, "-config", cfg)), out.String(), errs.String()}
		}()
		return <-done
	}
	for _, args := range [][]string{{"report", "showering", "yes"}, {"override", "own limit", "-why", "x"}, {"override"}, {"approve", "abc"}, {"backup", filepath.Join(dir, "copy.db")}} {
		got := ask(args...)
		require.Equal(t, exitUsage, got.code, "%v: %s", args, got.errs)
		require.Empty(t, got.out)
		require.Contains(t, got.errs, "the store is the daemon's, in "+state)
		require.Contains(t, got.errs, "nothing was changed: run the command as root or as the daemon's user")
	}
	require.NoFileExists(t, filepath.Join(dir, store.FileName))
	require.NoFileExists(t, filepath.Join(dir, "copy.db"))
}

// smallConfig is an invented boat, port and coast.
const smallConfig = `ports:
  - name: Port Amparo
    at: 27.2000 N, 79.9000 W
    zone: America/New_York
    shore_normal: 90 deg
    grounds:
      - {name: the Shelf edge, at: "27.2000 N, 79.8300 W", depth: 150 ft, run: 20 min}
    zones: [{id: AMZ997, for: trip}]
boat: {name: Second Light, kind: center console, length: 39 ft, tower: 20 ft, crew: 3, passengers: 6}
sources: {contact: captain@example.com, gridded: {products: [gfs-wave]}}
`
