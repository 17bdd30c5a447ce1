package store_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"log/slog"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/store"
)

// file makes a closed store that holds n observations, and returns its path.
func file(t testing.TB, n int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), store.FileName)
	s, err := store.Open(t.Context(), store.Options{Path: path})
	require.NoError(t, err)
	var obs []models.Observation
	for i := range n {
		obs = append(obs, observation(i))
	}
	_, err = s.AddObservations(t.Context(), obs)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	return path
}

func count(t testing.TB, path string) int {
	t.Helper()
	s, err := store.Open(t.Context(), store.Options{Path: path})
	require.NoError(t, err)
	defer s.Close()
	got, err := s.Observations(t.Context(), "XAMP1", always())
	require.NoError(t, err)
	return len(got)
}

func TestTheFileIsSetUpAsItShould(t *testing.T) {
	s := open(t)
	ctx := t.Context()
	for pragma, want := range map[string]string{
		"journal_mode": "wal", "foreign_keys": "1", "synchronous": "1", "auto_vacuum": "2", "busy_timeout": "5000", "query_only": "1",
	} {
		got, err := s.Strings(ctx, "PRAGMA "+pragma)
		require.NoError(t, err)
		require.Equal(t, []string{want}, got, pragma)
	}
	// Every table of ours is STRICT, and every column tells instants and units.
	got, err := s.Strings(ctx, "SELECT name FROM pragma_table_list WHERE schema = 'main' AND strict = 0 AND name NOT LIKE 'sqlite_%' AND name <> 'schema_versions'")
	require.NoError(t, err)
	require.Empty(t, got)
	got, err = s.Strings(ctx, `SELECT t.name || '.' || c.name FROM pragma_table_list t, pragma_table_info(t.name) c
		WHERE t.schema = 'main' AND t.name NOT LIKE 'sqlite_%' AND c.type = 'REAL' AND c.name <> 'agreement'
		AND c.name NOT GLOB '*_mps' AND c.name NOT GLOB '*_m' AND c.name NOT GLOB '*_s' AND c.name NOT GLOB '*_deg' AND c.name NOT GLOB '*_pa' AND c.name NOT GLOB '*_k' AND c.name NOT GLOB '*_pct'`)
	require.NoError(t, err)
	require.Empty(t, got)
	require.Error(t, s.ExecReading(ctx, "DELETE FROM runs"), "a reader can't write")
	require.NoError(t, s.Ready(ctx))

	info, err := os.Stat(s.Path())
	require.NoError(t, err)
	require.Equal(t, fs.FileMode(0o600), info.Mode().Perm(), "guests' contacts are the owner's alone")
}

func TestOpenRefuses(t *testing.T) {
	ctx := t.Context()
	foreign := func(t *testing.T, stmts ...string) string {
		path := filepath.Join(t.TempDir(), "other.db")
		db, err := sql.Open("sqlite", "file:"+path)
		require.NoError(t, err)
		for _, s := range stmts {
			_, err = db.ExecContext(ctx, s)
			require.NoError(t, err)
		}
		require.NoError(t, db.Close())
		return path
	}
	for _, c := range []struct {
		name string
		path func(*testing.T) string
		want error
	}{
		{"no database", func(t *testing.T) string {
			path := filepath.Join(t.TempDir(), "x.db")
			require.NoError(t, os.WriteFile(path, bytes.Repeat([]byte("not a database "), 500), 0o600))
			return path
		}, store.ErrCorrupt},
		{"pages overwritten", func(t *testing.T) string {
			path := file(t, 1500)
			f, err := os.OpenFile(path, os.O_WRONLY, 0)
			require.NoError(t, err)
			_, err = f.WriteAt(bytes.Repeat([]byte{0xa5}, 64<<10), 100<<10)
			require.NoError(t, err)
			require.NoError(t, f.Close())
			return path
		}, store.ErrCorrupt},
		{"cut short", func(t *testing.T) string {
			path := file(t, 1500)
			require.NoError(t, os.Truncate(path, 100<<10))
			return path
		}, store.ErrCorrupt},
		{"another program's", func(t *testing.T) string {
			return foreign(t, "PRAGMA application_id = 7", "CREATE TABLE songs (name TEXT)")
		}, store.ErrForeign},
		{"nobody's", func(t *testing.T) string { return foreign(t, "CREATE TABLE songs (name TEXT)") }, store.ErrForeign},
		{"a folder", func(t *testing.T) string { return t.TempDir() }, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := c.path(t)
			before, _ := os.ReadFile(path)
			_, err := store.Open(ctx, store.Options{Path: path})
			require.Error(t, err)
			require.ErrorContains(t, err, "open the store "+path)
			if c.want != nil {
				require.ErrorIs(t, err, c.want)
				after, err := os.ReadFile(path)
				require.NoError(t, err)
				require.True(t, bytes.Equal(before, after), "the file is left as it was")
			}
		})
	}
}

