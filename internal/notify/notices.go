package notify

import (
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/words"
)

// Warned tells of an official product that was issued, changed or cancelled, in
// one message for all its zones.
// leave is when the next booked trip that it may touch leaves; unknown where
// there is none.
func Warned(p Person, port models.Port, w WarningChange, leave models.Opt[time.Time], demo bool, now time.Time) Draft {
	zone := zoneOf(port)
	v := voiceOf(p, zone, models.DateOf(now, zone))
	title := warningLine(v, w)
	from := strings.TrimSpace(w.Warning.Office)
	if !w.Warning.Issued.IsZero() {
		from += ", " + v.say("issued", w.Warning.Issued)
	}
	s := words.Section{Head: title, Lines: []string{strings.TrimPrefix(from, ", ")}, Verbatim: verbatim(w.Warning)}
	if before, ok := w.Before.Get(); ok && !w.Change.Gone() {
		s.Lines = append(s.Lines, v.say("warning.before", span(v, before)))
	}
	if w.Change == Unlisted {
		s.Lines = append(s.Lines, v.say("warning.unlisted_means"))
	}
	parts := []any{w.Change == Cancelled, w.Warning.Event}
	if w.Change == Unlisted {
		parts = append(parts, Unlisted)
	}
	for _, o := range w.all() {
		parts = append(parts, o.Zone, digestOnset(o), o.Ends)
		if !w.alike() && !w.Change.Gone() {
			s.Lines = append(s.Lines, o.Zone+": "+span(v, o))
		}
	}
	level := 1
	if phenomenon := w.Warning.Phenomenon; w.Warning.Significance == "W" || phenomenon == "GL" || phenomenon == "SR" || phenomenon == "HF" {
		level = 2
	}
	if w.Change.Gone() {
		level = 0
	}
	deadline := w.whole().Ends.Or(now.Add(48 * time.Hour))
	if !deadline.After(now) {
		deadline = now.Add(6 * time.Hour)
	}
	return Draft{
		Content: Content{
			Digest: digest(parts...), Level: level,
			KnowBy: models.MapOpt(leave, func(t time.Time) time.Time { return t.Add(-getReady) }),
		},
		Key: key("warning", port.Name, EventID(w.Warning), p.Name), Notice: models.NoticeAlert, Person: p, Port: port.Name,
		Deadline: deadline, Urgent: w.Warning.OfTheSea(), Demo: demo, Subject: title, Gravity: w.gravity(), sections: []words.Section{s},
		Text: words.Note(p.Reader, demo, s, v.cautions()), HTML: words.NoteHTML(p.Reader, title, demo, s, v.cautions()),
		Short: words.Shorten([]string{v.demoWord(demo), title + "."}, v.say("caution.official")+"."),
	}
}

// gravity is that of the product; that it is over is no graver than the
// mildest.
func (w WarningChange) gravity() int {
	if w.Change.Gone() {
		return 0
	}
	return w.Warning.Gravity()
}

// digestOnset is when a product begins, as far as that is news. One without a
// code that holds from when it was issued is given the time of each issue, or
// of each look where it can't be read.
func digestOnset(w models.Warning) models.Opt[time.Time] {
	if phen, _ := w.Codes(); phen == "" && !w.Onset.After(w.Issued) {
		return models.Unknown[time.Time]()
	}
	return models.Known(w.Onset)
}

// PassOn asks somebody to tell another person what no way to them took. Links
// that act for the other one do not go along.
func PassOn(p Person, port models.Port, m models.Message, now time.Time) Draft {
	zone := zoneOf(port)
	v := voiceOf(p, zone, models.DateOf(now, zone))
	title := v.say("pass_on.subject", m.Person, m.Subject)
	s := words.Section{Head: title, Lines: []string{v.say("pass_on.do", m.Person), v.say("pass_on.why", m.Fault)}, Verbatim: m.Short}
	if m.Notice == models.NoticeAlert || m.Notice == models.NoticeTrouble {
		s.Verbatim = m.Text
	}
	return Draft{
		Content: Content{Digest: m.Digest, Level: max(1, m.Level), KnowBy: models.Known(now)},
		Key:     key(passOn, m.Key, p.Name), Notice: models.NoticeTrouble, Person: p, Port: port.Name,
		Deadline: m.Deadline, Urgent: true, Demo: m.Demo, Must: true, Gravity: m.Gravity, Subject: title, sections: []words.Section{s},
		Text: words.Note(p.Reader, m.Demo, s), HTML: words.NoteHTML(p.Reader, title, m.Demo, s),
		Short: words.Shorten([]string{v.demoWord(m.Demo), title + "."}),
	}
}

