package models

import (
	"fmt"
	"time"
)

// Kind is what went wrong with a source, coarse enough to act on.
type Kind string

// Kinds of failure.
const (
	KindCancelled   Kind = "cancelled"   // the caller gave up
	KindTimeout     Kind = "timeout"     // no answer in time
	KindUnreachable Kind = "unreachable" // no connection
	KindNotFound    Kind = "not found"   // 404, 410: not offered, or not there yet
	KindRateLimited Kind = "rate limited"
	KindServer      Kind = "server error"  // 5xx
	KindRefused     Kind = "refused"       // other 4xx, foreign redirects
	KindBadContent  Kind = "bad content"   // HTML for data, truncated, empty, not what was asked
	KindStale       Kind = "stale"         // an old copy: made before the last answer, or too long ago
	KindTooLarge    Kind = "too large"     // over the body limit, before or after decompression
	KindNotRecorded Kind = "not recorded"  // a replay does not hold it
	KindBadConfig   Kind = "configuration" // the request can't be made as configured
)

// Error is a failure of a source, at our border.
type Error struct {
	Kind   Kind
	Source string
	// URL is what was asked, without secrets.
	URL string
	// Status is the HTTP status, 0 if there was none.
	Status int
	// RetryAfter is how long the service asked to wait, 0 if it did not say.
	RetryAfter time.Duration
	Err        error
}

// Error tells source, kind and cause, in one line that holds nothing but
// text: the cause may quote what a service answered.
func (e *Error) Error() string {
	s := e.Source + ": " + string(e.Kind)
	if e.Status != 0 {
		s += fmt.Sprintf(" (HTTP %d)", e.Status)
	}
	if e.Err != nil {
		s += ": " + e.Err.Error()
	}
	if e.URL != "" {
		s += " [" + e.URL + "]"
	}
	return PlainLine(s)
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

// Temporary tells whether asking again soon may help.
func (e *Error) Temporary() bool {
	switch e.Kind {
	case KindTimeout, KindUnreachable, KindRateLimited, KindServer:
		return true
	case KindCancelled, KindNotFound, KindRefused, KindBadContent, KindStale, KindTooLarge, KindNotRecorded, KindBadConfig:
	}
	return false
}
