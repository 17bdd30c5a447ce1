package words

import (
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"forecastd/internal/models"
)

// Trip is one of the trips of a day.
type Trip struct {
	// Guests is how they are addressed; empty where nobody is named.
	Guests string
	Call   models.Call
	// Out tells that the boat has left on it: only its times are told.
	Out bool
}

// Trips tells the trips of a day in one letter: official warnings once, the
// verdict of each, the sender's sections, then each call without what another
// tells as well. One trip is told as Letter does.
func (t Teller) Trips(list []Trip, now time.Time, lead ...Section) string {
	if len(list) == 1 {
		return t.Letter(list[0].Call, now, lead...)
	}
	var sections []Section
	for _, s := range t.tripSections(list, now, lead) {
		if s.Big != "" {
			s.Lines = slices.Concat([]string{s.Big}, s.Lines)
		}
		sections = append(sections, s.Section)
	}
	return t.framed(list[0].Call.Demo, sections)
}

// TripsHTML is Trips as a page for e-mail.
func (t Teller) TripsHTML(list []Trip, now time.Time, lead ...Section) string {
	if len(list) == 1 {
		return t.HTML(list[0].Call, now, lead...)
	}
	doc := htmlPage{Language: t.reader.Language, Title: t.TripsVerdict(list), Demo: t.demoNotice(list[0].Call.Demo)}
	for _, s := range t.tripSections(list, now, lead) {
		big := s.Big
		doc.add(s.Section)
		doc.Sections[len(doc.Sections)-1].Big = big
	}
	return doc.String()
}

// TripsShort tells the trips of a day in at most ShortLimit plain characters:
// official warnings, then each verdict behind its hour.
func (t Teller) TripsShort(list []Trip) string {
	if len(list) == 1 {
		return t.Short(list[0].Call)
	}
	c := warnedOf(list)
	must := capital(t.ShortDay(c.Date)) + ": " + t.TripsVerdict(list) + "."
	if c.Demo {
		must = t.say("demo.short") + " " + must
	}
	room := ShortLimit - utf8.RuneCountInString(Plain(must)) - 1
	return Shorten([]string{t.shortWarnings(c, room), must}, t.say("short.official"))
}

// TripsVerdict joins the verdicts of a day's trips, each behind its hour.
func (t Teller) TripsVerdict(list []Trip) string {
	if len(list) == 1 {
		return t.Verdict(list[0].Call)
	}
	var parts []string
	for _, trip := range list {
		parts = append(parts, trip.Call.Trip.Start.String()+" "+t.tripVerdict(trip))
	}
	return strings.Join(parts, "; ")
}

// TripName tells a trip by its booked times and its guests.
func (t Teller) TripName(trip Trip) string {
	s := t.say("range.two", trip.Call.Trip.Start, trip.Call.Trip.End)
	if trip.Guests != "" {
		s += ", " + trip.Guests
	}
	return s
}

// TripsLoad tells what goes aboard for all trips of a day, to tick off by hand.
func (t Teller) TripsLoad(list []Trip, load []models.LoadItem) string {
	c := list[0].Call
	if len(list) == 1 {
		c.Load = load
		return t.LoadList(c)
	}
	s := Section{Head: t.say("load.for", t.LongDay(c.Date), t.say("trips.count", len(list))), Items: t.tripLines(list)}
	goes := Section{Lines: []string{t.say("load.trips")}, Ticks: t.ticks(load)}
	if len(load) == 0 {
		goes.Lines = []string{t.say("load.nothing")}
	}
	return t.framed(c.Demo, []Section{s, goes, t.loadCautions()})
}

// tripSections is the whole day as it is told.
func (t Teller) tripSections(list []Trip, now time.Time, lead []Section) []htmlSection {
	var out []htmlSection
	add := func(sections ...Section) {
		for _, s := range sections {
			out = append(out, htmlSection{Section: s})
		}
	}
	day := warnedOf(list)
	add(t.warnings(day)...)
	add(Section{Head: capital(t.LongDay(day.Date)) + ": " + t.say("trips.count", len(list)), Items: t.tripLines(list)})
	add(lead...)
	for i, trip := range list {
		if trip.Out {
			continue
		}
		c, rest := trip.Call, list[i+1:]
		for _, s := range t.verdict(c) {
			s.Head = t.say("trips.head", i+1, len(list), t.TripName(trip)) + ": " + c.Ground.Name
			big := htmlSection{Section: s, Big: s.Lines[0]}
			big.Lines = s.Lines[1:]
			out = append(out, big)
		}
		c.Cautions = slices.DeleteFunc(slices.Clone(c.Cautions), func(p models.Phrase) bool { return t.cautioned(p, rest) })
		for _, part := range afterOpening() {
			if !ofTheDay(part) || !sameGround(c, rest) {
				add(t.Part(part, c, now)...)
			}
		}
	}
	return out
}

// ofTheDay tells whether a part is the same for all trips to one ground.
func ofTheDay(p Part) bool {
	return slices.Contains([]Part{PartWater, PartOfficial, PartStations, PartSources}, p)
}

func sameGround(c models.Call, others []Trip) bool {
	return slices.ContainsFunc(others, func(o Trip) bool { return !o.Out && o.Call.Ground.Name == c.Ground.Name })
}

func (t Teller) cautioned(p models.Phrase, others []Trip) bool {
	return slices.ContainsFunc(others, func(o Trip) bool {
		return !o.Out && slices.ContainsFunc(o.Call.Cautions, func(q models.Phrase) bool { return t.Say(q) == t.Say(p) })
	})
}

// warnedOf is a call of the day with the official products of all its trips,
// each once: grounds may lie in different zones. Where one of them does not
// know, none does, and what is known of the others stands with what stood.
func warnedOf(list []Trip) models.Call {
	day := list[0].Call
	var all []models.Warning
	known := true
	for _, trip := range list {
		warnings, ok := trip.Call.Warnings.Get()
		known = known && ok
		for _, w := range append(slices.Clip(warnings), trip.Call.Stood...) {
			if !slices.ContainsFunc(all, func(o models.Warning) bool {
				return o.Event == w.Event && o.Zone == w.Zone && o.Onset.Equal(w.Onset) && o.Issued.Equal(w.Issued) && o.Text == w.Text
			}) {
				all = append(all, w)
			}
		}
	}
	day.Warnings, day.Stood = models.Known(all), nil
	if !known {
		day.Warnings, day.Stood = models.Unknown[[]models.Warning](), all
	}
	return day
}

func (t Teller) tripVerdict(trip Trip) string {
	if trip.Out {
		return t.say("trips.out")
	}
	return t.Verdict(trip.Call)
}

// tripLines tells each trip in a line.
func (t Teller) tripLines(list []Trip) []string {
	var lines []string
	for _, trip := range list {
		c := trip.Call
		line := t.TripName(trip) + ": " + strings.ToUpper(t.tripVerdict(trip))
		if leave, back, going := c.Times(); going {
			line += ". " + t.say("trips.times", leave, back)
		}
		if c.Confidence != "" {
			line += " (" + t.Word(string(c.Confidence)) + ")"
		}
		lines = append(lines, line)
	}
	return lines
}
