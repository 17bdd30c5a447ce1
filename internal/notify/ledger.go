package notify

import (
	"context"
	"slices"
	"sync"

	"forecastd/internal/models"
)

// Ledger keeps the messages. Its methods may be called by several goroutines,
// honour ctx, and answer only once what they were told is safely kept.
type Ledger interface {
	// Last returns the newest message of a key, in whatever state.
	Last(ctx context.Context, key string) (models.Opt[models.Message], error)
	// Put keeps a waiting message, and in the same step marks the messages
	// of its key that still wait as superseded. A message whose ID is held
	// already changes nothing.
	Put(ctx context.Context, m models.Message) error
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

// Put keeps a waiting message.
func (l *Memory) Put(_ context.Context, m models.Message) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if slices.ContainsFunc(l.list, func(o models.Message) bool { return o.ID == m.ID }) {
		return nil
	}
	for i, o := range l.list {
		if o.Key == m.Key && o.State == models.MessageWaiting {
			l.list[i].State = models.MessageSuperseded
		}
	}
	l.list = append(l.list, clone(m))
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
