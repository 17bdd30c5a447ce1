package web_test

import (
	"bytes"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/web"
)

// clock is a clock that a test moves.
type clock struct{ now time.Time }

func (c *clock) set(o *web.Options) { o.Now = func() time.Time { return c.now } }

func passphrase(role web.Role, words string) url.Values {
	return url.Values{"role": {string(role)}, "passphrase": {words}}
}

func TestLogin(t *testing.T) {
	h := newServer(t, newDesk(t))
	for _, c := range []struct {
		name   string
		values url.Values
		status int
		told   string
	}{
		{"the captain", passphrase(web.Captain, "captain's words"), http.StatusSeeOther, ""},
		{"a phone's blank at the end", passphrase(web.Captain, "captain's words "), http.StatusSeeOther, ""},
		{"the mate", passphrase(web.Mate, "mate's words"), http.StatusSeeOther, ""},
		{"wrong words", passphrase(web.Captain, "captain's word"), http.StatusForbidden, "That is not the passphrase."},
		{"the mate's words for the captain", passphrase(web.Captain, "mate's words"), http.StatusForbidden, "That is not the passphrase."},
		{"no words", passphrase(web.Captain, ""), http.StatusUnprocessableEntity, "Type the passphrase."},
		{"too many words", passphrase(web.Captain, strings.Repeat("x", 5000)), http.StatusUnprocessableEntity, "Type the passphrase."},
		{"another role", passphrase("owner", "captain's words"), http.StatusUnprocessableEntity, "Say whether you are"},
		{"no role", passphrase("", "captain's words"), http.StatusUnprocessableEntity, "Say whether you are"},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := newVisitor(t, h)
			// Everybody comes from a place of his own.
			w := v.post("/login", c.values, func(r *http.Request) { r.RemoteAddr = fmt.Sprintf("192.0.2.%d:999", len(c.name)) })
			require.Equal(t, c.status, w.Code)
			require.Contains(t, w.Body.String(), c.told)
			require.NotContains(t, w.Body.String(), "s word", "what was typed for a passphrase is never shown")
			if c.status != http.StatusSeeOther {
				require.Empty(t, w.Result().Cookies())
				require.Equal(t, http.StatusSeeOther, v.get("/charters").Code)
				return
			}
			require.Equal(t, "/", w.Header().Get("Location"))
			require.Equal(t, "no-store", w.Header().Get("Cache-Control"))
			require.Equal(t, http.StatusOK, v.get("/charters").Code)
		})
	}
}

func TestTheCookieOfASession(t *testing.T) {
	login := func(change ...func(*web.Options)) *http.Cookie {
		w := newVisitor(t, newServer(t, newDesk(t), change...)).post("/login", passphrase(web.Mate, "mate's words"))
		require.Len(t, w.Result().Cookies(), 1)
		return w.Result().Cookies()[0]
	}
	c := login()
	require.Equal(t, "session", c.Name)
	require.True(t, c.HttpOnly)
	require.Equal(t, http.SameSiteLaxMode, c.SameSite)
	require.Equal(t, "/", c.Path)
	require.Empty(t, c.Domain)
	require.Equal(t, 14*24*3600, c.MaxAge)
	require.False(t, c.Secure)
	c = login(func(o *web.Options) { o.Base = "https://boat.example" })
	// RFC 6265bis section 4.1.3.2: such a cookie is Secure, has the path / and
	// no domain.
	require.Equal(t, "__Host-session", c.Name)
	require.True(t, c.Secure)
	require.Equal(t, "/", c.Path)
	require.Empty(t, c.Domain)
}

func TestLoginGoesBackToAPageOfOurs(t *testing.T) {
	c := clock{made()}
	v := newVisitor(t, newServer(t, newDesk(t), c.set))
	w := v.get("/charters?id=b1&to=2027-01-21")
	require.Equal(t, http.StatusSeeOther, w.Code)
	require.Equal(t, "/login?back=%2Fcharters%3Fid%3Db1%26to%3D2027-01-21", w.Header().Get("Location"))
	require.Contains(t, v.get(w.Header().Get("Location")).Body.String(), `name="back" value="/charters?id=b1&amp;to=2027-01-21"`)
	values := passphrase(web.Captain, "captain's words")
	values.Set("back", "/charters?id=b1&to=2027-01-21")
	require.Equal(t, "/charters?id=b1&to=2027-01-21", v.post("/login", values).Header().Get("Location"))
	for i, back := range hostilePaths() {
		values.Set("back", back)
		c.now = c.now.Add(time.Minute)
		w := v.post("/login", values, func(r *http.Request) { r.RemoteAddr = fmt.Sprintf("198.51.100.%d:9", i) })
		require.Equal(t, "/", w.Header().Get("Location"), "%q", back)
		require.Contains(t, v.get("/login?back="+url.QueryEscape(back)).Body.String(), `name="back" value="/"`, "%q", back)
	}
}

