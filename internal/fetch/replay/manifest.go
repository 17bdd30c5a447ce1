// Package replay keeps the answers of foreign services in files and answers
// from them: Transport in place of the network, Recorder to make the files.
// A recording is a directory with manifest.json and the bodies in their
// natural form.
package replay

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strings"
	"time"
)

// Schema names the form of a manifest.
const Schema = "forecastd.recording.v1"

const manifestName = "manifest.json"

// Manifest lists what a recording holds.
type Manifest struct {
	Schema string `json:"schema"`
	// AsOf is the time at which a replay starts.
	AsOf time.Time `json:"as_of"`
	// Demo says that the data are invented.
	Demo bool `json:"demo,omitempty"`
	// About is a sentence on what this is.
	About   string  `json:"about,omitempty"`
	Entries []Entry `json:"entries"`
}

// Entry is one answer.
type Entry struct {
	Method string `json:"method"`
	// URL is in the form that Canonical writes.
	URL string `json:"url"`
	// Range is the Range header that was asked with, empty for the whole.
	Range     string    `json:"range,omitempty"`
	FetchedAt time.Time `json:"fetched_at"`
	Status    int       `json:"status"`
	// Header holds the few headers that matter.
	Header map[string]string `json:"header,omitempty"`
	// File is the body, relative to the manifest; empty where there is none.
	File   string `json:"file,omitempty"`
	SHA256 string `json:"sha256,omitempty"`
	// Licence says under which terms the data may be passed on.
	Licence string `json:"licence,omitempty"`
}

// keptHeaders are the headers that an entry keeps.
func keptHeaders() []string {
	return []string{"Content-Type", "Etag", "Last-Modified", "Expires", "Cache-Control", "Retry-After",
		"Content-Range", "Content-Encoding", "Accept-Ranges", "Location"}
}

// Canonical writes an address as the key of a recording: the query sorted,
// without parameters that name only the caller, fight caches or look like
// they hold a secret, and without user, password and fragment.
func Canonical(u *url.URL) string {
	c := *u
	c.User, c.Fragment, c.RawFragment = nil, "", ""
	c.Scheme, c.Host = strings.ToLower(c.Scheme), strings.ToLower(c.Host)
	if c.Path == "" {
		c.Path = "/"
	}
	q := c.Query()
	for k := range q {
		if dropped(k) {
			delete(q, k)
		}
	}
	c.RawQuery, c.ForceQuery = q.Encode(), false
	return c.String()
}

func dropped(param string) bool {
	k := strings.ToLower(param)
	if k == "_" || k == "application" {
		return true
	}
	for _, part := range []string{"key", "token", "secret", "passw", "pwd", "auth", "sig", "credential", "session"} {
		if strings.Contains(k, part) {
			return true
		}
	}
	return false
}

// ReadManifest reads and checks the manifest of a recording.
func ReadManifest(fsys fs.FS) (*Manifest, error) {
	raw, err := fs.ReadFile(fsys, manifestName)
	if err != nil {
		return nil, fmt.Errorf("read the recording: %w", err)
	}
	var m Manifest
	d := json.NewDecoder(bytes.NewReader(raw))
	d.DisallowUnknownFields()
	if err := d.Decode(&m); err != nil {
		return nil, fmt.Errorf("read %s: %w", manifestName, err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("read %s: there is more after the end", manifestName)
	}
	if m.Schema != Schema {
		return nil, fmt.Errorf("read %s: schema is %q, this program reads %q", manifestName, m.Schema, Schema)
	}
	if m.AsOf.IsZero() {
		return nil, fmt.Errorf("read %s: as_of is missing", manifestName)
	}
	for i, e := range m.Entries {
		if err := e.check(fsys); err != nil {
			return nil, fmt.Errorf("read %s: entry %d (%s): %w", manifestName, i+1, e.URL, err)
		}
	}
	return &m, nil
}

func (e Entry) check(fsys fs.FS) error {
	u, err := url.Parse(e.URL)
	switch {
	case err != nil || u.Scheme == "" || u.Host == "":
		return errors.New("the url is not absolute")
	case Canonical(u) != e.URL:
		return fmt.Errorf("the url is not in its canonical form %s", Canonical(u))
	case e.Method != http.MethodGet:
		return fmt.Errorf("method %q: only GET is recorded", e.Method)
	case e.Status < 200 || e.Status > 599 || e.Status == http.StatusNotModified:
		return fmt.Errorf("status %d can't be replayed", e.Status)
	case e.FetchedAt.IsZero():
		return errors.New("fetched_at is missing")
	case e.File == "":
		return nil
	case !fs.ValidPath(e.File):
		return fmt.Errorf("file %q leads out of the recording", e.File)
	}
	if sum, err := hex.DecodeString(e.SHA256); err != nil || len(sum) != sha256.Size {
		return errors.New("sha256 is not 64 hexadecimal digits")
	}
	info, err := fs.Stat(fsys, e.File)
	if err != nil {
		return fmt.Errorf("find the body: %w", err)
	}
	if !info.Mode().IsRegular() {
		return fmt.Errorf("file %q is no file", e.File)
	}
	return nil
}

// Sum writes the digest of a body as an entry holds it.
func Sum(body []byte) string {
	s := sha256.Sum256(body)
	return hex.EncodeToString(s[:])
}

// Encode writes a manifest for people to read, its entries in the order of
// address, range and time.
func Encode(m Manifest) ([]byte, error) {
	m.Schema = Schema
	m.Entries = slices.Clone(m.Entries)
	slices.SortStableFunc(m.Entries, func(a, b Entry) int {
		return cmp.Or(strings.Compare(a.URL, b.URL), strings.Compare(a.Range, b.Range), a.FetchedAt.Compare(b.FetchedAt))
	})
	raw, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("write %s: %w", manifestName, err)
	}
	return append(raw, '\n'), nil
}

// fileName makes a name for a body from the address: the last part of its
// path, kept short and plain.
func fileName(u *url.URL, contentType string) string {
	base := path.Base(u.Path)
	clean := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '.', r == '-', r == '_':
			return r
		}
		return '_'
	}, base)
	clean = strings.Trim(clean, "._")
	if len(clean) > 60 {
		clean = clean[len(clean)-60:]
	}
	if clean == "" {
		clean = "body"
	}
	if path.Ext(clean) == "" {
		switch {
		case strings.Contains(contentType, "json"):
			clean += ".json"
		case strings.Contains(contentType, "xml"):
			clean += ".xml"
		case strings.Contains(contentType, "html"):
			clean += ".html"
		}
	}
	return clean
}
