package words

import (
	"fmt"

	"forecastd/internal/models"
)

// Explain tells every factor of every hour: what was looked at, what it was
// worth from 0 to 1, and what that means.
func (t Teller) Explain(c models.Call) string {
	var p page
	p.head("Every factor of every hour (worth from 0 to 1)")
	for _, h := range c.Hours {
		p.line("  %s  kite %s, sight %s, ride %s; do: %s", t.Time(h.At), h.Kite, h.Sight, h.Ride, h.Do)
		for _, lane := range []string{"kite", "sight", "ride"} {
			for _, f := range h.Factors[lane] {
				p.text("      ", fmt.Sprintf("%s: %s: %s, worth %.2f: %s", lane, f.Name, t.Say(f.Input), f.Value, t.Say(f.Phrase)))
			}
		}
	}
	return p.String()
}
