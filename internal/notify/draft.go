package notify

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/words"
)

// Draft is what would be told to one person, before it is decided whether.
type Draft struct {
	Content
	// Key names what it is about and for whom; see models.Message.
	Key    string
	Notice models.Notice
	Person Person
	Port   string
	// Deadline is when it is of no use any more.
	Deadline time.Time
	Urgent   bool
	Demo     bool
	// Must marks what a captain is told whatever he subscribed to.
	Must bool
	// Gravity puts drafts in order, the gravest highest, where several are told
	// in one.
	Gravity int
	// sections are the words before the cautions, for a message with others.
	sections []words.Section

	Subject, Text, HTML, Short string
	Attachments                []models.Attachment
}

// Desk decides about drafts and puts what is to be sent into the outbox.
type Desk struct {
	Ledger Ledger
	Outbox *Outbox
	// Domain is the right side of Message-IDs, as "boat.example.com".
	Domain string
	Now    func() time.Time
}

// Wanted tells whether the person is to be told such a draft at all.
func (d Draft) Wanted() bool { return d.Person.Wants(d.Notice) || d.Must && d.Person.Captain }

// Tell decides about a draft and, if it is to be sent, writes it down. A
// person who does not want this sort of message is not told.
func (d Desk) Tell(ctx context.Context, draft Draft) (Decision, error) {
	now := d.Now()
	decision, err := d.decide(ctx, draft, now)
	if err != nil || !decision.Send {
		return decision, err
	}
	return decision, d.Outbox.Add(ctx, draft.Message(decision.Reason, now, d.Domain))
}

func (d Desk) decide(ctx context.Context, draft Draft, now time.Time) (Decision, error) {
	if !draft.Wanted() {
		return Decision{Reason: models.ReasonNone}, nil
	}
	var past Past
	var err error
	if past.Last, err = d.Ledger.Last(ctx, draft.Key); err == nil {
		past.Told, err = d.Ledger.Told(ctx, draft.Key)
	}
	if err != nil {
		return Decision{}, fmt.Errorf("look up what was told to %s: %w", draft.Person.Name, err)
	}
	return Decide(past, draft.Content, draft.Person.Quiet, now), nil
}

// Message makes the draft a message to be sent.
func (d Draft) Message(reason models.Reason, now time.Time, domain string) models.Message {
	sum := sha256.Sum256([]byte(strings.Join([]string{d.Key, d.Digest, string(reason), now.UTC().Format(time.RFC3339Nano)}, "\n")))
	routes := slices.Clone(d.Person.Routes)
	for i := range routes {
		routes[i].Failures, routes[i].Closed = 0, false
	}
	if d.Person.Quiet.Zone != nil {
		now = now.In(d.Person.Quiet.Zone) // the Date of an e-mail tells it on the port's clock
	}
	subject := d.Subject
	if key := "subject." + string(reason); words.HasPhrase(d.Person.Reader.Language, key) {
		subject = voiceOf(d.Person, nil, models.Date{}).say(key) + " " + subject
	}
	if d.Demo {
		subject = "DEMO: " + subject
	}
	return models.Message{
		ID: hex.EncodeToString(sum[:16]) + "@" + domain, Key: d.Key, Digest: d.Digest, Level: d.Level, Gravity: d.Gravity, Notice: d.Notice, Reason: reason,
		Person: d.Person.Name, Port: d.Port, Made: now, Deadline: d.Deadline, Urgent: d.Urgent, Demo: d.Demo,
		Subject: subject, Text: d.Text, HTML: d.HTML, Short: d.Short, Attachments: d.Attachments,
		Routes: routes, State: models.MessageWaiting,
	}
}

// key joins the parts of a stable key.
func key(parts ...string) string { return strings.Join(parts, "/") }

// digest is taken over what matters in a content.
func digest(parts ...any) string {
	var b strings.Builder
	for _, p := range parts {
		if t, ok := p.(models.Opt[time.Time]); ok {
			p = "unknown"
			if at, known := t.Get(); known {
				p = at.UTC().Format(time.RFC3339)
			}
		}
		fmt.Fprintf(&b, "%v\n", p)
	}
	sum := sha256.Sum256([]byte(b.String()))
	return hex.EncodeToString(sum[:12])
}

// voice tells phrases to one reader.
type voice struct{ words.Teller }

func voiceOf(p Person, zone *time.Location, date models.Date) voice {
	return voice{words.NewTeller(p.Reader, zone, date)}
}

// say tells the phrase of a key with values in the reader's units.
func (v voice) say(key string, args ...any) string { return v.Say(models.Say(key, args...)) }

// demoWord stands at the head of the short form of the demo.
func (v voice) demoWord(demo bool) string {
	if !demo {
		return ""
	}
	return v.say("demo.short")
}

// cautions are the usual cautions of a message without a call.
func (v voice) cautions() words.Section {
	return words.Section{Head: v.say("cautions"), Items: []string{v.say("caution.official"), v.say("caution.captain")}}
}
