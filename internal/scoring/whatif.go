package scoring

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
	"forecastd/internal/models/units"
)

// Change is one thing supposed to be otherwise.
type Change struct {
	// Text is how it was written.
	Text  string
	apply func(h *models.Hour)
	shift time.Duration // later
	whole func(o *models.Outlook)
}

// ParseChange reads a change as the captain writes it: "wind +5kn",
// "gust -3kn", "sea +2ft", "thunder +20", "cloud 80", "rain 10",
// "visibility 0.5nmi", "current off", "current turned", "current +1kn",
// "front 3h later", "front 2h earlier", "helium off", "warnings off".
func ParseChange(text string) (Change, error) {
	f := strings.Fields(strings.ToLower(text))
	bad := func() (Change, error) {
		return Change{}, fmt.Errorf("%q is no change: write one like %s", text,
			`"wind +5kn", "sea -1ft", "front 3h later", "current off", "thunder +20", "cloud 80", "visibility 0.5nmi" or "helium off"`)
	}
	if len(f) < 2 {
		return bad()
	}
	c := Change{Text: strings.Join(f, " ")}
	what, rest := f[0], strings.Join(f[1:], "")
	switch {
	case what == "front" && len(f) >= 3:
		d, err := time.ParseDuration(strings.Join(f[1:len(f)-1], ""))
		if err != nil || d < 0 || d > 48*time.Hour {
			return bad()
		}
		switch f[len(f)-1] {
		case "later":
			c.shift = d
		case "earlier":
			c.shift = -d
		default:
			return bad()
		}
		return c, nil
	case what == "helium" && (rest == "off" || rest == "on"):
		c.whole = func(o *models.Outlook) { o.Boat.HeliumAboard = rest == "on" }
		return c, nil
	case what == "warnings" && rest == "off":
		c.whole = func(o *models.Outlook) { o.Warnings = models.Known([]models.Warning{}) }
		return c, nil
	case what == "current" && rest == "off":
		c.apply = func(h *models.Hour) { h.Current = models.Known(units.Speed(0)) }
		return c, nil
	case what == "current" && rest == "turned":
		c.apply = func(h *models.Hour) {
			h.CurrentToward = models.MapOpt(h.CurrentToward, func(t units.Toward) units.Toward { return units.Toward((t + 180).Degrees()) })
		}
		return c, nil
	}
	value, unit, relative, ok := amount(rest)
	if !ok {
		return bad()
	}
	apply, ok := setter(what, value, unit, relative)
	if !ok {
		return bad()
	}
	c.apply = apply
	return c, nil
}

// amount reads "+5kn" or "80": a number with or without a sign and a unit.
func amount(s string) (value float64, unit string, relative, ok bool) {
	i := strings.LastIndexAny(s, "0123456789.") + 1
	value, err := strconv.ParseFloat(s[:i], 64)
	if err != nil || math.IsInf(value, 0) || math.IsNaN(value) || math.Abs(value) > 1000 {
		return 0, "", false, false
	}
	return value, s[i:], s[0] == '+' || s[0] == '-', true
}

// moved is a value set to an amount or moved by it, never below zero.
func moved[T ~float64](v models.Opt[T], by T, relative bool) models.Opt[T] {
	if !relative {
		return models.Known(max(by, 0))
	}
	return models.MapOpt(v, func(x T) T { return max(x+by, 0) })
}

