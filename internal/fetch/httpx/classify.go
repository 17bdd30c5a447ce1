package httpx

import (
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Problem is what a service said about a request that it did not answer, as
// far as its body could be read.
type Problem struct {
	// Type is the kind of problem in the service's own words, or empty.
	Type string
	// Detail is a sentence for people.
	Detail string
}

// Error tells what the service said.
func (p *Problem) Error() string { return p.Detail }

// networkFailure is the failure of a request that got no answer.
func (p *prepared) networkFailure(ctx, parent context.Context, err error) *failure {
	// An error of the transport's own making, such as a replay's miss.
	var own *models.Error
	if errors.As(err, &own) {
		return &failure{err: p.fail(own.Kind, own.Status, own.Err), again: own.Temporary()}
	}
	if parent.Err() != nil {
		return &failure{err: p.fail(contextKind(parent), 0, context.Cause(parent))}
	}
	if ctx.Err() != nil {
		return &failure{err: p.fail(models.KindTimeout, 0, errors.New("no answer in time")), again: true}
	}
	var redirect *redirectError
	if errors.As(err, &redirect) {
		return &failure{err: p.fail(models.KindRefused, 0, redirect)}
	}
	// The text of a url.Error repeats the address, which may hold a secret.
	var ue *url.Error
	if errors.As(err, &ue) {
		err = ue.Err
	}
	var cert *tls.CertificateVerificationError
	if errors.As(err, &cert) {
		return &failure{err: p.fail(models.KindRefused, 0, fmt.Errorf("trust the service: %w", err))}
	}
	var ne net.Error
	if errors.As(err, &ne) && ne.Timeout() {
		return &failure{err: p.fail(models.KindTimeout, 0, err), again: true}
	}
	return &failure{err: p.fail(models.KindUnreachable, 0, err), again: true}
}

// contextKind is the kind of failure of a context that has ended. A context
// that has not is one of whose children the time was up.
func contextKind(parent context.Context) models.Kind {
	if errors.Is(parent.Err(), context.Canceled) {
		return models.KindCancelled
	}
	return models.KindTimeout
}

// statusFailure is the failure that a status stands for, or nil.
func (p *prepared) statusFailure(raw *http.Response, now time.Time) *failure {
	kind, again := classify(raw.StatusCode)
	if raw.StatusCode == http.StatusPartialContent && p.Range == nil {
		kind = models.KindBadContent
	}
	if kind == "" {
		return nil
	}
	e := p.fail(kind, raw.StatusCode, readProblem(raw))
	e.RetryAfter = retryAfter(raw.Header.Get("Retry-After"), now)
	return &failure{err: e, again: again}
}

// classify tells the kind of failure of a status, empty for a good one, and
// whether the same request may do better soon.
func classify(status int) (kind models.Kind, again bool) {
	switch status {
	case http.StatusOK, http.StatusNonAuthoritativeInfo, http.StatusPartialContent:
		return "", false
	case http.StatusNotFound, http.StatusGone:
		return models.KindNotFound, false
	case http.StatusRequestTimeout:
		return models.KindTimeout, true
	case http.StatusTooEarly, http.StatusTooManyRequests:
		return models.KindRateLimited, true
	case http.StatusNotImplemented, http.StatusHTTPVersionNotSupported:
		return models.KindServer, false
	}
	switch {
	case status >= 200 && status < 300:
		return models.KindBadContent, false
	case status >= 500:
		return models.KindServer, true
	}
	return models.KindRefused, false
}

// readProblem looks for a sentence in the body of a failed request: the
// "detail" of a problem document (RFC9457) or an "error" with a "message".
func readProblem(raw *http.Response) error {
	text := http.StatusText(raw.StatusCode)
	body, err := io.ReadAll(io.LimitReader(raw.Body, 64<<10))
	if err != nil || !strings.HasPrefix(strings.TrimSpace(string(body)), "{") {
		return &Problem{Detail: strings.ToLower(text)}
	}
	var doc struct {
		Type, Title, Detail string
		Error               json.RawMessage
	}
	if json.Unmarshal(body, &doc) != nil {
		return &Problem{Detail: strings.ToLower(text)}
	}
	var inner struct{ Message string }
	if doc.Error != nil && json.Unmarshal(doc.Error, &inner) == nil && doc.Detail == "" {
		doc.Detail = inner.Message
	}
	for _, s := range []string{doc.Detail, doc.Title, strings.ToLower(text)} {
		if s = oneLine(s, 200); s != "" {
			return &Problem{Type: oneLine(doc.Type, 200), Detail: s}
		}
	}
	return nil
}

// oneLine makes foreign text fit for one line of a log.
func oneLine(s string, limit int) string {
	s = strings.Join(strings.Fields(strings.ToValidUTF8(s, "?")), " ")
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return -1
		}
		return r
	}, s)
	if r := []rune(s); len(r) > limit {
		s = string(r[:limit]) + "…"
	}
	return s
}

// retryAfter reads both forms of the header (RFC9110, 10.2.3): seconds, or a
// date. What can't be read, or lies in the past, is 0; a wait over a day is
// cut to a day.
func retryAfter(v string, now time.Time) time.Duration {
	v = strings.TrimSpace(v)
	if v == "" {
		return 0
	}
	const longest = 24 * time.Hour
	if s, err := strconv.ParseUint(v, 10, 64); err == nil {
		return time.Duration(min(s, uint64(longest/time.Second))) * time.Second
	} else if errors.Is(err, strconv.ErrRange) {
		return longest
	}
	if t := parseHTTPTime(v); !t.IsZero() {
		return min(max(t.Sub(now), 0), longest)
	}
	return 0
}

// parseHTTPTime reads a date in any of the three forms of RFC9110, 5.6.7.
// What can't be read is the zero time.
func parseHTTPTime(v string) time.Time {
	t, err := http.ParseTime(v)
	if err != nil {
		return time.Time{}
	}
	return t.UTC()
}
