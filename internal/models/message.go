package models

import "time"

// Notice is a sort of message that people get.
type Notice string

// Sorts of message. All but the last two can be chosen by a person.
const (
	NoticeCall      Notice = "evening call"
	NoticeMorning   Notice = "morning"
	NoticeAlert     Notice = "alerts"
	NoticeDraft     Notice = "drafts"
	NoticeTrouble   Notice = "trouble"
	NoticeFloatPlan Notice = "float plan"
	// NoticeGuests is what guests get once the captain has approved it.
	NoticeGuests Notice = "guests"
	// NoticeTest is a message on demand, to see whether it arrives.
	NoticeTest Notice = "test"
)

// Reason says why a message is sent, or why not.
type Reason string

// Reasons.
const (
	// ReasonFirst: nothing was told under this key before.
	ReasonFirst Reason = "first"
	// ReasonChanged: what was told before is no longer so.
	ReasonChanged Reason = "changed"
	// ReasonEscalated: it is graver than what was told before.
	ReasonEscalated Reason = "escalated"
	// ReasonCleared: what was told before no longer stands against anything.
	ReasonCleared Reason = "cleared"
	// ReasonReminder: still so after the time to say it again.
	ReasonReminder Reason = "reminder"
	// ReasonHeld: worth telling, but the person's quiet hours hold it.
	ReasonHeld Reason = "held"
	// ReasonNone: nothing to tell.
	ReasonNone Reason = "none"
)

// MessageState is how far a message has come.
type MessageState string

// States of a message.
const (
	// MessageWaiting: written down, to be sent or sent again.
	MessageWaiting MessageState = "waiting"
	// MessageSent: a channel has taken it over for good (SMTP: 250 after the
	// data).
	MessageSent MessageState = "sent"
	// MessageDead: no channel takes it, or its deadline has passed. Nobody
	// was told: an operator must see it.
	MessageDead MessageState = "dead"
	// MessageSuperseded: a newer message of the same key went into the
	// outbox before this one was sent, or another one tells it along.
	MessageSuperseded MessageState = "superseded"
)

// Message is one message to one person, with how far it has come. It can be
// kept whole as JSON.
type Message struct {
	// ID is the Message-ID without its brackets: the same each time the
	// message is sent, and never that of another message.
	ID string `json:"id"`
	// Key says what the message is about and for whom. It stays while the
	// content, told by Digest, changes.
	Key    string `json:"key"`
	Digest string `json:"digest"`
	// Level is how grave the content is; 0 means that nothing is wrong.
	Level int `json:"level"`
	// Gravity puts messages in order, the gravest highest.
	Gravity int    `json:"gravity,omitzero"`
	Notice  Notice `json:"notice"`
	Reason  Reason `json:"reason"`
	// Person is the name of who gets it.
	Person string `json:"person"`
	Port   string `json:"port,omitempty"`
	// Made is when it was written down; after Deadline it is not sent any
	// more, for it would mislead.
	Made     time.Time `json:"made"`
	Deadline time.Time `json:"deadline"`
	// Urgent messages go out before the others.
	Urgent bool `json:"urgent,omitzero"`
	Demo   bool `json:"demo,omitzero"`

	Subject string `json:"subject"`
	Text    string `json:"text"`
	HTML    string `json:"html"`
	// Short is the same in at most 300 plain characters.
	Short       string       `json:"short"`
	Attachments []Attachment `json:"attachments,omitempty"`
	// Routes are the ways to the person, best first. A message is sent on
	// one of them.
	Routes []Route `json:"routes"`

	// With is the ID of the message that told this one along, in one with
	// others: it was told where that one was, and has no words of its own.
	With string `json:"with,omitempty"`

	State MessageState `json:"state"`
	// NextTry is when it may be tried again; zero means at once.
	NextTry time.Time `json:"next_try"`
	// Done is when it was sent or given up, SentBy on which channel.
	Done   Opt[time.Time] `json:"done"`
	SentBy string         `json:"sent_by,omitempty"`
	// Fault is why it is dead, or the last failure while it waits.
	Fault string `json:"fault,omitempty"`
}

// Attachment is a file that goes with a message.
type Attachment struct {
	Name string `json:"name"`
	// Type is the media type with its parameters.
	Type string `json:"type"`
	Data []byte `json:"data"`
}

// Route is one way to a person: a channel and the address on it.
type Route struct {
	Channel string `json:"channel"`
	Address string `json:"address"`
	// Failures counts the tries that failed; Closed tells that the channel
	// refused the message for good.
	Failures int  `json:"failures,omitzero"`
	Closed   bool `json:"closed,omitzero"`
}
