package webhook_test

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/notify"
	"forecastd/internal/notify/webhook"
)

var _ notify.Channel = (*webhook.Channel)(nil)

const secret = "0123456789abcdef0123456789abcdef"

func channel(t *testing.T, change ...func(*webhook.Options)) *webhook.Channel {
	t.Helper()
	o := webhook.Options{Secret: []byte(secret), Now: func() time.Time { return time.Unix(1800000000, 0) }, UserAgent: "forecastd/test"}
	for _, f := range change {
		f(&o)
	}
	c, err := webhook.New(o)
	require.NoError(t, err)
	return c
}

func message() models.Message {
	return models.Message{
		ID: "abc@boat.example", Key: "call/Port A/2027-01-19/mate", Notice: models.NoticeCall, Reason: models.ReasonFirst,
		Person: "mate", Port: "Port A", Made: time.Unix(1800000000, 0), Subject: "kite", Short: "kite", Text: "kite\n",
	}
}

func TestPostIsSigned(t *testing.T) {
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil || r.Method != http.MethodPost || r.Header.Get("Content-Type") != "application/json" {
			w.WriteHeader(http.StatusBadRequest)
			return
		}
		// What a receiver does, written out again from the documentation.
		mac := hmac.New(sha256.New, []byte(secret))
		fmt.Fprintf(mac, "v1.%s.%s", r.Header.Get("Forecastd-Time"), body)
		want := "v1=" + hex.EncodeToString(mac.Sum(nil))
		if !hmac.Equal([]byte(want), []byte(r.Header.Get("Forecastd-Signature"))) {
			w.WriteHeader(http.StatusUnauthorized)
			return
		}
		var d webhook.Document
		if json.Unmarshal(body, &d) != nil || d.Schema != "forecastd.message.v1" || d.ID != "abc@boat.example" || d.ID != r.Header.Get("Forecastd-Message") || d.Text != "kite\n" {
			w.WriteHeader(http.StatusTeapot)
			return
		}
		w.WriteHeader(http.StatusAccepted)
	}))
	defer srv.Close()
	require.NoError(t, channel(t).Send(t.Context(), message(), srv.URL+"/hook"))

	other := channel(t, func(o *webhook.Options) { o.Secret = []byte("another secret of some length") })
	err := other.Send(t.Context(), message(), srv.URL+"/hook")
	require.ErrorContains(t, err, "401")
}

// The value is what OpenSSL prints for
// printf 'v1.17.body' | openssl dgst -sha256 -hmac Jefe.
func TestSignIsHMACSHA256(t *testing.T) {
	require.Equal(t, "v1=eed2e0f413cbdebf4ada969da906e55e71b3356130bae441d1e5b79f205123f5", webhook.Sign([]byte("Jefe"), "17", []byte("body")))
}

// Every status is either taken, worth another try, or final.
func TestEveryStatus(t *testing.T) {
	again := map[int]bool{408: true, 409: true, 425: true, 429: true}
	mend := map[int]bool{401: true, 403: true, 404: true, 405: true}
	status := 0
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Location", "/elsewhere")
		w.Header().Set("Retry-After", "7")
		w.WriteHeader(status)
	}))
	defer srv.Close()
	c := channel(t)
	for status = 200; status < 600; status++ {
		err := c.Send(t.Context(), message(), srv.URL)
		if status < 300 {
			require.NoError(t, err, "%d", status)
			continue
		}
		e, ok := errors.AsType[*models.Error](err)
		require.True(t, ok)
		require.Equal(t, status, e.Status)
		require.Equal(t, again[status] || status >= 500, e.Temporary(), "%d: %s", status, e.Kind)
		require.Equal(t, mend[status] || status < 400, e.Kind == models.KindBadConfig, "%d: %s", status, e.Kind)
		if e.Temporary() && status != 408 {
			require.Equal(t, 7*time.Second, e.RetryAfter)
		}
	}
}

func TestAddress(t *testing.T) {
	for _, good := range []string{"https://example.com/x?y=z", "http://127.0.0.1:8080/", "http://[::1]/", "http://localhost/x"} {
		_, err := webhook.Address(good)
		require.NoError(t, err, good)
	}
	for bad, want := range map[string]string{
		"http://example.com/x":           "webhook: example.com would get messages in the clear: use https",
		"ftp://example.com/x":            "is no web address",
		"/path":                          "is no web address",
		"https://example.com/#x":         "has a fragment",
		"https://exa mple.com/":          "can't be read",
		"http://localhost.evil.example/": "in the clear",
	} {
		_, err := webhook.Address(bad)
		require.ErrorContains(t, err, want, bad)
	}
	_, err := webhook.New(webhook.Options{Secret: []byte("short")})
	require.EqualError(t, err, "webhook: the secret has 5 octets: give at least 16")
}

func TestErrorsTellNoSecret(t *testing.T) {
	srv := httptest.NewServer(http.NotFoundHandler())
	gone := srv.URL
	err := channel(t).Send(t.Context(), message(), gone+"/path-is-secret?token=t0p")
	require.NotContains(t, err.Error(), "secret")
	srv.Close()
	err = channel(t).Send(t.Context(), message(), gone+"/path-is-secret?token=t0p")
	e, ok := errors.AsType[*models.Error](err)
	require.True(t, ok)
	require.Equal(t, models.KindUnreachable, e.Kind)
	require.NotContains(t, err.Error(), "secret")
	require.NotContains(t, err.Error(), "t0p")
}

func TestSlowReceiver(t *testing.T) {
	release := make(chan struct{})
	srv := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { <-release }))
	defer srv.Close()
	defer close(release)
	err := channel(t, func(o *webhook.Options) { o.Timeout = 100 * time.Millisecond }).Send(t.Context(), message(), srv.URL)
	e, ok := errors.AsType[*models.Error](err)
	require.True(t, ok)
	require.Equal(t, models.KindTimeout, e.Kind)
}
