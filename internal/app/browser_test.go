package app_test

import (
	"net/http/httptest"
	"testing"

	"forecastd/internal/web/webtest"
)

// The pages of the demo's daemon in a real browser: for visitors, and for the
// captain, who sees the guests.
func TestTheDemosPagesInTheBrowser(t *testing.T) {
	d := demoDaemon(t)
	s := httptest.NewServer(d.Handler())
	t.Cleanup(s.Close)
	webtest.Walk(t, s.URL, webtest.Options{
		Every: true,
		Paths: []string{"/", "/days", "/day/2027-01-20", "/hours/2027-01-19", "/drift", "/spread", "/print", "/sources", "/score", "/reports", "/bait", "/log", "/login", "/offline"},
		Marks: map[string][]string{
			"/": {"svg.lanes", "#age", "nav a[aria-current=page]"}, "/drift": {"svg.drift", "a[href^='/drift.gpx']"},
			"/spread": {"svg.spread-side", "svg.spread-top"}, "/days": {"a[href='/day/2027-01-20']"},
		},
	})
}

func TestTheDemosPagesOfTheCaptainInTheBrowser(t *testing.T) {
	d := demoDaemon(t)
	s := httptest.NewServer(d.Handler())
	t.Cleanup(s.Close)
	webtest.Walk(t, s.URL, webtest.Options{Every: true, Role: "captain", Passphrase: "demo captain", Paths: []string{"/", "/charters"}})
}
