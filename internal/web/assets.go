package web

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"net/url"
	"path"
	"strings"
	"time"
)

// asset is a file that is served as it is.
type asset struct {
	Body []byte
	// Tag names its content: 16 hexadecimal digits.
	Tag string
	// Type is its media type.
	Type string
}

// readAssets reads the embedded files by their path below static.
func readAssets() (map[string]asset, error) {
	list := map[string]asset{}
	err := fs.WalkDir(staticFiles, "static", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := staticFiles.ReadFile(p)
		if err != nil {
			return err
		}
		kind, err := mediaType(p)
		if err != nil {
			return err
		}
		if path.Ext(p) == ".css" {
			b = tight(b)
		}
		sum := sha256.Sum256(b)
		list[strings.TrimPrefix(p, "static/")] = asset{Body: b, Tag: hex.EncodeToString(sum[:8]), Type: kind}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("read the embedded files: %w", err)
	}
	return list, nil
}

// tight drops from our own stylesheets what browsers do not read: remarks,
// ends of lines, and blanks beside punctuation. No string in them holds any
// of it; a colon keeps the blank before it, which selectors mean something by.
func tight(css []byte) []byte {
	var b []byte
	for {
		before, rest, found := bytes.Cut(css, []byte("/*"))
		b = append(b, before...)
		if !found {
			break
		}
		_, css, _ = bytes.Cut(rest, []byte("*/"))
	}
	b = bytes.Join(bytes.Fields(b), []byte(" "))
	for _, mark := range []string{"{", "}", ";", ","} {
		b = bytes.ReplaceAll(b, []byte(mark+" "), []byte(mark))
		b = bytes.ReplaceAll(b, []byte(" "+mark), []byte(mark))
	}
	b = bytes.ReplaceAll(b, []byte(": "), []byte(":"))
	return bytes.ReplaceAll(b, []byte(";}"), []byte("}"))
}

// mediaType is that of an embedded file by its name. What the machine knows
// of types is not asked: it differs from one to the next.
func mediaType(name string) (string, error) {
	switch path.Ext(name) {
	case ".css":
		return "text/css; charset=utf-8", nil
	case ".js":
		return "text/javascript; charset=utf-8", nil
	case ".svg":
		return "image/svg+xml", nil
	case ".png":
		return "image/png", nil
	}
	return "", fmt.Errorf("%s: no media type is known for %q: add it", name, path.Ext(name))
}

// Asset is the address of an embedded file, with its content's name in it, so
// that it may be kept for good: "/static/style.css?v=...".
func (v *view) Asset(name string) (string, error) {
	a, ok := v.server.asset[name]
	if !ok {
		return "", fmt.Errorf("there is no file %q below static", name)
	}
	return "/static/" + name + "?v=" + a.Tag, nil
}

// serveAsset answers an embedded file.
func (s *Server) serveAsset(v *view, w http.ResponseWriter) error {
	a, ok := s.asset[v.Request.PathValue("file")]
	if !ok {
		return ErrNotFound
	}
	cache := "no-cache"
	if v.Request.URL.Query().Get("v") == a.Tag {
		cache = "public, max-age=31536000, immutable"
	}
	answer(w, v.Request, body{Type: a.Type, Bytes: a.Body, Tag: `"` + a.Tag + `"`, Cache: cache})
	return nil
}

// body is what is answered other than a page.
type body struct {
	Type  string
	Bytes []byte
	// Tag is the entity tag, with its quotes.
	Tag   string
	Cache string
	// Name is what the file is called where it is kept; empty: it is shown.
	Name string
}

// answer writes a body, or that it has not changed (RFC 9110 13).
func answer(w http.ResponseWriter, r *http.Request, b body) {
	h := w.Header()
	h.Set("Content-Type", b.Type)
	h.Set("Cache-Control", b.Cache)
	if b.Tag != "" {
		h.Set("ETag", b.Tag)
	}
	if b.Name != "" {
		h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": b.Name}))
	}
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(b.Bytes))
}

// tagOf makes a strong entity tag of a body.
func tagOf(b []byte) string {
	sum := sha256.Sum256(b)
	return `"` + hex.EncodeToString(sum[:8]) + `"`
}

// address is a path of ours as others reach it.
func (v *view) address(p string, query url.Values) string {
	base := strings.TrimSuffix(v.server.o.Base, "/")
	if base == "" {
		scheme := "http"
		if v.Request.TLS != nil {
			scheme = "https"
		}
		base = scheme + "://" + v.Request.Host
	}
	if len(query) > 0 {
		p += "?" + query.Encode()
	}
	return base + p
}
