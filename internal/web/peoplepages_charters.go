package web

import (
	"fmt"
	"net/url"
	"strconv"
	"unicode/utf8"

	"forecastd/internal/models"
)

// longestWhy is how many characters a reason may have.
const longestWhy = 500

// chartersData is what the page of the charters shows.
type chartersData struct {
	Wrong    []problem
	Charters []bookedData
}

// bookedData is one booking as told.
type bookedData struct {
	ID, Name, Day, Times, Party, Heads string
	From, State, Why, First            string
	// Contact is for the captain alone.
	Contact string
	// Advice tells what to do about it, and Message what the guests could be
	// told; both are empty where the day is too far off.
	Advice  []string
	Message string
	TellBy  string
	Offers  []offerData
	Draft   *draftData
	// Move and Cancel are for the captain, while the booking stands.
	Move, Cancel *fillIn
}

type offerData struct{ Day, Why, Link string }

type draftData struct {
	To, Text, Made, Until string
	Answer                *fillIn
}

func (s *Server) chartersPage(v *view, f *form) (page, error) {
	list, err := s.o.Desk.Charters(v.Request.Context(), v.Port)
	if err != nil {
		return page{}, fmt.Errorf("ask for the charters: %w", err)
	}
	d := chartersData{Wrong: f.problems()}
	for _, c := range list {
		d.Charters = append(d.Charters, v.charter(f, c))
	}
	return page{Name: "charters", Title: "title.charters", Data: d, Fresh: true}, nil
}

// charter tells one booking.
func (v *view) charter(f *form, c Charter) bookedData {
	t := v.Tell(c.Date)
	d := bookedData{
		ID: formName("charter", c.ID), Name: c.Name, Day: t.Day(c.Date), Times: c.Trip.Start.String() + "–" + c.Trip.End.String(),
		Party: v.word(string(c.Trip.Party)), Heads: v.T("people.unknown"),
		From: v.say("charter.from.", c.From), State: v.say("charter.state.", c.State), Why: c.Why,
	}
	if n, ok := c.Trip.Guests.Get(); ok {
		d.Heads = strconv.Itoa(n)
	}
	if c.FirstDate != (models.Date{}) && c.FirstDate != c.Date {
		d.First = t.Day(c.FirstDate)
	}
	if v.IsCaptain() {
		d.Contact = c.Contact
	}
	if advice, ok := c.Advice.Get(); ok {
		v.advise(&d, c, advice)
	}
	if draft, ok := c.Draft.Get(); ok {
		d.Draft = v.draft(f, draft)
	}
	if !v.IsCaptain() || c.Cancelled {
		return d
	}
	start, end, date := c.Trip.Start.String(), c.Trip.End.String(), c.Date.String()
	if v.ask("id") == c.ID {
		if to, err := models.ParseDate(v.ask("to")); err == nil {
			date = to.String()
		}
	}
	at := "/charters/" + url.PathEscape(c.ID)
	move := v.fill(f, fillIn{Name: formName("move", c.ID), Action: v.Link(at + "/move"), Fields: []field{
		{Name: "date", Label: v.T("charter.date"), Type: "date", Value: date, Min: v.today().String(), Required: true},
		{Name: "start", Label: v.T("charter.start"), Type: "time", Value: start},
		{Name: "end", Label: v.T("charter.end"), Type: "time", Value: end},
		{Name: "why", Label: v.T("charter.why"), Type: "text", Required: true, Hint: v.T("charter.why.hint")},
	}})
	cancel := v.fill(f, fillIn{Name: formName("cancel", c.ID), Action: v.Link(at + "/cancel"), Fields: []field{
		{Name: "why", Label: v.T("charter.why"), Type: "text", Required: true, Hint: v.T("charter.why.hint")},
		{Name: "sure", Label: v.T("charter.cancel.sure", d.Day), Type: "check", Required: true},
	}})
	d.Move, d.Cancel = &move, &cancel
	return d
}

