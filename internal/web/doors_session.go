package web

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"
)

const (
	// sessionLasts is how long a login holds after the pages were last
	// opened with it, and sessionEnds how long at most: a lent phone does
	// not stay logged in for ever.
	sessionLasts = 14 * 24 * time.Hour
	sessionEnds  = 90 * 24 * time.Hour
	// sessionRenewed is how old a session's cookie gets before it is
	// written anew.
	sessionRenewed = 24 * time.Hour
)

// session is a login. It is kept in a signed cookie alone: a change of the
// role's passphrase, or of the key, ends it.
type session struct {
	Role Role
	// Began is when the passphrase was given, Issued when the cookie was
	// written, Expires when it stops to count.
	Began, Issued, Expires time.Time
	Nonce                  string
}

var errSession = errors.New("the session does not count")

// beginSession makes a new login.
func (s *Server) beginSession(role Role, now time.Time) (session, error) {
	nonce, err := s.nonce()
	return session{Role: role, Began: now, Issued: now, Expires: now.Add(sessionLasts), Nonce: nonce}, err
}

// nonce draws 128 bits.
func (s *Server) nonce() (string, error) {
	var b [16]byte
	if _, err := io.ReadFull(s.o.Random, b[:]); err != nil {
		return "", fmt.Errorf("draw a nonce: %w", err)
	}
	return base64.RawURLEncoding.EncodeToString(b[:]), nil
}

