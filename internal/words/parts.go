package words

import (
	"strings"
	"time"

	"forecastd/internal/models"
)

// Part is a part of what is told of a call.
type Part string

// Parts, in the order in which they are told: official warnings first.
const (
	PartWarnings    Part = "warnings"
	PartVerdict     Part = "verdict"
	PartHours       Part = "hours"
	PartReasons     Part = "reasons"
	PartStops       Part = "stops"
	PartWouldChange Part = "would change"
	PartMissing     Part = "missing"
	PartChanged     Part = "changed"
	PartOverrides   Part = "overrides"
	PartFishing     Part = "fishing"
	PartDrift       Part = "drift"
	PartSpread      Part = "spread"
	PartLoad        Part = "load"
	PartCharter     Part = "charter"
	PartBait        Part = "bait"
	PartWater       Part = "water" // sun, tide and inlet
	PartOfficial    Part = "official"
	PartStations    Part = "stations"
	PartSources     Part = "sources"
	PartCautions    Part = "cautions"
)

func opening() []Part { return []Part{PartWarnings, PartVerdict} }

func afterOpening() []Part {
	return []Part{
		PartHours, PartReasons, PartStops, PartWouldChange, PartMissing, PartChanged, PartOverrides, PartFishing, PartDrift, PartSpread,
		PartLoad, PartCharter, PartBait, PartWater, PartOfficial, PartStations, PartSources, PartCautions,
	}
}

// Part tells a part of a call; empty where there is nothing to tell. now is
// when it is read, for the ages of what went in.
func (t Teller) Part(p Part, c models.Call, now time.Time) []Section {
	switch p {
	case PartWarnings:
		return t.warnings(c)
	case PartVerdict:
		return t.verdict(c)
	case PartHours:
		return t.hours(c)
	case PartReasons:
		return list(t.say("head.reasons"), t.sayAll(c.Reasons))
	case PartStops:
		return t.stops(c)
	case PartWouldChange:
		return list(t.say("head.would_change"), t.sayAll(c.WouldChange))
	case PartMissing:
		return list(t.say("head.missing"), t.sayAll(c.Missing))
	case PartChanged:
		return list(t.say("head.changed"), t.sayAll(c.Changed))
	case PartOverrides:
		return t.overrides(c)
	case PartFishing:
		return t.fishing(c)
	case PartDrift:
		return t.drift(c)
	case PartSpread:
		return t.spread(c)
	case PartLoad:
		return t.load(c)
	case PartCharter:
		return t.charter(c, now)
	case PartBait:
		return list(t.say("head.bait"), t.sayAll(c.Bait.Or(models.BaitPlan{}).Notes))
	case PartWater:
		return t.water(c)
	case PartOfficial:
		return t.official(c)
	case PartStations:
		return t.observed(c, now)
	case PartSources:
		return t.sources(c, now)
	case PartCautions:
		cautions := t.sayAll(c.Cautions)
		if unread := t.catalogue.Unread; unread != "" {
			cautions = append(cautions, unread)
		}
		return list(t.say("head.cautions"), cautions)
	}
	return nil
}

func (t Teller) parts(ps []Part, c models.Call, now time.Time) []Section {
	var out []Section
	for _, p := range ps {
		out = append(out, t.Part(p, c, now)...)
	}
	return out
}

// Text tells a call for the terminal and the plain part of the e-mail: every
// part in its order.
func (t Teller) Text(c models.Call, now time.Time) string { return t.Letter(c, now) }

// Letter tells a call as Text does, for a message: sections of the sender
// stand after the official warnings and the verdict, before all else.
func (t Teller) Letter(c models.Call, now time.Time, lead ...Section) string {
	sections := t.parts(opening(), c, now)
	sections = append(sections, lead...)
	sections = append(sections, t.parts(afterOpening(), c, now)...)
	return t.framed(c.Demo, sections)
}

// framed sets sections with the demo's notice above and below.
func (t Teller) framed(demo bool, sections []Section) string {
	var p page
	notice := t.demoNotice(demo)
	if demo {
		p.line("%s", notice)
	}
	p.sections(sections...)
	if demo {
		p.gap()
		p.line("%s", notice)
	}
	return p.String()
}

// Note tells sections without a call to a reader.
func Note(r Reader, demo bool, sections ...Section) string {
	var p page
	if demo {
		p.line("%s", DemoNoticeIn(r.Language))
	}
	p.sections(sections...)
	return p.String()
}

func (t Teller) sayAll(ps []models.Phrase) []string {
	var out []string
	for _, p := range ps {
		out = append(out, t.Say(p))
	}
	return out
}

// Message is the draft for the guests.
func (t Teller) Message(ch models.CharterCall) string { return strings.Join(t.sayAll(ch.Message), " ") }