func hostilePaths() []string {
	return []string{
		"//evil.example", `/\evil.example`, `\\evil.example`, "https://evil.example", "http:evil.example", "javascript:alert(1)",
		"/log\r\nSet-Cookie: a=b", "/log%0d%0aSet-Cookie:%20a=b", "/log\x00", "/%00", "/%5cevil.example", "///evil.example",
		"/.//evil.example", "/x/..//evil.example", "/%2e%2e//evil.example", "evil.example", "", " /log", "/\t/evil.example",
		"/login?back=/login", "/log" + strings.Repeat("x", 2000), "/%zz", "//user@evil.example/", "/%2f/..//evil.example",
	}
}

func TestLocalPath(t *testing.T) {
	for _, back := range hostilePaths() {
		require.Equal(t, "/", web.LocalPath(back), "%q", back)
	}
	for _, back := range []string{"/", "/charters", "/log?port=Port+B", "/day/2027-01-21", "/charters?id=b1&to=2027-01-21", "/drift?x=//evil", "/a%2Fb"} {
		require.Equal(t, back, web.LocalPath(back))
	}
}

func FuzzLocalPath(f *testing.F) {
	for _, back := range hostilePaths() {
		f.Add(back)
	}
	base, err := url.Parse("https://boat.example/login")
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, back string) {
		to := web.LocalPath(back)
		require.NotContains(t, to, "\\")
		for _, c := range to {
			require.False(t, c < ' ' || c == 0x7f, "%q", to)
		}
		// However a browser joins it, it stays with us.
		u, err := base.Parse(to)
		require.NoError(t, err)
		require.Equal(t, "boat.example", u.Host)
		require.Equal(t, "https", u.Scheme)
		require.True(t, strings.HasPrefix(to, "/") && !strings.HasPrefix(to, "//"), "%q", to)
		require.Equal(t, to, web.LocalPath(to), "what was checked once stays")
	})
}

func TestGuessingIsSlowedDown(t *testing.T) {
	c := clock{made()}
	var log bytes.Buffer
	d := newDesk(t)
	h := newServer(t, d, c.set, func(o *web.Options) { o.Logger = slog.New(slog.NewTextHandler(&log, nil)) })
	try := func(from, words string) *httptest.ResponseRecorder {
		return newVisitor(t, h).post("/login", passphrase(web.Captain, words), func(r *http.Request) { r.RemoteAddr = from })
	}
	for range 3 {
		require.Equal(t, http.StatusForbidden, try("192.0.2.1:1", "guess").Code)
	}
	require.Equal(t, http.StatusForbidden, try("192.0.2.1:1", "guess").Code)
	w := try("192.0.2.1:2", "captain's words") // the right words have to wait as well
	require.Equal(t, http.StatusTooManyRequests, w.Code)
	require.Equal(t, "5", w.Header().Get("Retry-After"))
	require.Contains(t, w.Body.String(), "Too many tries. Wait 5 s")
	// Another address does not.
	require.Equal(t, http.StatusSeeOther, try("192.0.2.2:1", "captain's words").Code)
	// Each further wrong one makes the wait longer.
	last := 5
	for range 4 {
		c.now = c.now.Add(time.Hour)
		require.Equal(t, http.StatusForbidden, try("192.0.2.1:1", "guess").Code)
		wait, err := strconv.Atoi(try("192.0.2.1:1", "guess").Header().Get("Retry-After"))
		require.NoError(t, err)
		require.Equal(t, 2*last, wait)
		last = wait
	}
	// The right words after the wait end it.
	c.now = c.now.Add(time.Hour)
	require.Equal(t, http.StatusSeeOther, try("192.0.2.1:1", "captain's words").Code)
	c.now = c.now.Add(time.Hour)
	require.Equal(t, http.StatusForbidden, try("192.0.2.1:1", "guess").Code)
	require.Equal(t, http.StatusSeeOther, try("192.0.2.1:1", "captain's words").Code)
	require.Contains(t, log.String(), "a login was refused")
	require.NotContains(t, log.String(), "guess", "what was typed is in no log")
}

