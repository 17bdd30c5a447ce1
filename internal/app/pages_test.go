package app_test

import (
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/app"
	"forecastd/internal/models"
)

// demoDaemon is the demo's daemon, of which people hear nothing.
func demoDaemon(t testing.TB, change ...func(*app.ServeOptions)) *app.Daemon {
	t.Helper()
	o, err := app.DemoOptions(app.Options{Logger: slog.New(slog.DiscardHandler), Version: "test"}, false)
	require.NoError(t, err)
	so := app.ServeOptions{Options: o, State: t.TempDir(), Listen: app.ListenOff, DryRun: io.Discard}
	for _, c := range change {
		c(&so)
	}
	d := start(t, so)
	t.Cleanup(func() { halt(t, d) })
	return d
}

// visitor is somebody with a browser that keeps cookies.
type visitor struct {
	t      testing.TB
	base   string
	client *http.Client
}

func visit(t testing.TB, d *app.Daemon) visitor {
	t.Helper()
	s := httptest.NewServer(d.Handler())
	t.Cleanup(s.Close)
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	return visitor{t, s.URL, &http.Client{Jar: jar, Timeout: 30 * time.Second}}
}

func (v visitor) read(r *http.Response, err error) (int, string) {
	v.t.Helper()
	require.NoError(v.t, err)
	defer r.Body.Close()
	b, err := io.ReadAll(r.Body)
	require.NoError(v.t, err)
	return r.StatusCode, string(b)
}

func (v visitor) get(path string) (int, string) {
	v.t.Helper()
	return v.read(v.client.Get(v.base + path))
}

// post sends a form as a browser does: with the token of the form at a page.
func (v visitor) post(page, path string, pairs ...string) (int, string) {
	v.t.Helper()
	_, body := v.get(page)
	form := url.Values{}
	if m := regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(body); m != nil {
		form.Set("token", m[1])
	}
	for i := 0; i+1 < len(pairs); i += 2 {
		form.Set(pairs[i], pairs[i+1])
	}
	req, err := http.NewRequest(http.MethodPost, v.base+path, strings.NewReader(form.Encode()))
	require.NoError(v.t, err)
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	req.Header.Set("Origin", v.base)
	return v.read(v.client.Do(req))
}

// The pages of the demo's daemon show the call that `call -demo` makes.
func TestThePagesShowTheCall(t *testing.T) {
	v := visit(t, demoDaemon(t))
	code, body := v.get("/")
	require.Equal(t, http.StatusOK, code, body)
	require.Contains(t, body, "kite, start earlier (06:30), back by 13:00")
	require.Contains(t, body, "Small Craft Advisory")
	require.Contains(t, body, "invented data")
	require.NotContains(t, body, "party of four", "guests are named to those who are logged in only")
	code, body = v.get("/charters")
	require.Equal(t, http.StatusOK, code)
	require.NotContains(t, body, "party of four")

	v.post("/login", "/login", "role", "captain", "passphrase", "demo captain")
	code, body = v.get("/charters")
	require.Equal(t, http.StatusOK, code)
	require.Contains(t, body, "party of four")
}

// What is said by the pages is in the next call, and still there after a
// restart.
func TestWhatIsSaidByThePagesCounts(t *testing.T) {
	state := t.TempDir()
	d := demoDaemon(t, func(o *app.ServeOptions) { o.State = state })
	v := visit(t, d)
	v.post("/login", "/login", "role", "mate", "passphrase", "demo mate")
	code, body := v.post("/reports", "/reports", "form", "edge", "say", "in", "depth", "140", "unit", "ft")
	require.Equal(t, http.StatusOK, code, body)
	require.Contains(t, body, "140 ft")
	require.Eventually(t, func() bool {
		_, body := v.get("/")
		return !strings.Contains(body, "a report of the edge")
	}, 20*time.Second, 100*time.Millisecond, "the call knows of the edge")
	_, body = v.get("/drift")
	require.Contains(t, body, "140 ft", "and the chart of the drift draws it")
	_, body = v.post("/bait", "/bait", "kind", "goggle-eye", "count", "33")
	require.Contains(t, body, "33")
}

// A passphrase that the configuration names is one that its command hashed.
func TestAWrongPassphraseFileIsToldAtTheStart(t *testing.T) {
	o := serveOptions(t, daemonConfig(t, "pages: {captain_file: captain}\n"), time.Now, offline(), &mailbag{now: time.Now})
	o.Dir = t.TempDir()
	_, err := app.StartDaemon(t.Context(), o)
	require.ErrorContains(t, err, "pages.captain_file")

	name := filepath.Join(o.Dir, "hash")
	require.NoError(t, os.WriteFile(name, []byte("in the clear\n"), 0o600))
	o.Config.Pages.CaptainFile = name
	_, err = app.StartDaemon(t.Context(), o)
	require.ErrorContains(t, err, "forecastd setup -passphrase captain")

	hash, err := app.HashPassphrase("captain", "correct horse")
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(name, []byte(hash+"\n"), 0o600))
	halt(t, start(t, o))
}

// The key that signs sessions and links outlives a restart, and a broken one is
// told of.
func TestTheKeyOfTheState(t *testing.T) {
	o := serveOptions(t, daemonConfig(t, ""), time.Now, offline(), &mailbag{now: time.Now})
	halt(t, start(t, o))
	name := filepath.Join(o.State, "forecastd.key")
	before, err := os.ReadFile(name)
	require.NoError(t, err)
	info, err := os.Stat(name)
	require.NoError(t, err)
	require.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	halt(t, start(t, o))
	after, err := os.ReadFile(name)
	require.NoError(t, err)
	require.Equal(t, before, after)
	require.NoError(t, os.WriteFile(name, []byte("half"), 0o600))
	_, err = app.StartDaemon(t.Context(), o)
	require.ErrorContains(t, err, "take it away")
}

