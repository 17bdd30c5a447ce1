package web

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
	"strconv"
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

// readBase checks Options.Base.
func readBase(base string) (*url.URL, error) {
	if base == "" {
		return nil, nil
	}
	u, err := url.Parse(base)
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Hostname() == "" || strings.Trim(u.Path, "/") != "" || u.RawQuery != "" || u.User != nil {
		return nil, fmt.Errorf("web: the base %q is no address of a whole host: write it as https://boat.example", base)
	}
	return u, nil
}

// guard stands before every address.
func (s *Server) guard(next http.Handler) http.Handler {
	cross := http.NewCrossOriginProtection()
	if base, err := readBase(s.o.Base); err == nil && base != nil {
		// A server before us may ask by another name than the visitor did.
		if err := cross.AddTrustedOrigin(base.Scheme + "://" + base.Host); err != nil {
			s.o.Logger.Error("the base can't be trusted as an origin", "base", s.o.Base, "error", err)
		}
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.harden(w, r)
		out := &reply{ResponseWriter: w}
		defer s.contain(out, r)
		if refused := s.unfit(r); refused != nil {
			s.fail(out, s.view(r), refused)
			return
		}
		if err := cross.Check(r); err != nil {
			s.o.Logger.Warn("a request from another site was refused", "route", r.Method, "origin", r.Header.Get("Origin"))
			s.fail(out, s.view(r), &refusal{Status: http.StatusForbidden, Key: "door.cross"})
			return
		}
		if r.Body != nil && r.Body != http.NoBody {
			r.Body = timely(w, http.MaxBytesReader(out, r.Body, mostBody))
		}
		r, one, ok := s.recall(r)
		if ok && r.Method == http.MethodGet && s.o.Now().Sub(one.Issued) > sessionRenewed && strings.Contains(r.Header.Get("Accept"), "text/html") {
			s.setSession(out, r, one.renewed(s.o.Now()))
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
func (s *Server) harden(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", "default-src 'none'; style-src 'self'; img-src 'self' data:; script-src 'self'; connect-src 'self'; "+
		"manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("X-Frame-Options", "DENY")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=(), payment=(), usb=()")
	if s.secure(r) {
		h.Set("Strict-Transport-Security", "max-age=31536000")
	}
}

// unfit tells what is wrong with a request before anything is looked up.
func (s *Server) unfit(r *http.Request) *refusal {
	switch size := headerSize(r.Header); {
	case !s.ourHost(r.Host):
		return &refusal{Status: http.StatusMisdirectedRequest, Key: "door.host"}
	case len(r.RequestURI) > mostAddress:
		return &refusal{Status: http.StatusRequestURITooLong, Key: "door.long"}
	case size > mostHeaders:
		return &refusal{Status: http.StatusRequestHeaderFieldsTooLarge, Key: "door.headers"}
	case strings.ContainsFunc(r.URL.Path, odd) || strings.ContainsRune(r.URL.Path, '\\'):
		return &refusal{Status: http.StatusBadRequest, Key: "door.path"}
	case r.ContentLength > mostBody:
		return &refusal{Status: http.StatusRequestEntityTooLarge, Key: "door.body"}
	}
	return nil
}

// odd tells whether a character has no business in an address.
func odd(c rune) bool { return c < ' ' || c == 0x7f || c == '\uFFFD' }

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
func (s *Server) ourHost(asked string) bool {
	if len(s.o.Hosts) == 0 {
		return true
	}
	host, _, err := net.SplitHostPort(asked)
	if err != nil {
		host = strings.Trim(asked, "[]")
	}
	host = strings.TrimSuffix(strings.ToLower(host), ".")
	return slices.ContainsFunc(s.o.Hosts, func(h string) bool { return strings.ToLower(h) == host })
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
func (s *Server) contain(w *reply, r *http.Request) {
	broken := recover()
	if broken == nil {
		return
	}
	if err, ok := broken.(error); ok && errors.Is(err, http.ErrAbortHandler) {
		panic(broken)
	}
	s.o.Logger.Error("a page broke", "route", r.Pattern, "error", fmt.Sprint(broken), "stack", string(debug.Stack()))
	if w.begun {
		panic(http.ErrAbortHandler) // half a page must not pass for a whole one
	}
	defer func() {
		if recover() != nil { // what broke the page breaks the page on it too
			http.Error(w, http.StatusText(http.StatusInternalServerError), http.StatusInternalServerError)
		}
	}()
	s.fail(w, s.view(r), errors.New("the page broke"))
}

// otherwise answers what no route has: another method of an address that is
// there, or nothing.
func (s *Server) otherwise(mux *http.ServeMux) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var allowed []string
		for _, m := range []string{http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodDelete} {
			try := *r
			try.Method = m
			if _, pattern := mux.Handler(&try); pattern != "/" && pattern != "" {
				allowed = append(allowed, m)
			}
		}
		v := s.view(r)
		if len(allowed) == 0 {
			s.fail(w, v, ErrNotFound)
			return
		}
		w.Header().Set("Allow", strings.Join(allowed, ", "))
		s.fail(w, v, &refusal{Status: http.StatusMethodNotAllowed, Key: "door.method"})
	})
}

// admit tells why a visitor may not ask for an address: he is not logged in,
// has the wrong role, or brings a form of an older login.
func (s *Server) admit(v *view, r route) error {
	if r.Needs == Nobody || v.Role == Captain || v.Role == r.Needs {
		return nil
	}
	if v.Role == Nobody {
		if method := v.Request.Method; method == http.MethodGet || method == http.MethodHead {
			return elsewhere("/login?back=" + url.QueryEscape(v.Request.URL.RequestURI()))
		}
		return &refusal{Status: http.StatusForbidden, Key: "door.logged out"}
	}
	return &refusal{Status: http.StatusForbidden, Key: "door.captain only"}
}

// elsewhere sends the visitor to another page of ours.
type elsewhere string

// Error tells where to.
func (e elsewhere) Error() string { return "see " + string(e) }

// localPath is the path of ours that a visitor is sent back to: anything that
// a browser might take for another host, or that would break a header, is "/".
func localPath(back string) string {
	u, err := url.Parse(back)
	switch {
	case err != nil || len(back) > 1024 || u.Scheme != "" || u.Host != "" || u.User != nil || u.Opaque != "":
		return "/"
	case !strings.HasPrefix(back, "/") || strings.HasPrefix(back, "//") || strings.ContainsAny(back, "\\"):
		return "/"
	case strings.ContainsFunc(back, odd) || strings.ContainsFunc(u.Path, odd) || strings.ContainsRune(u.Path, '\\'):
		return "/"
	case path.Clean(u.Path) != u.Path || path.Clean(u.EscapedPath()) != u.EscapedPath():
		return "/"
	case u.Path == "/login" || u.Path == "/logout" || u.Path == "/choices":
		return "/"
	}
	return (&url.URL{Path: u.Path, RawPath: u.RawPath, RawQuery: u.RawQuery}).String()
}

// unreadable tells what is wrong with a form that could not be read.
func unreadable(err error) *refusal {
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return &refusal{Status: http.StatusRequestEntityTooLarge, Key: "door.body"}
	case errors.Is(err, os.ErrDeadlineExceeded):
		return &refusal{Status: http.StatusRequestTimeout, Key: "door.slow"}
	}
	return &refusal{Status: http.StatusBadRequest, Key: "door.form"}
}

// seconds is a wait as Retry-After tells it, never too short.
func seconds(d time.Duration) string { return strconv.Itoa(int((d + time.Second - 1) / time.Second)) }
