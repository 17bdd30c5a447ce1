package app_test

import (
	"bytes"
	"database/sql"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/store"
)

// damagePages writes over everything behind the first page of a store that is
// in use.
func damagePages(t *testing.T, path string) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path+"?_pragma=busy_timeout(5000)")
	require.NoError(t, err)
	_, err = db.Exec("PRAGMA wal_checkpoint(TRUNCATE)")
	require.NoError(t, err)
	require.NoError(t, db.Close())
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	require.NoError(t, err)
	info, err := f.Stat()
	require.NoError(t, err)
	const page = 4096
	_, err = f.WriteAt(bytes.Repeat([]byte{0xa5}, int(info.Size())-page), page)
	require.NoError(t, err)
	require.NoError(t, f.Close())
}

// subjects are those of a bag's messages whose text holds some words.
func (m *mailbag) holding(words string) (list []delivered) {
	for _, d := range m.all() {
		if strings.Contains(d.Text, words) {
			list = append(list, d)
		}
	}
	return list
}

// A store that is damaged while the daemon works, or was when it started, is
// told at once and by a way that does not need it; /readyz says it; warnings
// and the evening call are told all the same.
func TestADamagedStoreIsToldAndAnotherStandsIn(t *testing.T) {
	for _, running := range []bool{true, false} {
		name := map[bool]string{true: "while it works", false: "at the start"}[running]
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				began := time.Date(2027, 1, 18, 19, 5, 0, 0, time.UTC)
				now := shiftedClock(began)
				bag := &mailbag{now: now}
				coast := invented{now: now}
				onset := began.Add(20 * time.Hour).Truncate(time.Hour)
				coast.warned = func(at time.Time) (time.Time, time.Time, bool) {
					return onset, onset.Add(12 * time.Hour), at.Sub(began) > 100*time.Minute
				}
				o := serveOptions(t, daemonConfig(t, "daemon: {check_every: 12 h}\n"), now, coast, bag)
				path := filepath.Join(o.State, store.FileName)
				d := start(t, o)
				defer func() { halt(t, d) }()
				pass(time.Hour)
				require.Empty(t, bag.of(models.NoticeTrouble))
				if running {
					damagePages(t, path)
				} else {
					halt(t, d)
					damagePages(t, path)
					d = start(t, o)
				}
				pass(20 * time.Minute)
				require.Len(t, bag.holding("the store is damaged"), 1)
				require.Contains(t, bag.holding("the store is damaged")[0].Text, "restore a backup")
				code, body := ask(t, d, "/readyz")
				require.Equal(t, http.StatusServiceUnavailable, code)
				require.Contains(t, body, "the store is damaged")
				code, body = ask(t, d, "/")
				require.Equal(t, http.StatusOK, code)
				require.Contains(t, body, "Port Amparo")

				pass(2*time.Hour + 30*time.Minute) // past the evening
				require.Len(t, bag.holding("SMALL CRAFT ADVISORY issued"), 1)
				require.Len(t, bag.of(models.NoticeCall), 1)
				require.Len(t, bag.holding("the store is damaged"), 1, "once")

				// A backup is restored: what stood in is gone.
				halt(t, d)
				require.NoError(t, os.Remove(path))
				d = start(t, o)
				pass(20 * time.Minute)
				code, body = ask(t, d, "/readyz")
				require.Equal(t, http.StatusOK, code, body)
				require.NoDirExists(t, filepath.Join(o.State, "while-damaged"))
			})
		})
	}
}