// browse asks a daemon's handler as a browser does.
func browse(t testing.TB, d *app.Daemon, method, address string) (int, string) {
	t.Helper()
	u, err := url.Parse(address)
	require.NoError(t, err)
	r := httptest.NewRequest(method, u.Path, nil)
	r.Header.Set("Origin", "https://boat.example")
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	d.Handler().ServeHTTP(w, r)
	return w.Code, w.Body.String()
}

// Messages carry links that need no login: one lets the draft to the guests go
// out, one says that the boat is back. To open one does nothing, since mail
// scanners open links too, and each works once.
func TestTheLinksInMessages(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening().Add(-time.Hour))
		bag := &mailbag{now: now}
		text := strings.Replace(daemonText, "drafts, trouble]", "drafts, trouble, float plan]", 1)
		o := serveOptions(t, nil, now, closedFrom(t, now, 13), bag)
		o.Config = loaded(t, text+twoTrips+"pages: {address: \"https://boat.example\"}\n")
		d := start(t, o)
		defer halt(t, d)
		time.Sleep(3 * time.Hour)
		var approve string
		for _, m := range bag.of(models.NoticeDraft) {
			if strings.Contains(m.Subject, "the Larsens") {
				approve = linkIn(t, m.Text)
			}
		}
		code, body := browse(t, d, http.MethodGet, approve)
		require.Equal(t, http.StatusOK, code, body)
		require.Contains(t, body, "the Larsens")
		time.Sleep(10 * time.Minute)
		require.Empty(t, bag.of(models.NoticeGuests), "to look sends nothing")

		code, body = browse(t, d, http.MethodPost, approve)
		require.Less(t, code, 400, body)
		time.Sleep(10 * time.Minute)
		require.Len(t, bag.of(models.NoticeGuests), 1)
		require.Equal(t, "larsens@example.com", bag.of(models.NoticeGuests)[0].Routes[0].Address)
		for _, again := range []string{http.MethodGet, http.MethodPost} {
			code, body = browse(t, d, again, approve)
			require.Equal(t, http.StatusGone, code, body)
		}
		code, _ = browse(t, d, http.MethodGet, approve[:len(approve)-2]+"AA")
		require.Equal(t, http.StatusGone, code, "forged")

		// The morning leaves at seven and is back inside at eleven.
		time.Sleep(time.Until(until(now, time.Date(2027, 1, 19, 15, 30, 0, 0, time.UTC))))
		plans := bag.of(models.NoticeFloatPlan)
		require.Len(t, plans, 1)
		in := linkIn(t, plans[0].Text)
		code, body = browse(t, d, http.MethodPost, in)
		require.Less(t, code, 400, body)
		time.Sleep(4 * time.Hour)
		require.Len(t, bag.of(models.NoticeFloatPlan), 1, "nobody is told that it is overdue")
	})
}

func linkIn(t testing.TB, text string) string {
	t.Helper()
	link := regexp.MustCompile(`https://boat\.example/link/\S+`).FindString(text)
	require.NotEmpty(t, link, text)
	return link
}

// A login outlives a restart of the daemon; its end does too. Another
// passphrase ends those made by the one before.
func TestLoginsOverARestart(t *testing.T) {
	o := serveOptions(t, nil, time.Now, offline(), &mailbag{now: time.Now})
	o.Dir = t.TempDir()
	o.Config = daemonConfig(t, "pages: {captain_file: hash}\n")
	o.Config.Pages.CaptainFile = filepath.Join(o.Dir, "hash")
	passphrase := func(words string) {
		hash, err := app.HashPassphrase("captain", words)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(o.Config.Pages.CaptainFile, []byte(hash+"\n"), 0o600))
	}
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	// during is a visit to a daemon that runs for it alone.
	during := func(visit func(v visitor)) {
		d := start(t, o)
		s := httptest.NewServer(d.Handler())
		visit(visitor{t, s.URL, &http.Client{Jar: jar, Timeout: 30 * time.Second}})
		s.Close()
		halt(t, d)
	}
	in := func(v visitor) bool {
		_, body := v.get("/charters")
		return !strings.Contains(body, `name="passphrase"`)
	}
	passphrase("correct horse")
	during(func(v visitor) {
		v.post("/login", "/login", "role", "captain", "passphrase", "correct horse")
		require.True(t, in(v))
	})
	at, err := url.Parse("http://127.0.0.1/")
	require.NoError(t, err)
	kept := jar.Cookies(at)
	during(func(v visitor) {
		require.True(t, in(v), "after a restart")
		v.post("/login", "/logout")
		require.False(t, in(v))
	})
	during(func(v visitor) {
		jar.SetCookies(at, kept)
		require.False(t, in(v), "replayed after a logout and a restart")
		v.post("/login", "/login", "role", "captain", "passphrase", "correct horse")
		require.True(t, in(v))
		kept = jar.Cookies(at)
	})
	first, err := os.ReadFile(o.Config.Pages.CaptainFile)
	require.NoError(t, err)
	passphrase("battery staple")
	during(func(v visitor) { require.False(t, in(v), "another passphrase") })
	require.NoError(t, os.WriteFile(o.Config.Pages.CaptainFile, first, 0o600))
	during(func(v visitor) {
		jar.SetCookies(at, kept)
		require.False(t, in(v), "nor when the one before is taken again")
	})
}
