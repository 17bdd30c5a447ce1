package web_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/web"
)

// guarded is one form that changes something: where it goes, what it sends,
// and what is then asked of the hand.
type guarded struct {
	pattern, to string
	values      url.Values
	did         string
}

func guardedForms() []guarded {
	return []guarded{
		{"POST /reports", "/reports", url.Values{"form": {"shower"}, "say": {"yes"}}, "report captain showering yes"},
		{"POST /bait", "/bait", url.Values{"form": {"new"}, "kind": {"runner"}, "count": {"12"}, "source": {"netted"}}, "bait captain runner 12 netted"},
		{"POST /log", "/log", url.Values{"form": {"write"}, "date": {"2027-01-18"}, "tactic": {"kite"}, "note": {"typed words"}}, "log captain 2027-01-18 kite typed words"},
		{"POST /checkin", "/checkin", url.Values{"form": {"checkin"}, "date": {"2027-01-18"}}, "check in captain 2027-01-18"},
		{"POST /charters/{id}/move", "/charters/b1/move", url.Values{"date": {"2027-01-21"}, "start": {"08:00"}, "end": {"15:00"}, "why": {"north wind"}}, "move captain b1 2027-01-21 north wind"},
		{"POST /charters/{id}/cancel", "/charters/b1/cancel", url.Values{"why": {"north wind"}, "sure": {"yes"}}, "cancel captain b1 north wind"},
		{"POST /drafts/{id}", "/drafts/draft1", url.Values{"say": {"send"}}, "draft captain draft1 true"},
		{"POST /call", "/call", url.Values{"date": {"2027-01-19"}}, "call captain 2027-01-19"},
	}
}

// The table of routes is walked, so that a form that is added without a line
// here fails.
func TestEveryFormIsOnTheList(t *testing.T) {
	rows, err := web.Rows(options(newDesk(t)))
	require.NoError(t, err)
	var forms, listed []string
	for _, r := range rows {
		method, _, _ := strings.Cut(r.Pattern, " ")
		require.Equal(t, r.Form, method != http.MethodGet, "%s: what changes state is a form, and no GET does", r.Pattern)
		if r.Form {
			forms = append(forms, r.Pattern)
		}
	}
	for _, g := range guardedForms() {
		listed = append(listed, g.pattern)
	}
	// Those that need no login have tests of their own.
	listed = append(listed, "POST /login", "POST /logout", "POST /logout/everywhere", "POST /choices", "POST /link/{token}")
	require.ElementsMatch(t, listed, forms)
}

func TestAFormDoesWhatItSaysForWhoMayAsk(t *testing.T) {
	for _, g := range guardedForms() {
		t.Run(g.pattern, func(t *testing.T) {
			d := newDesk(t)
			v := loggedIn(t, newServer(t, d), web.Captain)
			g.values.Set("token", v.token())
			w := v.post(g.to, g.values)
			require.Equal(t, http.StatusSeeOther, w.Code, w.Body.String())
			require.Equal(t, []string{g.did}, d.asked)
			// The page gone on to tells what was done, once.
			to, _, _ := strings.Cut(w.Header().Get("Location"), "#")
			require.Contains(t, v.get(to).Body.String(), "done: "+g.did)
			require.NotContains(t, v.get(to).Body.String(), "done: "+g.did)
		})
	}
}

