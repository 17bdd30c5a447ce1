package store

import (
	"context"
	"io/fs"
	"time"
)

// OpenWith opens a store with other migrations than our own.
func OpenWith(ctx context.Context, o Options, migrations fs.FS) (*Store, error) {
	o.migrations = migrations
	return Open(ctx, o)
}

// Migrations are our own.
func Migrations() (fs.FS, error) { return Options{}.schema() }

// Exec runs a statement on the connection that writes.
func (s *Store) Exec(ctx context.Context, stmt string, args ...any) error {
	_, err := s.write.ExecContext(ctx, stmt, args...)
	return fault("run a statement", err)
}

// Strings returns the first column of a query.
func (s *Store) Strings(ctx context.Context, query string) ([]string, error) {
	return list(ctx, s.read, "run a query", text, query)
}

// ExecReading runs a statement on a connection that reads.
func (s *Store) ExecReading(ctx context.Context, stmt string) error {
	_, err := s.read.ExecContext(ctx, stmt)
	return fault("run a statement", err)
}

// StringsOfTheWriter returns the first column of a query on the connection
// that writes.
func (s *Store) StringsOfTheWriter(ctx context.Context, query string) ([]string, error) {
	return list(ctx, s.write, "run a query", text, query)
}

// DefaultRetention keeps a year of what is learned from and a file under a
// gigabyte.
func DefaultRetention() Retention {
	const day = 24 * time.Hour
	return Retention{
		Observations: 400 * day, Series: 120 * day, Outlooks: 30 * day, Calls: 3 * 365 * day, Warnings: 400 * day,
		Messages: 180 * day, Runs: 30 * day, Failed: 120 * day, Contacts: 14, MaxBytes: 1 << 30,
	}
}
