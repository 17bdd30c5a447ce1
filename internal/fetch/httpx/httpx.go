// Package httpx is the one HTTP client of the project. Every request has a
// deadline, a limit on its body, an honest User-Agent and bounded retries of
// what is temporary, and every failure is a *models.Error.
package httpx

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"github.com/go-resty/resty/v2"
	"github.com/prometheus/client_golang/prometheus"
	"golang.org/x/time/rate"

	"forecastd/internal/models"
)

// Defaults of a Request's zero fields.
const (
	DefaultAttempts   = 3
	DefaultPerAttempt = 20 * time.Second
	DefaultTotal      = 60 * time.Second
	DefaultMaxBytes   = 8 << 20
)

const (
	// longestPause is how long a Get waits between two attempts at most. A
	// service that asks for more gets it from whoever schedules the next
	// Get: the error carries RetryAfter.
	longestPause = 30 * time.Second
	maxRedirects = 5
	maxCacheBody = 4 << 20
	maxCacheAll  = 32 << 20
)

// Limit bounds the rate of requests to one host.
type Limit struct {
	PerSecond float64
	Burst     int
}

// PoliteLimits are the rates for the services that ask, or are known, to want
// fewer requests than a client can make: NOMADS blocks above 120 a minute
// (from memory), bulk callers of CO-OPS were throttled above some two a
// second (common practice, no source), the others are our own manners.
func PoliteLimits() map[string]Limit {
	return map[string]Limit{
		"api.tidesandcurrents.noaa.gov": {PerSecond: 2.5, Burst: 4},
		"www.ndbc.noaa.gov":             {PerSecond: 4, Burst: 8},
		"api.weather.gov":               {PerSecond: 4, Burst: 8},
		"tgftp.nws.noaa.gov":            {PerSecond: 4, Burst: 8},
		"nomads.ncep.noaa.gov":          {PerSecond: 1.8, Burst: 8},
	}
}

// Options are what a Client is built from.
type Options struct {
	// Transport does the requests: LiveTransport, a replay or a test's.
	Transport http.RoundTripper
	// UserAgent names the program and whom to write to: "forecastd/1
	// (captain@example.org)".
	UserAgent string
	// Now is the clock of what is stamped; nil means time.Now. Waiting is
	// always done in real time.
	Now func() time.Time
	// Registerer gets the metrics; nil keeps them to ourselves.
	Registerer prometheus.Registerer
	// Logger hears of attempts that are tried again; nil is silent.
	Logger *slog.Logger
	// Limits are rates by host; a host that is not listed is not limited.
	// A replay wants none.
	Limits map[string]Limit
	// Pause is the wait before the second attempt, doubled for each further
	// one and then shortened at random by up to half; 0 means 500 ms.
	Pause time.Duration
	// OnDate hears, for every answer that carries a readable Date whatever its
	// status, what the host's clock said and what ours said at that moment.
	// The host's is Date with the Age of a kept copy added (RFC9110, 6.6.1;
	// RFC9111, 5.1). A copy that hides its age makes the host look slow, so one
	// host proves nothing about our clock. It may be called by several
	// goroutines and must not block. Nil hears nothing.
	OnDate func(host string, theirs, ours time.Time)
}

// Client makes requests. It may be used by several goroutines.
type Client struct {
	resty   *resty.Client
	now     func() time.Time
	log     *slog.Logger
	metrics *metrics
	pause   time.Duration
	cache   *cache
	dates   *dates
	onDate  func(host string, theirs, ours time.Time)

	mu     sync.Mutex
	limits map[string]*rate.Limiter
}

