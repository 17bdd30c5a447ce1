// Package bookings reads the captain's bookings from a CSV file, an iCalendar
// file or an iCalendar address.
//
// # CSV
//
// The first row names the columns, in any order and case; comma, semicolon or
// tab separates them; UTF-8 with or without a byte order mark.
//
//	date     2027-01-19 (needed)
//	name     how the guests are addressed (needed)
//	start    07:30, 7:30 AM
//	end      15:30
//	party    experienced, mixed, family
//	guests   a number
//	kind     charter, tournament, own
//	for hire yes, no
//	ground   the name of a ground of the port
//	contact  an e-mail address of the guests
//	status   booked, cancelled
//	id       what names the booking for ever
//
// What is left out is as on the usual trip. Without an id a booking is known
// by its date and name, so that a change of either makes it another one.
//
// # iCalendar
//
// Marks tell which events are bookings: a word that is one of their categories
// or stands in their summary. A private or confidential event is none, whatever
// it says, and no word of it is kept. Any other event keeps its days from being
// offered, unless it is transparent (takes no time).
//
// The summary is the name, start and end are the trip's; an all-day event has
// the usual hours, one booking for each of its days. Lines of the description
// of the form "party: family" say the rest, with the names of the columns
// above; other lines are left alone. A booking is known by the event's UID
// and, where the event recurs, by which occurrence it is.
package bookings

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/mail"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
)

// maxBytes bounds a file of bookings.
const maxBytes = 8 << 20

// Options say how bookings are read.
type Options struct {
	// Name is the short name of the source, for errors and for people.
	Name string
	// Zone is the port's.
	Zone *time.Location
	// Usual is what a booking is where it does not say; its guests are not
	// taken over.
	Usual models.Trip
	// Grounds are the names that a booking may use.
	Grounds []string
	// Marks tell the bookings of a calendar from its other events: words of
	// which one is a category of the event or stands in its summary, the case
	// aside. None takes every event for a booking, but for private ones.
	Marks []string
	// Most is how many bookings a place may hold, MostADay how many a day:
	// what is over is a fault.
	Most, MostADay int
}

// Result is what a source holds.
type Result struct {
	// Bookings are in order of time, each with an ID of its own. Cancelled
	// ones are among them.
	Bookings []models.Booking
	// Problems name what could not be used, one plain sentence each.
	Problems []string
	// Partial tells that a booking could not be read at all: what is not
	// among Bookings may still be booked and must not be taken for gone.
	Partial bool
	// Taken are days that are not free though no booking that could be read
	// says so: of a booking that could not, or of another event.
	Taken []models.Date
	// Unplaced tells that a booking could not be read of which even the day
	// is unknown: any day may be taken.
	Unplaced bool
}

// hold keeps a day for a booking that could not be read.
func (r *Result) hold(day models.Opt[models.Date]) {
	r.Partial = true
	if d, ok := day.Get(); ok {
		r.Taken = append(r.Taken, d)
	} else {
		r.Unplaced = true
	}
}

func (r *Result) problem(at string, format string, args ...any) {
	r.Problems = append(r.Problems, at+": "+fmt.Sprintf(format, args...))
}

// Getter asks for an address; *httpx.Client does.
type Getter interface {
	Get(ctx context.Context, req httpx.Request) (*httpx.Response, error)
}

// Source is one place that bookings come from.
type Source struct {
	options Options
	get     func(ctx context.Context) ([]byte, error)
	isCSV   bool
}

// File reads a file, as CSV where its name ends in .csv and as iCalendar
// where it ends in .ics.
func File(fsys fs.FS, name string, o Options) (*Source, error) {
	s := &Source{options: o}
	switch strings.ToLower(path.Ext(name)) {
	case ".csv":
		s.isCSV = true
	case ".ics", ".ical":
	default:
		return nil, s.bad(fmt.Errorf("the file %s is neither .csv nor .ics", name))
	}
	s.get = func(ctx context.Context) ([]byte, error) {
		if err := ctx.Err(); err != nil {
			return nil, &models.Error{Kind: models.KindCancelled, Source: o.Name, Err: err}
		}
		f, err := fsys.Open(name)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return nil, &models.Error{Kind: models.KindNotFound, Source: o.Name, Err: err}
		case err != nil:
			return nil, &models.Error{Kind: models.KindRefused, Source: o.Name, Err: err}
		}
		defer f.Close()
		b, err := io.ReadAll(io.LimitReader(f, maxBytes+1))
		switch {
		case err != nil:
			return nil, &models.Error{Kind: models.KindBadContent, Source: o.Name, Err: fmt.Errorf("read %s: %w", name, err)}
		case len(b) > maxBytes:
			return nil, &models.Error{Kind: models.KindTooLarge, Source: o.Name, Err: fmt.Errorf("%s is over %d octets", name, maxBytes)}
		}
		return b, nil
	}
	return s, nil
}

// Address reads an iCalendar address. Such addresses are secrets: none
// appears in an error or a log.
func Address(client Getter, address string, o Options) (*Source, error) {
	s := &Source{options: o}
	if rest, ok := strings.CutPrefix(address, "webcal://"); ok {
		address = "https://" + rest
	}
	if !strings.HasPrefix(address, "https://") && !strings.HasPrefix(address, "http://") {
		return nil, s.bad(errors.New("the address of the calendar must begin with https:// or webcal://"))
	}
	s.get = func(ctx context.Context) ([]byte, error) {
		resp, err := client.Get(ctx, httpx.Request{
			Source: o.Name, URL: address, PrivateURL: true, Accept: "text/calendar", MaxBytes: maxBytes, Want: httpx.Text, Conditional: true,
		})
		if err != nil {
			return nil, err
		}
		return resp.Body, nil
	}
	return s, nil
}

