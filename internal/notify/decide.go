package notify

import (
	"time"

	"forecastd/internal/models"
)

// Content is what a draft says, as far as deciding goes.
type Content struct {
	// Digest tells two contents apart. It is taken over what matters, not
	// over the wording, so that the age of a reading is no news.
	Digest string
	// Level is how grave it is: 0 says that nothing is wrong.
	Level int
	// Always marks what is told the first time even at level 0, as the
	// evening call is; a warning that never was is not.
	Always bool
	// KnowBy is when the person must know. Quiet hours that end later do
	// not hold it; unknown means that it can wait for their end.
	KnowBy models.Opt[time.Time]
	// Again is how long after the last message the same is said once more
	// while the level is over 0; 0 means never.
	Again time.Duration
}

// Decision is whether to send, and why.
type Decision struct {
	Send   bool
	Reason models.Reason
	// Held is the reason for which it would be sent, were there no quiet
	// hours; At is when they end and the decision is due again. Nothing is
	// written down meanwhile: what is told then is what holds then.
	Held models.Reason
	At   time.Time
}

// Past is what became of the messages under a key: the newest one in whatever
// state, and the newest one that the person has or that is on its way. A
// message given up was not told.
type Past struct{ Last, Told models.Opt[models.Message] }

// UnheardAgain is how long after a message was given up the same is tried anew.
const UnheardAgain = 15 * time.Minute

// clockSlack is how far ahead a message may have been made before it is plain
// that the clock was wrong then.
const clockSlack = time.Hour

// Decide decides whether a content is told to a person at now, after what was
// told under the same key.
func Decide(past Past, next Content, quiet Quiet, now time.Time) Decision {
	reason := reasonFor(past, next, now)
	if reason == models.ReasonNone {
		return Decision{Reason: models.ReasonNone}
	}
	if end, ok := quiet.Until(now); ok {
		if by, must := next.KnowBy.Get(); !must || !by.Before(end) {
			return Decision{Reason: models.ReasonHeld, Held: reason, At: end}
		}
	}
	return Decision{Send: true, Reason: reason}
}

func reasonFor(past Past, next Content, now time.Time) models.Reason {
	if last, ok := past.Last.Get(); ok && last.State == models.MessageDead && last.Digest == next.Digest {
		if since := now.Sub(last.Done.Or(last.Made)); since < UnheardAgain && since > -clockSlack {
			return models.ReasonNone
		}
	}
	told, ok := past.Told.Get()
	if !ok {
		if next.Level == 0 && !next.Always {
			return models.ReasonNone // nobody heard of it, so nobody waits for its end
		}
		return models.ReasonFirst
	}
	if told.Digest != next.Digest {
		switch {
		case next.Level > told.Level:
			return models.ReasonEscalated
		case next.Level == 0 && told.Level > 0:
			return models.ReasonCleared
		}
		return models.ReasonChanged
	}
	since := now.Sub(told.Done.Or(told.Made))
	if next.Again > 0 && next.Level > 0 && told.State != models.MessageWaiting && (since >= next.Again || since < -clockSlack) {
		return models.ReasonReminder
	}
	return models.ReasonNone
}
