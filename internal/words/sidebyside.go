package words

import (
	"fmt"
	"strings"

	"forecastd/internal/models"
)

// SideBySide tells a call and what it would be if some things were otherwise.
// The official warnings of the call as it stands are told with it.
func (t Teller) SideBySide(now, then models.Call, changes []string) string {
	var p page
	if now.Demo {
		p.line(DemoNotice)
		p.gap()
	}
	t.warnings(&p, now)
	p.head(fmt.Sprintf("%s: what if %s", t.longDay(now.Date), strings.Join(changes, ", ")))
	row := func(what, a, b string) {
		mark := " "
		if a != b {
			mark = "*"
		}
		p.line("%s %-12s %-31s %s", mark, what, a, b)
	}
	row("", "as forecast", "if so")
	row("call", string(now.Tactic), string(then.Tactic))
	row("times", t.times(now), t.times(then))
	row("sureness", string(now.Confidence), string(then.Confidence))
	row("charter", actions(now), actions(then))
	for i, h := range now.Hours {
		if i < len(then.Hours) {
			row(h.At.In(t.zone).Format("15:04"), hourInShort(h), hourInShort(then.Hours[i]))
		}
	}
	p.list("Why, if so", t.sayAll(then.Reasons))
	p.list("Cautions", []string{"a what-if changes no forecast and no warning: official warnings rule as they stand"})
	return p.String()
}

func (t Teller) times(c models.Call) string {
	leave, ok := c.Leave.Get()
	back, ok2 := c.Back.Get()
	if !ok || !ok2 {
		return "-"
	}
	return t.Time(leave) + " to " + t.Time(back)
}

func actions(c models.Call) string {
	ch, ok := c.Charter.Get()
	if !ok {
		return "-"
	}
	var list []string
	for _, a := range ch.Actions {
		list = append(list, string(a))
	}
	return strings.Join(list, ", ")
}

func hourInShort(h models.HourCall) string {
	return fmt.Sprintf("%-5s%-5s%-6s%s", h.Kite, h.Sight, h.Ride, h.Do)
}
