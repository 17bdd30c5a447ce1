package store

import (
	"context"
	"database/sql"
	"time"
)

// Use marks the nonce of a signed link as used and tells whether this was the
// first time. Prune forgets it after until, when the link is too old anyway.
func (s *Store) Use(ctx context.Context, nonce string, until time.Time) (first bool, err error) {
	err = s.update(ctx, "mark a link as used", func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, "INSERT INTO used_links (nonce, until_at) VALUES (?,?) ON CONFLICT DO NOTHING", nonce, at(until))
		if err != nil {
			return err
		}
		n, err := res.RowsAffected()
		first = n == 1
		return err
	})
	return first && err == nil, err
}

// Used tells whether the nonce of a link was used.
func (s *Store) Used(ctx context.Context, nonce string) (bool, error) {
	n, err := one(ctx, s.read, "look for a used link", integerOf, "SELECT count(*) FROM used_links WHERE nonce = ?", nonce)
	return n > 0, err
}

func integerOf(rows *sql.Rows) (n int64, err error) { return n, rows.Scan(&n) }