const passOn = "pass on"

// PassedOn tells whether a message asks somebody to pass another one on.
func PassedOn(m models.Message) bool { return strings.HasPrefix(m.Key, passOn+"/") }

// Trouble is what is wrong with the service itself.
type Trouble struct {
	// Name stays the same while it lasts: "source ndbc", "clock", "disk".
	Name string
	// What tells it in a line, Detail in more, and Cure what to do: phrases
	// like "trouble.clock".
	What, Detail, Cure models.Phrase
	Since              time.Time
	// Over tells that it has passed.
	Over bool
	// Grave marks what keeps calls or messages from being made.
	Grave bool
}

// Troubled tells of trouble, again each day while it lasts, and when it is
// over.
func Troubled(p Person, port models.Port, t Trouble, demo bool, now time.Time) Draft {
	zone := zoneOf(port)
	v := voiceOf(p, zone, models.DateOf(now, zone))
	level, title := 1, v.say("trouble.subject", v.Say(t.What))
	if t.Grave {
		level = 2
	}
	if t.Over {
		level, title = 0, v.say("trouble.over", v.Say(t.What))
	}
	s := words.Section{Head: title}
	for _, p := range []models.Phrase{t.Detail, t.Cure} {
		if l := v.Say(p); l != "" && !t.Over {
			s.Lines = append(s.Lines, l)
		}
	}
	if !t.Since.IsZero() {
		s.Lines = append(s.Lines, v.say("trouble.since", t.Since))
	}
	return Draft{
		Content: Content{Digest: digest(t.Name, level), Level: level, Again: 24 * time.Hour},
		Key:     key("trouble", port.Name, t.Name, p.Name), Notice: models.NoticeTrouble, Person: p, Port: port.Name,
		Deadline: now.Add(24 * time.Hour), Demo: demo, Subject: title, Must: t.Grave, Gravity: level, sections: []words.Section{s},
		Text: words.Note(p.Reader, demo, s, v.cautions()), HTML: words.NoteHTML(p.Reader, title, demo, s, v.cautions()),
		Short: words.Shorten([]string{v.demoWord(demo), title + "."}, v.Say(t.Cure)),
	}
}

// FloatPlan is a trip as somebody ashore must know it.
type FloatPlan struct {
	Port models.Port
	// Trip tells it from other trips of the day; empty where there is but one.
	Trip        string
	Boat        models.Boat
	Ground      models.Ground
	Leave, Back time.Time
	// Aboard counts everybody; unknown where nobody said.
	Aboard models.Opt[int]
	// CheckIn is the address of a signed link that says "back inside".
	CheckIn string
	Demo    bool
}

// overdueAfter is how long after the time to be back the alarm is raised.
const overdueAfter = time.Hour

// Overdue returns when a boat that has not checked in is overdue.
func (f FloatPlan) Overdue() time.Time { return f.Back.Add(overdueAfter) }

// Left tells a shore contact that the boat leaves, and when to worry.
func Left(p Person, f FloatPlan, now time.Time) Draft {
	v, s := f.section(p)
	title := v.say("plan.subject", f.name(), f.Leave, f.Back)
	s.Head = title
	s.Lines = append(s.Lines, v.say("plan.worry", f.Overdue()))
	return Draft{
		Content: Content{Digest: digest(f.Leave.UTC(), f.Back.UTC(), f.Ground.Name, f.Aboard), Level: 1, KnowBy: models.Known(f.Leave)},
		Key:     f.key("float plan", p), Notice: models.NoticeFloatPlan, Person: p, Port: f.Port.Name,
		Deadline: f.Overdue(), Urgent: true, Demo: f.Demo, Subject: title,
		Text: words.Note(p.Reader, f.Demo, s, v.cautions()), HTML: words.NoteHTML(p.Reader, title, f.Demo, s, v.cautions()),
		Short: words.Shorten([]string{v.demoWord(f.Demo), title + "."}, v.say("plan.worry", f.Overdue())),
	}
}

// askBefore is how long before those ashore are alarmed the boat is asked.
const askBefore = 30 * time.Minute

// AskAt returns when the boat is asked whether it is back, before anybody
// ashore is alarmed.
func (f FloatPlan) AskAt() time.Time { return f.Overdue().Add(-askBefore) }

