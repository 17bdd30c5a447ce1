package notify_test

import (
	"bytes"
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/notify"
)

var linkSecret = []byte("an invented secret for the tests")

func TestLinkRoundTripAndAge(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := notify.Claim{
			Action: notify.Action(rapid.String().Draw(t, "action")), Subject: rapid.String().Draw(t, "subject"),
			Expires: time.Unix(rapid.Int64Range(0, 1<<40).Draw(t, "expires"), 0).UTC(), Nonce: rapid.String().Draw(t, "nonce"),
		}
		token := notify.Mint(linkSecret, c)
		require.Equal(t, token, strings.Map(func(r rune) rune {
			if strings.ContainsRune("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_.", r) {
				return r
			}
			return '!'
		}, token), "safe in a path (RFC 3986 2.3)")
		got, err := notify.Verify(linkSecret, token, c.Expires.Add(-time.Second))
		require.NoError(t, err)
		require.Equal(t, c, got)
		_, err = notify.Verify(linkSecret, token, c.Expires)
		require.ErrorIs(t, err, notify.ErrExpired)
		_, err = notify.Verify([]byte("another secret"), token, c.Expires.Add(-time.Second))
		require.ErrorIs(t, err, notify.ErrForged)
	})
}

// Whatever octet of a token is changed, it is not ours any more.
func TestLinkCannotBeForged(t *testing.T) {
	c := notify.Claim{Action: notify.ActionApprove, Subject: "draft/2027-01-19", Expires: time.Unix(1800000000, 0), Nonce: "n"}
	token := notify.Mint(linkSecret, c)
	now := time.Unix(1700000000, 0)
	for i := range token {
		for _, b := range []byte("A_.0z") {
			if token[i] == b {
				continue
			}
			_, err := notify.Verify(linkSecret, token[:i]+string(b)+token[i+1:], now)
			require.ErrorIs(t, err, notify.ErrForged, "octet %d", i)
		}
		_, err := notify.Verify(linkSecret, token[:i], now)
		require.ErrorIs(t, err, notify.ErrForged)
	}
}

type uses struct {
	mu   sync.Mutex
	seen map[string]bool
	err  error
}

func (u *uses) Use(_ context.Context, nonce string, _ time.Time) (bool, error) {
	u.mu.Lock()
	defer u.mu.Unlock()
	first := !u.seen[nonce]
	u.seen[nonce] = true
	return first, u.err
}

func TestLinkHasOneUse(t *testing.T) {
	nonce, err := notify.NewNonce(bytes.NewReader(bytes.Repeat([]byte{7}, 16)))
	require.NoError(t, err)
	now := time.Unix(1700000000, 0)
	token := notify.Mint(linkSecret, notify.Claim{Action: notify.ActionApprove, Subject: "x", Expires: now.Add(time.Hour), Nonce: nonce})
	u := &uses{seen: map[string]bool{}}
	_, err = notify.Redeem(t.Context(), linkSecret, token, now.Add(2*time.Hour), u)
	require.ErrorIs(t, err, notify.ErrExpired)
	require.Empty(t, u.seen, "a link that is too old is not used up")
	c, err := notify.Redeem(t.Context(), linkSecret, token, now, u)
	require.NoError(t, err)
	require.Equal(t, notify.ActionApprove, c.Action)
	_, err = notify.Redeem(t.Context(), linkSecret, token, now, u)
	require.ErrorIs(t, err, notify.ErrUsed)

	u = &uses{seen: map[string]bool{}, err: errors.New("disk full")}
	_, err = notify.Redeem(t.Context(), linkSecret, token, now, u)
	require.ErrorContains(t, err, "disk full")
	_, err = notify.NewNonce(bytes.NewReader(nil))
	require.Error(t, err)
}

func FuzzVerify(f *testing.F) {
	f.Add(notify.Mint(linkSecret, notify.Claim{Action: "a", Subject: "b", Expires: time.Unix(1, 0), Nonce: "c"}))
	f.Add("....")
	f.Fuzz(func(t *testing.T, token string) {
		c, err := notify.Verify(linkSecret, token, time.Unix(0, 0))
		if err == nil {
			require.Equal(t, token, notify.Mint(linkSecret, c))
		}
	})
}