func TestAPathWithOddCharacters(t *testing.T) {
	path := filepath.Join(t.TempDir(), "the boat? 50% #1 [x]", "état.db")
	for range 2 {
		s, err := store.Open(t.Context(), store.Options{Path: path})
		require.NoError(t, err)
		require.NoError(t, s.Close())
	}
	_, err := os.Stat(path)
	require.NoError(t, err)
}

func TestDiskFull(t *testing.T) {
	s := open(t)
	ctx := t.Context()
	_, err := s.AddObservations(ctx, []models.Observation{observation(0)})
	require.NoError(t, err)
	pages, err := s.Strings(ctx, "PRAGMA page_count")
	require.NoError(t, err)
	// SQLite answers a full disk and its own bound alike, with SQLITE_FULL.
	require.NoError(t, s.Exec(ctx, "PRAGMA max_page_count = "+pages[0]))
	var many []models.Observation
	for i := range 2000 {
		many = append(many, observation(i))
	}
	_, err = s.AddObservations(ctx, many)
	require.ErrorIs(t, err, store.ErrFull)
	require.ErrorContains(t, err, "keep observations: the disk is full: free some space")
	require.ErrorIs(t, s.Ready(ctx), store.ErrFull, "it is told until something can be kept again")
	got, err := s.Observations(ctx, "XAMP1", always())
	require.NoError(t, err)
	require.Equal(t, []models.Observation{observation(0)}, got, "what was kept is there, and no half of the rest")
	require.NoError(t, s.Exec(ctx, "PRAGMA max_page_count = 100000"))
	_, err = s.AddObservations(ctx, many)
	require.NoError(t, err)
	require.NoError(t, s.Ready(ctx))
}

func TestAnotherProcessHoldsTheFile(t *testing.T) {
	s := open(t)
	other, err := sql.Open("sqlite", "file:"+s.Path()+"?_txlock=immediate")
	require.NoError(t, err)
	defer other.Close()
	tx, err := other.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	require.NoError(t, s.Exec(t.Context(), "PRAGMA busy_timeout = 50"))
	require.ErrorIs(t, s.Ready(t.Context()), store.ErrBusy)
	_, err = s.Observations(t.Context(), "XAMP1", always())
	require.NoError(t, err, "reading goes on")
	require.NoError(t, tx.Rollback())
	require.NoError(t, s.Ready(t.Context()))
}

// grown are our migrations and one more.
func grown(t testing.TB) (fs.FS, int64) {
	t.Helper()
	ours, err := store.Migrations()
	require.NoError(t, err)
	all := fstest.MapFS{}
	names, err := fs.Glob(ours, "*.sql")
	require.NoError(t, err)
	for _, name := range names {
		b, err := fs.ReadFile(ours, name)
		require.NoError(t, err)
		all[name] = &fstest.MapFile{Data: b}
	}
	next := int64(len(names) + 1)
	all[fmt.Sprintf("%05d_test.sql", next)] = &fstest.MapFile{Data: []byte("-- +goose Up\nALTER TABLE runs ADD COLUMN host TEXT NOT NULL DEFAULT '';\nUPDATE observations SET detail = 'grown';\n")}
	return all, next
}

func TestUpgrade(t *testing.T) {
	ctx := t.Context()
	path := file(t, 10)
	migrations, version := grown(t)
	var log strings.Builder
	s, err := store.OpenWith(ctx, store.Options{Path: path, Now: evening, Logger: slog.New(slog.NewTextHandler(&log, nil))}, migrations)
	require.NoError(t, err)
	got, err := s.Observations(ctx, "XAMP1", always())
	require.NoError(t, err)
	require.Len(t, got, 10)
	require.Equal(t, "grown", got[9].From.Detail)
	require.Equal(t, observation(9).Wind, got[9].Wind)
	require.NoError(t, s.Close())
	require.Contains(t, log.String(), "the store's schema changes")

	// The copy made before is a store of the old version with all in it.
	kept := fmt.Sprintf("%s.v%d-20270118T220000Z", path, version-1)
	require.Equal(t, 10, count(t, kept))

	_, err = store.Open(ctx, store.Options{Path: path, SkipCheck: true})
	require.ErrorIs(t, err, store.ErrNewer)
	require.ErrorContains(t, err, fmt.Sprintf("its schema is %d, ours %d", version, version-1))
	_, err = store.Restore(ctx, path, store.Options{Path: filepath.Join(t.TempDir(), "x.db")})
	require.ErrorIs(t, err, store.ErrNewer)
}

