package words

import (
	"fmt"
	"strings"

	"forecastd/internal/models"
)

// Days tells the days ahead, one paragraph a day.
func (t Teller) Days(days []models.DayOutlook, demo bool) string {
	var p page
	if demo {
		p.line(DemoNotice)
		p.gap()
	}
	p.head("The days ahead (the farther, the less sure; each day's own call rules)")
	if len(days) == 0 {
		p.text("  ", "No source gives any wind for a day ahead.")
	}
	for _, d := range days {
		what := string(d.Tactic)
		if out, ok := d.Out.Get(); ok {
			what += fmt.Sprintf(", out %s to %s", out.Start.In(t.zone).Format("15:04"), out.End.In(t.zone).Format("15:04"))
		}
		p.line("  %-16s %s, %s (%.0f of 100 courses)", t.shortDay(d.Date), what, d.Confidence, 100*d.Agreement)
		var parts []string
		if w, ok := d.Wind.Get(); ok {
			parts = append(parts, "wind "+t.Speed(w))
		}
		if s, ok := d.Sea.Get(); ok {
			parts = append(parts, "seas to "+t.Length(s))
		} else {
			parts = append(parts, "seas unknown")
		}
		ride := d.BestRide.String()
		if d.WorstRide != d.BestRide {
			ride += " to " + d.WorstRide.String()
		}
		parts = append(parts, "ride "+ride)
		var windows []string
		for _, w := range d.KiteWindows {
			windows = append(windows, w.Start.In(t.zone).Format("15:04")+"-"+w.End.In(t.zone).Format("15:04"))
		}
		if len(windows) > 0 {
			parts = append(parts, "kites fly "+strings.Join(windows, ", "))
		} else {
			parts = append(parts, "no kite window")
		}
		p.text("      ", strings.Join(parts, "; "))
		for _, s := range []string{t.Say(d.Front), t.Say(d.Closed)} {
			if s != "" {
				p.text("      ", s)
			}
		}
	}
	t.bestDays(&p, days)
	p.list("Cautions", []string{"official warnings rule and are issued a day or two ahead at most: a quiet day here is no promise", "the decision is the licensed captain's"})
	if demo {
		p.gap()
		p.line(DemoNotice)
	}
	return p.String()
}

func (t Teller) shortDay(d models.Date) string {
	return fmt.Sprintf("%s %02d %s", d.Weekday().String()[:3], d.Day, d.Month.String()[:3])
}

// bestDays names for each kind of party the days that ride easiest, going.
func (t Teller) bestDays(p *page, days []models.DayOutlook) {
	var lines []string
	for _, party := range []models.Party{models.Experienced, models.Mixed, models.Family} {
		for _, ride := range []models.Ride{models.RideEasy, models.RideOK} {
			var names []string
			for _, d := range days {
				if r, ok := d.Rides[party]; ok && r == ride && d.Tactic != models.TacticStayIn {
					names = append(names, t.shortDay(d.Date))
				}
			}
			if len(names) > 0 {
				lines = append(lines, fmt.Sprintf("%s party, ride %s: %s", party, ride, strings.Join(names, ", ")))
				break
			}
		}
	}
	p.list("Best days", lines)
}
