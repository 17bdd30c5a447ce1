package store

import (
	"context"
	"database/sql"
	"fmt"
	"math"
	"time"

	"forecastd/internal/models"
)

// Retention says how long things are kept; 0 keeps them for good. What people
// said and wrote down (reports, overrides, bait, the log) and float plans are
// small, and always kept.
type Retention struct {
	Observations time.Duration
	// Series are forecasts as fetched, by the age of their run.
	Series time.Duration
	// Outlooks are what calls were made from; Calls the calls themselves.
	Outlooks, Calls time.Duration
	Warnings        time.Duration
	// Messages are those that no longer wait, and drafts.
	Messages time.Duration
	// Runs are those that went well, Failed the others.
	Runs, Failed time.Duration
	// Contacts is how many days after a trip the guests' names and contacts
	// are erased everywhere: from its booking with its ID, the messages to and
	// about them and the call's draft for them. 0 erases them the day after.
	// Backups, what a restore set aside, and what the captain wrote into his
	// log himself are his to delete.
	Contacts int
	// MaxBytes bounds the file. Over it the oldest outlooks go, then series,
	// observations and calls, but never those of the last two days; 0 is no
	// bound.
	MaxBytes int64
}

// Pruned is what a pruning did.
type Pruned struct {
	// Rows counts what was dropped, by kind.
	Rows map[string]int
	// Erased counts bookings whose guests were erased.
	Erased int
	// Bytes is how large the file is now, without what is free in it.
	Bytes int64
	// Over tells that the file is still larger than it should be.
	Over bool
}

// spared is how much of the newest data the size bound never touches.
const spared = 48 * time.Hour

// shortestCopy is how many days a copy made before a change of schema is kept
// at the least.
const shortestCopy = 7

// shelf is a kind of thing that grows old.
type shelf struct {
	kind, table, key, where, column string
	// batch is how many rows are dropped in one step, so that others get to
	// write in between.
	batch int
}

func observationShelf() shelf {
	return shelf{"observations", "observations", "station, observed_at, source", "true", "observed_at", 2000}
}

// A series takes its hours along, and an outlook is large.
func seriesShelf() shelf  { return shelf{"series", "series", "id", "true", "run_at", 50} }
func callShelf() shelf    { return shelf{"calls", "calls", "id", "true", "made_at", 100} }
func outlookShelf() shelf { return shelf{"outlooks", "outlooks", "call_id", "true", "made_at", 20} }

// NewestAnswer is when the newest report of a station was made, or the newest
// run of a forecast: the services' time, not ours. Those after notAfter do not
// count, where it is given; unknown where there are none.
func (s *Store) NewestAnswer(ctx context.Context, notAfter time.Time) (models.Opt[time.Time], error) {
	last := int64(math.MaxInt64)
	if !notAfter.IsZero() {
		last = at(notAfter)
	}
	found, err := list(ctx, s.read, "look for the newest answer", func(rows *sql.Rows) (t models.Opt[time.Time], err error) { return t, rows.Scan(toOptTime(&t)) },
		"SELECT max(t) FROM (SELECT max(observed_at) AS t FROM observations WHERE observed_at <= ? UNION ALL SELECT max(run_at) FROM series WHERE run_at <= ?)", last, last)
	if err != nil || len(found) == 0 {
		return models.Unknown[time.Time](), err
	}
	return found[0], nil
}

// Prune drops what is older than it should be, erases guests, keeps the size
// within bounds and gives the room back to the disk. It may be cut off at any
// time and called again. Ages count from the newest answer of the services
// where that is before now: a clock that is ahead erases nothing.
func (s *Store) Prune(ctx context.Context, now time.Time, keep Retention) (Pruned, error) {
	p := Pruned{Rows: map[string]int{}}
	newest, err := s.NewestAnswer(ctx, now)
	if err != nil {
		return p, err
	}
	now = newest.Or(now)
	// Guests first: that is a promise, the rest is housekeeping.
	if err := s.erase(ctx, now, keep.Contacts, &p); err != nil {
		return p, err
	}
	// They are in the copies made before changes of schema too.
	if err := s.dropCopiesBefore(now.AddDate(0, 0, -max(keep.Contacts, shortestCopy))); err != nil {
		return p, fault("drop old copies", err)
	}
	for _, o := range []struct {
		shelf
		age time.Duration
	}{
		{observationShelf(), keep.Observations},
		{seriesShelf(), keep.Series},
		{outlookShelf(), keep.Outlooks},
		{callShelf(), keep.Calls},
		{shelf{"warnings", "warnings", "id", "ended_at IS NOT NULL", "last_seen_at", 500}, keep.Warnings},
		// The last word on a trouble stays, or nobody would be told that it is
		// over; it may have been written by a clock that was years behind.
		{shelf{"messages", "messages", "seq", "state <> 'waiting' AND (notice <> 'trouble' OR EXISTS (SELECT 1 FROM messages n WHERE n.key = messages.key AND n.seq > messages.seq))", "made_at", 500}, keep.Messages},
		{shelf{"used links", "used_links", "nonce", "true", "until_at", 1000}, 24 * time.Hour},
		{shelf{"logins", "sessions", "token_hash", "true", "expires_at", 1000}, 24 * time.Hour},
		{shelf{"drafts", "drafts", "id", "true", "expires_at", 500}, keep.Messages},
		{shelf{"runs", "runs", "id", "outcome = 'ok'", "started_at", 1000}, keep.Runs},
		{shelf{"failed runs", "runs", "id", "outcome NOT IN ('', 'ok')", "started_at", 1000}, keep.Failed},
	} {
		for o.age > 0 {
			n, err := s.drop(ctx, o.shelf, now.Add(-o.age))
			if err != nil {
				return p, err
			}
			if p.Rows[o.kind] += n; n < o.batch {
				break
			}
		}
	}
	if err := s.shrink(ctx, now, keep.MaxBytes, &p); err != nil {
		return p, err
	}
	return p, fault("give room back", s.giveBack(ctx))
}