// New builds a Client. An error wraps *models.Error of KindBadConfig.
func New(o Options) (*Client, error) {
	bad := func(what string) error {
		return &models.Error{Kind: models.KindBadConfig, Source: "http client", Err: errors.New(what)}
	}
	if o.Transport == nil {
		return nil, bad("no transport given")
	}
	if !strings.Contains(o.UserAgent, "@") && !strings.Contains(o.UserAgent, "://") {
		return nil, bad("the user agent names no contact: add an e-mail address or a web page")
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	if o.Pause <= 0 {
		o.Pause = 500 * time.Millisecond
	}
	m, err := newMetrics(o.Registerer)
	if err != nil {
		return nil, fmt.Errorf("register metrics of the http client: %w", err)
	}
	rc := resty.NewWithClient(&http.Client{Transport: o.Transport, CheckRedirect: checkRedirect})
	rc.SetHeader("User-Agent", o.UserAgent)
	rc.SetLogger(restyLogger{o.Logger})
	c := &Client{
		resty: rc, now: o.Now, log: o.Logger, metrics: m, pause: o.Pause,
		cache:  newCache(maxCacheAll, maxCacheBody),
		dates:  &dates{last: map[string]time.Time{}},
		onDate: o.OnDate,
		limits: map[string]*rate.Limiter{},
	}
	for host, l := range o.Limits {
		c.limits[strings.ToLower(host)] = rate.NewLimiter(rate.Limit(l.PerSecond), max(1, l.Burst))
	}
	return c, nil
}

// LiveTransport is a transport to the real services with sane limits on
// every phase of a request.
func LiveTransport() *http.Transport {
	return &http.Transport{
		Proxy:                  http.ProxyFromEnvironment,
		DialContext:            (&net.Dialer{Timeout: 10 * time.Second, KeepAlive: 30 * time.Second}).DialContext,
		TLSHandshakeTimeout:    10 * time.Second,
		ResponseHeaderTimeout:  30 * time.Second,
		ExpectContinueTimeout:  time.Second,
		IdleConnTimeout:        90 * time.Second,
		MaxIdleConns:           32,
		MaxIdleConnsPerHost:    4,
		MaxConnsPerHost:        8,
		MaxResponseHeaderBytes: 1 << 20,
		ForceAttemptHTTP2:      true,
	}
}

// Get asks until it has an answer with status 200, 203, 206 or, for what the
// cache holds, 304, or until trying again is no use. Errors are
// *models.Error; where the caller's context ends the kind is KindCancelled
// or KindTimeout.
func (c *Client) Get(parent context.Context, req Request) (*Response, error) {
	p, err := prepare(req)
	if err != nil {
		c.metrics.failures.WithLabelValues(req.Source, string(err.Kind)).Inc()
		return nil, err
	}
	ctx, cancel := context.WithTimeout(parent, p.Total)
	defer cancel()
	resp, err := c.get(ctx, parent, p)
	if err != nil {
		c.metrics.failures.WithLabelValues(req.Source, string(err.Kind)).Inc()
		return nil, err
	}
	return resp, nil
}

func (c *Client) get(ctx, parent context.Context, p *prepared) (*Response, *models.Error) {
	said := map[string]bool{}
	for n := 1; ; n++ {
		if err := c.turn(ctx, parent, p); err != nil {
			return nil, err
		}
		resp, fail := c.attempt(ctx, parent, p)
		if fail == nil {
			return resp, nil
		}
		if !fail.again || n >= p.Attempts {
			return nil, fail.err
		}
		pause := c.pauseAfter(n)
		if asked := fail.err.RetryAfter; asked > 0 {
			pause = asked
		}
		if end, ok := ctx.Deadline(); pause > longestPause || ok && time.Until(end) < pause {
			return nil, fail.err
		}
		if text := fail.err.Error(); !said[text] {
			said[text] = true
			c.log.WarnContext(ctx, "fetch attempt failed, trying again", "source", p.Source, "attempt", n, "wait", pause, "error", text)
		}
		c.metrics.retries.WithLabelValues(p.Source).Inc()
		if !sleep(ctx, pause) {
			return nil, p.fail(contextKind(parent), 0, context.Cause(ctx))
		}
	}
}

// turn waits until the host's rate allows one more request.
func (c *Client) turn(ctx, parent context.Context, p *prepared) *models.Error {
	if ctx.Err() != nil {
		return p.fail(contextKind(parent), 0, context.Cause(ctx))
	}
	c.mu.Lock()
	l := c.limits[strings.ToLower(p.url.Hostname())]
	c.mu.Unlock()
	if l == nil {
		return nil
	}
	if err := l.Wait(ctx); err != nil {
		return p.fail(contextKind(parent), 0, fmt.Errorf("wait for our own rate limit: %w", err))
	}
	return nil
}

// pauseAfter is the wait after the nth attempt: doubling, with jitter, so
// that many clients that failed together do not come back together.
func (c *Client) pauseAfter(n int) time.Duration {
	d := min(c.pause<<min(n-1, 10), longestPause)
	return d/2 + rand.N(d/2+1)
}

// failure is one attempt's failure and whether another may help.
type failure struct {
	err   *models.Error
	again bool
}

func (c *Client) attempt(ctx, parent context.Context, p *prepared) (*Response, *failure) {
	start := time.Now()
	resp, code, fail := c.try(ctx, parent, p)
	c.metrics.duration.WithLabelValues(p.Source).Observe(time.Since(start).Seconds())
	c.metrics.attempts.WithLabelValues(p.Source, code).Inc()
	if fail == nil && !resp.NotModified {
		c.metrics.bytes.WithLabelValues(p.Source).Add(float64(len(resp.Body)))
	}
	return resp, fail
}

// try makes one request. The second result is the status for the metrics.
func (c *Client) try(ctx, parent context.Context, p *prepared) (*Response, string, *failure) {
	ctx, cancel := context.WithTimeout(ctx, p.PerAttempt)
	defer cancel()

	r := c.resty.R().SetContext(ctx).SetDoNotParseResponse(true)
	if p.Accept != "" {
		r.SetHeader("Accept", p.Accept)
	}
	if p.Range != nil {
		r.SetHeader("Range", p.Range.String())
	}
	var held *cached
	if p.Conditional && p.Range == nil {
		if held = c.cache.get(p.key); held != nil {
			if held.etag != "" {
				r.SetHeader("If-None-Match", held.etag)
			}
			if held.lastModified != "" {
				r.SetHeader("If-Modified-Since", held.lastModified)
			}
		}
	}
	rr, err := r.Get(p.url.String())
	if err != nil {
		return nil, "none", p.networkFailure(ctx, parent, err)
	}
	raw := rr.RawResponse
	defer raw.Body.Close()
	code := fmt.Sprint(raw.StatusCode)
	stamp := readStamp(raw.Header)
	if c.onDate != nil && !stamp.Date.IsZero() {
		c.onDate(p.url.Hostname(), stamp.Date.Add(stamp.Age), c.now())
	}

	if kind, _ := classify(raw.StatusCode); kind == "" || raw.StatusCode == http.StatusNotModified {
		if err := c.dates.judge(p, stamp, c.now()); err != nil {
			return nil, code, &failure{err: p.fail(models.KindStale, raw.StatusCode, err)}
		}
	}
	if raw.StatusCode == http.StatusNotModified {
		if held == nil {
			return nil, code, &failure{err: p.fail(models.KindBadContent, raw.StatusCode,
				errors.New("the service says unchanged, but we hold nothing"))}
		}
		return &Response{
			Status: http.StatusOK, Body: held.body, Header: held.header, NotModified: true,
			Stamp: stamp, FetchedAt: c.now().UTC(), LastModified: parseHTTPTime(held.lastModified),
			URL: p.shown, source: p.Source,
		}, code, nil
	}
	if fail := p.statusFailure(raw, c.now()); fail != nil {
		return nil, code, fail
	}
	body, fail := p.readBody(ctx, parent, raw)
	if fail != nil {
		return nil, code, fail
	}
	resp := &Response{
		Status: raw.StatusCode, Body: body, Header: raw.Header, Stamp: stamp,
		FetchedAt: c.now().UTC(), LastModified: parseHTTPTime(raw.Header.Get("Last-Modified")),
		URL: p.shown, source: p.Source,
	}
	if err := p.Want.check(body, raw.Header.Get("Content-Type")); err != nil {
		return nil, code, &failure{err: p.fail(models.KindBadContent, raw.StatusCode, err)}
	}
	if p.Conditional && p.Range == nil && raw.StatusCode == http.StatusOK {
		c.cache.put(p.key, raw.Header, body)
	}
	return resp, code, nil
}

// readBody reads at most MaxBytes, counted after every decompression.
func (p *prepared) readBody(ctx, parent context.Context, raw *http.Response) ([]byte, *failure) {
	tooLarge := func() *failure {
		return &failure{err: p.fail(models.KindTooLarge, raw.StatusCode, fmt.Errorf("the body is over %d bytes", p.MaxBytes))}
	}
	bad := func(again bool, err error) *failure {
		return &failure{err: p.fail(models.KindBadContent, raw.StatusCode, err), again: again}
	}
	if raw.ContentLength > p.MaxBytes {
		return nil, tooLarge()
	}
	body, err := readLimited(raw.Body, p.MaxBytes, raw.ContentLength)
	switch {
	case errors.Is(err, errTooLarge):
		return nil, tooLarge()
	case err != nil && ctx.Err() != nil:
		return nil, p.networkFailure(ctx, parent, err)
	case errors.Is(err, io.ErrUnexpectedEOF):
		return nil, bad(true, fmt.Errorf("the body breaks off after %d bytes", len(body)))
	case err != nil && isGzip(err):
		return nil, bad(false, fmt.Errorf("unpack the body: %w", err))
	case err != nil:
		return nil, p.networkFailure(ctx, parent, fmt.Errorf("read the body: %w", err))
	case raw.ContentLength >= 0 && !raw.Uncompressed && int64(len(body)) != raw.ContentLength:
		return nil, bad(true, fmt.Errorf("the body breaks off after %d of %d bytes", len(body), raw.ContentLength))
	}
	switch enc := strings.ToLower(raw.Header.Get("Content-Encoding")); {
	case enc == "" || enc == "identity" || raw.Uncompressed:
	case p.Range != nil:
		return nil, bad(false, fmt.Errorf("the range is of a body encoded as %q", enc))
	case enc != "gzip" && enc != "x-gzip":
		return nil, bad(false, fmt.Errorf("the body is encoded as %q, which was not asked for", enc))
	default:
		if body, err = gunzip(body, p.MaxBytes); errors.Is(err, errTooLarge) {
			return nil, tooLarge()
		} else if err != nil {
			return nil, bad(false, fmt.Errorf("unpack the body: %w", err))
		}
	}
	if p.Want.mayBeGzip() && p.Range == nil && hasGzipMagic(body) {
		if body, err = gunzip(body, p.MaxBytes); errors.Is(err, errTooLarge) {
			return nil, tooLarge()
		} else if err != nil {
			return nil, bad(false, fmt.Errorf("unpack the gzip file: %w", err))
		}
	}
	if len(body) == 0 {
		return nil, bad(false, errors.New("the body is empty"))
	}
	return body, nil
}

// checkRedirect follows only within the host and never from https to http.
func checkRedirect(next *http.Request, via []*http.Request) error {
	from := via[len(via)-1].URL
	switch {
	case len(via) > maxRedirects:
		return &redirectError{fmt.Sprintf("more than %d redirects", maxRedirects)}
	case from.Scheme == "https" && next.URL.Scheme != "https":
		return &redirectError{"redirected from https to " + next.URL.Scheme}
	case !sameHost(from, next.URL):
		return &redirectError{"redirected to another host: " + next.URL.Host}
	}
	return nil
}

func sameHost(a, b *url.URL) bool {
	if !strings.EqualFold(a.Hostname(), b.Hostname()) {
		return false
	}
	return a.Scheme != b.Scheme || a.Port() == b.Port()
}

// redirectError says why a redirect was not followed.
type redirectError struct{ why string }

func (e *redirectError) Error() string { return e.why }

func sleep(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return ctx.Err() == nil
	case <-ctx.Done():
		return false
	}
}

// restyLogger passes what resty says on to slog.
type restyLogger struct{ log *slog.Logger }

func (l restyLogger) Errorf(format string, v ...any) { l.log.Error(fmt.Sprintf(format, v...)) }
func (l restyLogger) Warnf(format string, v ...any)  { l.log.Warn(fmt.Sprintf(format, v...)) }
func (l restyLogger) Debugf(format string, v ...any) { l.log.Debug(fmt.Sprintf(format, v...)) }
