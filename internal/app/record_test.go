package app_test

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"forecastd/internal/app"
	"forecastd/internal/fetch/replay"
)

// recordWith makes a recording of what the demo's coast answers, as a live
// service would.
func recordWith(t *testing.T, dir string, transport http.RoundTripper) (app.Recorded, error) {
	t.Helper()
	return app.Record(t.Context(), app.Options{Config: demoConfig(t), Transport: transport, Now: evening}, dir, app.CallRequest{})
}

func TestRecordThenReplayMakesTheSameCall(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "evening")
	rec, err := recordWith(t, dir, coast().transport(t))
	require.NoError(t, err)
	require.Empty(t, rec.Skipped)
	require.Empty(t, rec.Missing)
	first, ok := rec.Called.Get()
	require.True(t, ok)

	m, err := replay.ReadManifest(os.DirFS(dir))
	require.NoError(t, err)
	require.Len(t, m.Entries, rec.Answers)
	require.False(t, m.Demo, "a recording of what services answer is no demo")
	require.Equal(t, m.AsOf, rec.AsOf)
	require.False(t, m.AsOf.Before(evening()))
	var bytes int64
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, f := range files {
		info, err := f.Info()
		require.NoError(t, err)
		if f.Name() != "manifest.json" {
			bytes += info.Size()
		}
	}
	require.Equal(t, bytes, rec.Bytes)
	for _, e := range m.Entries {
		require.Equal(t, "public domain, U.S. government", e.Licence, e.URL)
	}

	a, err := app.NewReplay(app.Options{Config: demoConfig(t), Now: evening}, os.DirFS(dir), true)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Stop(t.Context())) })
	again := called(t, a)
	want, err := first.JSON(true)
	require.NoError(t, err)
	got, err := again.JSON(true)
	require.NoError(t, err)
	require.Equal(t, string(want), string(got))
	require.Equal(t, first.Text(true), again.Text(true))
}

// What fails while recording fails in each replay, in the same way.
func TestRecordKeepsFailures(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dir := t.TempDir()
		inner := coast().transport(t)
		rec, err := recordWith(t, dir, transportFunc(func(r *http.Request) (*http.Response, error) {
			if strings.Contains(r.URL.Path, "/alerts/") {
				return response(r, http.StatusNotFound, `{"status":404}`), nil
			}
			return inner.RoundTrip(r)
		}))
		require.NoError(t, err)
		require.Len(t, rec.Missing, 1)
		require.Equal(t, "nws alerts", rec.Missing[0].What)
		require.True(t, rec.Called.Known())
		a, err := app.NewReplay(app.Options{Config: demoConfig(t), Now: evening}, os.DirFS(dir), true)
		require.NoError(t, err)
		again := called(t, a)
		require.False(t, again.Outlook.Warnings.Known(), "unknown, and never none")
		require.Equal(t, rec.Called.Or(app.Called{}).Text(false), again.Text(false))
		require.NoError(t, a.Stop(t.Context()))
	})
}

// A recording without any wind is one all the same: it shows why there was no
// call.
func TestRecordWithoutACall(t *testing.T) {
	rec, err := recordWith(t, t.TempDir(), transportFunc(func(r *http.Request) (*http.Response, error) {
		return response(r, http.StatusNotFound, `{"status":404}`), nil
	}))
	require.NoError(t, err)
	require.False(t, rec.Called.Known())
	require.Positive(t, rec.Answers)
	require.NotEmpty(t, rec.Missing)
}

func TestRecordRefuses(t *testing.T) {
	t.Run("a folder in use", func(t *testing.T) {
		dir := t.TempDir()
		name := filepath.Join(dir, "logbook.txt")
		require.NoError(t, os.WriteFile(name, []byte("mine"), 0o600))
		_, err := recordWith(t, dir, coast().transport(t))
		require.ErrorContains(t, err, "is not empty: choose a new folder")
		files, err := os.ReadDir(dir)
		require.NoError(t, err)
		require.Len(t, files, 1)
	})
	t.Run("a file for a folder", func(t *testing.T) {
		name := filepath.Join(t.TempDir(), "file")
		require.NoError(t, os.WriteFile(name, []byte("mine"), 0o600))
		_, err := recordWith(t, name, coast().transport(t))
		require.ErrorContains(t, err, "look into the folder of the recording")
	})
	t.Run("no connection", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "new")
			_, err := recordWith(t, dir, offline())
			require.ErrorContains(t, err, "no service answered: is there a connection?")
			require.NoDirExists(t, dir)

			empty := t.TempDir()
			_, err = recordWith(t, empty, offline())
			require.Error(t, err)
			files, err := os.ReadDir(empty)
			require.NoError(t, err)
			require.Empty(t, files)
		})
	})
}
