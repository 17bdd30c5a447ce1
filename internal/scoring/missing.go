package scoring

import (
	"slices"

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
	// harmless puts in a value that does no harm, where there is one that
	// could change a call.
	harmless func(h *models.Hour)
	// physics tells that more than the grades hangs on it.
	physics bool
}

func needs() []need {
	return []need{
		{"wind", "missing.wind", 0.6, func(h *models.Hour) bool { return h.Wind.Known() && h.WindFrom.Known() }, nil, false},
		{"seas", "missing.seas", 0.6, func(h *models.Hour) bool { return h.Sea.Known() }, func(h *models.Hour) { h.Sea = models.Known(units.Foot) }, true},
		{"gusts", "missing.gusts", 0.2, func(h *models.Hour) bool { return h.Gust.Known() }, func(h *models.Hour) { h.Gust = models.Known(h.Wind.Or(0) + 2*units.Knot) }, true},
		{"thunder", "missing.thunder", 0.2, func(h *models.Hour) bool { return h.Thunder.Known() }, func(h *models.Hour) { h.Thunder = models.Known(0.0) }, false},
		{"visibility", "missing.visibility", 0.15, func(h *models.Hour) bool { return h.Visibility.Known() }, nil, false},
		{"current", "missing.current", 0.15, func(h *models.Hour) bool { return h.Current.Known() && h.CurrentToward.Known() }, nil, false},
		{"wave period", "missing.period", 0.1, func(h *models.Hour) bool { return h.Period.Known() }, func(h *models.Hour) { h.Period = models.Known(9.0) }, true},
		{"cloud", "missing.cloud", 0.1, func(h *models.Hour) bool { return h.Cloud.Known() }, func(h *models.Hour) { h.Cloud = models.Known(0.0) }, false},
		{"rain", "missing.rain", 0.05, func(h *models.Hour) bool { return h.Rain.Known() }, func(h *models.Hour) { h.Rain = models.Known(0.0) }, false},
		{"inlet stream", "missing.inlet", 0.02, func(h *models.Hour) bool { return h.InletCurrent.Known() }, nil, false},
		{"wind spread", "missing.direction", 0.01, func(h *models.Hour) bool { return h.DirectionSpread.Known() }, func(h *models.Hour) { h.DirectionSpread = models.Known(0.0) }, false},
		{"air and water", "missing.temperatures", 0.01, func(h *models.Hour) bool { return h.Air.Known() && h.Water.Known() }, nil, false},
	}
}

// missing names what the hours of the trip do not know and what it costs:
// what is left of the confidence, 0 to 1.
func (s *site) missing(hours []hour, t trip) (list []models.Phrase, left float64, harmless []need) {
	left = 1
	told := map[string]bool{}
	in := make([]*models.Hour, 0, len(hours))
	for i := range hours {
		if hours[i].to > t.start && hours[i].from < t.end {
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

// knowing is the least agreement of all the calls that could be made if some
// of the unknown inputs were known and harmless, the official warnings too:
// not knowing never makes the call surer than harmless news would.
//
// Every group of them is supposed known. Anything less is not monotone: what
// one more input's lack may count is bounded by the groups of the others, so
// that by induction all groups are needed.
func (s *site) knowing(agreement float64, lacks []need) float64 {
	var physics, grades []need
	for _, n := range lacks {
		if n.physics {
			physics = append(physics, n)
		} else {
			grades = append(grades, n)
		}
	}
	bases := []models.Outlook{s.o}
	if !s.o.Warnings.Known() && s.anySeaUnknown() { // else warnings that are none change nothing: see byNoData
		quiet := s.o
		quiet.Warnings = models.Known([]models.Warning{})
		bases = append(bases, quiet)
	}
	var y view
	for i, base := range bases {
		for in := range 1 << len(physics) {
			w := newSite(supposed(base, group(physics, in)), s.lim)
			w.free, w.suns = s.free, s.suns
			x := w.view(false)
			for also := range 1 << len(grades) {
				if i == 0 && in == 0 && also == 0 {
					continue // the call itself
				}
				w.suppose(&y, x, group(grades, also))
				agreement = w.agreement(&y.plan, y.trip, y.members, agreement)
				if agreement == 0 {
					return 0
				}
			}
		}
	}
	return agreement
}

// anySeaUnknown tells whether an hour of the outlook lacks its sea.
func (s *site) anySeaUnknown() bool {
	lacks := func(hours []models.Hour) bool {
		return slices.ContainsFunc(hours, func(h models.Hour) bool { return !h.Sea.Known() })
	}
	return lacks(s.o.Middle.Hours) || slices.ContainsFunc(s.o.Members, func(m models.Member) bool { return lacks(m.Hours) })
}

// group is the subset of the lacks that a number's bits name.
func group(lacks []need, bits int) []need {
	var out []need
	for i := range lacks {
		if bits>>i&1 == 1 {
			out = append(out, lacks[i])
		}
	}
	return out
}

// suppose makes y the view x with harmless values for unknown inputs that
// only the grades look at, so that the physics stands.
func (s *site) suppose(y, x *view, lacks []need) {
	know := func(into, hours []hour) []hour {
		into = append(into[:0], hours...)
		for i := range into {
			h := &into[i]
			for _, n := range lacks {
				if !n.has(&h.c.Hour) {
					n.harmless(&h.c.Hour)
				}
			}
			s.judge(h)
		}
		return into
	}
	if len(y.members) != len(x.members) {
		y.members = make([][]hour, len(x.members))
	}
	*y = view{trip: x.trip, hours: know(y.hours, x.hours), members: y.members}
	for i, m := range x.members {
		y.members[i] = know(y.members[i], m)
	}
	y.never = y.members
	if len(s.o.Members) == 0 {
		y.never = [][]hour{y.hours}
	}
	s.close(y)
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
