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

// Decide decides whether a content is told to a person at now. last is the
// newest message under the same key.
func Decide(last models.Opt[models.Message], next Content, quiet Quiet, now time.Time) Decision {
	reason := reasonFor(last, next, now)
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

func reasonFor(last models.Opt[models.Message], next Content, now time.Time) models.Reason {
	told, ok := last.Get()
	if !ok {
		if next.Level == 0 && !next.Always {
			return models.ReasonNone
		}
		return models.ReasonFirst
	}
	if told.State == models.MessageDead && next.Level == 0 && !next.Always {
		return models.ReasonNone // nobody heard of it, so nobody waits for its end
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
	since := told.Made
	if done, ok := told.Done.Get(); ok {
		since = done
	}
	if next.Again > 0 && next.Level > 0 && told.State != models.MessageWaiting && now.Sub(since) >= next.Again {
		return models.ReasonReminder
	}
	return models.ReasonNone
}
