package web_test

import (
	"bufio"
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/web"
	"forecastd/internal/web/door"
)

// The headers are those of OWASP's secure headers list, and the policy forbids
// all but our own files.
func TestEveryAnswerHasItsHeaders(t *testing.T) {
	h := newServer(t, newDesk(t))
	v := loggedIn(t, h, web.Captain)
	answers := map[string]*httptest.ResponseRecorder{
		"a page": v.get("/reports"), "a page for who is logged in": v.get("/charters"), "no page": v.get("/no-such-page"), "a file": v.get("/static/style.css"),
		"a form refused": v.post("/reports", url.Values{}), "a login": v.post("/login", passphrase(web.Mate, "x")), "a link": v.get("/link/forged"),
		"another method": v.do(httptest.NewRequest(http.MethodPut, "/reports", nil)),
		"another site":   v.post("/reports", url.Values{}, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }),
	}
	for name, w := range answers {
		got := w.Header()
		require.Equal(t, "default-src 'none'; style-src 'self'; img-src 'self' data:; script-src 'self'; connect-src 'self'; manifest-src 'self'; "+
			"worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'", got.Get("Content-Security-Policy"), name)
		require.Equal(t, "nosniff", got.Get("X-Content-Type-Options"), name)
		require.Equal(t, "no-referrer", got.Get("Referrer-Policy"), name)
		require.Equal(t, "same-origin", got.Get("Cross-Origin-Opener-Policy"), name)
		require.Equal(t, "same-origin", got.Get("Cross-Origin-Resource-Policy"), name)
		require.NotEmpty(t, got.Get("Permissions-Policy"), name)
		require.Empty(t, got.Get("Strict-Transport-Security"), name)
		require.Empty(t, got.Get("Access-Control-Allow-Origin"), name)
	}
	require.Equal(t, "no-store", answers["a page for who is logged in"].Header().Get("Cache-Control"))

	secure := newServer(t, newDesk(t), func(o *web.Options) { o.Base = "https://boat.example" })
	require.Equal(t, "max-age=31536000", newVisitor(t, secure).get("/reports").Header().Get("Strict-Transport-Security"))
	r := httptest.NewRequest(http.MethodGet, "/reports", nil)
	r.TLS = &tls.ConnectionState{}
	require.Equal(t, "max-age=31536000", newVisitor(t, h).do(r).Header().Get("Strict-Transport-Security"))
}

func TestPagesHaveNothingInlineThatThePolicyForbids(t *testing.T) {
	v := loggedIn(t, newServer(t, newDesk(t)), web.Captain)
	for _, to := range []string{"/login", "/reports", "/bait", "/log", "/charters", "/link/good.token", "/no-such-page"} {
		body := v.get(to).Body.String()
		require.NotContains(t, body, " style=", to)
		require.NotContains(t, body, "<style", to)
		for _, handler := range []string{" onclick=", " onload=", " onerror=", " onsubmit=", " onchange="} {
			require.NotContains(t, body, handler, to)
		}
		for rest := body; ; {
			_, after, found := strings.Cut(rest, "<script")
			if !found {
				break
			}
			tag, content, _ := strings.Cut(after, ">")
			require.Contains(t, tag, `src="/`, to)
			require.True(t, strings.HasPrefix(content, "</script>"), to)
			rest = content
		}
	}
}

