package store_test

import (
	"context"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/store"
)

// Wherever a bit of a backup flips, in a value too, restore refuses it and
// changes nothing. (Without the checksum one in most values passes: SQLite has
// none of its own.)
func TestABackupThatIsNotWhatWasWritten(t *testing.T) {
	path := file(t, 40)
	s, err := store.Open(t.Context(), store.Options{Path: path})
	require.NoError(t, err)
	backup := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, s.Backup(t.Context(), backup))
	require.NoError(t, s.Close())
	good, err := os.ReadFile(backup)
	require.NoError(t, err)
	sum, err := os.ReadFile(backup + ".sha256")
	require.NoError(t, err)
	require.Equal(t, fmt.Sprintf("%x  copy.db\n", sha256.Sum256(good)), string(sum))
	before, err := os.ReadFile(path)
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		bad := slices.Clone(good)
		bad[rapid.IntRange(0, len(bad)-1).Draw(t, "byte")] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
		require.NoError(t, os.WriteFile(backup, bad, 0o600))
		_, err := store.Restore(context.Background(), backup, store.Options{Path: path, Now: evening})
		require.ErrorIs(t, err, store.ErrChanged)
	})
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, before, after)
	require.NoError(t, os.WriteFile(backup, good, 0o600))
	_, err = store.Restore(t.Context(), backup, store.Options{Path: path, Now: evening})
	require.NoError(t, err)
}
