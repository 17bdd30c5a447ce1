package web_test

import (
	"net/http/httptest"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/web"
	"forecastd/internal/web/webtest"
)

// pagePaths are the pages that anybody may look at.
func pagePaths(d *desk) []string {
	day := d.board.Next.String()
	return []string{"/", "/days", "/day/" + day, "/hours/" + day, "/drift", "/spread", "/print", "/sources", "/score", "/reports", "/bait", "/log", "/login", "/offline", "/no-such-page"}
}

func TestPagesInTheBrowser(t *testing.T) {
	d := apiDesk(t)
	s := httptest.NewServer(newServer(t, d))
	t.Cleanup(s.Close)
	webtest.Walk(t, s.URL, webtest.Options{Paths: pagePaths(d), Marks: map[string][]string{
		"/": {"svg", "#age", "nav a[aria-current=page]"}, "/drift": {"svg", "a[href^='/drift.gpx']"}, "/spread": {"svg"}, "/print": {"svg"},
	}})
}

func TestPagesOfTheCaptainInTheBrowser(t *testing.T) {
	d := apiDesk(t)
	s := httptest.NewServer(newServer(t, d))
	t.Cleanup(s.Close)
	webtest.Walk(t, s.URL, webtest.Options{Role: "captain", Passphrase: "captain's words", Paths: []string{"/", "/charters", "/reports", "/bait", "/log"}})
}

// Without a signal the last call is shown, with its age, and once it is too
// old it is told so. Nothing that names a guest is kept, though the captain
// was logged in when the pages were kept.
func TestWithoutASignal(t *testing.T) {
	d := newDesk(t)
	s := httptest.NewServer(newServer(t, d))
	t.Cleanup(s.Close)
	b := webtest.Open(t, s.URL)
	b.Login("captain", "captain's words")
	b.Go("/")
	require.NotNil(t, d.board.Days[0].Trips[0].Guests)
	require.True(t, webtest.Ask[bool](b, `navigator.serviceWorker.ready.then(() => true)`))
	b.Go("/")
	require.Contains(t, webtest.Ask[string](b, `document.body.innerText`), guests, "the captain sees who comes")
	require.True(t, webtest.Ask[bool](b, `new Promise((done) => {
		const look = async () => (await (await caches.open("pages")).match("/")) && (await caches.match("/offline")) ? done(true) : setTimeout(look, 50);
		look();
	})`))
	kept := webtest.Ask[string](b, `caches.keys().then(async (names) => {
		let all = "";
		for (const n of names) for (const k of await (await caches.open(n)).keys()) all += await (await caches.match(k)).text();
		return all;
	})`)
	require.Contains(t, kept, "data-kept=")
	require.NotContains(t, kept, guests)
	require.NotContains(t, kept, "guests@example.com")
	require.Empty(t, b.Complaints())

	s.CloseClientConnections()
	s.Close()
	b.Go("/")
	age := webtest.Ask[string](b, `document.querySelector("#age.stale").innerText`)
	require.Contains(t, age, "No signal")
	require.Contains(t, age, "10 min")
	require.False(t, webtest.Ask[bool](b, `[...document.querySelectorAll(".expired")].some((e) => !e.hidden)`))
	b.Shot("kept")

	b.Before(`{ const real = Date.now; Date.now = () => real() + 13 * 3600e3; }`)
	b.Go("/")
	require.True(t, webtest.Ask[bool](b, `[...document.querySelectorAll(".expired")].every((e) => !e.hidden && e.innerText !== "")`))
	require.Contains(t, webtest.Ask[string](b, `document.querySelector("#age").innerText`), "13 h 1")
	require.True(t, webtest.Ask[bool](b, `document.querySelectorAll(".verdict:not(.old)").length === 0`))
	b.Shot("kept-expired")

	b.Go("/score")
	require.Contains(t, webtest.Ask[string](b, `document.querySelector("h1").innerText`), "No signal")
}

// Forms work with JavaScript off.
func TestFormsWithoutJavaScript(t *testing.T) {
	d := newDesk(t)
	s := httptest.NewServer(newServer(t, d))
	t.Cleanup(s.Close)
	b := webtest.Open(t, s.URL)
	b.Login(string(web.Captain), "captain's words")
	b.Script(false)
	b.Go("/reports")
	b.Press(`form[action="/reports"] button`)
	require.NotEmpty(t, d.asked)
	b.Go("/")
	require.Empty(t, b.Complaints())
}
