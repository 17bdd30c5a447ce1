package store_test

import (
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/store"
)

// Who restores as root does not shut the daemon's user out.
func TestARestoredFileHasTheOldOnesOwner(t *testing.T) {
	path := file(t, 3)
	s, err := store.Open(t.Context(), store.Options{Path: path})
	require.NoError(t, err)
	backup := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, s.Backup(t.Context(), backup))
	require.NoError(t, s.Close())
	owner := os.Getuid()
	if owner == 0 {
		owner = 65534
		require.NoError(t, os.Chown(path, owner, owner))
	}
	_, err = store.Restore(t.Context(), backup, store.Options{Path: path, Now: evening})
	require.NoError(t, err)
	info, err := os.Stat(path)
	require.NoError(t, err)
	require.EqualValues(t, owner, info.Sys().(*syscall.Stat_t).Uid)
	require.Equal(t, fs.FileMode(0o600), info.Mode().Perm())
}
