package door

import (
	"context"
	"net/http"
	"net/netip"
	"time"
)

// MatchHash tells whether a hash is of a passphrase.
func MatchHash(hash, passphrase string) (bool, error) {
	h, err := readPHC(hash)
	if err != nil {
		return false, err
	}
	return h.match(passphrase), nil
}

// ReadHash reads a hash and writes it again.
func ReadHash(hash string) (string, error) {
	h, err := readPHC(hash)
	return h.String(), err
}

// CookieOf is the cookie of a session, as a door with these options writes it.
func CookieOf(o Options, role Role, began, issued, expires time.Time) string {
	return (&Door{o: o}).writeSession(session{Role: role, Began: began, Issued: issued, Expires: expires, Nonce: "AAAAAAAAAAAAAAAAAAAAAA"})
}

// ReadCookie reads the cookie of a session.
func ReadCookie(o Options, value string, now time.Time) (Role, error) {
	one, err := (&Door{o: o}).readSession(value, now)
	return one.Role, err
}

// AddressOf is where a request came from, past servers that are trusted.
func AddressOf(r *http.Request, trusted ...netip.Prefix) netip.Addr { return originsOf(trusted).of(r) }

// Gate is the gate of a door that has not been tried yet.
type Gate struct{ g *gate }

// NewGate makes one.
func NewGate() Gate { return Gate{newGate()} }

// Enter waits for a turn.
func (g Gate) Enter(ctx context.Context, device string, from netip.Addr) (leave func(right bool), err error) {
	return g.g.enter(ctx, device, from)
}

// Remembered counts the networks and devices that owe, and Waiting who waits.
func (g Gate) Remembered() int { return len(g.g.debts) }

// Waiting counts who waits for a turn.
func (g Gate) Waiting() int {
	g.g.mu.Lock()
	defer g.g.mu.Unlock()
	return len(g.g.waiting)
}

// The bounds of a gate.
const (
	MostDebts   = mostDebts
	MostWaiting = 2*mostWaiting + mostIndebted
	LongestWait = longestWait
	Pace        = pace
)
