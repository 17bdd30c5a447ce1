package scoring

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"forecastd/internal/models"
)

// cause is why an hour is closed, the gravest first.
type cause int

const (
	byNobody cause = iota
	byAdvisory
	byWatch
	byThunder
	byInlet
	byFog
	byNever
	byOwn
	byRide
	byNoData
)

// closing is a span of time in which nobody fishes, in minutes of the day.
type closing struct {
	from, to int
	margin   int // minutes before from that the boat is back inside
	wait     int // minutes after to before the boat leaves
	cause    cause
	// bars tells that nobody leaves ahead of it either: it comes on within
	// the booked trip.
	bars bool
	why  models.Phrase
}

// passable tells whether a fixed-date event without passengers for hire may
// go all the same, if its captain says so.
func (c closing) passable() bool {
	switch c.cause {
	case byAdvisory, byNever, byOwn, byRide:
		return true
	case byNobody, byWatch, byThunder, byInlet, byFog, byNoData:
	}
	return false
}

// lifted is what the captain has overridden, with a reason.
type lifted map[cause]bool

// Names that an override may give; their first words tell them apart, in any
// wording that holds them.
const (
	OverrideAdvisory   = "small craft advisory"
	OverrideOwn        = "own limit"
	OverrideNever      = "never limit"
	OverrideRide       = "ride"
	OverrideInlet      = "inlet"
	OverrideVisibility = "visibility"
)

// liftedBy reads the overrides. Products under which nobody goes, watches and
// thunder are not the captain's to lift. An override without a reason lifts
// nothing. The own limits count as a small craft advisory: an override of one
// lifts them too.
func liftedBy(list []models.Override) lifted {
	l := lifted{}
	for _, o := range list {
		if strings.TrimSpace(o.Why) == "" {
			continue
		}
		for _, c := range overridden(o.What) {
			l[c] = true
		}
	}
	return l
}

func overridden(what string) []cause {
	words := strings.FieldsFunc(strings.ToLower(what), func(r rune) bool { return !unicode.IsLetter(r) })
	has := func(word string) bool { return slices.Contains(words, word) }
	switch {
	case has("small") && has("craft"):
		return []cause{byOwn} // and the product itself, see liftsProduct
	case has("own"):
		return []cause{byOwn}
	case has("never"):
		return []cause{byNever}
	case has("ride"):
		return []cause{byRide}
	case has("inlet"):
		return []cause{byInlet}
	case has("visibility"), has("fog"):
		return []cause{byFog}
	}
	return nil
}

// liftsProduct tells whether the captain has overridden an advisory, by its
// name: one override does not lift every product that counts as one.
func (s *site) liftsProduct(w models.Warning) bool {
	return slices.ContainsFunc(s.o.Overrides, func(o models.Override) bool {
		return strings.TrimSpace(o.Why) != "" && names(o.What, w)
	})
}

// names tells whether a text names a product.
func names(what string, w models.Warning) bool {
	text, event := strings.ToLower(what), strings.ToLower(w.Event)
	if event != "" && strings.Contains(text, event) {
		return true
	}
	phen, _ := w.Codes()
	return strings.Contains(text, OverrideAdvisory) &&
		(strings.HasPrefix(event, OverrideAdvisory) || slices.Contains([]string{"SC", "SW", "SI", "RB"}, phen))
}

const farFuture = 1 << 20 // minutes

// String is the cause's key.
func (c cause) String() string {
	return [...]string{"nobody", "advisory", "watch", "thunder", "inlet", "fog", "never", "own", "ride", "no_data"}[c]
}

// official returns what the official products in force or coming close.
func (s *site) official() []closing {
	var out []closing
	margin := int(s.lim.OfficialMargin / time.Minute)
	for _, w := range s.products {
		if cancelled(w) {
			continue
		}
		c := closing{from: s.minute(w.Onset), to: farFuture, margin: margin, why: models.Say("closed.product", models.Word(w.Event))}
		if end, ok := w.Ends.Get(); ok {
			// To the end of the hour in which it ends, which stays closed.
			c.to = s.minute(end.Add(time.Hour - 1).Truncate(time.Hour))
		}
		switch w.Rule() {
		case models.ProductNobody:
			// Nobody takes guests out to be back before a gale; a special
			// marine warning is short and local.
			c.cause, c.bars = byNobody, c.from < s.clock(s.o.Trip.End) && !specialMarine(w)
		case models.ProductAdvisory:
			c.cause = byAdvisory
		case models.ProductWatch:
			c.cause = byWatch
		case models.ProductShown, models.ProductFog:
			continue
		default:
			c.cause = byNobody // of a product that nobody has judged
		}
		if c.to > 0 && !(c.cause == byAdvisory && s.liftsProduct(w)) {
			out = append(out, c)
		}
	}
	return out
}

// fogged tells whether a dense fog product is in force during the hour.
func (s *site) fogged(h *hour) bool {
	for i := range s.fogs {
		if s.fogs[i].During(h.span) {
			return true
		}
	}
	return false
}

