package scoring

import "forecastd/internal/models"

// need is an input, what its lack costs in confidence, and how to tell that
// an hour has it. What cannot be told without it decides the cost: our
// assumption.
type need struct {
	what string
	key  string
	cost float64
	has  func(h *models.Hour) bool
}

func needs() []need {
	return []need{
		{"wind", "missing.wind", 0.6, func(h *models.Hour) bool { return h.Wind.Known() && h.WindFrom.Known() }},
		{"seas", "missing.seas", 0.6, func(h *models.Hour) bool { return h.Sea.Known() }},
		{"gusts", "missing.gusts", 0.2, func(h *models.Hour) bool { return h.Gust.Known() }},
		{"thunder", "missing.thunder", 0.2, func(h *models.Hour) bool { return h.Thunder.Known() }},
		{"visibility", "missing.visibility", 0.15, func(h *models.Hour) bool { return h.Visibility.Known() }},
		{"current", "missing.current", 0.15, func(h *models.Hour) bool { return h.Current.Known() && h.CurrentToward.Known() }},
		{"wave period", "missing.period", 0.1, func(h *models.Hour) bool { return !h.Sea.Known() || h.Period.Known() }},
		{"cloud", "missing.cloud", 0.1, func(h *models.Hour) bool { return h.Cloud.Known() }},
		{"rain", "missing.rain", 0.05, func(h *models.Hour) bool { return h.Rain.Known() }},
		{"inlet stream", "missing.inlet", 0.02, func(h *models.Hour) bool { return h.InletCurrent.Known() }},
		{"wind spread", "missing.direction", 0.01, func(h *models.Hour) bool { return h.DirectionSpread.Known() }},
		{"air and water", "missing.temperatures", 0.01, func(h *models.Hour) bool { return h.Air.Known() && h.Water.Known() }},
	}
}

// missing names what the hours of the trip do not know and what it costs:
// what is left of the confidence, 0 to 1.
func (s *site) missing(hours []hour, t trip) (list []models.Phrase, left float64) {
	left = 1
	told := map[string]bool{}
	in := make([]*models.Hour, 0, len(hours))
	for i := range hours {
		if s.minute(hours[i].span.End) > t.start && s.minute(hours[i].span.Start) < t.end {
			in = append(in, &hours[i].c.Hour)
		}
	}
	if !s.o.Warnings.Known() {
		list = append(list, models.Say("missing.warnings"))
		left *= 1 - 0.2
		told["warnings"] = true
	}
	why := map[string]string{}
	for _, g := range s.o.Missing {
		if why[g.What] == "" {
			why[g.What] = g.Why
		}
	}
	for _, n := range needs() {
		lack := 0
		for _, h := range in {
			if !n.has(h) {
				lack++
			}
		}
		if lack == 0 && len(in) > 0 {
			continue
		}
		share := 1.0
		if len(in) > 0 {
			share = float64(lack) / float64(len(in))
		}
		left *= 1 - n.cost*share
		told[n.what] = true
		p := models.Say(n.key, models.Percent(100*n.cost*share))
		if w := why[n.what]; w != "" {
			p = models.Say("missing.because", p, w)
		}
		list = append(list, p)
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
			left *= 1 - reportCost
			list = append(list, models.Say(n.key, models.Percent(100*reportCost)))
		}
	}
	for _, g := range s.o.Missing {
		if !told[g.What] {
			told[g.What] = true
			left *= 1 - reportCost
			list = append(list, models.Say("missing.source", g.What, g.Why))
		}
	}
	return list, left
}

// reportCost is what one unknown report costs in confidence.
const reportCost = 0.02