func setter(what string, value float64, unit string, relative bool) (func(h *models.Hour), bool) {
	speed, okSpeed := map[string]units.Speed{"": units.Knot, "kn": units.Knot, "m/s": units.MetrePerSecond}[unit]
	height, okHeight := map[string]units.Length{"": units.Foot, "ft": units.Foot, "m": units.Metre}[unit]
	reach, okReach := map[string]units.Length{"": units.NauticalMile, "nmi": units.NauticalMile, "km": units.Kilometre, "m": units.Metre}[unit]
	percent := unit == "" || unit == "%"
	share := func(v models.Opt[float64]) models.Opt[float64] {
		return models.MapOpt(moved(v, value, relative), func(x float64) float64 { return min(x, 100) })
	}
	switch what {
	case "wind":
		return func(h *models.Hour) { windTo(h, units.Speed(value)*speed, relative) }, okSpeed
	case "gust":
		return func(h *models.Hour) { h.Gust = moved(h.Gust, units.Speed(value)*speed, relative) }, okSpeed
	case "current":
		return func(h *models.Hour) { h.Current = moved(h.Current, units.Speed(value)*speed, relative) }, okSpeed
	case "sea":
		return func(h *models.Hour) { h.Sea = moved(h.Sea, units.Length(value)*height, relative) }, okHeight
	case "period":
		return func(h *models.Hour) { h.Period = moved(h.Period, value, relative) }, unit == "" || unit == "s"
	case "visibility":
		return func(h *models.Hour) { h.Visibility = moved(h.Visibility, units.Length(value)*reach, relative) }, okReach
	case "thunder":
		return func(h *models.Hour) { h.Thunder = share(h.Thunder) }, percent
	case "cloud":
		return func(h *models.Hour) { h.Cloud = share(h.Cloud) }, percent
	case "rain":
		return func(h *models.Hour) { h.Rain = share(h.Rain) }, percent
	}
	return nil, false
}

// windTo moves the wind and the gusts with it, whose excess is a share of it.
func windTo(h *models.Hour, by units.Speed, relative bool) {
	before, ok := h.Wind.Get()
	h.Wind = moved(h.Wind, by, relative)
	after, _ := h.Wind.Get()
	if !ok {
		return
	}
	h.Gust = models.MapOpt(h.Gust, func(g units.Speed) units.Speed {
		excess := max(g-before, 0)
		if before > units.Knot {
			excess *= min(after/before, 2)
		}
		return after + excess
	})
}

// WhatIf returns the outlook with the changes made to every member. It is for
// asking only: a call that is told is never made from it.
func WhatIf(o models.Outlook, changes ...Change) models.Outlook {
	for _, c := range changes {
		if c.whole != nil {
			c.whole(&o)
			continue
		}
		lists := make([][]models.Hour, len(o.Members))
		for i, m := range o.Members {
			lists[i] = m.Hours
		}
		members := make([]models.Member, len(o.Members))
		for i, hours := range c.onCourses(o.Middle.Hours, lists) {
			members[i] = models.Member{Hours: hours}
		}
		o.Middle, o.Members = models.Member{Hours: c.on(o.Middle.Hours)}, members
	}
	return o
}

// onCourses makes the change in courses. A chance is not changed in a course,
// which has none: as many more of them have the thunder or the rain as the
// changed chance says.
func (c Change) onCourses(mid []models.Hour, lists [][]models.Hour) [][]models.Hour {
	out := make([][]models.Hour, len(lists))
	changed, draws := c.on(mid), outlook.DrawsOf(len(lists))
	for i, hours := range lists {
		if hours == nil {
			continue
		}
		out[i] = c.on(hours)
		for k := range min(len(out[i]), len(mid)) {
			if c.shift != 0 || !out[i][k].At.Equal(mid[k].At) {
				continue
			}
			if event(hours[k].Thunder) && changed[k].Thunder != mid[k].Thunder {
				out[i][k].Thunder = draws.Thunders(changed[k].Thunder, i)
			}
			if event(hours[k].Rain) && changed[k].Rain != mid[k].Rain {
				out[i][k].Rain = draws.Rains(changed[k].Rain, i)
			}
		}
	}
	return out
}

// event tells whether a chance is one that a course has: all or nothing.
func event(v models.Opt[float64]) bool {
	p, ok := v.Get()
	return ok && (p == 0 || p == outlook.LightRain || p == outlook.Soaking)
}

// on makes the change in a series.
func (c Change) on(hours []models.Hour) []models.Hour {
	out := make([]models.Hour, len(hours))
	for i, h := range hours {
		if c.shift != 0 {
			stream := h.InletCurrent
			at := h.At
			h = covering(hours, h.At.Add(-c.shift))
			h.At, h.InletCurrent = at, stream // the tide keeps its own time
		}
		if c.apply != nil {
			c.apply(&h)
		}
		out[i] = h
	}
	return out
}

// covering is the hour that holds at a time, the nearest end of the series
// outside it.
func covering(hours []models.Hour, t time.Time) models.Hour {
	best := hours[0]
	for _, h := range hours {
		if h.At.After(t) {
			break
		}
		best = h
	}
	return best
}