func TestAddressesThatAreRefused(t *testing.T) {
	h := newServer(t, newDesk(t))
	ask := func(change func(*http.Request)) *httptest.ResponseRecorder {
		r := httptest.NewRequest(http.MethodGet, "/reports", nil)
		change(r)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w
	}
	path := func(p string) func(*http.Request) {
		return func(r *http.Request) {
			u, err := url.Parse(p)
			require.NoError(t, err)
			r.URL, r.RequestURI = u, p
		}
	}
	for name, c := range map[string]struct {
		change func(*http.Request)
		status int
	}{
		"a long one":       {path("/reports?x=" + strings.Repeat("y", 2100)), http.StatusRequestURITooLong},
		"a NUL":            {path("/reports%00"), http.StatusBadRequest},
		"a line break":     {path("/reports%0d%0aSet-Cookie:%20a=b"), http.StatusBadRequest},
		"a backslash":      {path("/%5c%5cevil.example"), http.StatusBadRequest},
		"broken UTF-8":     {path("/reports%ff"), http.StatusBadRequest},
		"an encoded slash": {path("/reports%2f..%2fcharters"), http.StatusNotFound},
		"many headers": {func(r *http.Request) {
			for i := range 20 {
				r.Header.Set("X-"+strconv.Itoa(i), strings.Repeat("z", 1000))
			}
		}, http.StatusRequestHeaderFieldsTooLarge},
	} {
		w := ask(c.change)
		require.Equal(t, c.status, w.Code, name)
		require.Contains(t, w.Body.String(), "<h1>That did not work</h1>", name)
	}
	// A path that the router tidies leads to us, whatever it begins with.
	w := ask(path("/x/../..//evil.example/%2e%2e"))
	require.NotContains(t, w.Header().Get("Location"), "//")
}

func TestOnlyOurOwnNamesAreAnswered(t *testing.T) {
	require.Nil(t, door.Hosts("0.0.0.0:8080", ""))
	require.Nil(t, door.Hosts(":8080", "https://boat.example"))
	require.Nil(t, door.Hosts("192.168.1.5:8080", ""))
	require.Equal(t, []string{"localhost", "127.0.0.1", "::1"}, door.Hosts("127.0.0.1:8080", ""))
	require.Equal(t, []string{"localhost", "127.0.0.1", "::1", "127.0.0.2"}, door.Hosts("127.0.0.2:8080", ""))
	h := newServer(t, newDesk(t), func(o *web.Options) { o.Hosts = door.Hosts("[::1]:8080", "https://Boat.Example/") })
	for host, status := range map[string]int{
		"localhost:8080": http.StatusOK, "127.0.0.1": http.StatusOK, "[::1]:8080": http.StatusOK, "[::1]": http.StatusOK,
		"boat.example": http.StatusOK, "BOAT.example.:443": http.StatusOK,
		// A page elsewhere whose name was made to stand for this computer.
		"rebound.example:8080": http.StatusMisdirectedRequest, "": http.StatusMisdirectedRequest, "localhost.evil.example": http.StatusMisdirectedRequest,
		"127.0.0.1.evil.example": http.StatusMisdirectedRequest,
	} {
		r := httptest.NewRequest(http.MethodGet, "/reports", nil)
		r.Host = host
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		require.Equal(t, status, w.Code, "%q", host)
	}
	// Without a list any name will do.
	r := httptest.NewRequest(http.MethodGet, "/reports", nil)
	r.Host = "harbour-pc.lan"
	w := httptest.NewRecorder()
	newServer(t, newDesk(t)).ServeHTTP(w, r)
	require.Equal(t, http.StatusOK, w.Code)
}

// A server before us may ask under a name of its own, with the visitor's
// origin.
func TestTheBaseIsAnOriginOfOurs(t *testing.T) {
	d := newDesk(t)
	h := newServer(t, d, func(o *web.Options) { o.Base = "https://boat.example" })
	origin := func(o string) func(*http.Request) {
		return func(r *http.Request) {
			r.Header.Del("Sec-Fetch-Site")
			r.Header.Set("Origin", o)
		}
	}
	v := newVisitor(t, h)
	v.base.Host = "127.0.0.1:8080"
	require.Equal(t, http.StatusSeeOther, v.post("/choices", url.Values{"look": {"night"}}, origin("https://boat.example")).Code)
	require.Equal(t, http.StatusForbidden, v.post("/choices", url.Values{"look": {"night"}}, origin("https://evil.example")).Code)
	require.Equal(t, http.StatusForbidden, v.post("/choices", url.Values{"look": {"night"}}, origin("http://boat.example")).Code)
}

