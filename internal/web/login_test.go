package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/web"
	"forecastd/internal/web/door"
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
		require.Len(t, w.Result().Cookies(), 2)
		require.Contains(t, w.Result().Cookies()[1].Name, "device")
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
		require.Equal(t, "/", door.LocalPath(back), "%q", back)
	}
	for _, back := range []string{"/", "/charters", "/log?port=Port+B", "/day/2027-01-21", "/charters?id=b1&to=2027-01-21", "/drift?x=//evil", "/a%2Fb"} {
		require.Equal(t, back, door.LocalPath(back))
	}
}

func FuzzLocalPath(f *testing.F) {
	for _, back := range hostilePaths() {
		f.Add(back)
	}
	base, err := url.Parse("https://boat.example/login")
	require.NoError(f, err)
	f.Fuzz(func(t *testing.T, back string) {
		to := door.LocalPath(back)
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
		require.Equal(t, to, door.LocalPath(to), "what was checked once stays")
	})
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