func TestAMigrationThatFailsChangesNothing(t *testing.T) {
	path := file(t, 10)
	migrations, version := grown(t)
	bad := maps.Clone(migrations.(fstest.MapFS))
	bad[fmt.Sprintf("%05d_test.sql", version)] = &fstest.MapFile{Data: []byte("-- +goose Up\nDELETE FROM observations;\nALTER TABLE nothing ADD COLUMN x TEXT;\n")}
	_, err := store.OpenWith(t.Context(), store.Options{Path: path, Now: evening}, bad)
	require.ErrorContains(t, err, "change the schema")
	require.Equal(t, 10, count(t, path))
}

func TestOnlyTheNewestCopiesAreKept(t *testing.T) {
	path := file(t, 1)
	for i := range 5 {
		require.NoError(t, os.WriteFile(fmt.Sprintf("%s.v%d-2026010%dT000000Z", path, 9-i, i), nil, 0o600))
	}
	migrations, version := grown(t)
	s, err := store.OpenWith(t.Context(), store.Options{Path: path, Now: evening}, migrations)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	found, err := filepath.Glob(path + ".v*")
	require.NoError(t, err)
	for i := range found {
		found[i] = filepath.Ext(found[i])
	}
	require.ElementsMatch(t, []string{".v6-20260103T000000Z", ".v5-20260104T000000Z", fmt.Sprintf(".v%d-20270118T220000Z", version-1)}, found)
}

// Guests are in the copies too, so these go as well in time.
func TestCopiesGrowOld(t *testing.T) {
	ctx := t.Context()
	path := file(t, 1)
	migrations, version := grown(t)
	s, err := store.OpenWith(ctx, store.Options{Path: path, Now: evening}, migrations)
	require.NoError(t, err)
	defer s.Close()
	kept := fmt.Sprintf("%s.v%d-20270118T220000Z", path, version-1)
	answered(t, s, evening().AddDate(0, 0, 15))
	_, err = s.Prune(ctx, evening().AddDate(0, 0, 14), store.Retention{Contacts: 14})
	require.NoError(t, err)
	require.FileExists(t, kept)
	_, err = s.Prune(ctx, evening().AddDate(0, 0, 15), store.Retention{Contacts: 14})
	require.NoError(t, err)
	require.NoFileExists(t, kept)
}

// Two processes find an empty file at the same time: a command and the daemon.
func TestTwoOpenAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), store.FileName)
	errs := make([]error, 4)
	var wg sync.WaitGroup
	for i := range errs {
		wg.Go(func() {
			s, err := store.Open(t.Context(), store.Options{Path: path})
			if errs[i] = err; err == nil {
				errs[i] = s.Close()
			}
		})
	}
	wg.Wait()
	for _, err := range errs {
		require.NoError(t, err)
	}
}

func TestBackupAndRestore(t *testing.T) {
	ctx := t.Context()
	path := file(t, 10)
	s, err := store.Open(ctx, store.Options{Path: path})
	require.NoError(t, err)
	backup := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, s.Backup(ctx, backup))
	require.ErrorContains(t, s.Backup(ctx, backup), "there is such a file")
	require.ErrorContains(t, s.Backup(ctx, filepath.Join(t.TempDir(), "no", "such", "folder")), "no such file or directory")
	_, err = s.AddObservations(ctx, []models.Observation{observation(50)})
	require.NoError(t, err)

	_, err = store.Restore(ctx, backup, store.Options{Path: path, Now: evening})
	require.ErrorIs(t, err, store.ErrBusy, "somebody has it open")
	require.NoError(t, s.Close())
	require.Equal(t, 11, count(t, path))

	aside, err := store.Restore(ctx, backup, store.Options{Path: path, Now: evening})
	require.NoError(t, err)
	require.Equal(t, path+".before-restore-20270118T220000Z", aside)
	require.Equal(t, 10, count(t, path))
	require.Equal(t, 11, count(t, aside), "the old one is kept")
	_, err = store.Restore(ctx, backup, store.Options{Path: path, Now: evening})
	require.ErrorIs(t, err, fs.ErrExist, "and never written over")

	elsewhere := filepath.Join(t.TempDir(), "new", "folder", "x.db")
	aside, err = store.Restore(ctx, backup, store.Options{Path: elsewhere})
	require.NoError(t, err)
	require.Empty(t, aside)
	require.Equal(t, 10, count(t, elsewhere))
}