// closes tells whether a cause closes an hour; told asks for the words too.
func (s *site) closes(by cause, h *hour, told bool) (why models.Phrase, closed bool) {
	say := func(key string, args ...any) (models.Phrase, bool) {
		if !told {
			return models.Phrase{}, true
		}
		return models.Say(key, args...), true
	}
	lim, c := &s.lim, &h.c
	switch by {
	case byThunder:
		if p, ok := c.Thunder.Get(); ok && atLeast(p, lim.ThunderStop) {
			return say("closed.thunder", models.Percent(p))
		}
	case byInlet:
		return s.inletCloses(h, say)
	case byFog:
		vis, ok := c.Visibility.Get()
		switch {
		case ok && vis < lim.FogStay:
			return say("closed.fog_stay", vis)
		case ok && vis < lim.FogWait:
			return say("closed.fog_wait", vis)
		case s.fogged(h):
			return say("closed.fog_product")
		}
	case byOwn:
		if w, ok := c.Wind.Get(); ok && atLeast(w, lim.OwnWind) {
			return say("closed.own_wind", w, lim.OwnWind)
		}
		if g, ok := c.Gust.Get(); ok && atLeast(g, lim.OwnGust) {
			return say("closed.own_gust", g, lim.OwnGust)
		}
		if sea, ok := c.LocalSea.Get(); ok && atLeast(sea, lim.OwnSea) {
			return say("closed.own_sea", sea, lim.OwnSea)
		}
	case byRide:
		if h.ride == models.RideNo {
			if t, ok := c.Period.Get(); ok {
				return say("closed.ride", c.LocalSea.Or(0), models.Seconds(t))
			}
			return say("closed.ride_no_period", c.LocalSea.Or(0))
		}
	case byNoData:
		if !c.Wind.Known() {
			return say("closed.no_wind_forecast")
		}
		// Neither the sea nor what is officially said of it: an hour in it is
		// not known to keep any limit (trade.md 8.3, rule 13).
		if !c.Sea.Known() && !s.o.Warnings.Known() {
			return say("closed.no_sea_no_warnings")
		}
	case byNobody, byAdvisory, byWatch: // by products, not by the hour
	case byNever: // by the courses together
	default:
		panic(fmt.Sprintf("scoring: nobody has said when cause %d closes an hour", by))
	}
	return why, false
}

// inletCloses judges the sea in the mouth.
func (s *site) inletCloses(h *hour, say func(string, ...any) (models.Phrase, bool)) (models.Phrase, bool) {
	lim, c := &s.lim, &h.c
	sea, ok := c.InletSea.Get() // an unknown sea shuts nothing: it is missing
	stream, okStream := c.InletCurrent.Get()
	steep, _ := c.InletSteepness.Get()
	switch {
	case !ok:
	case atLeast(sea, lim.InletStay):
		return say("closed.inlet_sea", sea)
	case atLeast(sea, lim.InletSteepFrom) && atLeast(steep, lim.InletSteep):
		return say("closed.inlet_steep", sea)
	case !okStream && atLeast(sea, lim.InletUnknown):
		return say("closed.inlet_unknown_ebb", sea)
	case okStream && stream < 0 && atLeast(sea, lim.InletWait):
		return say("closed.inlet_ebb", sea)
	}
	if from, ok := s.o.Reports.InletHazardFrom.Get(); ok && h.to > s.clock(from) {
		return say("closed.inlet_reported")
	}
	return models.Phrase{}, false
}

// never tells whether an hour reaches one of the limits that no charter goes
// out in.
func (s *site) never(h *hour) bool {
	lim, c := &s.lim, &h.c
	w, okW := c.Wind.Get()
	g, okG := c.Gust.Get()
	sea, okS := c.LocalSea.Get()
	return okW && atLeast(w, lim.NeverWind) || okG && atLeast(g, lim.NeverGust) || okS && atLeast(sea, lim.NeverSea)
}

// limit is the minute by which a boat that leaves at a minute must be back
// inside; ok is false where it may not leave at all.
func limit(leave int, closings []closing, soft bool) (back int, ok bool) {
	back = farFuture
	for i := range closings {
		c := &closings[i]
		if soft && c.passable() || c.to+c.wait <= leave {
			continue
		}
		if c.from <= leave || c.bars {
			return 0, false
		}
		back = min(back, c.from-c.margin)
	}
	return back, back > leave
}

// closedAt returns the gravest closing that holds in any part of an hour.
func closedAt(from, to int, closings []closing) (closing, bool) {
	var worst closing
	found := false
	for _, c := range closings {
		if c.from < to && from < c.to && (!found || c.cause < worst.cause) {
			worst, found = c, true
		}
	}
	return worst, found
}

func neverPhrase(past, of int) models.Phrase {
	if of == 1 {
		return models.Say("closed.never")
	}
	return models.Say("closed.never_members", past, of)
}
