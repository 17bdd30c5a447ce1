package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"forecastd/internal/models"
)

// Outbox keeps the messages on their way. What its methods have answered
// survives the death of the process.
type Outbox struct{ s *Store }

// Outbox returns the store's outbox.
func (s *Store) Outbox() Outbox { return Outbox{s} }

func scanMessage(rows *sql.Rows) (m models.Message, err error) {
	err = rows.Scan(toDocument(&m))
	return m, err
}

// Last returns the newest message of a key, in whatever state.
func (o Outbox) Last(ctx context.Context, key string) (models.Opt[models.Message], error) {
	found, err := list(ctx, o.s.read, "read a message", scanMessage, "SELECT document FROM messages WHERE key = ? ORDER BY seq DESC LIMIT 1", key)
	if err != nil || len(found) == 0 {
		return models.Unknown[models.Message](), err
	}
	return models.Known(found[0]), nil
}

// toldAlong says that a message m of the table was told by another one, which
// was sent or waits to be.
const toldAlong = "m.state = 'superseded' AND EXISTS (SELECT 1 FROM messages w WHERE w.id = (m.document ->> '$.with') AND w.state IN ('waiting', 'sent'))"

// Told returns the newest message of a key that was sent or waits to be. One
// that another tells along counts as that other.
func (o Outbox) Told(ctx context.Context, key string) (models.Opt[models.Message], error) {
	found, err := list(ctx, o.s.read, "read a message", scanMessage,
		"SELECT document FROM messages m WHERE key = ? AND (state IN ('waiting', 'sent') OR "+toldAlong+") ORDER BY seq DESC LIMIT 1", key)
	if err != nil || len(found) == 0 {
		return models.Unknown[models.Message](), err
	}
	return models.Known(found[0]), nil
}

// Recent returns what was told to a person since a time, sent or waiting, with
// what was told along, oldest first.
func (o Outbox) Recent(ctx context.Context, person string, since time.Time) ([]models.Message, error) {
	return list(ctx, o.s.read, "read what was told lately", scanMessage,
		"SELECT document FROM messages m WHERE made_at >= ? AND person = ? AND (state IN ('waiting', 'sent') OR "+toldAlong+") ORDER BY seq", at(since), person)
}

// Unheard returns the newest message of each key that was given up since a
// time, and after which nothing under its key was sent.
func (o Outbox) Unheard(ctx context.Context, since time.Time) ([]models.Message, error) {
	return list(ctx, o.s.read, "read what nobody heard", scanMessage, `SELECT document FROM messages d WHERE state = 'dead' AND coalesce(done_at, made_at) >= ? AND NOT EXISTS (
		SELECT 1 FROM messages m WHERE m.key = d.key AND m.seq > d.seq AND (m.state IN ('sent', 'dead') OR m.state = 'superseded'
			AND EXISTS (SELECT 1 FROM messages w WHERE w.id = (m.document ->> '$.with') AND w.state = 'sent'))) ORDER BY seq`, at(since))
}

// Put keeps a waiting message with those that it tells along, and in the same
// step marks the messages of their keys that still wait as superseded. A
// message whose ID is held already changes nothing.
func (o Outbox) Put(ctx context.Context, m models.Message, along ...models.Message) error {
	return o.s.update(ctx, "keep a message", func(tx *sql.Tx) error {
		if held, err := putMessage(ctx, tx, m); err != nil || held {
			return err
		}
		for _, a := range along {
			if _, err := putMessage(ctx, tx, a); err != nil {
				return err
			}
		}
		return nil
	})
}

// putMessage keeps a message; held tells that it was there already.
func putMessage(ctx context.Context, tx *sql.Tx, m models.Message) (held bool, err error) {
	doc, err := document(m)
	if err != nil {
		return false, err
	}
	res, err := tx.ExecContext(ctx, `INSERT INTO messages (id, key, notice, digest, reason, person, urgent, state, made_at, next_try_at, done_at, document)
		VALUES (?,?,?,?,?,?,?,?,?,?,?,?) ON CONFLICT (id) DO NOTHING`,
		m.ID, m.Key, string(m.Notice), m.Digest, string(m.Reason), m.Person, m.Urgent, string(m.State), at(m.Made), atOrNull(m.NextTry), optAt(m.Done), doc)
	if err != nil {
		return false, err
	}
	if n, err := res.RowsAffected(); err != nil || n == 0 {
		return n == 0, err
	}
	_, err = tx.ExecContext(ctx, `UPDATE messages SET state = 'superseded', document = json_set(document, '$.state', 'superseded')
		WHERE key = ? AND state = 'waiting' AND id <> ?`, m.Key, m.ID)
	return false, err
}

// Waiting returns the messages that wait, urgent ones first, then in the order
// they were made.
func (o Outbox) Waiting(ctx context.Context) ([]models.Message, error) {
	return list(ctx, o.s.read, "read the messages that wait", scanMessage, "SELECT document FROM messages WHERE state = 'waiting' ORDER BY urgent DESC, seq")
}

