package store_test

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/store"
)

func TestALinkIsUsedOnceAlsoAfterARestart(t *testing.T) {
	path, now := filepath.Join(t.TempDir(), store.FileName), time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC)
	open := func() *store.Store {
		s, err := store.Open(t.Context(), store.Options{Path: path})
		require.NoError(t, err)
		return s
	}
	s := open()
	first, err := s.Use(t.Context(), "n1", now.Add(time.Hour))
	require.NoError(t, err)
	require.True(t, first)
	require.NoError(t, s.Close())

	s = open()
	used, err := s.Used(t.Context(), "n1")
	require.NoError(t, err)
	require.True(t, used)
	first, err = s.Use(t.Context(), "n1", now.Add(time.Hour))
	require.NoError(t, err)
	require.False(t, first)
	used, err = s.Used(t.Context(), "n2")
	require.NoError(t, err)
	require.False(t, used)

	// Once it is too old by itself, it need not be remembered.
	_, err = s.Prune(t.Context(), now.Add(26*time.Hour), store.DefaultRetention())
	require.NoError(t, err)
	used, err = s.Used(t.Context(), "n1")
	require.NoError(t, err)
	require.False(t, used)
	require.NoError(t, s.Close())
}
