package store_test

import (
	"os"
	"path/filepath"
	"runtime"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/store"
)

// As an ordinary user: root may write anywhere.
func TestAFolderThatCantBeWritten(t *testing.T) {
	path := file(t, 3)
	dir := filepath.Dir(path)
	require.NoError(t, os.Chmod(dir, 0o555))
	t.Cleanup(func() { require.NoError(t, os.Chmod(dir, 0o755)) })
	root := os.Geteuid() == 0
	const nobody = 65534
	if root {
		require.NoError(t, os.Chmod(filepath.Dir(dir), 0o755))
		require.NoError(t, os.Chown(path, nobody, nobody))
	}
	names := []string{path, filepath.Join(dir, "new.db"), filepath.Join(dir, "deeper", "new.db")}
	errs := make(chan error, len(names))
	go func() {
		defer close(errs)
		if root {
			runtime.LockOSThread() // never unlocked: the thread ends with the goroutine
			if err := syscall.Setfsuid(nobody); err != nil {
				errs <- err
				return
			}
		}
		for _, name := range names {
			_, err := store.Open(t.Context(), store.Options{Path: name})
			errs <- err
		}
	}()
	for range names {
		err := <-errs
		require.ErrorIs(t, err, store.ErrReadOnly)
		require.ErrorContains(t, err, "check the owner and the rights")
	}
}
