package scoring

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
)

// need is an input and how to tell that an hour has it. draws is what is drawn
// where it lacks.
type need struct {
	what string
	key  string
	has  func(h *models.Hour) bool
	draw outlook.Lack
}

func needs() []need {
	drawn := func(l outlook.Lack, key string) need {
		return need{string(l), key, func(h *models.Hour) bool { return !l.Of(h) }, l}
	}
	return []need{
		{"wind", "missing.wind", func(h *models.Hour) bool { return h.Wind.Known() && h.WindFrom.Known() }, ""},
		drawn(outlook.LackSea, "missing.seas"), drawn(outlook.LackGust, "missing.gusts"), drawn(outlook.LackThunder, "missing.thunder"),
		drawn(outlook.LackVisibility, "missing.visibility"), drawn(outlook.LackCurrent, "missing.current"), drawn(outlook.LackPeriod, "missing.period"),
		drawn(outlook.LackCloud, "missing.cloud"), drawn(outlook.LackRain, "missing.rain"),
		{"inlet stream", "missing.inlet", func(h *models.Hour) bool { return h.InletCurrent.Known() }, ""},
		drawn(outlook.LackSpread, "missing.direction"),
		{"air and water", "missing.temperatures", func(h *models.Hour) bool { return h.Air.Known() && h.Water.Known() }, ""},
	}
}

// missing names what the hours of the trip do not know, and what it costs: how
// many more in a hundred of the courses would agree if it were known to be as it
// usually is.
func (s *site) missing(c *models.Call, v *view, quick bool) []models.Phrase {
	var list []models.Phrase
	told := map[string]bool{}
	tell := func(p models.Phrase, what, why string, with func() float64) {
		told[what] = true
		if why != "" {
			p = models.Say("missing.because", p, models.Word(why))
		}
		if !quick && v.plan.going {
			if cost := 100 * (with() - c.Agreement); cost >= smallCost {
				p = models.Say("missing.costs", p, models.Percent(math.Round(cost)))
			}
		}
		list = append(list, p)
	}
	if !s.o.Warnings.Known() {
		tell(models.Say("missing.warnings"), "warnings", "", func() float64 {
			o := s.o
			o.Warnings = models.Known(s.products)
			q := newSite(o, s.lim)
			q.free, q.suns, q.unbooked, q.behind = s.free, s.suns, s.unbooked, s.behind
			q.worked, q.lifted = s.worked, s.lifted
			return q.agreeing(v, s.lists())
		})
	}
	var in []*models.Hour
	for i := range v.hours {
		if v.hours[i].to > v.trip.start && v.hours[i].from < v.trip.end {
			in = append(in, &v.hours[i].c.Hour)
		}
	}
	why := map[string]string{}
	for _, g := range s.o.Missing {
		if why[g.What] == "" {
			why[g.What] = g.Why
		}
	}
	var small models.Phrase
	for _, n := range needs() {
		lacks := len(in) == 0
		for _, h := range in {
			lacks = lacks || !n.has(h)
		}
		if !lacks {
			continue
		}
		if n.draw == "" && n.what != "wind" || n.draw == outlook.LackSpread {
			told[n.what] = true
			small = joined(small, models.Say(n.key))
			continue
		}
		tell(models.Say(n.key), n.what, why[n.what], func() float64 {
			if n.draw == "" {
				return c.Agreement
			}
			return s.agreeing(v, s.settled(n.draw))
		})
	}
	r := &s.o.Reports
	for _, n := range []struct {
		key   string
		known bool
	}{
		{"missing.edge", r.EdgeInReach.Known()},
		{"missing.water", r.Water.Known()},
		{"missing.season", r.Season.Known()},
		{"missing.showering", r.BaitShowering.Known()},
	} {
		if !n.known {
			small = joined(small, models.Say(n.key))
		}
	}
	for _, g := range s.o.Missing {
		if !told[g.What] {
			told[g.What] = true
			list = append(list, models.Say("missing.source", models.Word(g.What), models.Word(g.Why)))
		}
	}
	if small.Key != "" {
		list = append(list, models.Say("missing.small", small))
	}
	return list
}

// smallCost is the cost, in a hundred courses, from which it is told.
const smallCost = 2

func joined(list, name models.Phrase) models.Phrase {
	if list.Key == "" {
		return name
	}
	return models.Say("missing.and", list, name)
}

// settled are the courses with one input, where the middle one lacks it, known
// to be as it usually is.
func (s *site) settled(l outlook.Lack) [][]models.Hour {
	lists := s.lists()
	out := make([][]models.Hour, len(lists))
	for i, hours := range lists {
		out[i] = append([]models.Hour(nil), hours...)
		for k := range out[i] {
			if k < len(s.o.Middle.Hours) && l.Of(&s.o.Middle.Hours[k]) {
				l.Settle(&out[i][k], s.place())
			}
		}
	}
	return out
}

// agreeing is the share of some courses that agree with the plan of a view.
func (s *site) agreeing(v *view, lists [][]models.Hour) float64 {
	w := *v
	w.courses = s.judgeAll(lists, v.hours)
	a := s.count(&w)
	return float64(min(a.Runs.Courses, a.Hours.Courses, a.Tactic.Courses)) / float64(max(len(w.courses), 1))
}