// advise puts what the call says into a booking as told.
func (v *view) advise(d *bookedData, c Charter, advice models.CharterCall) {
	t := v.Tell(c.Date)
	for _, a := range advice.Actions {
		d.Advice = append(d.Advice, v.word(string(a)))
	}
	if at, ok := advice.Start.Get(); ok {
		d.Advice = append(d.Advice, v.T("charter.from.time", t.Time(at)))
	}
	if at, ok := advice.End.Get(); ok {
		d.Advice = append(d.Advice, v.T("charter.to.time", t.Time(at)))
	}
	d.Message = t.Message(advice)
	if by, ok := advice.TellBy.Get(); ok {
		d.TellBy = v.when(by)
	}
	for _, o := range advice.Offer {
		d.Offers = append(d.Offers, offerData{
			Day: t.Day(o.Date), Why: t.Say(o.Why),
			Link: v.Link("/charters", "id", c.ID, "to", o.Date.String()) + "#" + formName("move", c.ID),
		})
	}
}

// draft tells the message that waits for an answer.
func (v *view) draft(f *form, draft Draft) *draftData {
	d := &draftData{Text: draft.Text, Made: v.when(draft.Made), Until: v.when(draft.Expires)}
	if !v.IsCaptain() {
		return d
	}
	d.To = draft.To
	answer := v.fill(f, fillIn{Name: formName("draft", draft.ID), Action: v.Link("/drafts/" + url.PathEscape(draft.ID)), Presses: []press{
		{Name: "say", Value: "send", Words: v.T("draft.send")},
		{Name: "say", Value: "drop", Words: v.T("draft.drop")},
	}})
	d.Answer = &answer
	return d
}

// why reads the reason of a change.
func (v *view) why(f *form) string {
	why := v.needed(f, "why", "charter.why.needed")
	if n := utf8.RuneCountInString(why); n > longestWhy {
		f.refuse("why", v.T("log.note.long", n, longestWhy))
	}
	return why
}

// moveCharter puts a booking on another day or other times.
func (s *Server) moveCharter(v *view, f *form) (done, error) {
	v.needed(f, "date", "charter.date.needed")
	to := v.day(f, "date")
	start, end := v.clock(f, "start"), v.clock(f, "end")
	why := v.why(f)
	if len(f.Wrong) == 0 && to.Before(v.today()) {
		f.refuse("date", v.T("charter.past"))
	}
	from, known := start.Get()
	until, both := end.Get()
	if known && both && until.String() <= from.String() {
		f.refuse("end", v.T("charter.end.early"))
	}
	if err := f.unfilled(); err != nil {
		return done{}, err
	}
	sentence, err := s.o.Hand.MoveCharter(v.Request.Context(), v.Port, v.Request.PathValue("id"), to, start, end, why, v.Role)
	return v.answered(f, sentence, err, "/charters")
}

// cancelCharter calls a booking off.
func (s *Server) cancelCharter(v *view, f *form) (done, error) {
	why := v.why(f)
	if f.get("sure") != "yes" {
		f.refuse("sure", v.T("charter.cancel.tick"))
	}
	if err := f.unfilled(); err != nil {
		return done{}, err
	}
	sentence, err := s.o.Hand.CancelCharter(v.Request.Context(), v.Port, v.Request.PathValue("id"), why, v.Role)
	return v.answered(f, sentence, err, "/charters")
}

// answerDraft lets a message to guests go out, or drops it.
func (s *Server) answerDraft(v *view, f *form) (done, error) {
	say := f.get("say")
	if among(say, []string{"send", "drop"}) == "" {
		f.refuse("", v.T("people.none of", say))
	}
	if err := f.unfilled(); err != nil {
		return done{}, err
	}
	sentence, err := s.o.Hand.AnswerDraft(v.Request.Context(), v.Request.PathValue("id"), say == "send", v.Role)
	return v.answered(f, sentence, err, "/charters")
}
