package web_test

import (
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// ask asks a handler, with headers as "Name", "value".
func ask(h http.Handler, method, target string, header ...string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, target, nil)
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

func TestStaticFilesAreKeptOnlyUnderTheNameOfTheirContent(t *testing.T) {
	h := newServer(t, newDesk(t))
	w := ask(h, "GET", "/static/style.css")
	require.Equal(t, http.StatusOK, w.Code)
	require.Equal(t, "text/css; charset=utf-8", w.Header().Get("Content-Type"))
	require.Equal(t, "no-cache", w.Header().Get("Cache-Control"))
	tag := w.Header().Get("ETag")
	require.Regexp(t, `^"[0-9a-f]{16}"$`, tag)

	again := ask(h, "GET", "/static/style.css", "If-None-Match", tag)
	require.Equal(t, http.StatusNotModified, again.Code)
	require.Empty(t, again.Body.String())
	require.Equal(t, tag, again.Header().Get("ETag"))
	require.Equal(t, http.StatusOK, ask(h, "GET", "/static/style.css", "If-None-Match", `"other"`).Code)

	kept := ask(h, "GET", "/static/style.css?v="+strings.Trim(tag, `"`))
	require.Equal(t, "public, max-age=31536000, immutable", kept.Header().Get("Cache-Control"))
	old := ask(h, "GET", "/static/style.css?v=0123456789abcdef")
	require.Equal(t, "no-cache", old.Header().Get("Cache-Control"), "another content under that name is kept by nobody")

	head := ask(h, "HEAD", "/static/style.css")
	require.Equal(t, http.StatusOK, head.Code)
	require.Empty(t, head.Body.String())
}

func TestNoFolderIsListed(t *testing.T) {
	h := newServer(t, newDesk(t))
	for _, p := range []string{"/static/", "/static", "/static/../server.go", "/static/%2e%2e/server.go", "/static/nothing.css"} {
		w := ask(h, "GET", p)
		require.NotEqual(t, http.StatusOK, w.Code, p)
		require.NotRegexp(t, regexp.MustCompile(`package web`), w.Body.String(), p)
	}
}
