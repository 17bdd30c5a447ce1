package notify

import (
	"context"
	"slices"
	"sync"
	"time"

	"forecastd/internal/models"
)

// Ledger keeps the messages. Its methods may be called by several goroutines,
// honour ctx, and answer only once what they were told is safely kept.
type Ledger interface {
	// Last returns the newest message of a key, in whatever state.
	Last(ctx context.Context, key string) (models.Opt[models.Message], error)
	// Told returns the newest message of a key that was sent or waits to be.
	// One that another tells along counts as that other.
	Told(ctx context.Context, key string) (models.Opt[models.Message], error)
	// Recent returns what was told to a person since a time, sent or waiting,
	// with what was told along, oldest first.
	Recent(ctx context.Context, person string, since time.Time) ([]models.Message, error)
	// Unheard returns the newest message of each key that was given up since a
	// time, and after which nothing under its key was sent.
	Unheard(ctx context.Context, since time.Time) ([]models.Message, error)
	// Put keeps a waiting message with those that it tells along, and in the
	// same step marks the messages of their keys that still wait as
	// superseded. A message whose ID is held already changes nothing.
	Put(ctx context.Context, m models.Message, along ...models.Message) error
	// Waiting returns the messages that wait, urgent ones first, then in the
	// order they were made.
	Waiting(ctx context.Context) ([]models.Message, error)
	// Save keeps how far a message has come: State, NextTry, Done, SentBy,
	// Fault and Routes. A message that no longer waits is changed only to
	// sent: a try that was under way while it was superseded does not bring
	// it back.
	Save(ctx context.Context, m models.Message) error
}

// Memory is a Ledger that forgets with the process: for a dry run and for
// trying things out.
type Memory struct {
	mu   sync.Mutex
	list []models.Message
}

// Last returns the newest message of a key.
func (l *Memory) Last(_ context.Context, key string) (models.Opt[models.Message], error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, m := range slices.Backward(l.list) {
		if m.Key == key {
			return models.Known(clone(m)), nil
		}
	}
	return models.Unknown[models.Message](), nil
}

// Told returns the newest message of a key that was sent or waits to be.
func (l *Memory) Told(_ context.Context, key string) (models.Opt[models.Message], error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, m := range slices.Backward(l.list) {
		if m.Key == key && l.counts(m) {
			return models.Known(clone(m)), nil
		}
	}
	return models.Unknown[models.Message](), nil
}

// counts tells whether a message was sent or is on its way, by itself or along
// with another.
func (l *Memory) counts(m models.Message) bool {
	if m.State == models.MessageSuperseded && m.With != "" {
		i := slices.IndexFunc(l.list, func(o models.Message) bool { return o.ID == m.With })
		return i >= 0 && l.counts(l.list[i])
	}
	return m.State == models.MessageSent || m.State == models.MessageWaiting
}

// Recent returns what was told to a person since a time.
func (l *Memory) Recent(_ context.Context, person string, since time.Time) ([]models.Message, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []models.Message
	for _, m := range l.list {
		if m.Person == person && !m.Made.Before(since) && l.counts(m) {
			out = append(out, clone(m))
		}
	}
	return out, nil
}

// Unheard returns the newest message given up of each key that nothing was
// sent under since.
func (l *Memory) Unheard(_ context.Context, since time.Time) ([]models.Message, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []models.Message
	done := map[string]bool{}
	for _, m := range slices.Backward(l.list) {
		sent := m.State == models.MessageSent || m.With != "" && l.sentWith(m)
		dead := m.State == models.MessageDead && !m.Done.Or(m.Made).Before(since)
		if done[m.Key] || !sent && !dead {
			continue
		}
		if done[m.Key] = true; dead {
			out = append(out, clone(m))
		}
	}
	slices.Reverse(out)
	return out, nil
}

func (l *Memory) sentWith(m models.Message) bool {
	return slices.ContainsFunc(l.list, func(o models.Message) bool { return o.ID == m.With && o.State == models.MessageSent })
}

// Put keeps a waiting message with those that it tells along.
func (l *Memory) Put(_ context.Context, m models.Message, along ...models.Message) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if slices.ContainsFunc(l.list, func(o models.Message) bool { return o.ID == m.ID }) {
		return nil
	}
	keys := []string{m.Key}
	for _, a := range along {
		keys = append(keys, a.Key)
	}
	for i, o := range l.list {
		if slices.Contains(keys, o.Key) && o.State == models.MessageWaiting {
			l.list[i].State = models.MessageSuperseded
		}
	}
	l.list = append(l.list, clone(m))
	for _, a := range along {
		l.list = append(l.list, clone(a))
	}
	return nil
}

// Waiting returns the messages that wait.
func (l *Memory) Waiting(context.Context) ([]models.Message, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []models.Message
	for _, urgent := range []bool{true, false} {
		for _, m := range l.list {
			if m.State == models.MessageWaiting && m.Urgent == urgent {
				out = append(out, clone(m))
			}
		}
	}
	return out, nil
}

// Save keeps how far a message has come.
func (l *Memory) Save(_ context.Context, m models.Message) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	for i, o := range l.list {
		if o.ID == m.ID && (o.State == models.MessageWaiting || m.State == models.MessageSent) {
			l.list[i] = clone(m)
		}
	}
	return nil
}

// All returns everything kept, oldest first.
func (l *Memory) All() []models.Message {
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []models.Message
	for _, m := range l.list {
		out = append(out, clone(m))
	}
	return out
}

func clone(m models.Message) models.Message {
	m.Routes = slices.Clone(m.Routes)
	return m
}
