package store

import (
	"bytes"
	"compress/gzip"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Call is a call as kept. Document and Outlook are the JSON documents of a
// call and of what it was made from, as they are exchanged.
type Call struct {
	ID           int64
	Port, Ground string
	// Booking marks the trip it is for among those of the day, and names
	// nobody; empty where nothing is booked.
	Booking    string
	Confidence models.Confidence
	Agreement  float64
	// Standing holds the day, when it was made, and where it stands.
	Standing models.Standing
	// Asked marks a call that somebody made by hand: only he was told.
	Asked    bool
	Document []byte
	Outlook  []byte
}

// standing is a models.Standing as kept.
type standing struct {
	Timing  []models.Timing          `json:"timing"`
	Leave   models.Opt[time.Time]    `json:"leave"`
	Back    models.Opt[time.Time]    `json:"back"`
	Actions []models.CharterAction   `json:"actions"`
	Safety  bool                     `json:"safety"`
	Worst   string                   `json:"worst_ride"`
	SeaM    models.Opt[units.Length] `json:"sea_m"`
	Asked   bool                     `json:"asked,omitzero"`
}

const callColumns = "id, port, ground, date, booking, made_at, tactic, going, confidence, agreement, standing"

func scanCall(rows *sql.Rows) (c Call, err error) {
	var st standing
	err = rows.Scan(callDest(&c, &st)...)
	return c, errors.Join(err, c.fill(st))
}

func callDest(c *Call, st *standing) []any {
	return []any{
		&c.ID, &c.Port, &c.Ground, toText(&c.Standing.Date), &c.Booking, toTime(&c.Standing.Made), &c.Standing.Tactic, &c.Standing.Going,
		&c.Confidence, &c.Agreement, toDocument(st),
	}
}

func (c *Call) fill(st standing) (err error) {
	s := &c.Standing
	s.Timing, s.Leave, s.Back, s.Actions, s.Safety, s.Sea = st.Timing, st.Leave, st.Back, st.Actions, st.Safety, st.SeaM
	c.Asked = st.Asked
	s.WorstRide, err = rideOf(st.Worst)
	return err
}

func rideOf(word string) (models.Ride, error) {
	for r := models.RideEasy; r <= models.RideNo; r++ {
		if r.String() == word {
			return r, nil
		}
	}
	return 0, fmt.Errorf("there is no ride %q", word)
}

// AddCall keeps a call with its documents and returns its number. Of one
// port, ground, day, trip and second of making there is one call: kept again,
// the newer takes its place.
func (s *Store) AddCall(ctx context.Context, c Call) (id int64, err error) {
	const doing = "keep a call"
	st := c.Standing
	stood, err := document(standing{st.Timing, st.Leave, st.Back, st.Actions, st.Safety, st.WorstRide.String(), st.Sea, c.Asked})
	if err != nil {
		return 0, fault(doing, err)
	}
	if !json.Valid(c.Document) {
		return 0, fmt.Errorf("%s: its document is no JSON", doing)
	}
	packed, err := pack(c.Document)
	if err != nil {
		return 0, fault(doing, err)
	}
	from, err := pack(c.Outlook)
	if err != nil {
		return 0, fault(doing, err)
	}
	err = s.update(ctx, doing, func(tx *sql.Tx) error {
		err := tx.QueryRowContext(ctx, `INSERT INTO calls (port, ground, date, booking, made_at, tactic, going, confidence, agreement, standing, document) VALUES (?,?,?,?,?,?,?,?,?,?,?)
			ON CONFLICT (port, ground, date, booking, made_at) DO UPDATE SET tactic = excluded.tactic, going = excluded.going, confidence = excluded.confidence,
				agreement = excluded.agreement, standing = excluded.standing, document = excluded.document, erased_at = NULL
			RETURNING id`,
			c.Port, c.Ground, st.Date.String(), c.Booking, at(st.Made), string(st.Tactic), st.Going, string(c.Confidence), c.Agreement, stood, packed).Scan(&id)
		if err != nil || len(c.Outlook) == 0 {
			return err
		}
		_, err = tx.ExecContext(ctx, `INSERT INTO outlooks (call_id, made_at, document) VALUES (?,?,?)
			ON CONFLICT (call_id) DO UPDATE SET document = excluded.document`, id, at(st.Made), from)
		return err
	})
	return id, err
}

// Call returns a call with its documents. The outlook is empty once it has
// been dropped for its age.
func (s *Store) Call(ctx context.Context, id int64) (Call, error) {
	return one(ctx, s.read, fmt.Sprintf("read call %d", id), func(rows *sql.Rows) (c Call, err error) {
		var st standing
		var packed, from []byte
		if err := rows.Scan(append(callDest(&c, &st), &packed, &from)...); err != nil {
			return c, err
		}
		var errDoc, errFrom error
		c.Document, errDoc = unpack(packed)
		c.Outlook, errFrom = unpack(from)
		return c, errors.Join(errDoc, errFrom, c.fill(st))
	}, "SELECT "+callColumns+", document, (SELECT o.document FROM outlooks o WHERE call_id = id) FROM calls WHERE id = ?", id)
}

// Calls returns the calls made for a day of a port, newest first and at most
// n, without their documents.
func (s *Store) Calls(ctx context.Context, port string, date models.Date, n int) ([]Call, error) {
	return list(ctx, s.read, "read calls", scanCall,
		"SELECT "+callColumns+" FROM calls WHERE port = ? AND date = ? ORDER BY made_at DESC, id DESC LIMIT ?", port, date.String(), n)
}

// CallsBetween returns the calls of a port made within a span, oldest first,
// without their documents.
func (s *Store) CallsBetween(ctx context.Context, port string, span models.Interval) ([]Call, error) {
	return list(ctx, s.read, "read calls", scanCall,
		"SELECT "+callColumns+" FROM calls WHERE port = ? AND made_at >= ? AND made_at < ? ORDER BY made_at, id", port, at(span.Start), at(span.End))
}

// eraseCalls takes the words to guests out of the documents of calls for days
// before one.
func eraseCalls(ctx context.Context, tx *sql.Tx, before string, now time.Time) error {
	type held struct {
		id       int64
		document []byte
	}
	calls, err := list(ctx, tx, "read calls", func(rows *sql.Rows) (h held, err error) { return h, rows.Scan(&h.id, &h.document) },
		"SELECT id, document FROM calls WHERE date < ? AND erased_at IS NULL", before)
	if err != nil {
		return err
	}
	for _, c := range calls {
		doc, err := unpack(c.document)
		if err != nil {
			return fmt.Errorf("call %d: %w", c.id, err)
		}
		// SQLite keeps the rest of the document as it was written.
		var without []byte
		if err := tx.QueryRowContext(ctx, "SELECT json_replace(?, '$.charter.message', '')", string(doc)).Scan(&without); err != nil {
			return fmt.Errorf("call %d: %w", c.id, err)
		}
		packed, err := pack(without)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "UPDATE calls SET document = ?, erased_at = ? WHERE id = ?", packed, at(now), c.id); err != nil {
			return err
		}
	}
	return nil
}

func pack(b []byte) ([]byte, error) {
	var buf bytes.Buffer
	w, err := gzip.NewWriterLevel(&buf, gzip.BestSpeed)
	if err != nil {
		return nil, err
	}
	_, err = w.Write(b)
	err = errors.Join(err, w.Close())
	return buf.Bytes(), err
}

func unpack(b []byte) ([]byte, error) {
	if len(b) == 0 {
		return nil, nil
	}
	r, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	return io.ReadAll(r)
}
