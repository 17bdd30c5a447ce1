package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"

	"forecastd/internal/models"
)

const runColumns = "id, job, trigger_word, due_at, started_at, ended_at, outcome, error, account"

func scanRun(rows *sql.Rows) (r models.Run, err error) {
	var account sql.NullString
	err = rows.Scan(&r.ID, &r.Job, &r.Trigger, toTime(&r.Due), toTime(&r.Started), toOptTime(&r.Ended), &r.Outcome, &r.Error, &account)
	if account.Valid {
		r.Account = json.RawMessage(account.String)
	}
	return r, err
}

// LastSuccess returns the newest instant, not after notAfter, that a run of a
// job which went well was due at; unknown if there is none.
func (s *Store) LastSuccess(ctx context.Context, job string, notAfter time.Time) (models.Opt[time.Time], error) {
	return one(ctx, s.read, "read the last run of "+job, func(rows *sql.Rows) (due models.Opt[time.Time], err error) {
		return due, rows.Scan(toOptTime(&due))
	}, "SELECT max(due_at) FROM runs WHERE job = ? AND outcome = 'ok' AND due_at <= ?", job, at(notAfter))
}

// BeginRun keeps a run that begins, and returns its number.
func (s *Store) BeginRun(ctx context.Context, r models.Run) (int64, error) {
	return s.insert(ctx, "keep a run", "INSERT INTO runs (job, trigger_word, due_at, started_at, outcome, error) VALUES (?,?,?,?,'','')",
		r.Job, string(r.Trigger), at(r.Due), at(r.Started))
}

// EndRun keeps how the run of that number ended. An account that is no JSON
// is kept as a JSON text.
func (s *Store) EndRun(ctx context.Context, r models.Run) error {
	account := any(nil)
	switch {
	case json.Valid(r.Account):
		account = string(r.Account)
	case len(r.Account) > 0:
		quoted, err := json.Marshal(string(r.Account))
		if err != nil {
			return fault("keep the account of a run", err)
		}
		account = string(quoted)
	}
	return s.change(ctx, fmt.Sprintf("keep the end of run %d", r.ID), "UPDATE runs SET ended_at = ?, outcome = ?, error = ?, account = ? WHERE id = ?",
		optAt(r.Ended), string(r.Outcome), r.Error, account, r.ID)
}

// CloseRuns marks the runs that never ended as cut off, and returns how many
// there were. The daemon does so before it starts any.
func (s *Store) CloseRuns(ctx context.Context) (int, error) {
	res, err := s.write.ExecContext(ctx, "UPDATE runs SET outcome = ?, error = 'the process ended in the middle of it' WHERE outcome = ''", string(models.RunCutOff))
	if err != nil {
		return 0, fault("close runs", err)
	}
	n, err := res.RowsAffected()
	return int(n), fault("close runs", err)
}

// Run returns one run.
func (s *Store) Run(ctx context.Context, id int64) (models.Run, error) {
	return one(ctx, s.read, fmt.Sprintf("read run %d", id), scanRun, "SELECT "+runColumns+" FROM runs WHERE id = ?", id)
}

// Runs returns the newest runs of a job, or of all for an empty name, newest
// first and at most n.
func (s *Store) Runs(ctx context.Context, job string, n int) ([]models.Run, error) {
	return list(ctx, s.read, "read runs", scanRun, "SELECT "+runColumns+" FROM runs WHERE ? = '' OR job = ? ORDER BY id DESC LIMIT ?", job, job, n)
}