// Save keeps how far a message has come. A message that no longer waits is
// changed only to sent.
func (o Outbox) Save(ctx context.Context, m models.Message) error {
	return o.s.update(ctx, "keep how far a message has come", func(tx *sql.Tx) error {
		doc, err := document(m)
		if err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, `UPDATE messages SET state = ?, next_try_at = ?, done_at = ?, document = ?
			WHERE id = ? AND (state = 'waiting' OR ? = 'sent')`,
			string(m.State), atOrNull(m.NextTry), optAt(m.Done), doc, m.ID, string(m.State))
		return err
	})
}

// Messages returns the messages of a state, newest first and at most n: dead
// letters, for one.
func (o Outbox) Messages(ctx context.Context, state models.MessageState, n int) ([]models.Message, error) {
	return list(ctx, o.s.read, "read messages", scanMessage, "SELECT document FROM messages WHERE state = ? ORDER BY seq DESC LIMIT ?", string(state), n)
}

// Draft is a message to guests that waits for the captain's word.
type Draft struct {
	// ID can't be guessed: who knows it may answer, once.
	ID string
	// Key says what the draft is about; of one key one draft is open.
	Key, Port string
	Date      models.Date
	// Booking is the booking's ID.
	Booking       string
	Made, Expires time.Time
	// Answer is empty while it is open.
	Answer   DraftAnswer
	Answered models.Opt[time.Time]
	By       string
	// Message is what is sent once it is approved.
	Message models.Message
}

// DraftAnswer is what became of a draft.
type DraftAnswer string

// Answers to a draft.
const (
	DraftApproved   DraftAnswer = "approved"
	DraftRefused    DraftAnswer = "refused"
	DraftSuperseded DraftAnswer = "superseded"
)

const draftColumns = "id, key, port, date, booking, made_at, expires_at, answer, answered_at, answered_by, message"

func scanDraft(rows *sql.Rows) (d Draft, err error) {
	return d, rows.Scan(&d.ID, &d.Key, &d.Port, toText(&d.Date), &d.Booking, toTime(&d.Made), toTime(&d.Expires), &d.Answer, toOptTime(&d.Answered), &d.By, toDocument(&d.Message))
}

// AddDraft keeps a draft. An open draft of the same key is superseded; a
// draft whose ID is held already changes nothing.
func (o Outbox) AddDraft(ctx context.Context, d Draft) error {
	return o.s.update(ctx, "keep a draft", func(tx *sql.Tx) error {
		doc, err := document(d.Message)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "UPDATE drafts SET answer = 'superseded', answered_at = ? WHERE key = ? AND answer = '' AND id <> ?", at(d.Made), d.Key, d.ID); err != nil {
			return err
		}
		_, err = tx.ExecContext(ctx, "INSERT INTO drafts ("+draftColumns+") VALUES ("+marks(11)+") ON CONFLICT (id) DO NOTHING",
			d.ID, d.Key, d.Port, d.Date.String(), d.Booking, at(d.Made), at(d.Expires), "", nil, "", doc)
		return err
	})
}

// AnswerDraft approves or refuses an open draft, once: approved, its message
// goes into the outbox in the same step. A draft that is answered already, or
// whose time is over, answers ErrNotFound.
func (o Outbox) AnswerDraft(ctx context.Context, id string, answer DraftAnswer, by string, when time.Time) (d Draft, err error) {
	doing := "answer a draft"
	if answer != DraftApproved && answer != DraftRefused {
		return d, fmt.Errorf("%s: %q is no answer", doing, answer)
	}
	err = o.s.update(ctx, doing, func(tx *sql.Tx) error {
		d, err = one(ctx, tx, doing, scanDraft, "UPDATE drafts SET answer = ?, answered_at = ?, answered_by = ? WHERE id = ? AND answer = '' AND expires_at > ? RETURNING "+draftColumns,
			string(answer), at(when), by, id, at(when))
		if err != nil || answer == DraftRefused {
			return err
		}
		_, err := putMessage(ctx, tx, d.Message)
		return err
	})
	return d, err
}

// Drafts returns the drafts that are open at an instant, oldest first.
func (o Outbox) Drafts(ctx context.Context, now time.Time) ([]Draft, error) {
	return list(ctx, o.s.read, "read drafts", scanDraft, "SELECT "+draftColumns+" FROM drafts WHERE answer = '' AND expires_at > ? ORDER BY made_at, id", at(now))
}

// eraseMessages takes the words out of the messages made before an instant
// that no longer wait, and of those to guests also to whom they went.
func eraseMessages(ctx context.Context, tx *sql.Tx, before time.Time) error {
	_, err := tx.ExecContext(ctx, `UPDATE messages SET document = json_set(document, '$.subject', '', '$.text', '', '$.html', '', '$.short', '', '$.attachments', json('[]'))
		WHERE state <> 'waiting' AND made_at < ? AND ((document ->> '$.subject') <> '' OR (document ->> '$.text') <> '')`, at(before))
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `UPDATE messages SET person = '', document = json_set(document, '$.person', '', '$.fault', '', '$.routes', json('[]'))
		WHERE notice = ? AND state <> 'waiting' AND person <> '' AND made_at < ?`, string(models.NoticeGuests), at(before))
	return err
}
