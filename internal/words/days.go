package words

import (
	"math"
	"strings"

	"forecastd/internal/models"
)

// Days tells the days ahead, one section a day.
func (t Teller) Days(days []models.DayOutlook, demo bool) string {
	first := Section{Head: t.say("ahead.head")}
	if len(days) == 0 {
		first.Lines = []string{t.say("ahead.none")}
	}
	sections := []Section{first}
	for _, d := range days {
		sections = append(sections, t.dayAhead(d))
	}
	sections = append(sections, t.BestDays(days)...)
	sections = append(sections, Section{Head: t.say("head.cautions"), Items: []string{t.say("ahead.caution"), t.say("caution.captain")}})
	return t.framed(demo, sections)
}

func (t Teller) dayAhead(d models.DayOutlook) Section {
	what := t.Word(string(d.Tactic))
	if out, ok := d.Out.Get(); ok {
		what += ", " + t.say("ahead.out", t.clock(out.Start), t.clock(out.End))
	}
	s := Section{Head: t.say("ahead.day", capital(t.ShortDay(d.Date)), what, models.Word(d.Confidence), math.Round(100*d.Agreement))}
	var parts []string
	if w, ok := d.Wind.Get(); ok {
		parts = append(parts, t.say("stations.wind", w))
	}
	if sea, ok := d.Sea.Get(); ok {
		parts = append(parts, t.say("ahead.seas", sea))
	} else {
		parts = append(parts, t.say("ahead.seas_unknown"))
	}
	ride := t.Word(d.BestRide.String())
	if d.WorstRide != d.BestRide {
		ride = t.say("range.two", ride, models.Word(d.WorstRide.String()))
	}
	parts = append(parts, t.say("ahead.ride", ride))
	var windows []string
	for _, w := range d.KiteWindows {
		windows = append(windows, t.clock(w.Start)+"-"+t.clock(w.End))
	}
	if len(windows) > 0 {
		parts = append(parts, t.say("ahead.kites", strings.Join(windows, ", ")))
	} else {
		parts = append(parts, t.say("ahead.no_kites"))
	}
	s.Lines = []string{strings.Join(parts, "; ")}
	for _, p := range []string{t.Say(d.Front), t.Say(d.Closed)} {
		if p != "" {
			s.Lines = append(s.Lines, p)
		}
	}
	return s
}

// BestDays names for each kind of party the days that ride easiest, going; empty
// where none does.
func (t Teller) BestDays(days []models.DayOutlook) []Section {
	var lines []string
	for _, party := range []models.Party{models.Experienced, models.Mixed, models.Family} {
		for _, ride := range []models.Ride{models.RideEasy, models.RideOK} {
			var names []string
			for _, d := range days {
				if r, ok := d.Rides[party]; ok && r == ride && d.Tactic != models.TacticStayIn {
					names = append(names, t.ShortDay(d.Date))
				}
			}
			if len(names) > 0 {
				lines = append(lines, t.say("ahead.best", models.Word(party), models.Word(ride.String()), strings.Join(names, ", ")))
				break
			}
		}
	}
	return list(t.say("ahead.best_head"), lines)
}