// sign is the signature of a text for one purpose. The purpose and the lengths
// are signed with it, so that what is signed for one is worth nothing for
// another.
func (s *Server) sign(purpose string, texts ...string) string {
	mac := hmac.New(sha256.New, s.o.Key)
	for _, t := range append([]string{purpose}, texts...) {
		fmt.Fprintf(mac, "%d:%s", len(t), t)
	}
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

// writeSession is the cookie's value.
func (s *Server) writeSession(one session) string {
	payload := strings.Join([]string{"1", string(one.Role), strconv.FormatInt(one.Began.Unix(), 10),
		strconv.FormatInt(one.Issued.Unix(), 10), strconv.FormatInt(one.Expires.Unix(), 10), one.Nonce}, ".")
	return payload + "." + s.sign("session", payload, s.o.Passphrases[one.Role])
}

// readSession reads the cookie's value and tells whether it counts now.
func (s *Server) readSession(value string, now time.Time) (session, error) {
	parts := strings.Split(value, ".")
	if len(value) > 256 || len(parts) != 7 || parts[0] != "1" {
		return session{}, errSession
	}
	one := session{Role: Role(parts[1]), Nonce: parts[5]}
	hash, ok := s.o.Passphrases[one.Role]
	if !ok || one.Role == Nobody {
		return session{}, errSession
	}
	if !hmac.Equal([]byte(parts[6]), []byte(s.sign("session", strings.Join(parts[:6], "."), hash))) {
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

// renewed is the session with a cookie of now.
func (one session) renewed(now time.Time) session {
	one.Issued, one.Expires = now, now.Add(sessionLasts)
	if end := one.Began.Add(sessionEnds); one.Expires.After(end) {
		one.Expires = end
	}
	return one
}

// formToken stands in every form of a session; a page of an older login has
// another.
func (s *Server) formToken(one session) string { return s.sign("form", string(one.Role), one.Nonce) }

// secure tells whether the visitor reached us by https, maybe through a
// server before us.
func (s *Server) secure(r *http.Request) bool {
	return r.TLS != nil || strings.HasPrefix(s.o.Base, "https://")
}

// cookieName is a name that a browser keeps from being written by other hosts
// where it can.
func (s *Server) cookieName(r *http.Request) string {
	if s.secure(r) {
		return "__Host-session"
	}
	return "session"
}

// setSession writes the session's cookie.
func (s *Server) setSession(w http.ResponseWriter, r *http.Request, one session) {
	http.SetCookie(w, &http.Cookie{
		Name: s.cookieName(r), Value: s.writeSession(one), Path: "/", MaxAge: int(one.Expires.Sub(one.Issued) / time.Second),
		HttpOnly: true, Secure: s.secure(r), SameSite: http.SameSiteLaxMode,
	})
}

// dropSession takes the session's cookie away.
func (s *Server) dropSession(w http.ResponseWriter, r *http.Request) {
	http.SetCookie(w, &http.Cookie{
		Name: s.cookieName(r), Path: "/", MaxAge: -1, HttpOnly: true, Secure: s.secure(r), SameSite: http.SameSiteLaxMode,
	})
}

// sessionKey is where a request's session is found.
type sessionKey struct{}

// recall reads the session of a request, once.
func (s *Server) recall(r *http.Request) (*http.Request, session, bool) {
	c, err := r.Cookie(s.cookieName(r))
	if err != nil {
		return r, session{}, false
	}
	one, err := s.readSession(c.Value, s.o.Now())
	if err != nil {
		return r, session{}, false
	}
	return r.WithContext(context.WithValue(r.Context(), sessionKey{}, one)), one, true
}

// sessionOf is the session that a request came with.
func sessionOf(r *http.Request) (session, bool) {
	one, ok := r.Context().Value(sessionKey{}).(session)
	return one, ok
}

// roleOf tells who asks.
func (s *Server) roleOf(r *http.Request) Role {
	one, _ := sessionOf(r)
	return one.Role
}

// FormToken is what a form of this page has to bring along.
func (v *view) FormToken() string {
	one, ok := sessionOf(v.Request)
	if !ok {
		return ""
	}
	return v.server.formToken(one)
}

// LoggedIn tells whether the visitor is logged in.
func (v *view) LoggedIn() bool { return v.Role != Nobody }

// IsCaptain tells whether the visitor is the captain.
func (v *view) IsCaptain() bool { return v.Role == Captain }

// The sentence that says what was done waits in a signed cookie for the page
// that it is shown on, and for a minute at most.
const flashLasts = time.Minute

// setFlash keeps a sentence for the page of a path.
func (s *Server) setFlash(w http.ResponseWriter, r *http.Request, path, sentence string) {
	const longest = 1000 // bytes; a cookie has room for some 4000
	sentence = strings.ToValidUTF8(sentence, "")
	if len(sentence) > longest {
		sentence = strings.ToValidUTF8(sentence[:longest], "") + " …"
	}
	payload := base64.RawURLEncoding.EncodeToString([]byte(sentence)) + "." + strconv.FormatInt(s.o.Now().Add(flashLasts).Unix(), 10)
	http.SetCookie(w, &http.Cookie{
		Name: "said", Value: payload + "." + s.sign("flash", path, payload, string(s.roleOf(r))), Path: path, MaxAge: int(flashLasts / time.Second),
		HttpOnly: true, Secure: s.secure(r), SameSite: http.SameSiteLaxMode,
	})
}

// Flash is the sentence that waits for this page; empty where there is none.
func (v *view) Flash() string {
	c, err := v.Request.Cookie("said")
	if err != nil {
		return ""
	}
	return v.server.readFlash(v.Request.URL.Path, c.Value, v.Role)
}

func (s *Server) readFlash(path, value string, role Role) string {
	i := strings.LastIndexByte(value, '.')
	if i < 0 || !hmac.Equal([]byte(value[i+1:]), []byte(s.sign("flash", path, value[:i], string(role)))) {
		return ""
	}
	text, until, _ := strings.Cut(value[:i], ".")
	n, err := strconv.ParseInt(until, 10, 64)
	if err != nil || !s.o.Now().Before(time.Unix(n, 0)) {
		return ""
	}
	b, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil {
		return ""
	}
	return string(b)
}

// dropFlash takes the sentence away once its page is made.
func (s *Server) dropFlash(w http.ResponseWriter, r *http.Request) {
	if _, err := r.Cookie("said"); err != nil {
		return
	}
	http.SetCookie(w, &http.Cookie{Name: "said", Path: r.URL.Path, MaxAge: -1, HttpOnly: true, Secure: s.secure(r), SameSite: http.SameSiteLaxMode})
}
