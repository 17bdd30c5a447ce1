package replay

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"
)

// MaxBody is how big a body a Recorder keeps unless told otherwise.
const MaxBody = 32 << 20

// RecorderOptions are what a Recorder is built from.
type RecorderOptions struct {
	// Dir is made if it is not there; it must hold no recording yet.
	Dir string
	// Transport does the requests.
	Transport http.RoundTripper
	// Now is the clock; nil means time.Now.
	Now func() time.Time
	// MaxBody limits the bodies kept; 0 means MaxBody.
	MaxBody int64
	// Hosts are the only ones recorded, so that a private calendar does not
	// end up in a recording. Requests to others pass through.
	Hosts []string
	// Licence tells the terms of a host's data.
	Licence func(host string) string
	// About and Demo go into the manifest.
	About string
	Demo  bool
}

// Recorder passes requests on and keeps the answers. It may be used by
// several goroutines. Close writes the manifest.
type Recorder struct {
	o RecorderOptions

	mu      sync.Mutex
	entries []Entry
	files   map[string]string // name by digest
	names   map[string]bool
	skipped []string
	closed  bool
}

// NewRecorder makes the directory and a Recorder into it.
func NewRecorder(o RecorderOptions) (*Recorder, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.MaxBody <= 0 {
		o.MaxBody = MaxBody
	}
	if o.Transport == nil {
		return nil, errors.New("record: no transport given")
	}
	if err := os.MkdirAll(o.Dir, 0o755); err != nil {
		return nil, fmt.Errorf("make the folder of the recording: %w", err)
	}
	if _, err := os.Stat(filepath.Join(o.Dir, manifestName)); err == nil {
		return nil, fmt.Errorf("%s holds a recording already: choose another folder", o.Dir)
	}
	return &Recorder{o: o, files: map[string]string{}, names: map[string]bool{manifestName: true}}, nil
}

// RoundTrip passes the request on and keeps the answer. That something could
// not be kept never spoils the answer: see Skipped.
func (r *Recorder) RoundTrip(req *http.Request) (*http.Response, error) {
	resp, err := r.o.Transport.RoundTrip(req)
	if err != nil {
		return nil, err
	}
	if !slices.Contains(r.o.Hosts, req.URL.Hostname()) || req.Method != http.MethodGet || resp.StatusCode == http.StatusNotModified {
		return resp, nil
	}
	head, err := io.ReadAll(io.LimitReader(resp.Body, r.o.MaxBody+1))
	whole := resp.Body
	resp.Body = &struct {
		io.Reader
		io.Closer
	}{bytes.NewReader(head), whole}
	switch {
	case err != nil:
		// The reader gets what came, and then the error.
		resp.Body = &struct {
			io.Reader
			io.Closer
		}{io.MultiReader(bytes.NewReader(head), brokenReader{err}), whole}
		r.skip(req.URL, fmt.Sprintf("the body broke off: %v", err))
	case int64(len(head)) > r.o.MaxBody:
		resp.Body = &struct {
			io.Reader
			io.Closer
		}{io.MultiReader(bytes.NewReader(head), whole), whole}
		r.skip(req.URL, fmt.Sprintf("the body is over %d bytes", r.o.MaxBody))
	default:
		if err := r.keep(req, resp, head); err != nil {
			r.skip(req.URL, err.Error())
		}
	}
	return resp, nil
}

func (r *Recorder) keep(req *http.Request, resp *http.Response, body []byte) error {
	e := Entry{
		Method: req.Method, URL: Canonical(req.URL), Range: req.Header.Get("Range"),
		FetchedAt: r.o.Now().UTC().Truncate(time.Second), Status: resp.StatusCode, Header: map[string]string{},
	}
	for _, k := range keptHeaders() {
		if v := resp.Header.Get(k); v != "" {
			e.Header[k] = v
		}
	}
	if loc, err := url.Parse(e.Header["Location"]); err == nil && e.Header["Location"] != "" {
		e.Header["Location"] = Canonical(req.URL.ResolveReference(loc))
	}
	if r.o.Licence != nil {
		e.Licence = r.o.Licence(req.URL.Hostname())
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return errors.New("the recording is closed")
	}
	if len(body) > 0 {
		e.SHA256 = Sum(body)
		name, held := r.files[e.SHA256]
		if !held {
			name = r.freeName(fileName(req.URL, resp.Header.Get("Content-Type")))
			if err := os.WriteFile(filepath.Join(r.o.Dir, name), body, 0o644); err != nil {
				return fmt.Errorf("write the body: %w", err)
			}
			r.files[e.SHA256] = name
			r.names[name] = true
		}
		e.File = name
	}
	r.entries = append(r.entries, e)
	return nil
}

// freeName makes a file name that is not taken, by a number before the dot.
func (r *Recorder) freeName(name string) string {
	ext := path.Ext(name)
	stem := strings.TrimSuffix(name, ext)
	for n := 2; r.names[name]; n++ {
		name = fmt.Sprintf("%s-%d%s", stem, n, ext)
	}
	return name
}

func (r *Recorder) skip(u *url.URL, why string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.skipped = append(r.skipped, Canonical(u)+": "+why)
}

// Skipped lists the answers that were passed on but not kept, and why.
func (r *Recorder) Skipped() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.skipped)
}

// Close writes the manifest. What is asked later passes through and is not
// kept. Closing again does nothing.
func (r *Recorder) Close() error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed {
		return nil
	}
	r.closed = true
	raw, err := Encode(Manifest{
		AsOf: r.o.Now().UTC().Truncate(time.Second).Add(time.Second),
		Demo: r.o.Demo, About: r.o.About, Entries: r.entries,
	})
	if err != nil {
		return err
	}
	// Written aside and moved, so that a manifest is whole or absent.
	final := filepath.Join(r.o.Dir, manifestName)
	if err := os.WriteFile(final+".new", raw, 0o644); err != nil {
		return fmt.Errorf("write the manifest: %w", err)
	}
	if err := os.Rename(final+".new", final); err != nil {
		return fmt.Errorf("write the manifest: %w", err)
	}
	return nil
}

type brokenReader struct{ err error }

func (b brokenReader) Read([]byte) (int, error) { return 0, b.err }
