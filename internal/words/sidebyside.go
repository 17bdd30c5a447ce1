package words

import (
	"strings"

	"forecastd/internal/models"
)

// SideBySide tells a call and what it would be if some things were otherwise.
// The official warnings of the call as it stands are told with it. trip names
// it among several of the day; empty where there is but one.
func (t Teller) SideBySide(now, then models.Call, trip string, changes []string) string {
	table := Table{Head: []string{"", "", t.say("beside.now"), t.say("beside.then")}}
	row := func(what, a, b string) {
		mark := ""
		if a != b {
			mark = "*"
		}
		table.Rows = append(table.Rows, cells(mark, what, a, b))
	}
	row(t.say("beside.call"), t.Word(string(now.Tactic)), t.Word(string(then.Tactic)))
	row(t.say("beside.times"), t.times(now), t.times(then))
	row(t.say("beside.sure"), t.Word(string(now.Confidence)), t.Word(string(then.Confidence)))
	row(t.say("beside.charter"), t.charterActions(now), t.charterActions(then))
	for i, h := range now.Hours {
		if i < len(then.Hours) {
			row(t.clock(h.At), t.hourInShort(h), t.hourInShort(then.Hours[i]))
		}
	}
	sections := t.warnings(now)
	day := capital(t.LongDay(now.Date))
	if trip != "" {
		day += ", " + trip
	}
	sections = append(sections, Section{Head: t.say("beside.head", day, strings.Join(changes, ", ")), Lines: []string{t.say("beside.hours")}, Table: &table})
	sections = append(sections, list(t.say("beside.why"), t.sayAll(then.Reasons))...)
	sections = append(sections, Section{Head: t.say("head.cautions"), Items: []string{t.say("beside.caution")}})
	return t.framed(now.Demo, sections)
}

func (t Teller) times(c models.Call) string {
	leave, back, ok := c.Times()
	if !ok {
		return "-"
	}
	return t.say("range.two", leave, back)
}

func (t Teller) charterActions(c models.Call) string {
	ch, ok := c.Charter.Get()
	if !ok {
		return "-"
	}
	return t.actions(ch)
}

// hourInShort tells an hour's three lanes and what the boat does.
func (t Teller) hourInShort(h models.HourCall) string {
	return strings.Join([]string{t.Word(h.Kite.String()), t.Word(h.Sight.String()), t.Word(h.Ride.String()), t.Word(string(h.Do))}, ", ")
}
