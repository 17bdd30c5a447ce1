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

// Tell decides about a draft and, if it is to be sent, writes it down. A
// person who does not want this sort of message is not told.
func (d Desk) Tell(ctx context.Context, draft Draft) (Decision, error) {
	if !draft.Person.Wants(draft.Notice) {
		return Decision{Reason: models.ReasonNone}, nil
	}
	last, err := d.Ledger.Last(ctx, draft.Key)
	if err != nil {
		return Decision{}, fmt.Errorf("look up what was told to %s: %w", draft.Person.Name, err)
	}
	now := d.Now()
	decision := Decide(last, draft.Content, draft.Person.Quiet, now)
	if !decision.Send {
		return decision, nil
	}
	return decision, d.Outbox.Add(ctx, draft.Message(decision.Reason, now, d.Domain))
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
		ID: hex.EncodeToString(sum[:16]) + "@" + domain, Key: d.Key, Digest: d.Digest, Level: d.Level, Notice: d.Notice, Reason: reason,
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
