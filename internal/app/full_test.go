package app_test

import (
	"database/sql"
	"fmt"
	"net/http"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/store"

	_ "modernc.org/sqlite" // to hold the file against the daemon
)

// refuse lets the file take nothing, as on a disk without room, until the
// function it returns is called. SQLite's own answer to a full disk is tested
// in the store's room; here it is what becomes of the daemon.
func refuse(t *testing.T, path string) (free func()) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path+"?_pragma=busy_timeout(5000)")
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	rows, err := db.Query("SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
	require.NoError(t, err)
	var tables []string
	for rows.Next() {
		var name string
		require.NoError(t, rows.Scan(&name))
		tables = append(tables, name)
	}
	require.NoError(t, rows.Err())
	require.NotEmpty(t, tables)
	each := func(stmt string) {
		for _, table := range tables {
			for _, change := range []string{"INSERT", "UPDATE", "DELETE"} {
				_, err := db.Exec(fmt.Sprintf(stmt, table, change))
				require.NoError(t, err)
			}
		}
	}
	each("CREATE TRIGGER no_%[2]s_%[1]s BEFORE %[2]s ON %[1]s BEGIN SELECT RAISE(FAIL, 'no room'); END")
	return func() { each("DROP TRIGGER no_%[2]s_%[1]s") }
}

// The store takes nothing from before the evening until after it: the daemon
// goes on, its pages still show the call before, and when there is room again
// the evening's message comes, once.
func TestNoRoomForAnEvening(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(time.Date(2027, 1, 16, 21, 30, 0, 0, time.UTC))
		bag := &mailbag{now: now}
		cfg := daemonConfig(t, "daemon: {collect_every: 1 h}\n")
		o := serveOptions(t, cfg, now, invented{now: now}, bag)
		d := start(t, o)
		pass(23 * time.Hour) // 15:30 EST the next day
		require.Len(t, bag.of(models.NoticeCall), 1)
		require.Len(t, bag.of(models.NoticeMorning), 1)

		free := refuse(t, filepath.Join(o.State, store.FileName))
		pass(2 * time.Hour) // 17:30 EST, past 17:00
		require.Len(t, bag.of(models.NoticeCall), 1, "what can't be kept is not sent: it could come twice")
		code, page := ask(t, d, "/")
		require.Equal(t, http.StatusOK, code)
		require.Contains(t, page, "Port Amparo")

		free()
		pass(15 * time.Minute)
		calls := bag.of(models.NoticeCall)
		require.Len(t, calls, 2)
		require.Equal(t, "call/Port Amparo/2027-01-18/the captain", calls[1].Key)
		pass(12 * time.Hour)
		require.Len(t, bag.of(models.NoticeCall), 2)
		require.Len(t, bag.of(models.NoticeMorning), 2)
		halt(t, d)
	})
}