func (s *Source) bad(err error) error {
	return &models.Error{Kind: models.KindBadConfig, Source: s.options.Name, Err: err}
}

// Name is the short name of the source.
func (s *Source) Name() string { return s.options.Name }

// Read reads the bookings from a day on up to, not including, another. An
// error is a *models.Error and means that nothing is known: what was booked
// before still is.
func (s *Source) Read(ctx context.Context, from, to models.Date) (Result, error) {
	b, err := s.get(ctx)
	if err != nil {
		return Result{}, err
	}
	var r Result
	if s.isCSV {
		r, err = ReadCSV(b, s.options)
	} else {
		r, err = ReadCalendar(b, s.options, from, to)
	}
	if err != nil {
		return Result{}, &models.Error{Kind: models.KindBadContent, Source: s.options.Name, Err: err}
	}
	outside := func(d models.Date) bool { return d.Before(from) || !d.Before(to) }
	r.Bookings = slices.DeleteFunc(r.Bookings, func(b models.Booking) bool { return outside(b.Date) })
	r.Taken = slices.DeleteFunc(r.Taken, outside)
	return r, nil
}

// finish sorts the bookings and sees to it that each has an ID of its own.
func finish(r Result, where []string, o Options) (Result, error) {
	if len(r.Bookings) > o.Most {
		return Result{}, fmt.Errorf("%s: there are over %d bookings (charters.most_bookings): take out those that are long past", where[o.Most], o.Most)
	}
	seen, days := map[string]bool{}, map[models.Date]int{}
	kept := r.Bookings[:0]
	for i, b := range r.Bookings {
		switch {
		case seen[b.ID]:
			r.problem(where[i], "the booking of %s for %s comes twice: give each an id", b.Date, b.Name)
			r.hold(models.Known(b.Date))
			continue
		case !b.Cancelled && days[b.Date] >= o.MostADay:
			if days[b.Date]++; days[b.Date] == o.MostADay+1 {
				r.problem(where[i], "over %d bookings on %s (charters.most_a_day): this one and those after it are left out", o.MostADay, b.Date)
				r.hold(models.Known(b.Date))
			}
			continue
		case !b.Cancelled:
			days[b.Date]++
		}
		seen[b.ID] = true
		kept = append(kept, b)
	}
	r.Bookings = kept
	slices.SortStableFunc(r.Bookings, func(a, b models.Booking) int {
		return strings.Compare(a.Date.String()+a.Trip.Start.String()+a.ID, b.Date.String()+b.Trip.Start.String()+b.ID)
	})
	return r, nil
}

// fill sets one field of a booking by the name of its column; known is false
// for names that are none of ours. A value that can't be read leaves the
// field as on the usual trip and answers what is wrong.
func fill(b *models.Booking, key, value string, o Options) (known bool, err error) {
	value = models.PlainLine(value)
	if value == "" {
		return slices.Contains(columns(), key), nil
	}
	word := func(what string, words ...string) (string, error) {
		for _, w := range words {
			if strings.EqualFold(w, value) {
				return w, nil
			}
		}
		return "", fmt.Errorf("%q is no %s: write %s", value, what, strings.Join(words, ", "))
	}
	var w string
	switch key {
	case "party":
		if w, err = word("party", string(models.Experienced), string(models.Mixed), string(models.Family)); err == nil {
			b.Trip.Party = models.Party(w)
		}
	case "kind":
		if w, err = word("kind of trip", string(models.Charter), string(models.Tournament), string(models.OwnTrip)); err == nil {
			b.Trip.Kind = models.TripKind(w)
		}
	case "for hire":
		if w, err = word("answer", "yes", "no"); err == nil {
			b.Trip.ForHire = models.Known(w == "yes")
		}
	case "status":
		if w, err = word("status", "booked", "cancelled", "canceled", "confirmed"); err == nil {
			b.Cancelled = b.Cancelled || w == "cancelled" || w == "canceled"
		}
	case "guests":
		n, convErr := strconv.Atoi(value)
		if convErr != nil || n < 0 || n > 149 {
			return true, fmt.Errorf("%q is no number of guests: write one from 0 to 149", value)
		}
		b.Trip.Guests = models.Known(n)
	case "ground":
		if w, err = word("ground of this port", o.Grounds...); err == nil {
			b.Ground = w
		}
	case "contact":
		a, parseErr := mail.ParseAddress(value)
		if parseErr != nil {
			return true, fmt.Errorf("%q is no e-mail address: write one, as guest@example.com", value)
		}
		b.Contact = a.Address
	default:
		return slices.Contains(columns(), key), nil
	}
	return true, err
}

// columns are the names that we know.
func columns() []string {
	return []string{"id", "date", "name", "start", "end", "party", "guests", "kind", "for hire", "ground", "contact", "status"}
}

// heading makes a column's name of what somebody wrote.
func heading(s string) string {
	return strings.Join(strings.Fields(strings.ToLower(strings.NewReplacer("_", " ", "-", " ").Replace(s))), " ")
}

// blank is a booking before anything is known of it.
func blank(o Options) models.Booking {
	b := models.Booking{Trip: o.Usual}
	b.Trip.Guests = models.Unknown[int]()
	b.Trip.LinesIn, b.Trip.LinesOut = models.Unknown[models.Clock](), models.Unknown[models.Clock]()
	return b
}

// checkHours sees to it that a trip ends after it starts.
func checkHours(t models.Trip) error {
	if t.Start.Hour*60+t.Start.Minute >= t.End.Hour*60+t.End.Minute {
		return fmt.Errorf("the trip from %s to %s does not end after it starts: a trip lies within one day", t.Start, t.End)
	}
	return nil
}
