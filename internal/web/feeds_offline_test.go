package web_test

import (
	"encoding/json"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTheManifestNamesThePortAndItsIconsAreThere(t *testing.T) {
	d := newDesk(t)
	h := newServer(t, d)
	w := ask(h, "GET", "/manifest.webmanifest")
	require.Equal(t, http.StatusOK, w.Code)
	require.Equal(t, "application/manifest+json", w.Header().Get("Content-Type"))
	var m struct {
		Name    string `json:"name"`
		Start   string `json:"start_url"`
		Display string `json:"display"`
		Icons   []struct{ Src, Type, Sizes string }
	}
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &m))
	require.Contains(t, m.Name, d.board.Port.Name)
	require.Equal(t, "/", m.Start)
	require.Equal(t, "standalone", m.Display)
	sizes := map[string]bool{}
	for _, i := range m.Icons {
		got := ask(h, "GET", i.Src)
		require.Equal(t, http.StatusOK, got.Code, i.Src)
		require.Equal(t, i.Type, got.Header().Get("Content-Type"))
		require.Contains(t, got.Header().Get("Cache-Control"), "immutable")
		sizes[i.Sizes] = true
	}
	require.True(t, sizes["192x192"] && sizes["512x512"] && sizes["any"])
}

func TestTheServiceWorkerIsSmallAndKnowsTheFilesByTheirContent(t *testing.T) {
	h := newServer(t, newDesk(t))
	w := ask(h, "GET", "/sw.js")
	require.Equal(t, http.StatusOK, w.Code)
	require.Equal(t, "text/javascript; charset=utf-8", w.Header().Get("Content-Type"))
	require.Equal(t, "no-cache", w.Header().Get("Cache-Control"))
	require.Less(t, w.Body.Len(), 4096)
	list := regexp.MustCompile(`const SHELL = (\[.*\]);`).FindStringSubmatch(w.Body.String())
	require.Len(t, list, 2)
	var files []string
	require.NoError(t, json.Unmarshal([]byte(list[1]), &files))
	require.NotEmpty(t, files)
	for _, f := range files {
		require.Contains(t, ask(h, "GET", f).Header().Get("Cache-Control"), "immutable", f)
	}
	require.Regexp(t, `const TAG = "[0-9a-f]{16}";`, w.Body.String())
}

// Scripts carry no words for people: those stand in the page, in the
// reader's language.
func TestEveryPageBringsTheShell(t *testing.T) {
	h := newServer(t, newDesk(t))
	w := ask(h, "GET", "/offline")
	require.Equal(t, http.StatusOK, w.Code)
	for _, want := range []string{`href="/manifest.webmanifest"`, `src="/static/app.js?v=`, `src="/static/age.js?v=`, "There is no signal"} {
		require.Contains(t, w.Body.String(), want)
	}
	require.Equal(t, 1, strings.Count(w.Body.String(), "<h1>"))
}
