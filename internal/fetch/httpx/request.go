package httpx

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Range asks for the bytes from Start up to and including End, as HTTP counts
// them. A negative End asks for all from Start on.
type Range struct{ Start, End int64 }

// String writes the value of the Range header.
func (r Range) String() string {
	if r.End < 0 {
		return fmt.Sprintf("bytes=%d-", r.Start)
	}
	return fmt.Sprintf("bytes=%d-%d", r.Start, r.End)
}

// Request is what to get. Zero fields mean the defaults.
type Request struct {
	// Source is the short name of the source that asks; it goes into errors,
	// logs and metrics.
	Source string
	// URL is absolute, http or https; Query is added to what it has.
	URL   string
	Query url.Values
	// PrivateURL keeps path and query out of errors and logs, for addresses
	// that are themselves a secret.
	PrivateURL bool
	Accept     string
	// Range asks for part of the body. The answer may still be the whole:
	// look at Response.Status and ContentRange.
	Range *Range
	// MaxBytes limits the body after decompression.
	MaxBytes int64
	// Want says what the body has to look like.
	Want Want
	// Attempts counts the first one, too. PerAttempt limits each, Total all
	// of them with the waits between.
	Attempts          int
	PerAttempt, Total time.Duration
	// Oldest is how long ago the service may have made the answer, or vouched
	// for it, by its Date and Age; 0: however long.
	Oldest time.Duration
	// Conditional asks with the validators of the last answer and takes 304
	// for it. It has no effect with a Range.
	Conditional bool
}

// Response is a good answer.
type Response struct {
	// Status is 200, 203 or 206; after 304 it is 200 with NotModified.
	Status int
	// Body must not be changed: the cache may share it.
	Body   []byte
	Header http.Header
	// Stamp is what this answer's own headers say of its age; after 304 those
	// of the 304.
	Stamp Stamp
	// FetchedAt is by the injected clock. LastModified is zero where the
	// service does not say.
	FetchedAt, LastModified time.Time
	// NotModified says that the body is the one we had.
	NotModified bool
	// URL is what was asked, without secrets.
	URL string

	source string
}

// ContentRange reads the Content-Range of a 206: the first and last byte and
// the length of the whole, -1 where the service does not know it.
func (r *Response) ContentRange() (start, end, total int64, err error) {
	v := r.Header.Get("Content-Range")
	if n, serr := fmt.Sscanf(v, "bytes %d-%d/%d", &start, &end, &total); serr != nil {
		if n != 2 || !strings.HasSuffix(v, "/*") {
			return 0, 0, 0, fmt.Errorf("read Content-Range %q: want bytes first-last/total", v)
		}
		total = -1
	}
	if start < 0 || end < start || total >= 0 && end >= total {
		return 0, 0, 0, fmt.Errorf("read Content-Range %q: the numbers contradict each other", v)
	}
	return start, end, total, nil
}

// Bad makes the error of an answer whose content is not what it should be.
func (r *Response) Bad(err error) *models.Error { return r.Fail(models.KindBadContent, err) }

// Fail makes an error of an answer.
func (r *Response) Fail(kind models.Kind, err error) *models.Error {
	return &models.Error{Kind: kind, Source: r.source, URL: r.URL, Status: r.Status, Err: err}
}

// prepared is a Request with its defaults filled in.
type prepared struct {
	Request
	url   *url.URL
	key   string // what the cache knows it by
	shown string // the address without secrets
}

func prepare(req Request) (*prepared, *models.Error) {
	p := &prepared{Request: req}
	u, err := url.Parse(req.URL)
	if err != nil {
		// The text of a url.Error repeats the address, which may hold a secret.
		var ue *url.Error
		if errors.As(err, &ue) {
			err = ue.Err
		}
		return nil, p.fail(models.KindBadConfig, 0, fmt.Errorf("read the address: %w", err))
	}
	if len(req.Query) > 0 {
		q := u.Query()
		for k, vs := range req.Query {
			q[k] = append(q[k], vs...)
		}
		u.RawQuery = q.Encode()
	}
	u.Fragment = ""
	p.url, p.key, p.shown = u, u.String()+"\n"+req.Accept, redact(u, req.PrivateURL)
	if u.Scheme != "http" && u.Scheme != "https" || u.Host == "" {
		return nil, p.fail(models.KindBadConfig, 0, errors.New("the address is not http or https"))
	}
	if r := req.Range; r != nil && (r.Start < 0 || r.End >= 0 && r.End < r.Start) {
		return nil, p.fail(models.KindBadConfig, 0, fmt.Errorf("the range %s is empty", r))
	}
	if p.Attempts <= 0 {
		p.Attempts = DefaultAttempts
	}
	if p.PerAttempt <= 0 {
		p.PerAttempt = DefaultPerAttempt
	}
	if p.Total <= 0 {
		p.Total = DefaultTotal
	}
	if p.MaxBytes <= 0 {
		p.MaxBytes = DefaultMaxBytes
	}
	return p, nil
}

func (p *prepared) fail(kind models.Kind, status int, err error) *models.Error {
	return &models.Error{Kind: kind, Source: p.Source, URL: p.shown, Status: status, Err: err}
}

// redact writes an address without what may be secret in it.
func redact(u *url.URL, private bool) string {
	c := *u
	c.User = nil
	if private {
		return c.Scheme + "://" + c.Host + "/…"
	}
	q := c.Query()
	hidden := false
	for k := range q {
		if secretName(k) {
			q[k], hidden = []string{"hidden"}, true
		}
	}
	if hidden {
		c.RawQuery = q.Encode()
	}
	return c.String()
}

// secretName tells whether a query parameter looks like it holds a secret.
func secretName(k string) bool {
	k = strings.ToLower(k)
	for _, part := range []string{"key", "token", "secret", "passw", "pwd", "auth", "sig", "credential", "session"} {
		if strings.Contains(k, part) {
			return true
		}
	}
	return false
}
