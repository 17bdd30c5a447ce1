package notify

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
)

// Action is what a signed link does.
type Action string

// Actions.
const (
	// ActionApprove lets the draft for the guests go out.
	ActionApprove Action = "approve"
	// ActionCheckIn says that the boat is back inside.
	ActionCheckIn Action = "check in"
)

// Claim is what a signed link stands for.
type Claim struct {
	Action Action
	// Subject is what it is done to: the key of a draft, with its digest, so
	// that a draft that changed meanwhile is not approved unseen.
	Subject string
	Expires time.Time
	// Nonce makes the link one of its kind.
	Nonce string
}

// Errors of Verify and of Use.
var (
	ErrForged  = errors.New("the link is not one of ours")
	ErrExpired = errors.New("the link is too old")
	ErrUsed    = errors.New("the link was used before")
)

// Uses remembers which links were used.
type Uses interface {
	// Use marks a nonce as used and tells whether this was the first time,
	// in one step. It may forget the nonce after until.
	Use(ctx context.Context, nonce string, until time.Time) (first bool, err error)
}

// NewNonce draws a nonce from a source of randomness such as crypto/rand.
func NewNonce(random io.Reader) (string, error) {
	var b [16]byte
	if _, err := io.ReadFull(random, b[:]); err != nil {
		return "", fmt.Errorf("draw a nonce: %w", err)
	}
	return base64.RawURLEncoding.EncodeToString(b[:]), nil
}

// Mint signs a claim. The token is safe in a path or a query. A web page that
// gets it shows what will be done and does it only on a POST: mail scanners
// open links on their own.
func Mint(secret []byte, c Claim) string {
	e := base64.RawURLEncoding.EncodeToString
	payload := strings.Join([]string{e([]byte(c.Action)), e([]byte(c.Subject)), strconv.FormatInt(c.Expires.Unix(), 10), e([]byte(c.Nonce))}, ".")
	return payload + "." + e(signature(secret, payload))
}

// Verify checks a token's signature and age. It does not know whether it was
// used: see Redeem.
func Verify(secret []byte, token string, now time.Time) (Claim, error) {
	i := strings.LastIndexByte(token, '.')
	if i < 0 || len(token) > 4096 || strings.ContainsAny(token, "\r\n") { // which base64 would pass over
		return Claim{}, ErrForged
	}
	sum, err := base64.RawURLEncoding.Strict().DecodeString(token[i+1:])
	if err != nil || !hmac.Equal(sum, signature(secret, token[:i])) {
		return Claim{}, ErrForged
	}
	// Signed by us, so it has our shape; what does not is not ours.
	parts := strings.Split(token[:i], ".")
	if len(parts) != 4 {
		return Claim{}, ErrForged
	}
	var text [4]string
	for _, n := range []int{0, 1, 3} {
		b, err := base64.RawURLEncoding.Strict().DecodeString(parts[n])
		if err != nil {
			return Claim{}, ErrForged
		}
		text[n] = string(b)
	}
	seconds, err := strconv.ParseInt(parts[2], 10, 64)
	if err != nil {
		return Claim{}, ErrForged
	}
	c := Claim{Action: Action(text[0]), Subject: text[1], Expires: time.Unix(seconds, 0).UTC(), Nonce: text[3]}
	if !now.Before(c.Expires) {
		return c, ErrExpired
	}
	return c, nil
}

// Redeem verifies a token and uses it up.
func Redeem(ctx context.Context, secret []byte, token string, now time.Time, uses Uses) (Claim, error) {
	c, err := Verify(secret, token, now)
	if err != nil {
		return c, err
	}
	first, err := uses.Use(ctx, c.Nonce, c.Expires)
	if err != nil {
		return c, fmt.Errorf("mark the link as used: %w", err)
	}
	if !first {
		return c, ErrUsed
	}
	return c, nil
}

// signature is HMAC-SHA256 (RFC 2104) over the payload, under a prefix of its
// own, so that a secret shared with another use signs nothing for it.
func signature(secret []byte, payload string) []byte {
	mac := hmac.New(sha256.New, secret)
	mac.Write([]byte("forecastd link v1\n" + payload))
	return mac.Sum(nil)
}
