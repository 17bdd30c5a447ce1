// Package webhook hands messages to a program of the captain's own: one POST
// of JSON for each, signed.
//
// Headers of a request:
//
//	Content-Type: application/json
//	Forecastd-Message: the message's ID, the same each time it is sent
//	Forecastd-Time: seconds since 1970-01-01T00:00:00Z
//	Forecastd-Signature: v1=HEX
//
// HEX is HMAC-SHA256 (RFC 2104), by the shared secret, over the octets of
// "v1.", the value of Forecastd-Time, "." and the body. A receiver computes it
// again, compares in constant time, and refuses a time more than five minutes
// off; a message that it knows by its ID it answers with 200 and drops.
//
// Any 2xx answer takes the message over.
package webhook

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"forecastd/internal/models"
)

// Names of the headers.
const (
	HeaderMessage   = "Forecastd-Message"
	HeaderTime      = "Forecastd-Time"
	HeaderSignature = "Forecastd-Signature"
)

// Schema names the document in the body.
const Schema = "forecastd.message.v1"

// shortestSecret is the least that keeps a guess out (RFC 2104 advises a key
// no shorter than the hash, 32 octets; 16 is our floor).
const shortestSecret = 16

// Options say how to sign.
type Options struct {
	// Secret is shared with the receiver; at least 16 octets.
	Secret []byte
	// Transport does the requests; nil means the real network.
	Transport http.RoundTripper
	// Now is the clock; nil means time.Now.
	Now func() time.Time
	// UserAgent names the program.
	UserAgent string
	// Timeout bounds a request; 0 means 20 s.
	Timeout time.Duration
}

// Channel posts messages. It may be used by several goroutines.
type Channel struct {
	secret []byte
	client *http.Client
	now    func() time.Time
	agent  string
}

