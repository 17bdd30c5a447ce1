package door

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"net/http"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
)

const (
	// sessionLasts is how long a login holds after the pages were last
	// opened with it, and sessionEnds how long at most: a lent phone does
	// not stay logged in for ever.
	sessionLasts = 14 * 24 * time.Hour
	sessionEnds  = 90 * 24 * time.Hour
	// sessionRenewed is how old a session's cookie gets before it is
	// written anew, and sessionNoted how old its last use in the book.
	sessionRenewed = 24 * time.Hour
	sessionNoted   = time.Hour
)

// session is a login as the browser has it: a signed cookie. It counts while
// the book has it too; a change of the role's passphrase, or of the key, ends
// it.
type session struct {
	Role Role
	// Began is when the passphrase was given, Issued when the cookie was
	// written, Expires when it stops to count.
	Began, Issued, Expires time.Time
	Nonce                  string
	// used is when the book last heard of it.
	used time.Time
}

var errSession = errors.New("the session does not count")

// token is the session in the book.
func (one session) token() string { return digest(one.Nonce) }

func digest(s string) string {
	sum := sha256.Sum256([]byte(s))
	return hex.EncodeToString(sum[:])
}

// under tells a role's passphrase from others; empty where it has none.
func (d *Door) under(role Role) string {
	hash, ok := d.o.Passphrases[role]
	if !ok {
		return ""
	}
	return digest(hash)
}

// begin makes a new login and writes it into the book. Where the book can't
// take it, as on a full disk, it counts until the next start.
func (d *Door) begin(ctx context.Context, role Role, now time.Time) (session, error) {
	nonce, err := d.nonce()
	if err != nil {
		return session{}, err
	}
	one := session{Role: role, Began: now, Issued: now, Expires: now.Add(sessionLasts), Nonce: nonce, used: now}
	kept := models.Session{Token: one.token(), Role: string(role), Under: d.under(role), Began: now, Used: now, Expires: one.Expires}
	if err := d.o.Book.Begin(ctx, kept); err != nil {
		d.o.Logger.Error("a login can't be kept: it ends with this process", "role", string(role), "error", err)
		return one, d.unkept.Begin(ctx, kept)
	}
	return one, nil
}

// writeSession is the cookie's value.
func (d *Door) writeSession(one session) string {
	payload := strings.Join([]string{"1", string(one.Role), strconv.FormatInt(one.Began.Unix(), 10),
		strconv.FormatInt(one.Issued.Unix(), 10), strconv.FormatInt(one.Expires.Unix(), 10), one.Nonce}, ".")
	return payload + "." + d.Sign("session", payload, d.o.Passphrases[one.Role])
}

// readSession reads the cookie's value and tells whether it is ours and not
// too old. Whether it still counts is in the book, which a forged one is not
// looked up in.
func (d *Door) readSession(value string, now time.Time) (session, error) {
	parts := strings.Split(value, ".")
	if len(value) > 256 || len(parts) != 7 || parts[0] != "1" {
		return session{}, errSession
	}
	one := session{Role: Role(parts[1]), Nonce: parts[5]}
	hash, ok := d.o.Passphrases[one.Role]
	if !ok || one.Role == Nobody {
		return session{}, errSession
	}
	if !d.Signed(parts[6], "session", strings.Join(parts[:6], "."), hash) {
		return session{}, errSession
	}
	for i, at := range []*time.Time{&one.Began, &one.Issued, &one.Expires} {
		n, err := strconv.ParseInt(parts[2+i], 10, 64)
		if err != nil {
			return session{}, errSession
		}
		*at = time.Unix(n, 0).UTC()
	}
	if !now.Before(one.Expires) {
		return session{}, errSession
	}
	return one, nil
}

// stands tells whether the book has a session, and when it was last used.
func (d *Door) stands(ctx context.Context, one session, now time.Time) (session, error) {
	if gone, _ := d.ended.Find(ctx, one.token()); gone.Known() {
		return session{}, errSession
	}
	for _, book := range []Book{d.unkept, d.o.Book} {
		found, err := book.Find(ctx, one.token())
		if err != nil {
			return session{}, err
		}
		if kept, ok := found.Get(); ok && kept.Role == string(one.Role) && kept.Under == d.under(one.Role) && now.Before(kept.Expires) {
			one.used = kept.Used
			return one, nil
		}
	}
	return session{}, errSession
}

