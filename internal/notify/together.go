package notify

import (
	"context"
	"fmt"
	"slices"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/words"
)

const (
	// window is the span that a person's alerts and troubles are counted over.
	window = time.Hour
	// sameAgain is how long a product that comes again under another number,
	// and says the same, is no news.
	sameAgain = 24 * time.Hour
	// inFull is how many of several are told in full in one message, and inLine
	// how many more in a line each; the others are counted.
	inFull, inLine = 4, 30
)

// TellTogether decides about several drafts for one person, all alerts or
// troubles. What is to be sent goes out in one message, the gravest first. Of
// perHour messages in an hour the person is sent no more, unless something is
// graver than all that they were sent: what waits comes with the next one. The
// decisions are in the order of the drafts.
func (d Desk) TellTogether(ctx context.Context, drafts []Draft, perHour int) ([]Decision, error) {
	now := d.Now()
	decisions := make([]Decision, len(drafts))
	var send []int
	for i, draft := range drafts {
		var err error
		if decisions[i], err = d.decide(ctx, draft, now); err != nil {
			return nil, err
		}
		if decisions[i].Send {
			send = append(send, i)
		}
	}
	if len(send) == 0 {
		return decisions, nil
	}
	slices.SortStableFunc(send, func(a, b int) int { return drafts[b].Gravity - drafts[a].Gravity })
	recent, err := d.Ledger.Recent(ctx, drafts[send[0]].Person.Name, now.Add(-sameAgain))
	if err != nil {
		return nil, fmt.Errorf("look up what was told lately: %w", err)
	}
	send = slices.DeleteFunc(send, func(i int) bool {
		if decisions[i].Reason != models.ReasonFirst || !slices.ContainsFunc(recent, func(m models.Message) bool { return saysTheSame(m, drafts[i]) }) {
			return false
		}
		decisions[i] = Decision{Reason: models.ReasonNone}
		return true
	})
	if len(send) == 0 {
		return decisions, nil
	}
	if at, full := room(recent, drafts[send[0]].Gravity, perHour, now); full {
		for _, i := range send {
			decisions[i] = Decision{Reason: models.ReasonHeld, Held: decisions[i].Reason, At: at}
		}
		return decisions, nil
	}
	var list []Draft
	for _, i := range send {
		list = append(list, drafts[i])
	}
	lead := together(list).Message(decisions[send[0]].Reason, now, d.Domain)
	var along []models.Message
	for _, i := range send[1:] {
		m := drafts[i].Message(decisions[i].Reason, now, d.Domain)
		m.State, m.With, m.Text, m.HTML, m.Short, m.Routes = models.MessageSuperseded, lead.ID, "", "", "", nil
		along = append(along, m)
	}
	return decisions, d.Outbox.Add(ctx, lead, along...)
}

// saysTheSame tells whether a message told of the same product under another
// number.
func saysTheSame(m models.Message, d Draft) bool {
	return d.Notice == models.NoticeAlert && m.Notice == d.Notice && m.Port == d.Port && m.Digest == d.Digest && m.Key != d.Key && m.Level > 0
}

// room tells whether a person has had as many messages in the window as they
// are sent, none of them as grave as the next, and when there is room again.
func room(recent []models.Message, gravity, perHour int, now time.Time) (at time.Time, full bool) {
	var sent []time.Time
	gravest := 0
	for _, m := range recent {
		if m.With != "" || m.Made.Before(now.Add(-window)) || m.Notice != models.NoticeAlert && m.Notice != models.NoticeTrouble {
			continue
		}
		sent, gravest = append(sent, m.Made), max(gravest, m.Gravity)
	}
	if perHour <= 0 || len(sent) < perHour || gravity > gravest {
		return time.Time{}, false
	}
	return sent[len(sent)-perHour].Add(window), true
}

// together is one draft of several, the gravest first, under the first one's
// key.
func together(list []Draft) Draft {
	d := list[0]
	if len(list) == 1 {
		return d
	}
	p := d.Person
	v := voiceOf(p, p.Quiet.Zone, models.Date{})
	more := v.say("together.more", len(list)-1)
	var sections []words.Section
	rest := words.Section{Head: v.say("together.also")}
	for i, o := range list {
		switch {
		case i < inFull:
			sections = append(sections, o.sections...)
		case i < inFull+inLine:
			rest.Items = append(rest.Items, o.Subject)
		}
		d.Deadline = laterOf(d.Deadline, o.Deadline)
		d.Urgent = d.Urgent || o.Urgent
	}
	if n := len(list) - inFull - inLine; n > 0 {
		rest.Lines = []string{v.say("together.rest", n)}
	}
	if len(list) > inFull {
		sections = append(sections, rest)
	}
	sections = append(sections, v.cautions())
	title := d.Subject
	d.Subject += " " + more
	d.Text, d.HTML = words.Note(p.Reader, d.Demo, sections...), words.NoteHTML(p.Reader, title, d.Demo, sections...)
	d.Short = words.Shorten([]string{v.demoWord(d.Demo), title, more + "."}, v.say("caution.official")+".")
	return d
}

func laterOf(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}