// New checks the options.
func New(o Options) (*Channel, error) {
	if len(o.Secret) < shortestSecret {
		return nil, fmt.Errorf("webhook: the secret has %d octets: give at least %d", len(o.Secret), shortestSecret)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Timeout <= 0 {
		o.Timeout = 20 * time.Second
	}
	return &Channel{
		secret: bytes.Clone(o.Secret), now: o.Now, agent: o.UserAgent,
		client: &http.Client{
			Transport: o.Transport, Timeout: o.Timeout,
			// A redirect would carry the message to somebody else.
			CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
		},
	}, nil
}

// Address checks that a URL may be posted to: https, or http to this machine.
func Address(s string) (*url.URL, error) {
	u, err := url.Parse(s)
	switch {
	case err != nil:
		return nil, errors.New("webhook: the address can't be read: write it as https://example.com/path")
	case u.Host == "" || u.Scheme != "https" && u.Scheme != "http":
		return nil, fmt.Errorf("webhook: %q is no web address: write it as https://example.com/path", u.Redacted())
	case u.Scheme == "http" && !loopback(u.Hostname()):
		return nil, fmt.Errorf("webhook: %s would get messages in the clear: use https", u.Host)
	case u.Fragment != "":
		return nil, fmt.Errorf("webhook: the address at %s has a fragment, which is never sent: take it off", u.Host)
	}
	return u, nil
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// Document is the body.
type Document struct {
	Schema  string        `json:"schema"`
	ID      string        `json:"id"`
	Key     string        `json:"key"`
	Notice  models.Notice `json:"notice"`
	Reason  models.Reason `json:"reason"`
	Level   int           `json:"level"`
	Urgent  bool          `json:"urgent"`
	Demo    bool          `json:"demo"`
	Person  string        `json:"person"`
	Port    string        `json:"port"`
	Made    time.Time     `json:"made"`
	Subject string        `json:"subject"`
	Short   string        `json:"short"`
	Text    string        `json:"text"`
}

// Send posts the message to address. Errors are *models.Error; none holds
// more of the address than its host, for paths of webhooks are secrets.
func (c *Channel) Send(ctx context.Context, m models.Message, address string) error {
	u, err := Address(address)
	if err != nil {
		return &models.Error{Kind: models.KindBadConfig, Source: "webhook", Err: err}
	}
	body, err := json.Marshal(Document{
		Schema: Schema, ID: m.ID, Key: m.Key, Notice: m.Notice, Reason: m.Reason, Level: m.Level, Urgent: m.Urgent, Demo: m.Demo,
		Person: m.Person, Port: m.Port, Made: m.Made.UTC(), Subject: m.Subject, Short: m.Short, Text: m.Text,
	})
	if err != nil {
		return &models.Error{Kind: models.KindBadContent, Source: "webhook", Err: fmt.Errorf("write the body: %w", err)}
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, u.String(), bytes.NewReader(body))
	if err != nil {
		return &models.Error{Kind: models.KindBadConfig, Source: "webhook", Err: errors.New("the address can't be asked")}
	}
	at := strconv.FormatInt(c.now().Unix(), 10)
	req.Header.Set("Content-Type", "application/json")
	req.Header.Set(HeaderMessage, m.ID)
	req.Header.Set(HeaderTime, at)
	req.Header.Set(HeaderSignature, Sign(c.secret, at, body))
	if c.agent != "" {
		req.Header.Set("User-Agent", c.agent)
	}
	resp, err := c.client.Do(req)
	if err != nil {
		return networkFailure(ctx, u, err)
	}
	defer resp.Body.Close()
	_, _ = io.CopyN(io.Discard, resp.Body, 64<<10) // so that the connection can be used again
	return statusFailure(u, resp, c.now())
}

// Sign returns the value of Forecastd-Signature.
func Sign(secret []byte, at string, body []byte) string {
	mac := hmac.New(sha256.New, secret)
	mac.Write([]byte("v1." + at + "."))
	mac.Write(body)
	return "v1=" + hex.EncodeToString(mac.Sum(nil))
}

func networkFailure(ctx context.Context, u *url.URL, err error) error {
	kind := models.KindUnreachable
	var timeout net.Error
	switch {
	case errors.Is(ctx.Err(), context.Canceled):
		kind = models.KindCancelled
	case ctx.Err() != nil, errors.As(err, &timeout) && timeout.Timeout():
		kind = models.KindTimeout
	}
	// url.Error prints the whole address: keep the cause alone.
	if e, ok := errors.AsType[*url.Error](err); ok {
		err = e.Err
	}
	return &models.Error{Kind: kind, Source: "webhook", URL: u.Scheme + "://" + u.Host, Err: err}
}

func statusFailure(u *url.URL, resp *http.Response, now time.Time) error {
	e := &models.Error{Source: "webhook", URL: u.Scheme + "://" + u.Host, Status: resp.StatusCode}
	switch code := resp.StatusCode; {
	case code >= 200 && code < 300:
		return nil
	case code == http.StatusTooManyRequests:
		e.Kind, e.RetryAfter = models.KindRateLimited, retryAfter(resp.Header.Get("Retry-After"), now)
	case code == http.StatusRequestTimeout, code == http.StatusTooEarly, code == http.StatusConflict, code >= 500:
		e.Kind, e.RetryAfter = models.KindServer, retryAfter(resp.Header.Get("Retry-After"), now)
	case code == http.StatusUnauthorized, code == http.StatusForbidden, code == http.StatusNotFound, code == http.StatusMethodNotAllowed, code < 400:
		// The secret or the address is wrong: somebody may mend it.
		e.Kind = models.KindBadConfig
	case code == http.StatusRequestEntityTooLarge:
		e.Kind = models.KindTooLarge
	case code == http.StatusGone:
		e.Kind = models.KindNotFound
	default:
		e.Kind = models.KindRefused
	}
	return e
}

// retryAfter reads both forms of Retry-After (RFC 9110 10.2.3).
func retryAfter(s string, now time.Time) time.Duration {
	if n, err := strconv.Atoi(s); err == nil && n > 0 {
		return time.Duration(min(n, 86400)) * time.Second
	}
	if t, err := http.ParseTime(s); err == nil {
		return max(0, t.Sub(now))
	}
	return 0
}
