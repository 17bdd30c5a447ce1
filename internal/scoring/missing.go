package scoring

import (
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// need is an input, what its lack costs in confidence, and how to tell that
// an hour has it. What cannot be told without it decides the cost: our
// assumption.
type need struct {
	what string
	key  string
	cost float64
	has  func(h *models.Hour) bool
	// harmless puts in a value that does no harm, where there is one.
	harmless func(h *models.Hour)
}

func needs() []need {
	return []need{
		{"wind", "missing.wind", 0.6, func(h *models.Hour) bool { return h.Wind.Known() && h.WindFrom.Known() }, nil},
		{"seas", "missing.seas", 0.6, func(h *models.Hour) bool { return h.Sea.Known() }, func(h *models.Hour) { h.Sea, h.Period = models.Known(2*units.Foot), models.Known(9.0) }},
		{"gusts", "missing.gusts", 0.2, func(h *models.Hour) bool { return h.Gust.Known() }, func(h *models.Hour) { h.Gust = models.Known(h.Wind.Or(0) + 2*units.Knot) }},
		{"thunder", "missing.thunder", 0.2, func(h *models.Hour) bool { return h.Thunder.Known() }, func(h *models.Hour) { h.Thunder = models.Known(0.0) }},
		{"visibility", "missing.visibility", 0.15, func(h *models.Hour) bool { return h.Visibility.Known() }, func(h *models.Hour) { h.Visibility = models.Known(10 * units.NauticalMile) }},
		{"current", "missing.current", 0.15, func(h *models.Hour) bool { return h.Current.Known() && h.CurrentToward.Known() }, nil},
		{"wave period", "missing.period", 0.1, func(h *models.Hour) bool { return h.Period.Known() }, func(h *models.Hour) { h.Period = models.Known(9.0) }},
		{"cloud", "missing.cloud", 0.1, func(h *models.Hour) bool { return h.Cloud.Known() }, func(h *models.Hour) { h.Cloud = models.Known(0.0) }},
		{"rain", "missing.rain", 0.05, func(h *models.Hour) bool { return h.Rain.Known() }, func(h *models.Hour) { h.Rain = models.Known(0.0) }},
		{"inlet stream", "missing.inlet", 0.02, func(h *models.Hour) bool { return h.InletCurrent.Known() }, nil},
		{"wind spread", "missing.direction", 0.01, func(h *models.Hour) bool { return h.DirectionSpread.Known() }, func(h *models.Hour) { h.DirectionSpread = models.Known(0.0) }},
		{"air and water", "missing.temperatures", 0.01, func(h *models.Hour) bool { return h.Air.Known() && h.Water.Known() }, nil},
	}
}

// missing names what the hours of the trip do not know and what it costs:
// what is left of the confidence, 0 to 1.
func (s *site) missing(hours []hour, t trip) (list []models.Phrase, left float64, harmless []need) {
	left = 1
	told := map[string]bool{}
	in := make([]*models.Hour, 0, len(hours))
	for i := range hours {
		if s.minute(hours[i].span.End) > t.start && s.minute(hours[i].span.Start) < t.end {
			in = append(in, &hours[i].c.Hour)
		}
	}
	if !s.o.Warnings.Known() {
		list = append(list, models.Say("missing.warnings", models.Percent(100*warningsCost)))
		left *= 1 - warningsCost
		told["warnings"] = true
	}
	var small smallLacks
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
		if n.harmless != nil {
			harmless = append(harmless, n)
		}
		p := models.Say(n.key)
		if w := why[n.what]; w != "" {
			p = models.Say("missing.because", p, models.Word(w))
		}
		if cost := n.cost * share; cost > smallCost {
			list = append(list, models.Say("missing.costs", p, models.Percent(100*cost)))
		} else {
			small.add(p, cost)
		}
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
			small.add(models.Say(n.key), reportCost)
		}
	}
	for _, g := range s.o.Missing {
		if !told[g.What] {
			told[g.What] = true
			left *= 1 - sourceCost
			list = append(list, models.Say("missing.source", models.Word(g.What), models.Word(g.Why)))
		}
	}
	return append(list, small.told()...), left, harmless
}

// smallCost is the cost up to which what is missing is told in one line with
// its like.
const smallCost = 0.02

// smallLacks are the lacks that cost little.
type smallLacks struct {
	names models.Phrase
	left  float64
}

func (l *smallLacks) add(name models.Phrase, cost float64) {
	if l.names.Key == "" {
		l.names, l.left = name, 1-cost
		return
	}
	l.names, l.left = models.Say("missing.and", l.names, name), l.left*(1-cost)
}

// told is one line for all of them.
func (l *smallLacks) told() []models.Phrase {
	if l.names.Key == "" {
		return nil
	}
	return []models.Phrase{models.Say("missing.small", l.names, models.Percent(100*(1-l.left)))}
}

// warningsCost is what not knowing the official warnings costs.
const warningsCost = 0.2

// sourceCost is what a source that failed costs beside the values it had: its
// view of what could happen is gone, and the others agree the more easily.
const sourceCost = 0.05

// reportCost is what one unknown report costs in confidence.
const reportCost = 0.02

// mostGroups is the number of unknown inputs up to which every group of them
// is supposed known; above it each alone and all together.
const mostGroups = 4

// groups are the groups of unknown inputs that are supposed known.
func groups(lacks []need) [][]need {
	var out [][]need
	if len(lacks) <= mostGroups {
		for set := 1; set < 1<<len(lacks); set++ {
			var g []need
			for i := range lacks {
				if set>>i&1 == 1 {
					g = append(g, lacks[i])
				}
			}
			out = append(out, g)
		}
		return out
	}
	for i := range lacks {
		out = append(out, lacks[i:i+1])
	}
	return append(out, lacks)
}

// supposed is the outlook with harmless values where some inputs are unknown.
func supposed(o models.Outlook, lacks []need) models.Outlook {
	change := Change{apply: func(h *models.Hour) {
		for _, n := range lacks {
			if !n.has(h) {
				n.harmless(h)
			}
		}
	}}
	return WhatIf(o, change)
}
