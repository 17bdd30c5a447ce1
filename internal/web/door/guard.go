package door

import (
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"path"
	"runtime/debug"
	"slices"
	"strings"
	"time"
)

const (
	mostBody    = 64 << 10
	mostAddress = 2048     // bytes of path and query
	mostHeaders = 16 << 10 // bytes of all headers
	// bodyTime is how long a form may take to arrive.
	bodyTime = 15 * time.Second
)

// Hosts lists the names that a daemon is asked by, for Options.Hosts: on
// loopback the names of this computer, the one listened on and that of base,
// so that a page elsewhere can't have its own name stand for this computer
// (DNS rebinding). Who listens to the network can be asked by any name: nil.
func Hosts(listen, base string) []string {
	host, _, err := net.SplitHostPort(listen)
	if err != nil {
		host = listen
	}
	ip := net.ParseIP(host)
	if host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return nil
	}
	hosts := []string{"localhost", "127.0.0.1", "::1"}
	if !slices.Contains(hosts, host) {
		hosts = append(hosts, host)
	}
	if u, err := url.Parse(base); err == nil && u.Hostname() != "" {
		hosts = append(hosts, strings.ToLower(u.Hostname()))
	}
	return hosts
}

// Fail answers a request that was refused or broke, in the visitor's words.
type Fail func(w http.ResponseWriter, r *http.Request, err error)

// Guard stands before every address. What it refuses is answered by fail.
func (d *Door) Guard(next http.Handler, fail Fail) http.Handler {
	cross := http.NewCrossOriginProtection()
	if d.base != nil {
		// A server before us may ask by another name than the visitor did.
		if err := cross.AddTrustedOrigin(d.base.Scheme + "://" + d.base.Host); err != nil {
			d.o.Logger.Error("the base can't be trusted as an origin", "base", d.o.Base, "error", err)
		}
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		d.harden(w, r)
		out := &reply{ResponseWriter: w}
		defer d.contain(out, r, fail)
		if refused := d.unfit(r); refused != nil {
			fail(out, r, refused)
			return
		}
		if err := cross.Check(r); err != nil {
			d.o.Logger.Warn("a request from another site was refused", "route", r.Method, "origin", r.Header.Get("Origin"))
			fail(out, r, &Refusal{Status: http.StatusForbidden, Key: "door.cross"})
			return
		}
		if r.Body != nil && r.Body != http.NoBody {
			r.Body = timely(w, http.MaxBytesReader(out, r.Body, mostBody))
		}
		r, one, ok := d.recall(r)
		if ok && r.Method == http.MethodGet && strings.Contains(r.Header.Get("Accept"), "text/html") {
			d.renew(out, r, one)
		}
		next.ServeHTTP(out, r)
	})
}

// timelyBody is a body that has to arrive in time.
type timelyBody struct {
	io.ReadCloser
	arrived func()
}

// timely gives a body its time. Once it is read the connection may rest as
// long as the answer takes. A writer without deadlines is no connection.
func timely(w http.ResponseWriter, body io.ReadCloser) io.ReadCloser {
	c := http.NewResponseController(w)
	if err := c.SetReadDeadline(time.Now().Add(bodyTime)); err != nil {
		return body
	}
	return &timelyBody{body, func() { _ = c.SetReadDeadline(time.Time{}) }}
}

// Read reads of the body.
func (b *timelyBody) Read(p []byte) (int, error) {
	n, err := b.ReadCloser.Read(p)
	if errors.Is(err, io.EOF) {
		b.arrived()
	}
	return n, err
}

// harden sets the headers that stand on every answer.
func (d *Door) harden(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", "default-src 'none'; style-src 'self'; img-src 'self' data:; script-src 'self'; connect-src 'self'; "+
		"manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=(), payment=(), usb=()")
	if d.Secure(r) {
		h.Set("Strict-Transport-Security", "max-age=31536000")
	}
}