func TestTheGate(t *testing.T) {
	now := made()
	prefix := func(i int) netip.Prefix {
		return netip.PrefixFrom(netip.AddrFrom4([4]byte{10, byte(i >> 16), byte(i >> 8), byte(i)}), 32)
	}
	t.Run("a role can't be guessed from many places at once", func(t *testing.T) {
		g := web.NewGate()
		let := 0
		for i := range 100 {
			if g.Try(web.Captain, prefix(i), now) == 0 {
				let++
			}
		}
		require.Equal(t, 20, let)
		require.Zero(t, g.Try(web.Mate, prefix(200), now), "the other role is not held up")
		require.Zero(t, g.Try(web.Captain, prefix(300), now.Add(6*time.Second)))
		require.Positive(t, g.Try(web.Captain, prefix(301), now.Add(6*time.Second)))
	})
	t.Run("memory is bounded", func(t *testing.T) {
		g := web.NewGate()
		for i := range 3 * web.MostAddresses {
			g.Try(web.Captain, prefix(i), now.Add(time.Duration(i)*time.Minute))
			g.Tried(prefix(i), false, now.Add(time.Duration(i)*time.Minute))
		}
		require.LessOrEqual(t, g.Remembered(), web.MostAddresses)
	})
	t.Run("the wait stays bounded", func(t *testing.T) {
		g := web.NewGate()
		for range 500 {
			g.Tried(prefix(1), false, now)
		}
		require.Equal(t, 15*time.Minute, g.Try(web.Captain, prefix(1), now))
		require.Zero(t, g.Try(web.Captain, prefix(1), now.Add(15*time.Minute)))
	})
}

func TestWhereARequestCameFrom(t *testing.T) {
	for _, c := range []struct{ remote, forwarded, want string }{
		{"192.0.2.7:55", "", "192.0.2.7/32"},
		{"192.0.2.7:55", "198.51.100.1", "192.0.2.7/32"}, // anybody can write that
		{"127.0.0.1:55", "", "127.0.0.1/32"},
		{"127.0.0.1:55", "203.0.113.9, 198.51.100.1", "198.51.100.1/32"}, // the last is written by our own server
		{"[::1]:55", "2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"},
		{"[2001:db8:1:2:3:4:5:6]:55", "", "2001:db8:1:2::/64"},
		{"[::ffff:192.0.2.7]:55", "", "192.0.2.7/32"},
		{"[fe80::1%eth0]:55", "", "fe80::/64"},
		{"127.0.0.1:55", "unknown", "127.0.0.1/32"},
	} {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.RemoteAddr = c.remote
		if c.forwarded != "" {
			r.Header.Set("X-Forwarded-For", c.forwarded)
		}
		require.Equal(t, c.want, web.AddressOf(r).String(), "%+v", c)
	}
	r := httptest.NewRequest(http.MethodGet, "/", nil)
	r.RemoteAddr = "@"
	require.Equal(t, netip.Prefix{}, web.AddressOf(r))
}

func TestLogout(t *testing.T) {
	v := loggedIn(t, newServer(t, newDesk(t)), web.Captain)
	require.Contains(t, v.get("/login").Body.String(), "You are logged in as captain.")
	w := v.post("/logout", v.form(""))
	require.Equal(t, http.StatusSeeOther, w.Code)
	require.Equal(t, "/", w.Header().Get("Location"))
	require.Equal(t, http.StatusSeeOther, v.get("/charters").Code)
	// From a page of an older login it works too; from another site it does not.
	v = loggedIn(t, newServer(t, newDesk(t)), web.Captain)
	require.Equal(t, http.StatusForbidden, v.post("/logout", url.Values{}, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }).Code)
	require.Equal(t, http.StatusOK, v.get("/charters").Code)
	require.Equal(t, http.StatusSeeOther, v.post("/logout", url.Values{"token": {"old"}}).Code)
	require.Equal(t, http.StatusSeeOther, v.get("/charters").Code)
	require.Equal(t, http.StatusForbidden, newVisitor(t, newServer(t, newDesk(t))).post("/logout", url.Values{}).Code)
}

func TestNobodyLogsInWithoutAPassphrase(t *testing.T) {
	h := newServer(t, newDesk(t), func(o *web.Options) { o.Passphrases = nil })
	v := newVisitor(t, h)
	require.Contains(t, v.get("/login").Body.String(), "Nobody can log in yet")
	require.Equal(t, http.StatusUnprocessableEntity, v.post("/login", passphrase(web.Captain, "")).Code)
	require.Equal(t, http.StatusUnprocessableEntity, v.post("/login", passphrase(web.Captain, "captain's words")).Code)

	for want, change := range map[string]func(*web.Options){
		"the mate's passphrase: the hash does not begin": func(o *web.Options) { o.Passphrases[web.Mate] = "mate's words" },
		`nobody logs in as "owner"`:                      func(o *web.Options) { o.Passphrases["owner"] = o.Passphrases[web.Mate] },
		"no address of a whole host":                     func(o *web.Options) { o.Base = "boat.example" },
	} {
		_, err := web.New(options(newDesk(t), change))
		require.ErrorContains(t, err, want)
		require.NotContains(t, err.Error(), "mate's words")
	}
}