// Whatever is wrong with who asks, or with how, nothing is done.
func TestNothingIsDoneForWhoMayNotAsk(t *testing.T) {
	rows, err := web.Rows(options(newDesk(t)))
	require.NoError(t, err)
	needs := map[string]web.Role{}
	for _, r := range rows {
		needs[r.Pattern] = r.Needs
	}
	big := strings.Repeat("x", 70<<10)
	type try struct {
		name   string
		as     web.Role
		status int
		values func(url.Values)
		change func(*http.Request)
	}
	tries := []try{
		{"not logged in", web.Nobody, http.StatusForbidden, nil, nil},
		{"no token", web.Captain, http.StatusForbidden, func(v url.Values) { v.Del("token") }, nil},
		{"a forged token", web.Captain, http.StatusForbidden, func(v url.Values) { v.Set("token", strings.Repeat("A", 43)) }, nil},
		{"from another site", web.Captain, http.StatusForbidden, nil, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }},
		{"from a sister site", web.Captain, http.StatusForbidden, nil, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "same-site") }},
		{"of another origin", web.Captain, http.StatusForbidden, nil, func(r *http.Request) {
			r.Header.Del("Sec-Fetch-Site")
			r.Header.Set("Origin", "https://elsewhere.example")
		}},
		{"of no origin", web.Captain, http.StatusForbidden, nil, func(r *http.Request) {
			r.Header.Del("Sec-Fetch-Site")
			r.Header.Set("Origin", "null")
		}},
		{"too large", web.Captain, http.StatusRequestEntityTooLarge, func(v url.Values) { v.Set("note", big) }, nil},
		{"too large, of a length not told", web.Captain, http.StatusRequestEntityTooLarge, func(v url.Values) { v.Set("note", big) }, func(r *http.Request) { r.ContentLength = -1 }},
		{"not a form", web.Captain, http.StatusUnsupportedMediaType, nil, func(r *http.Request) { r.Header.Set("Content-Type", "application/json") }},
		{"with files", web.Captain, http.StatusUnsupportedMediaType, nil, func(r *http.Request) { r.Header.Set("Content-Type", "multipart/form-data; boundary=x") }},
	}
	for _, g := range guardedForms() {
		for _, one := range append(tries, try{"the mate", web.Mate, http.StatusForbidden, nil, nil}) {
			if one.as == web.Mate && needs[g.pattern] == web.Mate {
				continue
			}
			t.Run(g.pattern+", "+one.name, func(t *testing.T) {
				d := newDesk(t)
				h := newServer(t, d)
				v := newVisitor(t, h)
				values := url.Values{}
				for k, list := range g.values {
					values[k] = list
				}
				if one.as != web.Nobody {
					v = loggedIn(t, h, one.as)
					values.Set("token", v.token())
				}
				if one.values != nil {
					one.values(values)
				}
				var changes []func(*http.Request)
				if one.change != nil {
					changes = append(changes, one.change)
				}
				w := v.post(g.to, values, changes...)
				require.Equal(t, one.status, w.Code, w.Body.String())
				require.Contains(t, w.Body.String(), `<main id="main"`, "the refusal is told in words on a page")
				require.Empty(t, d.asked)
				require.Empty(t, w.Header().Get("Location"))
			})
		}
	}
}

// A page of an older login is shown again with what was typed, and the button
// works then.
func TestAStaleFormLosesNothing(t *testing.T) {
	d := newDesk(t)
	h := newServer(t, d)
	v := loggedIn(t, h, web.Mate)
	old := v.form("write", "date", "2027-01-17", "tactic", "sight cast", "wind", "12", "note", `they "showered" all <day>`)
	require.Equal(t, http.StatusSeeOther, v.post("/login", url.Values{"role": {"mate"}, "passphrase": {"mate's words"}}).Code)
	w := v.post("/log", old)
	require.Equal(t, http.StatusForbidden, w.Code)
	body := w.Body.String()
	require.Contains(t, body, "This page was older than your login")
	require.Contains(t, body, `they &#34;showered&#34; all &lt;day&gt;`)
	require.Contains(t, body, `value="2027-01-17"`)
	require.Contains(t, body, `<option value="sight cast" selected>`)
	require.Contains(t, body, `name="wind" type="text" value="12"`)
	require.Empty(t, d.asked)
	old.Set("token", v.token())
	require.Equal(t, http.StatusSeeOther, v.post("/log", old).Code)
	require.Len(t, d.asked, 1)
}

func TestWhoIsLoggedOutGetsBackWhatWasTyped(t *testing.T) {
	w := newVisitor(t, newServer(t, newDesk(t))).post("/log", url.Values{"note": {"<b>two</b> released"}, "token": {"tttt"}, "form": {"write"}})
	require.Equal(t, http.StatusForbidden, w.Code)
	require.Contains(t, w.Body.String(), "&lt;b&gt;two&lt;/b&gt; released")
	require.NotContains(t, w.Body.String(), "tttt")
	require.Contains(t, w.Body.String(), `href="/login?back=%2Flog"`)
	require.Equal(t, "no-store", w.Header().Get("Cache-Control"))
}

func TestAnotherMethodSaysSo(t *testing.T) {
	v := loggedIn(t, newServer(t, newDesk(t)), web.Captain)
	for _, g := range guardedForms() {
		w := v.get(g.to)
		if _, ok := map[string]bool{"/reports": true, "/bait": true, "/log": true}[g.to]; ok {
			require.Equal(t, http.StatusOK, w.Code)
			continue
		}
		require.Equal(t, http.StatusMethodNotAllowed, w.Code, g.to)
		require.Equal(t, "POST", w.Header().Get("Allow"))
		require.Contains(t, w.Body.String(), "This address does not do that.")
	}
	r := httptest.NewRequest(http.MethodDelete, "/reports", nil)
	w := v.do(r)
	require.Equal(t, http.StatusMethodNotAllowed, w.Code)
	require.Equal(t, "GET, HEAD, POST", w.Header().Get("Allow"))
	require.Equal(t, http.StatusNotFound, v.post("/no-such-page", url.Values{}).Code)
}

// failing is a body that breaks off.
type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, io.ErrUnexpectedEOF }

func TestABodyThatBreaksOffDoesNothing(t *testing.T) {
	d := newDesk(t)
	v := loggedIn(t, newServer(t, d), web.Captain)
	w := v.send("/reports", failing{})
	require.Equal(t, http.StatusBadRequest, w.Code)
	require.Empty(t, d.asked)
}
