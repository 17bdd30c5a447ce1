package store_test

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/store"
)

func TestALoginIsKeptUntilItEnds(t *testing.T) {
	path, now := filepath.Join(t.TempDir(), store.FileName), time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC)
	s, err := store.Open(t.Context(), store.Options{Path: path})
	require.NoError(t, err)
	begin := func(token, role, under string) models.Session {
		one := models.Session{Token: token, Role: role, Under: under, Began: now, Used: now, Expires: now.Add(14 * 24 * time.Hour)}
		require.NoError(t, s.Sessions().Begin(t.Context(), one))
		return one
	}
	find := func(token string) models.Opt[models.Session] {
		found, err := s.Sessions().Find(t.Context(), token)
		require.NoError(t, err)
		return found
	}
	one := begin("a", "captain", "old words")
	require.ErrorContains(t, s.Sessions().Begin(t.Context(), one), "keep a login", "a token is nobody else's")
	begin("b", "captain", "new words")
	begin("c", "mate", "old words")
	begin("d", "mate", "old words")

	require.NoError(t, s.Close()) // also after a restart
	s, err = store.Open(t.Context(), store.Options{Path: path})
	require.NoError(t, err)
	defer s.Close()
	require.Equal(t, models.Known(one), find("a"))

	require.NoError(t, s.Sessions().Touch(t.Context(), "a", now.Add(time.Hour), now.Add(20*24*time.Hour)))
	one.Used, one.Expires = now.Add(time.Hour), now.Add(20*24*time.Hour)
	require.Equal(t, models.Known(one), find("a"))

	require.NoError(t, s.Sessions().EndAll(t.Context(), "captain", "new words"))
	require.False(t, find("a").Known())
	require.True(t, find("b").Known() && find("c").Known(), "another passphrase, another role")
	require.NoError(t, s.Sessions().Touch(t.Context(), "a", now, now))
	require.False(t, find("a").Known(), "what was ended stays so")
	require.NoError(t, s.Sessions().End(t.Context(), "d"))
	require.NoError(t, s.Sessions().EndAll(t.Context(), "captain", ""))
	require.False(t, find("b").Known())
	require.True(t, find("c").Known())
	require.False(t, find("d").Known())

	p, err := s.Prune(t.Context(), now.Add(16*24*time.Hour), store.DefaultRetention())
	require.NoError(t, err)
	require.Equal(t, 1, p.Rows["logins"])
	require.False(t, find("c").Known())
}

// A backup brings no login back that was ended after it was made.
func TestALoginEndsWithARestore(t *testing.T) {
	dir, now := t.TempDir(), time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC)
	path, backup := filepath.Join(dir, store.FileName), filepath.Join(dir, "backup.db")
	s, err := store.Open(t.Context(), store.Options{Path: path})
	require.NoError(t, err)
	require.NoError(t, s.Sessions().Begin(t.Context(), models.Session{Token: "a", Role: "captain", Under: "words", Began: now, Used: now, Expires: now.Add(time.Hour)}))
	require.NoError(t, s.Backup(t.Context(), backup))
	require.NoError(t, s.Sessions().End(t.Context(), "a"))
	require.NoError(t, s.Close())
	_, err = store.Restore(t.Context(), backup, store.Options{Path: path})
	require.NoError(t, err)
	s, err = store.Open(t.Context(), store.Options{Path: path})
	require.NoError(t, err)
	defer s.Close()
	found, err := s.Sessions().Find(t.Context(), "a")
	require.NoError(t, err)
	require.False(t, found.Known())
}