// Names that are not whole start from the folder one is in, for both.
func TestBackupAndRestoreByARelativeName(t *testing.T) {
	ctx := t.Context()
	s, err := store.Open(ctx, store.Options{Path: file(t, 10)})
	require.NoError(t, err)
	dir := t.TempDir()
	t.Chdir(dir)
	require.NoError(t, s.Backup(ctx, "copy.db"))
	require.Equal(t, 10, count(t, filepath.Join(dir, "copy.db")))
	require.NoError(t, s.Close())
	_, err = store.Restore(ctx, "copy.db", store.Options{Path: filepath.Join("state", "x.db")})
	require.NoError(t, err)
	require.Equal(t, 10, count(t, filepath.Join(dir, "state", "x.db")))
}

func TestRestoreOverADamagedFile(t *testing.T) {
	ctx := t.Context()
	backup, path := file(t, 10), file(t, 1500)
	require.NoError(t, os.WriteFile(path, bytes.Repeat([]byte("spoiled "), 5000), 0o600))
	require.NoError(t, os.WriteFile(path+"-wal", []byte("spoiled too"), 0o600))
	aside, err := store.Restore(ctx, backup, store.Options{Path: path, Now: evening})
	require.NoError(t, err)
	require.Equal(t, 10, count(t, path))
	b, err := os.ReadFile(aside)
	require.NoError(t, err)
	require.Contains(t, string(b), "spoiled")
}