// AreYouBack asks the boat itself, once, before those ashore are alarmed.
func AreYouBack(p Person, f FloatPlan, now time.Time) Draft {
	v, s := f.section(p)
	title := v.say("ask.subject", f.name(), f.Overdue())
	s.Head, s.Lines, s.Items = title, []string{v.say("ask.do", f.Back)}, nil
	return Draft{
		Content: Content{Digest: digest("ask", f.Leave.UTC()), Level: 1, KnowBy: models.Known(now)},
		Key:     f.key("are you back", p), Notice: models.NoticeFloatPlan, Person: p, Port: f.Port.Name,
		Deadline: f.Overdue(), Urgent: true, Demo: f.Demo, Must: true, Subject: title,
		Text: words.Note(p.Reader, f.Demo, s), HTML: words.NoteHTML(p.Reader, title, f.Demo, s),
		Short: words.Shorten([]string{v.demoWord(f.Demo), title + "."}, v.say("ask.do", f.Back)),
	}
}

// Late tells a shore contact that the boat has not checked in, again every
// half hour, and once it has that it is back. back tells that it has.
func Late(p Person, f FloatPlan, back bool, now time.Time) Draft {
	v, s := f.section(p)
	level, title := 2, v.say("overdue.subject", f.name(), f.Back)
	if back {
		level, title = 0, v.say("overdue.back", f.name())
		s = words.Section{}
	} else {
		s.Lines = append([]string{v.say("overdue.do")}, s.Lines...)
	}
	s.Head = title
	short := words.Shorten([]string{v.demoWord(f.Demo), title + "."}, v.say("overdue.do"))
	if back {
		short = words.Shorten([]string{v.demoWord(f.Demo), title + "."})
	}
	return Draft{
		Content: Content{Digest: digest("overdue", f.Leave.UTC(), back), Level: level, KnowBy: models.Known(now), Again: 30 * time.Minute},
		Key:     f.key("overdue", p), Notice: models.NoticeFloatPlan, Person: p, Port: f.Port.Name,
		Deadline: now.Add(24 * time.Hour), Urgent: true, Demo: f.Demo, Subject: title,
		Text: words.Note(p.Reader, f.Demo, s), HTML: words.NoteHTML(p.Reader, title, f.Demo, s), Short: short,
	}
}

func (f FloatPlan) key(sort string, p Person) string {
	day := f.Leave.UTC().Format(time.DateOnly)
	if f.Trip == "" {
		return key(sort, f.Port.Name, day, p.Name)
	}
	return key(sort, f.Port.Name, day, f.Trip, p.Name)
}

func (f FloatPlan) name() string {
	if f.Boat.Name != "" {
		return f.Boat.Name
	}
	return f.Port.Name
}

func (f FloatPlan) section(p Person) (voice, words.Section) {
	zone := zoneOf(f.Port)
	v := voiceOf(p, zone, models.DateOf(f.Leave, zone))
	s := words.Section{Items: []string{
		v.say("plan.boat", f.name(), models.Word(f.Boat.Kind), f.Boat.Length), v.say("plan.times", f.Port.Name, f.Leave, f.Back),
		v.say("plan.ground", f.Ground.Name, f.Ground.At.String()),
	}}
	if n, ok := f.Aboard.Get(); ok {
		s.Items = append(s.Items, v.say("plan.aboard", n))
	} else {
		s.Items = append(s.Items, v.say("plan.aboard_unknown"))
	}
	if f.CheckIn != "" {
		s.Links = []words.Link{{Words: v.say("plan.check_in"), URL: f.CheckIn}}
	}
	return v, s
}

// Test is a message on demand. Each is another one.
func Test(p Person, port models.Port, demo bool, now time.Time) Draft {
	zone := zoneOf(port)
	v := voiceOf(p, zone, models.DateOf(now, zone))
	s := words.Section{Head: v.say("test.subject"), Lines: []string{v.say("test.text", p.Name)}}
	return Draft{
		Content: Content{Digest: digest(now.UTC()), Always: true, KnowBy: models.Known(now)},
		Key:     key("test", p.Name, now.UTC().Format(time.RFC3339Nano)), Notice: models.NoticeTest, Person: p, Port: port.Name,
		Deadline: now.Add(time.Hour), Demo: demo, Subject: v.say("test.subject"),
		Text: words.Note(p.Reader, demo, s), HTML: words.NoteHTML(p.Reader, v.say("test.subject"), demo, s), Short: words.Shorten([]string{v.demoWord(demo), v.say("test.subject") + "."}),
	}
}
