package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
)

// BookingState is where a charter stands.
type BookingState string

// States of a booking.
const (
	Booked BookingState = "booked"
	// Moved: the captain moved it to another day or time.
	Moved BookingState = "moved"
	// Cancelled: the captain called it off, or its source says so.
	Cancelled BookingState = "cancelled"
	// Gone: its source no longer holds it.
	Gone BookingState = "gone"
)

// Booking is a booking as kept. Source and ID together tell it from others.
type Booking struct {
	models.Booking
	// Source is where it comes from: "configuration", "command", the name
	// of a file or calendar.
	Source, Port string
	State        BookingState
	// Why is the reason given for the state.
	Why string
	// FirstDate is the day it was booked for when first seen.
	FirstDate           models.Date
	FirstSeen, LastSeen time.Time
	Changed             time.Time
	// Erased is when name and contact were erased, and with them the ID, which
	// may be made of the name: since then it is the mark.
	Erased models.Opt[time.Time]
}

// Mark tells a booking from others and names nobody. It stays when the guests
// are erased.
func (b Booking) Mark() string {
	if b.Erased.Known() {
		return b.ID
	}
	return markOf(b.Source, b.ID)
}

func markOf(source, id string) string {
	sum := sha256.Sum256([]byte(source + "\x00" + id))
	return hex.EncodeToString(sum[:6])
}

// BookingChange is what became of one booking.
type BookingChange struct {
	Now Booking
	// Before is unknown for a new one.
	Before models.Opt[Booking]
}

// trip is a models.Trip as kept.
type trip struct {
	Kind     models.TripKind          `json:"kind"`
	Party    models.Party             `json:"party"`
	Start    models.Clock             `json:"start"`
	End      models.Clock             `json:"end"`
	LinesIn  models.Opt[models.Clock] `json:"lines_in"`
	LinesOut models.Opt[models.Clock] `json:"lines_out"`
	ForHire  models.Opt[bool]         `json:"passengers_for_hire"`
	Guests   models.Opt[int]          `json:"guests"`
}

const bookingColumns = "source, id, port, date, ground, name, contact, tell_by_at, trip, state, why, first_date, first_seen_at, last_seen_at, changed_at, erased_at"

func scanBooking(rows *sql.Rows) (b Booking, err error) {
	var t trip
	err = rows.Scan(&b.Source, &b.ID, &b.Port, toText(&b.Date), &b.Ground, &b.Name, &b.Contact, toOptTime(&b.TellBy), toDocument(&t),
		&b.State, &b.Why, toText(&b.FirstDate), toTime(&b.FirstSeen), toTime(&b.LastSeen), toTime(&b.Changed), toOptTime(&b.Erased))
	b.Trip = models.Trip(t)
	b.Cancelled = b.State == Cancelled || b.State == Gone
	return b, err
}

// contentOf tells two contents of a booking apart, as its source gives it.
func contentOf(port string, b models.Booking, trip string) string {
	sum := sha256.Sum256([]byte(strings.Join([]string{port, b.Date.String(), b.Ground, b.Name, b.Contact, fmt.Sprint(optAt(b.TellBy)), fmt.Sprint(b.Cancelled), trip}, "\x00")))
	return hex.EncodeToString(sum[:])
}

