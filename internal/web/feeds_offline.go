package web

import (
	"bytes"
	_ "embed" // the service worker
	"encoding/json"
	"fmt"
	"net/http"

	"forecastd/internal/models"
)

//go:embed sw.js
var workerFile []byte

// nameless is the header with which the service worker asks for a page that
// it may keep: the one who asks counts as not logged in.
const nameless = "Forecastd-Nameless"

// offlineRoutes are what the pages need on a home screen and without signal.
func (s *Server) offlineRoutes() []route {
	return []route{
		{Pattern: "GET /manifest.webmanifest", Raw: s.serveManifest},
		{Pattern: "GET /sw.js", Raw: s.serveWorker},
		{Pattern: "GET /offline", Page: func(*view) (page, error) {
			return page{Name: "offline", Title: "title.offline"}, nil
		}},
	}
}

// shell are the files that the pages are drawn with.
func shell() []string { return []string{"style.css", "app.js", "age.js", "icon.svg"} }

// serveWorker answers the service worker, which knows the files by their
// content.
func (s *Server) serveWorker(v *view, w http.ResponseWriter) error {
	var list []string
	for _, name := range shell() {
		a, err := v.Asset(name)
		if err != nil {
			return err
		}
		list = append(list, a)
	}
	addresses, err := json.Marshal(list)
	if err != nil {
		return fmt.Errorf("write the list of files: %w", err)
	}
	b := bytes.Replace(workerFile, []byte("const SHELL = [];"), []byte("const SHELL = "+string(addresses)+";"), 1)
	b = bytes.Replace(b, []byte(`const TAG = "";`), []byte(`const TAG = `+tagOf(b)+`;`), 1)
	answer(w, v.Request, body{Type: "text/javascript; charset=utf-8", Bytes: b, Tag: tagOf(b), Cache: "no-cache"})
	return nil
}

// manifest is the Web Application Manifest (W3C) of the pages.
type manifest struct {
	ID         string         `json:"id"`
	Name       string         `json:"name"`
	ShortName  string         `json:"short_name"`
	Lang       string         `json:"lang"`
	StartURL   string         `json:"start_url"`
	Scope      string         `json:"scope"`
	Display    string         `json:"display"`
	Background string         `json:"background_color"`
	Theme      string         `json:"theme_color"`
	Icons      []manifestIcon `json:"icons"`
}

type manifestIcon struct {
	Src     string `json:"src"`
	Sizes   string `json:"sizes"`
	Type    string `json:"type"`
	Purpose string `json:"purpose,omitempty"`
}

// serveManifest answers what a home screen asks for.
func (s *Server) serveManifest(v *view, w http.ResponseWriter) error {
	m := manifest{
		ID: "/", Name: v.T("manifest.name"), ShortName: v.T("manifest.short"), Lang: string(v.Reader.Language),
		StartURL: "/", Scope: "/", Display: "standalone", Background: "#fcfcfa", Theme: "#101010",
	}
	if b, err := v.Board(); err == nil && b.Port.Name != "" {
		m.Name, m.ShortName = v.T("manifest.of", b.Port.Name), b.Port.Name
	}
	for _, i := range []struct{ name, sizes, kind, purpose string }{
		{"icon.svg", "any", "image/svg+xml", ""},
		{"icon-192.png", "192x192", "image/png", ""},
		{"icon-512.png", "512x512", "image/png", ""},
		{"icon-512.png", "512x512", "image/png", "maskable"},
	} {
		src, err := v.Asset(i.name)
		if err != nil {
			return err
		}
		m.Icons = append(m.Icons, manifestIcon{src, i.sizes, i.kind, i.purpose})
	}
	b, err := json.MarshalIndent(m, "", " ")
	if err != nil {
		return fmt.Errorf("write the manifest: %w", err)
	}
	w.Header().Set("Vary", "Cookie")
	answer(w, v.Request, body{Type: "application/manifest+json", Bytes: b, Tag: tagOf(b), Cache: "no-cache"})
	return nil
}

// AgeIn is how the script tells the age of the newest call, with the number
// of "minutes", "hours" (and minutes) or "days" left open.
func (v *view) AgeIn(what string) string {
	b, err := v.Board()
	if err != nil {
		return ""
	}
	// Without a day of its own the teller names the day of the week: the page
	// may be read on another day than it was made.
	return v.T("age", v.Tell(models.Date{}).Time(b.Made), v.T("age."+what))
}

// NowStamp is the clock of the pages, where it is not the world's.
func (v *view) NowStamp() string {
	if !v.Demo() {
		return ""
	}
	return stamp(v.Now)
}