// drop deletes one batch of the oldest rows before an instant.
func (s *Store) drop(ctx context.Context, o shelf, before time.Time) (int, error) {
	doing := "drop old " + o.kind
	res, err := s.write.ExecContext(ctx, fmt.Sprintf("DELETE FROM %[1]s WHERE (%[2]s) IN (SELECT %[2]s FROM %[1]s WHERE %[3]s AND %[4]s < ? ORDER BY %[4]s LIMIT %[5]d)",
		o.table, o.key, o.where, o.column, o.batch), at(before))
	if err != nil {
		return 0, fault(doing, err)
	}
	n, err := res.RowsAffected()
	return int(n), fault(doing, err)
}

// shrink drops the oldest of what is bulky until the file is small enough.
func (s *Store) shrink(ctx context.Context, now time.Time, most int64, p *Pruned) (err error) {
	bulky := []shelf{outlookShelf(), seriesShelf(), observationShelf(), callShelf()}
	for {
		if p.Bytes, err = s.Size(ctx); err != nil {
			return err
		}
		p.Over = most > 0 && p.Bytes > most
		if !p.Over || len(bulky) == 0 {
			return nil
		}
		n, err := s.drop(ctx, bulky[0], now.Add(-spared))
		if err != nil {
			return err
		}
		if p.Rows[bulky[0].kind] += n; n == 0 {
			bulky = bulky[1:]
		}
	}
}

// Size returns how many bytes of the file are in use.
func (s *Store) Size(ctx context.Context) (int64, error) {
	return one(ctx, s.read, "measure the store", func(rows *sql.Rows) (n int64, err error) { return n, rows.Scan(&n) },
		"SELECT (page_count - freelist_count) * page_size FROM pragma_page_count, pragma_freelist_count, pragma_page_size")
}

// erase removes guests from what is kept of trips that lie some days back:
// their names and contacts from bookings, the words to them from calls, drafts
// and messages. Every message loses its words: the evening's names the guests
// of a day with several trips, and a message knows no trip, so that its days
// count from when it was made, which is before. What it was about and that it
// was sent stays.
func (s *Store) erase(ctx context.Context, now time.Time, days int, p *Pruned) error {
	// A civil day is over everywhere on Earth 12 hours after it is in UTC.
	last := models.DateOf(now.Add(-12*time.Hour), time.UTC).AddDays(-days).String()
	return s.update(ctx, "erase guests", func(tx *sql.Tx) (err error) {
		if p.Erased, err = eraseBookings(ctx, tx, last, now); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "DELETE FROM drafts WHERE date < ?", last); err != nil {
			return err
		}
		if err := eraseCalls(ctx, tx, last, now); err != nil {
			return err
		}
		return eraseMessages(ctx, tx, now.AddDate(0, 0, -days-1))
	})
}

// giveBack returns free pages to the disk and empties the journal.
func (s *Store) giveBack(ctx context.Context) error {
	for {
		free, err := one(ctx, s.write, "count free pages", func(rows *sql.Rows) (n int64, err error) { return n, rows.Scan(&n) }, "PRAGMA freelist_count")
		if err != nil {
			return err
		}
		if free == 0 {
			break
		}
		// Each row stepped through gives one page back.
		if _, err := list(ctx, s.write, "give pages back", func(*sql.Rows) (struct{}, error) { return struct{}{}, nil }, "PRAGMA incremental_vacuum(2000)"); err != nil {
			return err
		}
	}
	// A reader may hold the journal: then it is emptied another time.
	_, err := list(ctx, s.write, "empty the journal", func(*sql.Rows) (struct{}, error) { return struct{}{}, nil }, "PRAGMA wal_checkpoint(TRUNCATE)")
	if err != nil {
		return err
	}
	_, err = s.write.ExecContext(ctx, "PRAGMA optimize")
	return err
}
