package notify

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"forecastd/internal/calendar"
	"forecastd/internal/models"
	"forecastd/internal/words"
)

// Approval asks the captain to let the message to the guests go out: it quotes
// what they, the reader guests, will read. approve is the address of a signed
// link; empty tells to approve by command.
func Approval(p Person, guests words.Reader, c models.Call, b models.Booking, approve string, now time.Time) (Draft, bool) {
	ch, ok := c.Charter.Get()
	if !ok {
		return Draft{}, false
	}
	v := voiceOf(p, c.Port.Zone, c.Date)
	text := words.NewTeller(guests, c.Port.Zone, c.Date).Message(ch)
	var acts []string
	for _, a := range ch.Actions {
		acts = append(acts, v.Word(string(a)))
	}
	ask := words.Section{Head: v.say("draft.head", b.Name, c.Date), Lines: []string{v.say("draft.titled", guestsTitle(voiceOf(Person{Reader: guests}, c.Port.Zone, c.Date), c, ch))}, Quote: text}
	if b.Contact == "" {
		ask.Lines = append(ask.Lines, v.say("draft.no_contact"))
	}
	if by, ok := ch.TellBy.Else(b.TellBy).Get(); ok {
		key := "draft.tell_by"
		if by.Before(now) {
			key = "draft.tell_now"
		}
		ask.Lines = append(ask.Lines, v.say(key, by))
	}
	if approve != "" {
		ask.Links = []words.Link{{Words: v.say("draft.approve"), URL: approve}}
	} else {
		ask.Lines = append(ask.Lines, v.say("draft.by_command"))
	}
	sections := append(official(v, c), ask, v.cautions())
	leave, ends := hoursOf(c)
	knowBy := leave.Add(-getReady)
	if by, ok := ch.TellBy.Else(b.TellBy).Get(); ok && by.After(now) {
		knowBy = by // once it has passed, there is no more hurry than for leaving
	}
	title := v.say("draft.subject", b.Name, c.Date, strings.Join(acts, ", "))
	return Draft{
		Content: Content{Digest: digest(text), Level: 1, KnowBy: models.Known(knowBy)},
		Key:     key("draft", b.ID, p.Name), Notice: models.NoticeDraft, Person: p, Port: c.Port.Name, Deadline: ends, Demo: c.Demo,
		Subject: title, Text: words.Note(p.Reader, c.Demo, sections...), HTML: words.NoteHTML(p.Reader, title, c.Demo, sections...),
		Short: words.Shorten([]string{v.demoWord(c.Demo), title + "."}, text),
	}, true
}

// Guests is the message to the guests once the captain has approved it, with
// the trip for their calendar where its time changed. sequence counts the
// messages about this booking that carried a calendar entry.
func Guests(guests Person, c models.Call, b models.Booking, sequence int, now time.Time) (Draft, bool, error) {
	ch, ok := c.Charter.Get()
	if !ok {
		return Draft{}, false, nil
	}
	v := voiceOf(guests, c.Port.Zone, c.Date)
	text := v.Message(ch)
	name := boatOrPort(c)
	title := guestsTitle(v, c, ch)
	// What happens to the trip first; the products that the text names stand
	// below it, verbatim.
	sections := append([]words.Section{{Head: title, Lines: []string{text, name}}}, official(v, c)...)
	leave, ends := hoursOf(c)
	d := Draft{
		Content: Content{Digest: digest(text), Level: 1, KnowBy: models.Known(leave.Add(-getReady))},
		Key:     key("guests", b.ID), Notice: models.NoticeGuests, Person: guests, Port: c.Port.Name, Deadline: ends, Demo: c.Demo, Urgent: true,
		Subject: title, Text: words.Note(guests.Reader, c.Demo, sections...),
		HTML:  words.NoteHTML(guests.Reader, title, c.Demo, sections...),
		Short: words.Shorten([]string{v.demoWord(c.Demo), guestsShort(v, c)}, sentences(text)...),
	}
	if !moved(ch) {
		return d, true, nil
	}
	e := calendar.Event{
		UID: calendar.UID("booking " + b.ID), Sequence: sequence, Start: leave, End: ends,
		Summary: v.say("guests.event", name), Description: text, Location: c.Port.Name,
		Cancelled: slices.Contains(ch.Actions, models.CharterCancel) || slices.Contains(ch.Actions, models.CharterMove) || c.Tactic == models.TacticStayIn,
	}
	if c.Demo {
		e.Summary, e.Description = "DEMO: "+e.Summary, words.DemoNoticeIn(guests.Reader.Language)+"\n"+e.Description
	}
	ics, err := calendar.Write(calendar.Feed{Name: name, Stamp: now, Events: []calendar.Event{e}, Zone: zoneOf(c.Port)})
	if err != nil {
		return Draft{}, false, fmt.Errorf("write the calendar entry for %s: %w", b.ID, err)
	}
	d.Attachments = []models.Attachment{{Name: "charter.ics", Type: "text/calendar; charset=utf-8; method=PUBLISH", Data: ics}}
	return d, true, nil
}

// guestsTitle says what happens to the trip; of a call that was kept before its
// draft had a subject, which trip it is.
func guestsTitle(v voice, c models.Call, ch models.CharterCall) string {
	if ch.Subject.Key == "" {
		return v.say("guests.subject", c.Date, boatOrPort(c))
	}
	return v.Say(ch.Subject)
}

// boatOrPort is who writes to the guests.
func boatOrPort(c models.Call) string {
	if name := strings.TrimSpace(c.Boat.Name); name != "" {
		return name
	}
	return c.Port.Name
}

// guestsShort is the least that guests must know: warnings and the verdict.
func guestsShort(v voice, c models.Call) string {
	if c.Tactic == models.TacticStayIn {
		return v.say("guests.short_in", c.Date)
	}
	leave, back, _ := c.Times()
	return v.say("guests.short_out", c.Date, leave, back)
}

func sentences(s string) []string {
	parts := strings.SplitAfter(s, ". ")
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	return parts
}

// moved tells whether the trip's time is another than was booked.
func moved(ch models.CharterCall) bool {
	return slices.ContainsFunc(ch.Actions, func(a models.CharterAction) bool {
		switch a {
		case models.CharterStartEarlier, models.CharterStartLater, models.CharterShorten, models.CharterMove, models.CharterCancel:
			return true
		case models.CharterGo, models.CharterRoughNote, models.CharterLee:
			return false
		}
		return true // what is not known to leave the times alone is told
	})
}

// official are the products of the day, verbatim, for messages without the
// whole call.
func official(v voice, c models.Call) []words.Section {
	list, known := c.Warnings.Get()
	if !known {
		return []words.Section{{Head: v.say("official.unknown")}}
	}
	var out []words.Section
	day := c.Date.Interval(zoneOf(c.Port))
	for _, w := range models.DuringGravestFirst(list, day) {
		out = append(out, words.Section{Head: v.Product(w.Event) + ", " + span(v, w), Verbatim: verbatim(w)})
	}
	return out
}

func verbatim(w models.Warning) string {
	text := w.Text
	if text == "" {
		text = w.Headline
	}
	if w.Instruction != "" {
		text += "\n" + w.Instruction
	}
	return text
}
