package words

import (
	"math"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Ahead is one of the days ahead in words.
type Ahead struct {
	// Say is what to do and when, Doubt how sure that is.
	Say, Doubt string
	// Official are the products in force or coming, or what takes their place
	// where there is none; Rule tells that there are some, or that nobody knows.
	Official []string
	Rule     bool
	// Met is what would be met on the water.
	Met []string
	// Booked tells the bookings, or that the day can be offered; empty where
	// nobody said.
	Booked string
	// Notes are where the day lies against a front, and why the boat stays in.
	Notes []string
}

// Days tells the days ahead, one section a day, with the guests' names.
func (t Teller) Days(days []models.DayOutlook, demo bool) string {
	first := Section{Head: t.say("ahead.head")}
	if len(days) == 0 {
		first.Lines = []string{t.say("ahead.none")}
	}
	sections := []Section{first}
	for _, d := range days {
		a := t.Ahead(d, true)
		s := Section{Head: t.say("ahead.day", capital(t.ShortDay(d.Date)), a.Say, a.Doubt), Lines: a.Official}
		s.Lines = append(s.Lines, strings.Join(a.Met, "; "))
		if a.Booked != "" {
			s.Lines = append(s.Lines, a.Booked)
		}
		s.Lines = append(s.Lines, a.Notes...)
		sections = append(sections, s)
	}
	sections = append(sections, t.DaysToOffer(days)...)
	sections = append(sections, Section{Head: t.say("head.cautions"), Items: []string{t.say("ahead.caution"), t.say("caution.captain")}})
	return t.framed(demo, sections)
}

// Ahead tells one of the days ahead; guests tells that their names may be read.
func (t Teller) Ahead(d models.DayOutlook, guests bool) Ahead {
	a := Ahead{Say: t.Word(string(d.Tactic)), Doubt: t.say("ahead.sure", models.Word(d.Confidence), math.Round(100*d.Agreement))}
	if out, ok := d.Out.Get(); ok {
		from, to := any(t.clock(out.Start)), any(t.clock(out.End))
		if d.BeyondHours {
			from, to = models.Told(out.Start, d.Trip.Start.On(d.Date, t.zone), t.zone), models.Told(out.End, d.Trip.End.On(d.Date, t.zone), t.zone)
			from, to = t.clockOrPart(from), t.clockOrPart(to)
		}
		a.Say += ", " + t.say("ahead.out", from, to)
	}
	a.Official, a.Rule = t.officialAhead(d)
	a.Met = []string{t.windAhead(d), t.say("ahead.seas_unknown")}
	if sea, ok := d.Sea.Get(); ok {
		a.Met[1] = t.say("ahead.seas", sea)
	}
	ride := t.Word(d.BestRide.String())
	if d.WorstRide != d.BestRide {
		ride = t.say("range.two", ride, models.Word(d.WorstRide.String()))
	}
	a.Met = append(a.Met, t.say("ahead.ride", ride), t.kitesAhead(d))
	a.Booked = t.bookedAhead(d, guests)
	for _, p := range []string{t.Say(d.Front), t.Say(d.Closed)} {
		if p != "" {
			a.Notes = append(a.Notes, p)
		}
	}
	return a
}

// officialAhead tells the official products of a day; rule is false where none
// is known to hold.
func (t Teller) officialAhead(d models.DayOutlook) (lines []string, rule bool) {
	list, known := d.Warnings.Get()
	for _, w := range list {
		lines = append(lines, t.warningLine(w))
	}
	switch {
	case !known:
		lines = append(lines, t.say("ahead.warnings_unknown"))
	case d.PastWarnings:
		lines = append(lines, t.say("ahead.warnings_beyond"))
	case len(list) == 0:
		return []string{t.say("ahead.warnings_none")}, false
	}
	return lines, !known || len(list) > 0
}

func (t Teller) windAhead(d models.DayOutlook) string {
	wind, ok := d.Wind.Get()
	if !ok {
		return t.say("ahead.wind_unknown")
	}
	key, args := "ahead.wind", []any{wind}
	if from, ok := d.WindFrom.Get(); ok {
		key, args = "ahead.wind_from", []any{from, wind}
	}
	told := t.say(key, args...)
	if gust, ok := d.Gust.Get(); ok && gust >= wind {
		return told + ", " + t.say("ahead.gusts", gust)
	}
	return told + ", " + t.say("ahead.gusts_unknown")
}

// kitesAhead tells when kites fly: well, or else when the call flies them.
func (t Teller) kitesAhead(d models.DayOutlook) string {
	spans := func(list []models.Interval) string {
		var told []string
		for _, w := range list {
			if d.BeyondHours {
				told = append(told, t.partsOf(w))
			} else {
				told = append(told, t.clock(w.Start)+"-"+t.clock(w.End))
			}
		}
		return strings.Join(slices.Compact(told), ", ")
	}
	switch {
	case len(d.KiteWindows) > 0:
		return t.say("ahead.kites", spans(d.KiteWindows))
	case len(d.KiteFlown) > 0:
		return t.say("ahead.kites_fair", spans(d.KiteFlown))
	}
	return t.say("ahead.no_kites")
}

// clockOrPart leaves out the day of an instant that is told on its day.
func (t Teller) clockOrPart(told any) any {
	if at, ok := told.(time.Time); ok {
		return t.clock(at)
	}
	return told
}

// partsOf tells the parts of the day that a span lies in.
func (t Teller) partsOf(w models.Interval) string {
	first, last := models.DayPartAt(w.Start, t.zone), models.DayPartAt(w.End.Add(-time.Minute), t.zone)
	if first == last {
		return t.say("ahead.part", first)
	}
	return t.say("ahead.parts", first, last)
}

func (t Teller) bookedAhead(d models.DayOutlook, guests bool) string {
	var told []string
	for _, b := range d.Bookings {
		trip := t.say("ahead.trip", b.Trip.Start, b.Trip.End)
		if guests && b.Name != "" {
			trip += ", " + b.Name
		}
		told = append(told, trip)
	}
	free, known := d.Free.Get()
	switch {
	case len(told) > 0:
		return t.say("ahead.booked", strings.Join(told, "; "))
	case !known:
		return ""
	case !free:
		return t.say("ahead.taken")
	case d.Offered():
		return t.say("ahead.free_offer")
	}
	return t.say("ahead.free")
}

// DaysToOffer names for each kind of party the days that could be offered to
// it, those that ride easiest; empty where there is none.
func (t Teller) DaysToOffer(days []models.DayOutlook) []Section {
	var lines []string
	for _, party := range []models.Party{models.Experienced, models.Mixed, models.Family} {
		for _, ride := range []models.Ride{models.RideEasy, models.RideOK} {
			var names []string
			for _, d := range days {
				if r, ok := d.Rides[party]; ok && r == ride && d.Offered() {
					names = append(names, t.ShortDay(d.Date))
				}
			}
			if len(names) > 0 {
				lines = append(lines, t.say("ahead.offer", models.Word(party), models.Word(ride.String()), strings.Join(names, ", ")))
				break
			}
		}
	}
	return list(t.say("ahead.offer_head"), lines)
}
