package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net/url"
	"os"
	"path/filepath"
	"sync/atomic"
	"time"

	_ "modernc.org/sqlite" // the driver "sqlite"
)

// FileName is what a store is called inside a state folder.
const FileName = "forecastd.db"

// readers bounds the connections that only read.
const readers = 4

// Options are what a Store is made of. Path is needed; the rest has defaults.
type Options struct {
	// Path is the file. It and its folder are made where they are missing.
	Path string
	// Now names the copies made before a change of schema; nil means
	// time.Now.
	Now func() time.Time
	// Logger hears of changes of schema; nil is silent.
	Logger *slog.Logger
	// SkipCheck opens the file without reading all of it for damage, which
	// takes seconds on a small computer: for commands beside a daemon that
	// has checked it.
	SkipCheck bool

	migrations fs.FS // other than our own: for tests
}

// Store is the open file. Its methods may be called by several goroutines:
// reads go on while one writes.
type Store struct {
	path string
	// write has one connection, since a file has one writer; each of its
	// commits waits for the disk, so that what was answered as kept outlives a
	// power cut. read has connections that can't write.
	write *sql.DB
	read  reader
	// refused is what the disk said to the last change; nil is all is well.
	refused atomic.Pointer[error]
	// damage is what was first found damaged; harm is closed then.
	damage atomic.Pointer[error]
	harm   chan struct{}
}

// reader are the connections that only read; what they meet is noted.
type reader struct {
	*sql.DB
	note func(error) error
}

// Open opens the file, checks that it is whole and brings its schema up to
// date. Errors wrap ErrCorrupt, ErrForeign, ErrNewer, ErrReadOnly, ErrFull or
// ErrBusy where one of them fits.
func Open(ctx context.Context, o Options) (*Store, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	s, err := open(ctx, o)
	if err != nil {
		return nil, fault(fmt.Sprintf("open the store %s", o.Path), err)
	}
	return s, nil
}

func open(ctx context.Context, o Options) (*Store, error) {
	path, err := filepath.Abs(o.Path)
	if err != nil {
		return nil, err
	}
	if err := prepare(path); err != nil {
		return nil, err
	}
	check := quickCheck
	if o.SkipCheck {
		check = noCheck
	}
	found, err := inspect(ctx, path, check)
	if err != nil {
		return nil, err
	}
	s := &Store{path: path, harm: make(chan struct{})}
	if s.write, err = connect(path, 1, "_pragma=auto_vacuum(2)", "_pragma=journal_mode(WAL)", "_pragma=secure_delete(1)", "_pragma=synchronous(2)", "_txlock=immediate"); err != nil {
		return nil, err
	}
	if err := s.migrate(ctx, o, found); err != nil {
		return nil, errors.Join(err, s.write.Close())
	}
	read, err := connect(path, readers, "_pragma=query_only(1)")
	if err != nil {
		return nil, errors.Join(err, s.write.Close())
	}
	s.read = reader{read, s.hurt}
	return s, nil
}

// prepare makes the folder and the file, both for the owner alone: guests'
// contacts are in there.
func prepare(path string) error {
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return err
	}
	// The journal is made beside the file, so the folder must be writable
	// too, which SQLite would tell late and badly.
	probe, err := os.CreateTemp(dir, ".probe-*")
	if err != nil {
		return err
	}
	if err := errors.Join(probe.Close(), os.Remove(probe.Name())); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	return f.Close()
}

// connect makes a pool of connections to a file, each set up the same way.
func connect(path string, conns int, params ...string) (*sql.DB, error) {
	u := url.URL{Scheme: "file", Path: filepath.ToSlash(path)}
	dsn := u.String() + "?_pragma=busy_timeout(5000)&_pragma=foreign_keys(1)&_pragma=synchronous(1)"
	for _, p := range params {
		dsn += "&" + p
	}
	db, err := sql.Open("sqlite", dsn)
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(conns)
	db.SetMaxIdleConns(conns)
	return db, nil
}

// Close closes the file.
func (s *Store) Close() error {
	return fault("close the store", errors.Join(s.read.Close(), s.write.Close()))
}

// Path tells where the file is.
func (s *Store) Path() string { return s.path }