// breaking is a desk that panics, or answers an error of the machine.
type breaking struct {
	*desk
	broken any
	board  bool
}

func (b *breaking) Reported(context.Context, string) ([]web.Said, error) {
	if err, ok := b.broken.(error); ok && !errors.Is(err, http.ErrAbortHandler) {
		return nil, err
	}
	panic(b.broken)
}

func (b *breaking) Board(ctx context.Context, port string) (web.Board, error) {
	if b.board {
		panic(b.broken)
	}
	return b.desk.Board(ctx, port)
}

func TestABrokenPageIsContained(t *testing.T) {
	for name, c := range map[string]struct {
		broken any
		board  bool
	}{"a panic": {"the secret inside", false}, "a panic wherever": {"the secret inside", true}, "an error": {errors.New("the secret inside"), false}} {
		t.Run(name, func(t *testing.T) {
			var log bytes.Buffer
			d := &breaking{newDesk(t), c.broken, c.board}
			o := options(d.desk)
			o.Desk, o.Logger = d, slog.New(slog.NewTextHandler(&log, nil))
			s, err := web.New(o)
			require.NoError(t, err)
			w := httptest.NewRecorder()
			s.Handler().ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/reports", nil))
			require.Equal(t, http.StatusInternalServerError, w.Code)
			require.NotContains(t, w.Body.String(), "secret")
			require.Contains(t, log.String(), "the secret inside")
		})
	}
	d := &breaking{desk: newDesk(t), broken: http.ErrAbortHandler}
	o := options(d.desk)
	o.Desk = d
	s, err := web.New(o)
	require.NoError(t, err)
	require.PanicsWithError(t, http.ErrAbortHandler.Error(), func() {
		s.Handler().ServeHTTP(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/reports", nil))
	})
}

// pipes is a listener whose connections are pipes in memory, so that a test's
// clock moves them.
type pipes struct{ to chan net.Conn }

func (p *pipes) Accept() (net.Conn, error) {
	c, ok := <-p.to
	if !ok {
		return nil, net.ErrClosed
	}
	return c, nil
}
func (p *pipes) Close() error { return nil }
func (*pipes) Addr() net.Addr { return &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1)} }

// A form that trickles in is given up, though the server itself would wait.
func TestASlowBodyIsGivenUp(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDesk(t)
		h := newServer(t, d)
		token := loggedIn(t, h, web.Captain)
		values := token.form("fish", "say", "today").Encode()
		p := &pipes{make(chan net.Conn)}
		server := &http.Server{Handler: h}
		go func() { _ = server.Serve(p) }()
		here, there := net.Pipe()
		p.to <- there
		cookie := token.jar.Cookies(token.base)[0]
		began := time.Now()
		var sender sync.WaitGroup
		sender.Go(func() {
			_, _ = here.Write([]byte("POST /reports HTTP/1.1\r\nHost: boat.example\r\nContent-Type: application/x-www-form-urlencoded\r\nCookie: " + cookie.String() +
				"\r\nContent-Length: " + strconv.Itoa(len(values)) + "\r\n\r\n"))
			for i := range values {
				if _, err := here.Write([]byte{values[i]}); err != nil {
					return
				}
				time.Sleep(2 * time.Second) // the bubble's clock
			}
		})
		answer, err := http.ReadResponse(bufio.NewReader(here), nil)
		waited := time.Since(began)
		require.NoError(t, here.Close())
		sender.Wait()
		close(p.to)
		require.NoError(t, server.Close())
		require.NoError(t, err)
		require.Equal(t, http.StatusRequestTimeout, answer.StatusCode)
		require.Equal(t, 15*time.Second, waited)
		require.Empty(t, d.asked)
	})
}
