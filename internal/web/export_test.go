package web

import (
	"net/http"
	"net/netip"
	"time"
)

// Row is a row of the table of routes, for tests.
type Row struct {
	Pattern string
	Needs   Role
	Form    bool
}

// Rows lists the addresses of a server.
func Rows(o Options) ([]Row, error) {
	s, err := New(o)
	if err != nil {
		return nil, err
	}
	var rows []Row
	for _, r := range s.rows {
		rows = append(rows, Row{r.Pattern, r.Needs, r.Form})
	}
	return rows, nil
}

// CheapHash is a hash of the least memory and one pass, for tests.
func CheapHash(passphrase string) string {
	h := phc{memory: 8, passes: 1, lanes: 1, salt: []byte("a salt for tests"), tag: make([]byte, hashTagLen)}
	h.tag = h.derive(passphrase)
	return h.String()
}

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

// CookieOf is the cookie of a session, as a server with these options writes it.
func CookieOf(o Options, role Role, began, issued, expires time.Time) string {
	s := &Server{o: o}
	return s.writeSession(session{Role: role, Began: began, Issued: issued, Expires: expires, Nonce: "AAAAAAAAAAAAAAAAAAAAAA"})
}

// ReadCookie reads the cookie of a session.
func ReadCookie(o Options, value string, now time.Time) (Role, error) {
	one, err := (&Server{o: o}).readSession(value, now)
	return one.Role, err
}

// FlashOf is what a server reads from the cookie of a sentence.
func FlashOf(o Options, path, value string, role Role) string {
	return (&Server{o: o}).readFlash(path, value, role)
}

// ChoicesOf reads the cookie of choices and writes it again.
func ChoicesOf(value string) string { return readChoice(value).String() }

// Preferred is the language that a header asks for.
func Preferred(header string) string { return preferred(header, languageNames()) }

// LocalPath is the path that a visitor is sent back to.
func LocalPath(back string) string { return localPath(back) }

// AddressOf is where a request came from.
func AddressOf(r *http.Request) netip.Prefix { return addressOf(r) }

// Gate is the gate of a server that has not been tried yet.
type Gate struct{ g *gate }

// NewGate makes one.
func NewGate() Gate { return Gate{newGate()} }

// Try asks to try.
func (g Gate) Try(role Role, from netip.Prefix, now time.Time) time.Duration {
	return g.g.try(role, from, now)
}

// Tried notes how it came out.
func (g Gate) Tried(from netip.Prefix, right bool, now time.Time) { g.g.tried(from, right, now) }

// Remembered counts the addresses.
func (g Gate) Remembered() int { return len(g.g.from) }

// MostAddresses is how many it may remember.
const MostAddresses = mostAddresses