// renewed is the session with a cookie of now.
func (one session) renewed(now time.Time) session {
	one.Issued, one.Expires = now, now.Add(sessionLasts)
	if end := one.Began.Add(sessionEnds); one.Expires.After(end) {
		one.Expires = end
	}
	return one
}

// renew notes that the pages were opened with a session, and writes its cookie
// anew where it has grown old.
func (d *Door) renew(w http.ResponseWriter, r *http.Request, one session) {
	now := d.o.Now()
	old := now.Sub(one.Issued) > sessionRenewed
	if !old && now.Sub(one.used) <= sessionNoted {
		return
	}
	if old {
		one = one.renewed(now)
		d.setCookie(w, r, "session", d.writeSession(one), one.Expires.Sub(one.Issued))
	}
	for _, book := range []Book{d.unkept, d.o.Book} {
		if err := book.Touch(r.Context(), one.token(), now, one.Expires); err != nil {
			d.o.Logger.Warn("it can't be kept that a login was used", "role", string(one.Role), "error", err)
		}
	}
}

// FormToken stands in every form of the visitor's session; a page of an older
// login has another. It is empty for who is not logged in.
func (d *Door) FormToken(r *http.Request) string {
	one, ok := sessionOf(r)
	if !ok {
		return ""
	}
	return d.Sign("form", string(one.Role), one.Nonce)
}

// OwnForm tells whether a token is of a form of the visitor's session.
func (d *Door) OwnForm(r *http.Request, token string) bool {
	one, ok := sessionOf(r)
	return ok && d.Signed(token, "form", string(one.Role), one.Nonce)
}

// cookieName is a name that a browser keeps from being written by other hosts
// where it can.
func (d *Door) cookieName(r *http.Request, name string) string {
	if d.Secure(r) {
		return "__Host-" + name
	}
	return name
}

// setCookie writes a cookie of the door; one that lasts no time is taken away.
func (d *Door) setCookie(w http.ResponseWriter, r *http.Request, name, value string, lasts time.Duration) {
	age := int(lasts / time.Second)
	if age <= 0 {
		age = -1
	}
	http.SetCookie(w, &http.Cookie{
		Name: d.cookieName(r, name), Value: value, Path: "/", MaxAge: age, HttpOnly: true, Secure: d.Secure(r), SameSite: http.SameSiteLaxMode,
	})
}

// cookie reads a cookie of the door.
func (d *Door) cookie(r *http.Request, name string) (string, bool) {
	c, err := r.Cookie(d.cookieName(r, name))
	if err != nil {
		return "", false
	}
	return c.Value, true
}

// sessionKey is where a request's session is found.
type sessionKey struct{}

// recall reads the session of a request, once.
func (d *Door) recall(r *http.Request) (*http.Request, session, bool) {
	value, ok := d.cookie(r, "session")
	if !ok {
		return r, session{}, false
	}
	now := d.o.Now()
	one, err := d.readSession(value, now)
	if err != nil {
		return r, session{}, false
	}
	if one, err = d.stands(r.Context(), one, now); err != nil {
		if !errors.Is(err, errSession) && r.Context().Err() == nil {
			d.o.Logger.Error("it can't be told whether a login still counts, so it does not", "role", string(one.Role), "error", err)
		}
		return r, session{}, false
	}
	return r.WithContext(context.WithValue(r.Context(), sessionKey{}, one)), one, true
}

// sessionOf is the session that a request came with.
func sessionOf(r *http.Request) (session, bool) {
	one, ok := r.Context().Value(sessionKey{}).(session)
	return one, ok
}

// RoleOf tells who asks, behind the guard.
func RoleOf(r *http.Request) Role {
	one, _ := sessionOf(r)
	return one.Role
}
