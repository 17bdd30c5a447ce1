package store

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/pressly/goose/v3"
)

//go:embed migrations/*.sql
var migrations embed.FS

// applicationID marks our files ("fcsd"), as the first migration sets it.
const applicationID = 0x66637364

// copies is how many copies made before changes of schema are kept.
const copies = 3

// Checks of a file. The quick one reads every page, the full one also compares
// the indexes with their tables.
const (
	noCheck    = ""
	quickCheck = "quick_check"
	fullCheck  = "integrity_check"
)

// identity is what a file is.
type identity struct {
	empty   bool
	version int64
}

// inspect looks at a file without changing it: whether it is ours and whole,
// and of which version. The check is one of the names above.
func inspect(ctx context.Context, path, check string) (id identity, err error) {
	info, err := os.Stat(path)
	if err != nil {
		return id, err
	}
	if info.Size() == 0 {
		return identity{empty: true}, nil
	}
	db, err := connect(path, 1, "_pragma=query_only(1)")
	if err != nil {
		return id, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	var app int64
	var tables int
	if err := db.QueryRowContext(ctx, "PRAGMA application_id").Scan(&app); err != nil {
		return id, err
	}
	if err := db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&tables); err != nil {
		return id, err
	}
	if check != noCheck {
		problems, err := list(ctx, db, "check the file", text, "PRAGMA "+check+"(3)")
		if err != nil {
			return id, err
		}
		if !slices.Equal(problems, []string{"ok"}) {
			return id, fmt.Errorf("%w (%s)", ErrCorrupt, strings.Join(problems, "; "))
		}
	}
	switch {
	case app == 0 && tables == 0:
		return identity{empty: true}, nil // killed before its first change
	case app != applicationID:
		// Goose makes its table before the first change of schema.
		var others int
		err := db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema WHERE tbl_name NOT IN ('schema_versions', 'sqlite_sequence')").Scan(&others)
		if err == nil && (app != 0 || others > 0) {
			err = ErrForeign
		}
		return identity{empty: true}, err
	}
	err = db.QueryRowContext(ctx, "SELECT max(version_id) FROM schema_versions").Scan(&id.version)
	return id, err
}

func text(rows *sql.Rows) (s string, err error) { return s, rows.Scan(&s) }

// target is the version of the newest migration.
func target(fsys fs.FS) (int64, error) {
	p, err := goose.NewProvider(goose.DialectSQLite3, new(sql.DB), fsys, goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return 0, err
	}
	sources := p.ListSources()
	return sources[len(sources)-1].Version, nil
}

func (o Options) schema() (fs.FS, error) {
	if o.migrations != nil {
		return o.migrations, nil
	}
	return fs.Sub(migrations, "migrations")
}

// migrate brings the schema up to date, after a copy of what was there.
func (s *Store) migrate(ctx context.Context, o Options, found identity) error {
	fsys, err := o.schema()
	if err != nil {
		return err
	}
	want, err := target(fsys)
	switch {
	case err != nil:
		return err
	case found.version > want:
		return fmt.Errorf("%w (its schema is %d, ours %d)", ErrNewer, found.version, want)
	case found.version == want:
		return nil
	}
	if !found.empty {
		name := fmt.Sprintf("%s.v%d-%s", s.path, found.version, stamp(o.Now()))
		if err := vacuumInto(ctx, s.path, name); err != nil {
			return fmt.Errorf("copy the file before its schema changes: %w", err)
		}
		o.Logger.InfoContext(ctx, "the store's schema changes", "from", found.version, "to", want, "copy", name)
	}
	p, err := goose.NewProvider(goose.DialectSQLite3, s.write, fsys, goose.WithTableName("schema_versions"), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		return err
	}
	// Another process may be doing it at the same time: as long as the version
	// rises, wait for it to end.
	for before := int64(-1); ; {
		_, err := p.Up(ctx)
		if err == nil {
			break
		}
		have, _, verr := p.GetVersions(ctx)
		if verr == nil && have == want {
			break
		}
		if verr != nil || have <= before || ctx.Err() != nil {
			return fmt.Errorf("change the schema to version %d: %w", want, err)
		}
		before = have
	}
	return s.dropOldCopies()
}

// olderCopies returns the copies made before changes of schema, oldest first,
// and when each was made.
func (s *Store) olderCopies() (names []string, when func(name string) string, err error) {
	names, err = filepath.Glob(globQuote(s.path) + ".v*-*")
	when = func(name string) string { return name[strings.LastIndexByte(name, '-')+1:] }
	slices.SortFunc(names, func(a, b string) int { return strings.Compare(when(a), when(b)) })
	return names, when, err
}

// dropOldCopies keeps the newest copies.
func (s *Store) dropOldCopies() error {
	names, _, err := s.olderCopies()
	for err == nil && len(names) > copies {
		err, names = os.Remove(names[0]), names[1:]
	}
	return err
}

// dropCopiesBefore removes the copies made before an instant.
func (s *Store) dropCopiesBefore(t time.Time) error {
	names, when, err := s.olderCopies()
	for err == nil && len(names) > 0 && when(names[0]) < stamp(t) {
		err, names = os.Remove(names[0]), names[1:]
	}
	return err
}

func globQuote(s string) string {
	return strings.NewReplacer(`\`, `\\`, "*", `\*`, "?", `\?`, "[", `\[`).Replace(s)
}
