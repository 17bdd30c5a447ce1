package door

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/netip"
	"net/url"
	"sync/atomic"
	"time"

	"forecastd/internal/models"
)

// Role is who is logged in.
type Role string

// Roles. The captain may do all; the mate reports, counts and writes.
const (
	Nobody  Role = ""
	Mate    Role = "mate"
	Captain Role = "captain"
)

// Roles are those that can log in.
func Roles() []Role { return []Role{Captain, Mate} }

// Book keeps logins. One that is not in it does not count, whatever cookie
// somebody brings.
type Book interface {
	Begin(ctx context.Context, one models.Session) error
	Find(ctx context.Context, token string) (models.Opt[models.Session], error)
	Touch(ctx context.Context, token string, used, expires time.Time) error
	End(ctx context.Context, token string) error
	// EndAll ends the logins of a role but those under one passphrase; an
	// empty one spares none.
	EndAll(ctx context.Context, role, under string) error
}

// Options are what a Door is made of. Key is needed.
type Options struct {
	Now func() time.Time
	// Random draws nonces; crypto/rand.Reader where nil.
	Random io.Reader
	// Key signs cookies and forms, 32 bytes or more, the same after a restart.
	Key []byte
	// Passphrases are the argon2id hashes (PHC string format) by role; a role
	// without one can't log in.
	Passphrases map[Role]string
	// Book keeps logins over a restart; nil keeps them in memory.
	Book Book
	// Base is the address under which people reach the pages, as
	// "https://boat.example"; empty: whatever they asked.
	Base string
	// Hosts are the names that we are asked by, as Hosts lists them; empty:
	// any.
	Hosts []string
	// Trusted are the networks of servers before us that tell whom they
	// answer; this computer itself always is.
	Trusted []netip.Prefix
	Logger  *slog.Logger
}

// Door stands before the pages.
type Door struct {
	o       Options
	base    *url.URL
	hashes  map[Role]phc
	origins origins
	gate    *gate
	// unkept are the logins that the book could not take, and ended those
	// that it could not let go.
	unkept, ended *memory
	// crowded is when it was last logged that a login was turned away.
	crowded atomic.Int64
}

// New makes a door. Logins that were made by another passphrase end with it.
func New(o Options) (*Door, error) {
	if len(o.Key) < 32 {
		return nil, errors.New("the key must have 32 bytes or more")
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Random == nil {
		o.Random = rand.Reader
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	if o.Book == nil {
		o.Book = &memory{}
	}
	d := &Door{o: o, origins: originsOf(o.Trusted), gate: newGate(), unkept: &memory{}, ended: &memory{}}
	var err error
	if d.base, err = readBase(o.Base); err != nil {
		return nil, err
	}
	if d.hashes, err = readPassphrases(o.Passphrases); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(context.Background(), bookTime)
	defer cancel()
	for _, role := range Roles() {
		if err := o.Book.EndAll(ctx, string(role), d.under(role)); err != nil {
			o.Logger.Error("logins by an older passphrase can't be taken out of the store; they do not count", "role", string(role), "error", err)
		}
	}
	return d, nil
}

// bookTime is how long the book may take at the start.
const bookTime = 5 * time.Second

// readPassphrases reads the hashes of Options.
func readPassphrases(list map[Role]string) (map[Role]phc, error) {
	hashes := map[Role]phc{}
	for role, s := range list {
		if role != Captain && role != Mate {
			return nil, fmt.Errorf("nobody logs in as %q", role)
		}
		h, err := readPHC(s)
		if err != nil {
			return nil, fmt.Errorf("the %s's passphrase: %w", role, err)
		}
		hashes[role] = h
	}
	return hashes, nil
}

// readBase checks Options.Base.
func readBase(base string) (*url.URL, error) {
	if base == "" {
		return nil, nil
	}
	u, err := url.Parse(base)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Hostname() == "" || len(u.Path) > 1 || u.RawQuery != "" || u.User != nil {
		return nil, fmt.Errorf("the base %q is no address of a whole host: write it as https://boat.example", base)
	}
	return u, nil
}

// Opens tells whether a role has a passphrase.
func (d *Door) Opens(role Role) bool {
	_, ok := d.hashes[role]
	return ok
}

// Sign is the signature of a text for one purpose. The purpose and the lengths
// are signed with it, so that what is signed for one is worth nothing for
// another.
func (d *Door) Sign(purpose string, texts ...string) string {
	mac := hmac.New(sha256.New, d.o.Key)
	for _, t := range append([]string{purpose}, texts...) {
		fmt.Fprintf(mac, "%d:%s", len(t), t)
	}
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

// Signed tells whether a signature is that of a text for a purpose.
func (d *Door) Signed(signature, purpose string, texts ...string) bool {
	return hmac.Equal([]byte(signature), []byte(d.Sign(purpose, texts...)))
}

// nonce draws 128 bits.
func (d *Door) nonce() (string, error) {
	var b [16]byte
	if _, err := io.ReadFull(d.o.Random, b[:]); err != nil {
		return "", fmt.Errorf("draw a nonce: %w", err)
	}
	return base64.RawURLEncoding.EncodeToString(b[:]), nil
}

// Secure tells whether the visitor reached us by https, maybe through a
// server before us.
func (d *Door) Secure(r *http.Request) bool {
	return r.TLS != nil || d.base != nil && d.base.Scheme == "https"
}

// Refusal says why something was not done, to who asked for it.
type Refusal struct {
	Status int
	// Key is the sentence in the catalogue; Detail stands after it as it is.
	Key, Detail string
}

// Error tells the refusal.
func (r *Refusal) Error() string { return r.Key + ": " + r.Detail }
