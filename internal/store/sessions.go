package store

import (
	"context"
	"database/sql"
	"time"

	"forecastd/internal/models"
)

// Sessions keeps who is logged in at the pages.
type Sessions struct{ s *Store }

// Sessions returns the store's sessions.
func (s *Store) Sessions() Sessions { return Sessions{s} }

// Begin keeps a login.
func (l Sessions) Begin(ctx context.Context, one models.Session) error {
	return l.s.update(ctx, "keep a login", func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "INSERT INTO sessions (token_hash, role, under_hash, began_at, used_at, expires_at) VALUES (?,?,?,?,?,?)",
			one.Token, one.Role, one.Under, at(one.Began), at(one.Used), at(one.Expires))
		return err
	})
}

// Find returns a login, also one that has expired and is not pruned yet.
func (l Sessions) Find(ctx context.Context, token string) (models.Opt[models.Session], error) {
	found, err := list(ctx, l.s.read, "look for a login", scanSession,
		"SELECT token_hash, role, under_hash, began_at, used_at, expires_at FROM sessions WHERE token_hash = ?", token)
	if err != nil || len(found) == 0 {
		return models.Unknown[models.Session](), err
	}
	return models.Known(found[0]), nil
}

func scanSession(rows *sql.Rows) (one models.Session, err error) {
	err = rows.Scan(&one.Token, &one.Role, &one.Under, toTime(&one.Began), toTime(&one.Used), toTime(&one.Expires))
	return one, err
}

// Touch keeps that a login was used, and until when it now counts. One that
// was ended meanwhile stays ended.
func (l Sessions) Touch(ctx context.Context, token string, used, expires time.Time) error {
	return l.s.update(ctx, "keep that a login was used", func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "UPDATE sessions SET used_at = ?, expires_at = ? WHERE token_hash = ?", at(used), at(expires), token)
		return err
	})
}

// End ends a login.
func (l Sessions) End(ctx context.Context, token string) error {
	return l.s.update(ctx, "end a login", func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "DELETE FROM sessions WHERE token_hash = ?", token)
		return err
	})
}

// EndAll ends all logins of a role but those under one passphrase; an empty
// one spares none.
func (l Sessions) EndAll(ctx context.Context, role, under string) error {
	return l.s.update(ctx, "end the logins of a role", func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, "DELETE FROM sessions WHERE role = ? AND under_hash <> ?", role, under)
		return err
	})
}
