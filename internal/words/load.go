package words

import (
	"fmt"

	"forecastd/internal/models"
)

// LoadList tells what goes aboard tonight, to tick off by hand.
func (t Teller) LoadList(c models.Call) string {
	var p page
	if c.Demo {
		p.line(DemoNotice)
		p.gap()
	}
	p.head(fmt.Sprintf("Load list for %s: %s", t.longDay(c.Date), t.Verdict(c)))
	if len(c.Load) == 0 {
		p.text("  ", "Nothing to load: the boat stays in.")
	}
	t.load(&p, c.Load)
	p.list("Cautions", []string{"helium bottle upright and strapped, cap on, valve shut, in the open air", "lifesaving gear is the captain's to check: this list is no substitute for the checks the rules ask for"})
	return p.String()
}

func (t Teller) load(p *page, items []models.LoadItem) {
	for _, i := range items {
		what := fmt.Sprintf("%d x %s", i.Count, i.What)
		if i.Count <= 1 {
			what = i.What
		}
		p.line("  [ ] %-16s %-34s %s", i.Position, what, i.Stow)
	}
}
