package web_test

import (
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/web"
)

// visitor is somebody with a browser's cookies.
type visitor struct {
	t    *testing.T
	h    http.Handler
	jar  *cookiejar.Jar
	base *url.URL
}

func newVisitor(t *testing.T, h http.Handler) *visitor {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	return &visitor{t: t, h: h, jar: jar, base: &url.URL{Scheme: "http", Host: "boat.example"}}
}

// loggedIn is a visitor who gave the role's passphrase.
func loggedIn(t *testing.T, h http.Handler, role web.Role) *visitor {
	t.Helper()
	v := newVisitor(t, h)
	w := v.post("/login", url.Values{"role": {string(role)}, "passphrase": {string(role) + "'s words"}})
	require.Equal(t, http.StatusSeeOther, w.Code, w.Body.String())
	return v
}

// do asks, with the cookies, and keeps those that come back.
func (v *visitor) do(r *http.Request) *httptest.ResponseRecorder {
	v.t.Helper()
	at := *v.base
	at.Path = r.URL.Path
	for _, c := range v.jar.Cookies(&at) {
		r.AddCookie(c)
	}
	r.Host = v.base.Host
	w := httptest.NewRecorder()
	v.h.ServeHTTP(w, r)
	v.jar.SetCookies(&at, w.Result().Cookies())
	return w
}

func (v *visitor) get(to string) *httptest.ResponseRecorder {
	v.t.Helper()
	r := httptest.NewRequest(http.MethodGet, to, nil)
	r.Header.Set("Accept", "text/html")
	return v.do(r)
}

func (v *visitor) post(to string, values url.Values, change ...func(*http.Request)) *httptest.ResponseRecorder {
	v.t.Helper()
	return v.send(to, strings.NewReader(values.Encode()), change...)
}

func (v *visitor) send(to string, body io.Reader, change ...func(*http.Request)) *httptest.ResponseRecorder {
	v.t.Helper()
	r := httptest.NewRequest(http.MethodPost, to, body)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	for _, c := range change {
		c(r)
	}
	return v.do(r)
}

// token is that of the visitor's forms.
func (v *visitor) token() string {
	v.t.Helper()
	found := regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(v.get("/login").Body.String())
	require.NotNil(v.t, found, "the page to log out has no token")
	return found[1]
}

// form is what a form of ours sends.
func (v *visitor) form(name string, pairs ...string) url.Values {
	v.t.Helper()
	values := url.Values{"token": {v.token()}, "form": {name}}
	for i := 0; i+1 < len(pairs); i += 2 {
		values.Set(pairs[i], pairs[i+1])
	}
	return values
}