// unfit tells what is wrong with a request before anything is looked up.
func (d *Door) unfit(r *http.Request) *Refusal {
	switch size := headerSize(r.Header); {
	case !d.ourHost(r.Host):
		return &Refusal{Status: http.StatusMisdirectedRequest, Key: "door.host"}
	case len(r.RequestURI) > mostAddress:
		return &Refusal{Status: http.StatusRequestURITooLong, Key: "door.long"}
	case size > mostHeaders:
		return &Refusal{Status: http.StatusRequestHeaderFieldsTooLarge, Key: "door.headers"}
	case strings.ContainsFunc(r.URL.Path, Odd) || strings.ContainsRune(r.URL.Path, '\\'):
		return &Refusal{Status: http.StatusBadRequest, Key: "door.path"}
	case r.ContentLength > mostBody:
		return &Refusal{Status: http.StatusRequestEntityTooLarge, Key: "door.body"}
	}
	return nil
}

// Odd tells whether a character has no business in an address.
func Odd(c rune) bool { return c < ' ' || c == 0x7f || c == '\uFFFD' }

func headerSize(h http.Header) int {
	n := 0
	for k, list := range h {
		for _, v := range list {
			n += len(k) + len(v) + 4
		}
	}
	return n
}

// ourHost tells whether a visitor asked by a name of ours.
func (d *Door) ourHost(asked string) bool {
	if len(d.o.Hosts) == 0 {
		return true
	}
	host, _, err := net.SplitHostPort(asked)
	if err != nil {
		host = strings.Trim(asked, "[]")
	}
	host = strings.TrimSuffix(strings.ToLower(host), ".")
	return slices.ContainsFunc(d.o.Hosts, func(h string) bool { return strings.ToLower(h) == host })
}

// reply remembers whether something was answered.
type reply struct {
	http.ResponseWriter
	begun bool
}

// WriteHeader begins the answer.
func (a *reply) WriteHeader(status int) {
	a.begun = true
	a.ResponseWriter.WriteHeader(status)
}

// Write writes of the answer.
func (a *reply) Write(b []byte) (int, error) {
	a.begun = true
	return a.ResponseWriter.Write(b)
}

// Unwrap is for http.ResponseController.
func (a *reply) Unwrap() http.ResponseWriter { return a.ResponseWriter }

// contain keeps one broken page from ending the daemon.
func (d *Door) contain(w *reply, r *http.Request, fail Fail) {
	broken := recover()
	if broken == nil {
		return
	}
	if err, ok := broken.(error); ok && errors.Is(err, http.ErrAbortHandler) {
		panic(broken)
	}
	d.o.Logger.Error("a page broke", "route", r.Pattern, "error", fmt.Sprint(broken), "stack", string(debug.Stack()))
	if w.begun {
		panic(http.ErrAbortHandler) // half a page must not pass for a whole one
	}
	defer func() {
		if recover() != nil { // what broke the page breaks the page on it too
			http.Error(w, http.StatusText(http.StatusInternalServerError), http.StatusInternalServerError)
		}
	}()
	fail(w, r, errors.New("the page broke"))
}

// LocalPath is the path of ours that a visitor is sent back to: anything that
// a browser might take for another host, or that would break a header, is "/".
func LocalPath(back string) string {
	u, err := url.Parse(back)
	switch {
	case err != nil || len(back) > 1024 || u.Scheme != "" || u.Host != "" || u.User != nil || u.Opaque != "":
		return "/"
	case !strings.HasPrefix(back, "/") || strings.HasPrefix(back, "//") || strings.ContainsAny(back, "\\"):
		return "/"
	case strings.ContainsFunc(back, Odd) || strings.ContainsFunc(u.Path, Odd) || strings.ContainsRune(u.Path, '\\'):
		return "/"
	case path.Clean(u.Path) != u.Path || path.Clean(u.EscapedPath()) != u.EscapedPath():
		return "/"
	case u.Path == "/login" || u.Path == "/choices" || u.Path == "/logout" || strings.HasPrefix(u.Path, "/logout/"):
		return "/"
	}
	return (&url.URL{Path: u.Path, RawPath: u.RawPath, RawQuery: u.RawQuery}).String()
}

// Unreadable tells what is wrong with a form that could not be read.
func Unreadable(err error) *Refusal {
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return &Refusal{Status: http.StatusRequestEntityTooLarge, Key: "door.body"}
	case errors.Is(err, os.ErrDeadlineExceeded):
		return &Refusal{Status: http.StatusRequestTimeout, Key: "door.slow"}
	}
	return &Refusal{Status: http.StatusBadRequest, Key: "door.form"}
}
