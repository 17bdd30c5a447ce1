package words

import (
	"strings"
	"time"

	"forecastd/internal/models"
)

// warnings tells the official products, verbatim, a section each.
func (t Teller) warnings(c models.Call) []Section {
	list, known := c.Warnings.Get()
	if !known {
		unknown := Section{Head: t.say("warnings.unknown"), Lines: []string{t.say("warnings.unknown_do")}}
		return append([]Section{unknown}, t.products("warnings.stood", t.onTheDay(c.Stood))...)
	}
	list = t.onTheDay(list)
	if len(list) == 0 && models.PastWarnings(c.Made, c.Trip.End.On(t.date, t.zone)) {
		return []Section{{Head: t.say("warnings.beyond"), Lines: []string{t.say("warnings.beyond_do")}}}
	}
	if len(list) == 0 {
		return []Section{{Head: t.say("warnings.none"), Lines: []string{t.say("warnings.none_do")}}}
	}
	return t.products("warnings.head", list)
}

// products tells official products verbatim, a section each, the first under
// a head.
func (t Teller) products(head string, list []models.Warning) []Section {
	var out []Section
	for _, w := range list {
		s := Section{Lines: []string{t.warningLine(w)}}
		var from []string
		if w.Zone != "" {
			from = append(from, strings.TrimSpace(w.Zone+" "+w.ZoneName))
		}
		if w.Office != "" {
			from = append(from, w.Office)
		}
		if !w.Issued.IsZero() {
			from = append(from, t.say("issued", t.dayTime(w.Issued)))
		}
		if len(from) > 0 {
			s.Lines = append(s.Lines, strings.Join(from, "; "))
		}
		s.Verbatim = w.Text
		if w.Text == "" {
			s.Verbatim = w.Headline
		}
		if w.Instruction != "" {
			s.Verbatim += "\n" + w.Instruction
		}
		if len(out) == 0 {
			s.Head = t.say(head)
		}
		out = append(out, s)
	}
	return out
}

// warningLine is a product with its times: "GALE WARNING, 15:00 to Wed 07:00".
func (t Teller) warningLine(w models.Warning) string {
	return t.say("warnings.times", t.Product(w.Event), w.Onset, t.until(w))
}

// onTheDay keeps what holds at any time from the making of the call to the
// end of the day called, the gravest first.
func (t Teller) onTheDay(list []models.Warning) []models.Warning {
	return models.DuringGravestFirst(list, t.date.Interval(t.zone))
}

func (t Teller) until(w models.Warning) string {
	end, ok := w.Ends.Get()
	if !ok {
		return t.say("further_notice")
	}
	return t.Time(end)
}

// Verdict is the call in one line: "kite, back by noon".
func (t Teller) Verdict(c models.Call) string {
	verdict := t.Word(string(c.Tactic))
	if c.Tactic == models.TacticStayIn {
		if c.CaptainDecides && c.Trip.Kind == models.OwnTrip {
			return t.say("verdict.captain", verdict)
		}
		return verdict
	}
	for _, timing := range c.Timing {
		verdict += ", " + t.timing(timing, c)
	}
	switch {
	case c.CaptainDecides && c.Trip.Kind == models.Tournament:
		return t.say("verdict.event", verdict)
	case c.CaptainDecides:
		return t.say("verdict.captain", verdict)
	}
	return verdict
}

func (t Teller) timing(timing models.Timing, c models.Call) string {
	word := t.Word(string(timing))
	switch timing {
	case models.AsBooked:
		if c.Unbooked {
			return t.say("verdict.usual_hours")
		}
	case models.BackEarly:
		if _, back, ok := c.Times(); ok {
			if at, ok := back.(time.Time); ok && t.clock(at) == "12:00" {
				return t.say("verdict.back_noon")
			}
			return t.say("verdict.back", back)
		}
	case models.StartEarlier, models.StartLater:
		leave, _, _ := c.Times()
		switch leave := leave.(type) {
		case time.Time:
			return word + " (" + t.Time(leave) + ")"
		case models.DayPart:
			if leave == models.DayPartOf(c.Trip.Start) {
				return word
			}
			return t.say("verdict."+strings.ReplaceAll(string(timing), " ", "_"), leave)
		}
	}
	return word
}

// verdict tells the day, the verdict as its first line, the times and how
// sure it is.
func (t Teller) verdict(c models.Call) []Section {
	var who []string
	for _, s := range []string{c.Boat.Name, c.Port.Name, c.Ground.Name} {
		if s != "" {
			who = append(who, s)
		}
	}
	s := Section{Head: capital(t.LongDay(c.Date)) + ": " + strings.Join(who, ", "), Lines: []string{strings.ToUpper(t.Verdict(c))}}
	leave, back, going := c.Times()
	booked := t.say("verdict.booked", c.Trip.Start, c.Trip.End, models.Word(c.Trip.Kind), models.Word(c.Trip.Party))
	if c.Unbooked {
		booked = t.say("verdict.usual", c.Trip.Start, c.Trip.End, models.Word(c.Trip.Party))
	}
	if going {
		s.Lines = append(s.Lines, t.say("verdict.times", leave, back, booked))
	} else {
		s.Lines = append(s.Lines, t.say("verdict.in", booked))
	}
	if c.Members > 0 { // not of a call that only says what people were told
		s.Lines = append(s.Lines, t.Sureness(c))
	}
	return []Section{s}
}

// Sureness tells the three answers with their counts, or how right staying in
// is.
func (t Teller) Sureness(c models.Call) string {
	a := c.Answers
	if c.Tactic == models.TacticStayIn {
		return t.say("sure.stay", models.Word(c.Confidence), c.Agreeing, c.Members, a.Runs.Courses)
	}
	return t.say("sure.answers", models.Word(a.Runs.Word), a.Runs.Courses, a.Runs.Of, models.Word(a.Hours.Word), a.Hours.Courses, models.Word(a.Tactic.Word), a.Tactic.Courses)
}

// stopAt is about when something ends the trip.
func (t Teller) stopAt(c models.Call, s models.Stop) any {
	if c.BeyondHours() {
		return models.DayPartAt(s.From, t.zone)
	}
	return s.From
}

// stops tells what ends the trip in the courses in which it does not run to
// its end.
func (t Teller) stops(c models.Call) []Section {
	var lines []string
	for _, s := range c.Stops {
		lines = append(lines, t.say("stops.line", s.By, len(s.Courses), c.Members, t.stopAt(c, s)))
	}
	return list(t.say("head.stops"), lines)
}
