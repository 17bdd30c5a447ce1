package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/web"
)

func TestALinkDoesNothingUntilTheButtonIsPressed(t *testing.T) {
	d := newDesk(t)
	v := newVisitor(t, newServer(t, d))
	for range 3 { // a mail scanner, then the captain, then once more
		w := v.get("/link/good.token")
		require.Equal(t, http.StatusOK, w.Code)
		require.Contains(t, w.Body.String(), "We are back inside")
		require.Contains(t, w.Body.String(), "Second Light")
		require.Equal(t, "no-store", w.Header().Get("Cache-Control"))
		require.Equal(t, "no-referrer", w.Header().Get("Referrer-Policy"))
	}
	head, err := http.NewRequest(http.MethodHead, "/link/good.token", nil)
	require.NoError(t, err)
	head.RemoteAddr = "192.0.2.1:1"
	require.Equal(t, http.StatusOK, v.do(head).Code)
	require.Empty(t, d.asked)
	require.Len(t, d.links, 1)

	require.Equal(t, http.StatusForbidden, v.post("/link/good.token", nil, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }).Code)
	require.Empty(t, d.asked)

	w := v.post("/link/good.token", nil)
	require.Equal(t, http.StatusOK, w.Code)
	require.Contains(t, w.Body.String(), "done: link check in")
	require.Equal(t, "no-store", w.Header().Get("Cache-Control"))
	require.Equal(t, []string{"link check in"}, d.asked)

	for _, again := range []*http.Response{v.post("/link/good.token", nil).Result(), v.get("/link/good.token").Result()} {
		require.Equal(t, http.StatusGone, again.StatusCode)
	}
	require.Len(t, d.asked, 1)
}

func TestForgedLinksAreGone(t *testing.T) {
	d := newDesk(t)
	v := newVisitor(t, newServer(t, d))
	for _, token := range []string{"good.toke", "good.token2", "a%2Fb", "..%2F..%2Fcharters", strings.Repeat("A", 1000), "%3Cscript%3E"} {
		for _, w := range []interface{ Result() *http.Response }{v.get("/link/" + token), v.post("/link/"+token, nil)} {
			require.Equal(t, http.StatusGone, w.Result().StatusCode, token)
		}
		require.Contains(t, v.get("/link/"+token).Body.String(), "This link was used before, is too old, or is not one of ours.")
		require.NotContains(t, v.get("/link/"+token).Body.String(), "<script>")
	}
	require.Empty(t, d.asked)
}

func TestALinkThatApprovesShowsWhatGoesOut(t *testing.T) {
	d := newDesk(t)
	d.links["ok"] = web.Promise{Action: "approve", About: "Tue 19 January", Text: "Dear <i>guests</i>", Expires: made()}
	body := newVisitor(t, newServer(t, d)).get("/link/ok").Body.String()
	require.Contains(t, body, "Dear &lt;i&gt;guests&lt;/i&gt;")
	require.Contains(t, body, "Send it to the guests")
}

func TestChoices(t *testing.T) {
	h := newServer(t, newDesk(t))
	v := newVisitor(t, h)
	w := v.post("/choices", url.Values{"look": {"night"}, "language": {"es"}, "units": {"metric"}, "back": {"/reports"}})
	require.Equal(t, http.StatusSeeOther, w.Code)
	require.Equal(t, "/reports", w.Header().Get("Location"))
	body := v.get("/reports").Body.String()
	require.Contains(t, body, `<html lang="es" class="look-night">`)
	require.Contains(t, body, "Lo que se vio")
	// What is not said stays.
	v.post("/choices", url.Values{"look": {"light"}})
	require.Contains(t, v.get("/reports").Body.String(), `<html lang="es" class="look-light">`)
	for _, values := range []url.Values{{"look": {"pink"}}, {"language": {"fr"}}, {"units": {"furlongs"}}, {"language": {"es.metric"}}, {"look": {"\" onload=\""}}} {
		w := v.post("/choices", values)
		require.Equal(t, http.StatusUnprocessableEntity, w.Code)
		require.Empty(t, w.Result().Cookies())
	}
	for _, back := range hostilePaths() {
		w := v.post("/choices", url.Values{"look": {"dark"}, "back": {back}})
		require.Equal(t, "/", w.Header().Get("Location"), "%q", back)
	}
	require.Equal(t, http.StatusForbidden, v.post("/choices", url.Values{"look": {"dark"}}, func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", "cross-site") }).Code)
	require.Equal(t, http.StatusRequestEntityTooLarge, v.post("/choices", url.Values{"look": {strings.Repeat("x", 70<<10)}}).Code)
}

func TestChoicesAreReadStrictly(t *testing.T) {
	for value, want := range map[string]string{
		"night.es.metric": "night.es.metric", "..": "..", "sun..": "sun..", ".en.": ".en.", "": "..", "night": "..", "night.es": "..",
		"pink.es.metric": ".es.metric", "night.es.metric.x": "..", "NIGHT.ES.METRIC": "..", `"><script>.es.metric`: ".es.metric",
	} {
		require.Equal(t, want, web.ChoicesOf(value), "%q", value)
	}
}

func FuzzChoices(f *testing.F) {
	f.Add("night.es.metric")
	f.Add("..")
	f.Fuzz(func(t *testing.T, value string) {
		got := web.ChoicesOf(value)
		require.Equal(t, got, web.ChoicesOf(got))
		require.Regexp(t, `^(auto|light|dark|night|sun)?\.(en|es)?\.(nautical|metric)?$`, got)
	})
}

// RFC 9110 section 12.5.4; the values are its and our own.
func TestTheBrowsersLanguage(t *testing.T) {
	for header, want := range map[string]string{
		"": "en", "es": "es", "es-MX,es;q=0.9,en;q=0.8": "es", "en-US,en;q=0.9,es;q=0.8": "en", "da, en-gb;q=0.8, en;q=0.7": "en",
		"fr, es;q=0.3": "es", "es;q=0": "en", "es;q=x": "en", "ES-419": "es", "*": "en", "es;q=NaN": "en", "es;q=2": "en",
	} {
		require.Equal(t, want, web.Preferred(header), "%q", header)
	}
	ask := func(boards, asks string) string {
		d := newDesk(t)
		d.board.Language = boards
		v := newVisitor(t, newServer(t, d))
		r, err := http.NewRequest(http.MethodGet, "/reports", nil)
		require.NoError(t, err)
		r.Header.Set("Accept-Language", asks)
		return v.do(r).Body.String()
	}
	require.Contains(t, ask("", "es-MX"), `<html lang="es"`)
	require.Contains(t, ask("en", "es-MX"), `<html lang="en"`, "the captain chose a language for the boat")
	require.Contains(t, ask("", "de"), `<html lang="en"`)
}