// Ready tells whether the store can be written now: it takes the writer's
// place for a moment and changes nothing. Where the disk refused the last
// change, Ready answers that until one is taken again.
func (s *Store) Ready(ctx context.Context) error {
	if damage := s.damage.Load(); damage != nil {
		return *damage
	}
	if refused := s.refused.Load(); refused != nil {
		return *refused
	}
	return s.transact(ctx, "reach the store", func(tx *sql.Tx) error {
		var n int
		return tx.QueryRowContext(ctx, "SELECT count(*) FROM schema_versions").Scan(&n)
	})
}

// Damaged is closed when a read or a write has found the file damaged. It does
// not heal.
func (s *Store) Damaged() <-chan struct{} { return s.harm }

// hurt remembers that the file was found damaged, and passes the error on.
func (s *Store) hurt(err error) error {
	if errors.Is(err, ErrCorrupt) && s.damage.CompareAndSwap(nil, &err) {
		close(s.harm)
	}
	return err
}

// update runs f in one transaction: all of it is kept, or nothing.
func (s *Store) update(ctx context.Context, doing string, f func(*sql.Tx) error) error {
	return s.changed(s.transact(ctx, doing, f))
}

// changed remembers what the disk said to a change, and passes it on.
func (s *Store) changed(err error) error {
	_ = s.hurt(err)
	switch {
	case err == nil:
		s.refused.Store(nil)
	case errors.Is(err, ErrFull), errors.Is(err, ErrReadOnly), errors.Is(err, ErrDisk), errors.Is(err, ErrCorrupt):
		s.refused.Store(&err)
	}
	return err
}

func (s *Store) transact(ctx context.Context, doing string, f func(*sql.Tx) error) error {
	tx, err := s.write.BeginTx(ctx, nil)
	if err != nil {
		return fault(doing, err)
	}
	if err := f(tx); err != nil {
		return fault(doing, errors.Join(err, rollback(tx)))
	}
	return fault(doing, tx.Commit())
}

func rollback(tx *sql.Tx) error {
	if err := tx.Rollback(); err != nil && !errors.Is(err, sql.ErrTxDone) {
		return err
	}
	return nil
}

// change runs one statement that must hit a row.
func (s *Store) change(ctx context.Context, doing, stmt string, args ...any) error {
	res, err := s.write.ExecContext(ctx, stmt, args...)
	if err := s.changed(fault(doing, err)); err != nil {
		return err
	}
	n, err := res.RowsAffected()
	if err == nil && n == 0 {
		err = ErrNotFound
	}
	return fault(doing, err)
}

// insert runs one statement and returns the new row's number.
func (s *Store) insert(ctx context.Context, doing, stmt string, args ...any) (int64, error) {
	res, err := s.write.ExecContext(ctx, stmt, args...)
	if err := s.changed(fault(doing, err)); err != nil {
		return 0, err
	}
	id, err := res.LastInsertId()
	return id, fault(doing, err)
}

// querier is a pool or a transaction.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// list reads all rows of a query.
func list[T any](ctx context.Context, q querier, doing string, scan func(*sql.Rows) (T, error), query string, args ...any) ([]T, error) {
	out, err := rowsOf(ctx, q, doing, scan, query, args...)
	if r, ok := q.(reader); ok && err != nil {
		return out, r.note(err)
	}
	return out, err
}

func rowsOf[T any](ctx context.Context, q querier, doing string, scan func(*sql.Rows) (T, error), query string, args ...any) ([]T, error) {
	rows, err := q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, fault(doing, err)
	}
	defer rows.Close()
	var out []T
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return nil, fault(doing, err)
		}
		out = append(out, v)
	}
	return out, fault(doing, rows.Err())
}

// one reads the first row of a query, or answers ErrNotFound.
func one[T any](ctx context.Context, q querier, doing string, scan func(*sql.Rows) (T, error), query string, args ...any) (T, error) {
	all, err := list(ctx, q, doing, scan, query, args...)
	if err == nil && len(all) == 0 {
		err = fault(doing, ErrNotFound)
	}
	if err != nil {
		var zero T
		return zero, err
	}
	return all[0], nil
}
