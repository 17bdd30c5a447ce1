package door

import (
	"context"
	"sync"
	"time"

	"forecastd/internal/models"
)

// mostUnkept is how many logins are held in memory; the one that would end
// first makes room for a new one.
const mostUnkept = 256

// memory is a Book that ends with the process.
type memory struct {
	mu   sync.Mutex
	held map[string]models.Session
}

// Begin keeps a login.
func (m *memory) Begin(_ context.Context, one models.Session) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.held == nil {
		m.held = map[string]models.Session{}
	}
	if len(m.held) >= mostUnkept {
		var first models.Session
		for _, o := range m.held {
			if first.Token == "" || o.Expires.Before(first.Expires) {
				first = o
			}
		}
		delete(m.held, first.Token)
	}
	m.held[one.Token] = one
	return nil
}

// Find returns a login.
func (m *memory) Find(_ context.Context, token string) (models.Opt[models.Session], error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	one, ok := m.held[token]
	if !ok {
		return models.Unknown[models.Session](), nil
	}
	return models.Known(one), nil
}

// Touch keeps that a login was used.
func (m *memory) Touch(_ context.Context, token string, used, expires time.Time) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if one, ok := m.held[token]; ok {
		one.Used, one.Expires = used, expires
		m.held[token] = one
	}
	return nil
}

// End ends a login.
func (m *memory) End(_ context.Context, token string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.held, token)
	return nil
}

// EndAll ends all logins of a role but those under one passphrase.
func (m *memory) EndAll(_ context.Context, role, under string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	for token, one := range m.held {
		if one.Role == role && one.Under != under {
			delete(m.held, token)
		}
	}
	return nil
}
