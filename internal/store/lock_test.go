package store_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/store"
)

// One at a time has a state folder; who comes second is told who has it, and
// what it does, and for how long. What a dead one left behind holds nothing.
func TestOneHasAStateFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "state")
	first, err := store.LockDir(dir, "serve", evening)
	require.NoError(t, err)
	later := func() time.Time { return evening().Add(3*time.Hour + 5*time.Minute) }
	_, err = store.LockDir(dir, "restore", later)
	var held *store.HeldError
	require.ErrorAs(t, err, &held)
	require.Equal(t, os.Getpid(), held.Holder.PID)
	require.Regexp(t, `^another forecastd serve \(process [0-9]+, running for 3h5m0s\) has the store in .*state: stop it first`, err.Error())

	require.NoError(t, first.Release())
	require.NoError(t, first.Release(), "twice is once")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "forecastd.daemon"), []byte(`{"command":"serve","pid":1}`), 0o600))
	second, err := store.LockDir(dir, "serve", later)
	require.NoError(t, err)
	require.NoError(t, second.Release())
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Empty(t, left)
}
