package config

import (
	"fmt"
	"net/url"
	"path"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Charters is the business side: the usual trip, the captain's terms and the
// bookings.
type Charters struct {
	// Usual is the trip of a day without a booking.
	Usual    models.Trip
	Terms    Terms
	Bookings []Booking
	// CSV is a file of bookings, Calendar an iCalendar file or address, both
	// for the first port. File names start from the configuration's folder.
	CSV, Calendar models.Opt[string]
	// Marks are the words of which one is a category of a calendar's event or
	// stands in its summary where it is a booking.
	Marks []string
	// Most is how many bookings a file or calendar may hold, MostADay how many
	// trips a day.
	Most, MostADay int
}

// Terms are the captain's own terms towards his guests.
type Terms struct {
	// TellAt is the time of day, and TellDays the days before the trip, by
	// which guests are told of a change.
	TellAt   models.Clock
	TellDays int
}

// TellBy returns the instant by which guests of a day's trip are told.
func (t Terms) TellBy(d models.Date, zone *time.Location) time.Time {
	return t.TellAt.On(d.AddDays(-t.TellDays), zone)
}

// Booking is one booked trip. Port and Ground are names; they are always
// filled in.
type Booking struct {
	Name         string
	Date         models.Date
	Port, Ground string
	// Contact is the guests' e-mail address; empty where nobody said.
	Contact string
	Trip    models.Trip
}

// On returns the bookings of a day from a port, earliest first.
func (c Charters) On(d models.Date, port string) []Booking {
	var out []Booking
	for _, b := range c.Bookings {
		if b.Date == d && b.Port == port {
			out = append(out, b)
		}
	}
	return out
}

func usualTrip() models.Trip {
	return models.Trip{
		Kind: models.Charter, Party: models.Mixed,
		Start: models.Clock{Hour: 7}, End: models.Clock{Hour: 15},
	}
}

func readCharters(t *table, ports []Port) Charters {
	g := t.group("charters", "the usual trip, the captain's terms and the bookings")
	c := Charters{Usual: usualTrip()}
	usual := g.group("usual_trip", "the trip of a day without a booking")
	c.Usual = readTrip(usual, c.Usual)
	usual.done()
	terms := g.group("tell_guests", "by when guests are told of a change")
	c.Terms = Terms{
		TellAt:   want(terms, "at", clock(), models.Clock{Hour: 19}),
		TellDays: want(terms, "days_before", count(0, 30), 1),
	}
	terms.done()
	c.CSV = maybe(g, "bookings_csv", bookingFile("a table of bookings, as bookings.csv", ".csv"))
	c.Calendar = maybe(g, "bookings_calendar", bookingFile("an iCalendar file or address, as bookings.ics or https://example.com/bookings.ics", ".ics", ".ical"))
	c.Marks = each(g, "calendar_marks", text("a word that marks the calendar's bookings, as charter"), "charter", "booking", "booked")
	c.Most = want(g, "most_bookings", count(1, 5000), 1000)
	c.MostADay = want(g, "most_a_day", count(1, 8), 4)
	names := map[string]bool{}
	for _, b := range g.list("bookings", "the booked trips, one behind each dash", optional) {
		if b.vals == nil {
			continue
		}
		booking := readBooking(b, ports, c.Usual)
		unique(names, b, "name", booking.Name)
		for _, other := range c.Bookings {
			if b.ok("name", "date", "start", "end") && other.Date == booking.Date &&
				minutes(other.Trip.Start) < minutes(booking.Trip.End) && minutes(booking.Trip.Start) < minutes(other.Trip.End) {
				b.fail("date", "is taken: %s has the boat from %s to %s", other.Name, other.Trip.Start, other.Trip.End)
			}
		}
		b.done()
		c.Bookings = insert(c.Bookings, booking)
	}
	g.done()
	return c
}

// insert keeps the bookings in order of time.
func insert(list []Booking, b Booking) []Booking {
	i := len(list)
	for i > 0 && (b.Date.Before(list[i-1].Date) || b.Date == list[i-1].Date && minutes(b.Trip.Start) < minutes(list[i-1].Trip.Start)) {
		i--
	}
	list = append(list, Booking{})
	copy(list[i+1:], list[i:])
	list[i] = b
	return list
}

func readBooking(t *table, ports []Port, usual models.Trip) Booking {
	usual.Guests = models.Unknown[int]() // a booking has its own
	b := Booking{
		Name: need(t, "name", text("a name for the booking")),
		Date: need(t, "date", date()),
	}
	b.Trip = readTrip(t, usual)
	readLines(t, &b.Trip)
	b.Contact = maybe(t, "contact", email()).Or("")
	names := make([]string, len(ports))
	for i, p := range ports {
		names[i] = p.Name
	}
	port := word("a port of this file", names...)
	port.what = "the name of a port; the first one unless given"
	b.Port = maybe(t, "port", port).Or(first(names))
	for _, p := range ports {
		if p.Name == b.Port {
			k := groundOf(p)
			k.what = "the name of a ground; the port's first one unless given"
			b.Ground = maybe(t, "ground", k).Or("")
			if b.Ground == "" && len(p.Grounds) > 0 {
				b.Ground = p.Grounds[0].Name
			}
			return b
		}
	}
	t.asked = append(t.asked, "ground") // no port to look it up in: told already
	return b
}

func first(list []string) string {
	if len(list) == 0 {
		return ""
	}
	return list[0]
}

func readTrip(t *table, def models.Trip) models.Trip {
	trip := models.Trip{
		Kind:    want(t, "kind", word("a kind of trip", models.Charter, models.Tournament, models.OwnTrip), def.Kind),
		Party:   want(t, "party", word("a kind of party", models.Experienced, models.Mixed, models.Family), def.Party),
		Start:   want(t, "start", clock(), def.Start),
		End:     want(t, "end", clock(), def.End),
		ForHire: maybe(t, "for_hire", yes()).Else(def.ForHire),
		Guests:  maybe(t, "guests", count(0, 149)).Else(def.Guests),
	}
	if minutes(trip.Start) >= minutes(trip.End) && t.ok("start", "end") {
		key := "end"
		if !t.has("end") {
			key = "start"
		}
		t.fail(key, "the trip from %s to %s does not end after it starts: a trip lies within one day", trip.Start, trip.End)
	}
	return trip
}

// readLines reads the hours that an event allows lines in the water.
func readLines(t *table, trip *models.Trip) {
	trip.LinesIn, trip.LinesOut = maybe(t, "lines_in", clock()), maybe(t, "lines_out", clock())
	in, hasIn := trip.LinesIn.Get()
	out, hasOut := trip.LinesOut.Get()
	switch {
	case hasIn && hasOut && minutes(in) >= minutes(out):
		t.fail("lines_out", "must come after lines_in, %s", in)
	case hasIn && minutes(in) >= minutes(trip.End) && t.ok("end"):
		t.fail("lines_in", "must come before the trip ends, %s", trip.End)
	case hasOut && minutes(out) <= minutes(trip.Start) && t.ok("start"):
		t.fail("lines_out", "must come after the trip starts, %s", trip.Start)
	}
}

func minutes(c models.Clock) int { return c.Hour*60 + c.Minute }

// IsAddress tells whether a place of bookings is an address and not a file.
func IsAddress(s string) bool {
	return strings.HasPrefix(s, "https://") || strings.HasPrefix(s, "webcal://")
}

// bookingFile is the name of a file of some kinds; a calendar may have an
// address instead. Addresses of calendars are often secrets, so no message
// shows them.
func bookingFile(what string, kinds ...string) kind[string] {
	k := text(what)
	read := k.read
	k.read = func(s string) (string, error) {
		s, err := read(s)
		switch {
		case err != nil:
			return s, err
		case slices.Contains(kinds, strings.ToLower(path.Ext(s))) && !strings.Contains(s, "://"):
			return s, nil
		case slices.Contains(kinds, ".ics") && IsAddress(s):
			if u, err := url.Parse(s); err != nil || u.Host == "" {
				return s, fmt.Errorf("is no address: write %s", what)
			}
			return s, nil
		case strings.HasPrefix(s, "http://") && slices.Contains(kinds, ".ics"):
			return s, fmt.Errorf("is an open address, which anyone on the way can read and change: write https://")
		}
		return s, fmt.Errorf("does not end in %s: write %s", or(kinds), what)
	}
	return k
}