// SyncBookings keeps what a source holds for a port from a day on, and returns
// what changed. A booking seen again is updated, not doubled. As long as its
// source tells the same, what the captain did to it (moved, cancelled) stands;
// once the source tells something else, that counts. A booking on or after
// from that the source no longer holds is gone. Of a booking whose guests were
// erased nothing comes back, unless its source puts it on a day that was still
// to come then. The bookings' IDs are unique within a source.
func (s *Store) SyncBookings(ctx context.Context, source, port string, from models.Date, list []models.Booking, when time.Time) ([]BookingChange, error) {
	var changes []BookingChange
	err := s.update(ctx, "keep the bookings of "+source, func(tx *sql.Tx) error {
		seen := map[string]bool{}
		for _, b := range list {
			if b.ID == "" || seen[b.ID] {
				return fmt.Errorf("booking %q of %s comes twice or has no name of its own", b.ID, b.Date)
			}
			seen[b.ID], seen[markOf(source, b.ID)] = true, true
			change, err := putBooking(ctx, tx, source, port, b, when)
			if err != nil {
				return fmt.Errorf("booking %s: %w", markOf(source, b.ID), err)
			}
			changes = append(changes, change...)
		}
		held, err := bookings(ctx, tx, "WHERE source = ? AND port = ? AND date >= ? AND state IN ('booked', 'moved') ORDER BY date, id", source, port, from.String())
		if err != nil {
			return err
		}
		for _, b := range held {
			if seen[b.ID] {
				continue
			}
			change, err := setBooking(ctx, tx, b, Gone, "its source no longer holds it", when)
			if err != nil {
				return err
			}
			changes = append(changes, change)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return changes, nil
}

// AddBooking keeps one booking, as the commands do, and returns what changed:
// nothing, where it is held just so.
func (s *Store) AddBooking(ctx context.Context, source, port string, b models.Booking, when time.Time) (changes []BookingChange, err error) {
	err = s.update(ctx, "keep a booking", func(tx *sql.Tx) error {
		changes, err = putBooking(ctx, tx, source, port, b, when)
		return err
	})
	return changes, err
}

func putBooking(ctx context.Context, tx *sql.Tx, source, port string, b models.Booking, when time.Time) ([]BookingChange, error) {
	t, err := document(trip(b.Trip))
	if err != nil {
		return nil, err
	}
	content := contentOf(port, b, t)
	before, had, err := booking(ctx, tx, source, b.ID)
	if err == nil && !had {
		before, had, err = booking(ctx, tx, source, markOf(source, b.ID))
	}
	if err != nil {
		return nil, err
	}
	if had {
		var same bool
		if err := tx.QueryRowContext(ctx, "UPDATE bookings SET last_seen_at = ? WHERE source = ? AND id = ? RETURNING digest = ?", at(when), source, before.ID, content).Scan(&same); err != nil {
			return nil, err
		}
		if same && before.State != Gone && !before.Erased.Or(when).After(when) {
			return nil, nil
		}
	}
	if erased, ok := before.Erased.Get(); ok {
		// By a clock that was ahead it was erased in what is still to come.
		if !models.DateOf(erased, time.UTC).Before(b.Date) && !erased.After(when) {
			return nil, nil // it is past: its guests stay erased
		}
		if _, err := tx.ExecContext(ctx, "UPDATE bookings SET id = ? WHERE source = ? AND id = ?", b.ID, source, before.ID); err != nil {
			return nil, err
		}
	}
	state := Booked
	if b.Cancelled {
		state = Cancelled
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO bookings (source, id, port, date, ground, name, contact, tell_by_at, trip, state, why, first_date, digest, first_seen_at, last_seen_at, changed_at)
		VALUES (?,?,?,?,?,?,?,?,?,?,'',?,?,?,?,?)
		ON CONFLICT (source, id) DO UPDATE SET port = excluded.port, date = excluded.date, ground = excluded.ground, name = excluded.name, contact = excluded.contact,
			tell_by_at = excluded.tell_by_at, trip = excluded.trip, state = excluded.state, why = '', digest = excluded.digest, changed_at = excluded.changed_at, erased_at = NULL`,
		source, b.ID, port, b.Date.String(), b.Ground, b.Name, b.Contact, optAt(b.TellBy), t, string(state), b.Date.String(), content, at(when), at(when), at(when))
	if err != nil {
		return nil, err
	}
	now, _, err := booking(ctx, tx, source, b.ID)
	change := BookingChange{Now: now}
	if had {
		change.Before = models.Known(before)
	}
	return []BookingChange{change}, err
}

// MoveBooking puts a booking on another day or other times, with the reason.
func (s *Store) MoveBooking(ctx context.Context, source, id string, to models.Date, start, end models.Clock, why string, when time.Time) (change BookingChange, err error) {
	err = s.update(ctx, "move a booking", func(tx *sql.Tx) error {
		b, err := mustBooking(ctx, tx, source, id)
		if err != nil {
			return err
		}
		moved := b.Trip
		moved.Start, moved.End = start, end
		t, err := document(trip(moved))
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "UPDATE bookings SET date = ?, trip = ? WHERE source = ? AND id = ?", to.String(), t, source, id); err != nil {
			return err
		}
		change, err = setBooking(ctx, tx, b, Moved, why, when)
		return err
	})
	return change, err
}

// CancelBooking calls a booking off, with the reason.
func (s *Store) CancelBooking(ctx context.Context, source, id, why string, when time.Time) (change BookingChange, err error) {
	err = s.update(ctx, "cancel a booking", func(tx *sql.Tx) error {
		b, err := mustBooking(ctx, tx, source, id)
		if err != nil {
			return err
		}
		change, err = setBooking(ctx, tx, b, Cancelled, why, when)
		return err
	})
	return change, err
}

// eraseBookings takes the guests out of the bookings of days before one, and
// returns how many there were. The reason for a state goes too: it may be
// about them.
func eraseBookings(ctx context.Context, tx *sql.Tx, before string, now time.Time) (int, error) {
	held, err := bookings(ctx, tx, "WHERE date < ? AND erased_at IS NULL", before)
	if err != nil {
		return 0, err
	}
	for _, b := range held {
		if _, err := tx.ExecContext(ctx, "UPDATE bookings SET id = ?, name = '', contact = '', why = '', erased_at = ? WHERE source = ? AND id = ?", b.Mark(), at(now), b.Source, b.ID); err != nil {
			return 0, err
		}
	}
	return len(held), nil
}

func setBooking(ctx context.Context, tx *sql.Tx, b Booking, state BookingState, why string, when time.Time) (BookingChange, error) {
	_, err := tx.ExecContext(ctx, "UPDATE bookings SET state = ?, why = ?, changed_at = ? WHERE source = ? AND id = ?", string(state), why, at(when), b.Source, b.ID)
	if err != nil {
		return BookingChange{}, err
	}
	now, err := mustBooking(ctx, tx, b.Source, b.ID)
	return BookingChange{Now: now, Before: models.Known(b)}, err
}

func bookings(ctx context.Context, q querier, where string, args ...any) ([]Booking, error) {
	return list(ctx, q, "read bookings", scanBooking, "SELECT "+bookingColumns+" FROM bookings "+where, args...)
}

func booking(ctx context.Context, q querier, source, id string) (b Booking, ok bool, err error) {
	found, err := bookings(ctx, q, "WHERE source = ? AND id = ?", source, id)
	if err != nil || len(found) == 0 {
		return b, false, err
	}
	return found[0], true, nil
}

func mustBooking(ctx context.Context, q querier, source, id string) (Booking, error) {
	b, ok, err := booking(ctx, q, source, id)
	if err == nil && !ok {
		err = fmt.Errorf("booking %s: %w", markOf(source, id), ErrNotFound)
	}
	return b, err
}

// Bookings returns the bookings of a port from one day up to and including
// another, earliest first, called off or not.
func (s *Store) Bookings(ctx context.Context, port string, from, to models.Date) ([]Booking, error) {
	found, err := bookings(ctx, s.read, "WHERE port = ? AND date BETWEEN ? AND ? ORDER BY date, source, id", port, from.String(), to.String())
	slices.SortStableFunc(found, func(a, b Booking) int {
		if a.Date != b.Date {
			return strings.Compare(a.Date.String(), b.Date.String())
		}
		return strings.Compare(a.Trip.Start.String(), b.Trip.Start.String())
	})
	return found, err
}