func TestRestoreRefuses(t *testing.T) {
	ctx := t.Context()
	path := file(t, 5)
	spoiled := file(t, 1500)
	f, err := os.OpenFile(spoiled, os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteAt(bytes.Repeat([]byte{0xa5}, 64<<10), 100<<10)
	require.NoError(t, err)
	require.NoError(t, f.Close())
	empty := filepath.Join(t.TempDir(), "empty.db")
	require.NoError(t, os.WriteFile(empty, nil, 0o600))
	for name, want := range map[string]string{
		spoiled:                             store.ErrCorrupt.Error(),
		empty:                               "the file is empty",
		filepath.Join(t.TempDir(), "no.db"): "no such file or directory",
	} {
		_, err := store.Restore(ctx, name, store.Options{Path: path})
		require.ErrorContains(t, err, want)
		require.ErrorContains(t, err, "restore "+name)
		require.Equal(t, 5, count(t, path), "nothing changed")
	}
}

func TestReadsGoOnDuringAWrite(t *testing.T) {
	s := open(t)
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	_, err := s.AddObservations(ctx, []models.Observation{observation(0)})
	require.NoError(t, err)
	done := make(chan error, 1)
	go func() {
		var err error
		for i := 1; i < 10 && err == nil; i++ {
			var obs []models.Observation
			for n := range 200 {
				obs = append(obs, observation(i*200+n))
			}
			_, err = s.AddObservations(ctx, obs)
		}
		done <- err
	}()
	var wg sync.WaitGroup
	errs := make([]error, 6)
	counts := make([][]int, len(errs))
	for i := range errs {
		wg.Go(func() {
			for range 10 {
				got, err := s.Observations(ctx, "XAMP1", always())
				if err != nil {
					errs[i] = err
					return
				}
				counts[i] = append(counts[i], len(got))
			}
		})
	}
	wg.Wait()
	require.NoError(t, <-done)
	for i := range errs {
		require.NoError(t, errs[i])
		for _, n := range counts[i] {
			require.Equal(t, 1, n%200, "a reader sees whole batches")
		}
		require.IsNonDecreasing(t, counts[i])
	}
}

// The driver is transpiled against one version of its C library: with any
// other it may misbehave (its changelog, issue 177 of its tracker).
func TestTheDriversLibraryIsTheOneItWants(t *testing.T) {
	list := func(module, field string) string {
		out, err := exec.CommandContext(t.Context(), "go", "list", "-m", "-f", "{{."+field+"}}", module).CombinedOutput()
		require.NoError(t, err, string(out))
		return strings.TrimSpace(string(out))
	}
	mod, err := os.ReadFile(list("modernc.org/sqlite", "GoMod"))
	require.NoError(t, err)
	wants := regexp.MustCompile(`modernc\.org/libc (v\S+)`).FindSubmatch(mod)
	require.NotNil(t, wants)
	require.Equal(t, string(wants[1]), list("modernc.org/libc", "Version"))
}

// older is a store as one of our own earlier versions left it.
func older(t testing.TB, version int) string {
	t.Helper()
	ours, err := store.Migrations()
	require.NoError(t, err)
	names, err := fs.Glob(ours, "*.sql")
	require.NoError(t, err)
	some := fstest.MapFS{}
	for _, name := range names[:version] {
		b, err := fs.ReadFile(ours, name)
		require.NoError(t, err)
		some[name] = &fstest.MapFile{Data: b}
	}
	path := filepath.Join(t.TempDir(), store.FileName)
	s, err := store.OpenWith(t.Context(), store.Options{Path: path, Now: evening}, some)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	return path
}

// What was kept while a day had one trip is carried to the schema where it has
// several: calls with what they were made from, and float plans.
func TestUpgradeToSeveralTripsADay(t *testing.T) {
	ctx := t.Context()
	path := older(t, 1)
	var packed bytes.Buffer
	w := gzip.NewWriter(&packed)
	_, err := w.Write([]byte(`{"schema":"invented"}`))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	// Written as the first version wrote it.
	db, err := sql.Open("sqlite", "file:"+path)
	require.NoError(t, err)
	for _, id := range []int{7, 8} {
		_, err = db.ExecContext(ctx, `INSERT INTO calls (id, port, ground, date, made_at, tactic, going, confidence, agreement, standing, document)
			VALUES (?, 'Port A', 'the edge', '2027-01-19', ?, 'kite', 1, 'likely', 0.8, '{"timing":["as booked"],"worst_ride":"ok"}', ?)`, id, evening().Unix()+int64(id), packed.Bytes())
		require.NoError(t, err)
	}
	_, err = db.ExecContext(ctx, "INSERT INTO outlooks (call_id, made_at, document) VALUES (7, ?, ?)", evening().Unix(), packed.Bytes())
	require.NoError(t, err)
	_, err = db.ExecContext(ctx, `INSERT INTO float_plans (port, date, boat, ground, leave_at, back_at, overdue_at, left_at)
		VALUES ('Port A', '2027-01-19', 'Invented', 'the edge', ?, ?, ?, ?)`, evening().Unix(), evening().Unix()+3600, evening().Unix()+7200, evening().Unix())
	require.NoError(t, err)
	require.NoError(t, db.Close())

	s, err := store.Open(ctx, store.Options{Path: path, Now: evening})
	require.NoError(t, err)
	defer s.Close()
	calls, err := s.Calls(ctx, "Port A", day(0), 10)
	require.NoError(t, err)
	require.Len(t, calls, 2)
	require.Equal(t, int64(8), calls[0].ID)
	require.Empty(t, calls[0].Booking)
	kept, err := s.Call(ctx, 7)
	require.NoError(t, err)
	require.JSONEq(t, `{"schema":"invented"}`, string(kept.Document))
	require.JSONEq(t, `{"schema":"invented"}`, string(kept.Outlook))
	plans, err := s.FloatPlans(ctx, "Port A", day(0))
	require.NoError(t, err)
	require.Len(t, plans, 1)
	require.Equal(t, models.Known(evening()), plans[0].Left)
	require.NoError(t, s.CheckInFloat(ctx, plans[0], "the captain", evening()))

	// An outlook still goes with its call, and no other table was left behind.
	require.NoError(t, s.Exec(ctx, "DELETE FROM calls WHERE id = 7"))
	left, err := s.Strings(ctx, "SELECT count(*) FROM outlooks")
	require.NoError(t, err)
	require.Equal(t, []string{"0"}, left)
	left, err = s.Strings(ctx, "SELECT name FROM sqlite_schema WHERE name LIKE '%by_trip%' OR sql LIKE '%by_trip%'")
	require.NoError(t, err)
	require.Empty(t, left)
	broken, err := s.Strings(ctx, "PRAGMA foreign_key_check")
	require.NoError(t, err)
	require.Empty(t, broken)
}
