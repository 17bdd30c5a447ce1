package words

import (
	"fmt"
	"slices"
	"strings"

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

// load prints one line for each position of the spread with all that goes
// there, and one for each thing that has no position.
func (t Teller) load(p *page, items []models.LoadItem) {
	for i := 0; i < len(items); {
		first := items[i]
		what := []string{counted(first)}
		stows := []string{}
		n := 1
		for ; first.Position != "" && i+n < len(items) && items[i+n].Position == first.Position; n++ {
			what = append(what, counted(items[i+n]))
		}
		for _, x := range items[i : i+n] {
			if x.Stow != "" && !slices.Contains(stows, x.Stow) {
				stows = append(stows, x.Stow)
			}
		}
		i += n
		line := strings.Join(what, "; ")
		if len(stows) > 0 {
			line += " (" + strings.Join(stows, "; ") + ")"
		}
		if first.Position != "" {
			line = first.Position + ": " + line
		}
		pieces := strings.Split(wrap(line, width-6), "\n")
		p.line("  [ ] %s", pieces[0])
		for _, l := range pieces[1:] {
			p.line("      %s", l)
		}
	}
}

func counted(i models.LoadItem) string {
	if i.Count <= 1 {
		return i.What
	}
	return fmt.Sprintf("%d x %s", i.Count, i.What)
}
