package words

import (
	"fmt"
	"strconv"
	"strings"

	"forecastd/internal/models"
)

// Explain tells every factor of every hour: what was looked at, what it was
// worth from 0 to 1, and what that means.
func (t Teller) Explain(c models.Call) string {
	var p page
	if len(c.Stops) > 0 {
		p.text("", t.say("explain.stops", c.Members))
		for _, s := range c.Stops {
			numbers := make([]string, len(s.Courses))
			for i, n := range s.Courses {
				numbers[i] = strconv.Itoa(n)
			}
			p.text("  ", t.say("stops.numbers", s.By, s.From, strings.Join(numbers, ", ")))
		}
		p.text("", "")
	}
	p.text("", t.say("explain.head"))
	for _, h := range c.Hours {
		p.text("  ", t.Time(h.At)+"  "+t.say("explain.hour", models.Word(h.Kite.String()), models.Word(h.Sight.String()), models.Word(h.Ride.String()), models.Word(h.Do)))
		for _, lane := range []string{"kite", "sight", "fish", "ride"} {
			for _, f := range h.Factors[lane] {
				p.text("      ", t.say("explain.factor", t.say("column."+lane), models.Word(f.Name), f.Input, fmt.Sprintf("%.2f", f.Value), f.Phrase))
			}
		}
	}
	return strings.TrimLeft(p.String(), "\n")
}
