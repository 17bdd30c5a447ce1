package app

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"forecastd/config"
	"forecastd/internal/fetch/bookings"
	"forecastd/internal/models"
	"forecastd/internal/store"
)

// Names of the places that bookings come from.
const (
	fromConfig   = "configuration"
	fromCommand  = "command"
	fromCSV      = "bookings_csv"
	fromCalendar = "bookings_calendar"
)

// How many days back and ahead bookings are read.
const (
	bookingsBack  = 60
	bookingsAhead = 730
)

// Booked is a booking with where it comes from and where it stands.
type Booked struct {
	models.Booking
	Source string
	State  store.BookingState
	Why    string
	// FirstDate is the day it was booked for at first.
	FirstDate models.Date
	// Erased is when its guests were erased.
	Erased models.Opt[time.Time]
}

// mark tells the trip from others of its day, and names nobody: it stays when
// the guests are erased.
func (b Booked) mark() string {
	return store.Booking{Booking: b.Booking, Source: b.Source, Erased: b.Erased}.Mark()
}

// misfit is what could not be had of the bookings or does not fit.
type misfit struct {
	// told is for the captain: it may quote what stands in his file.
	told string
	// kept is what goes into calls and accounts, which outlast the guests: it
	// names nobody.
	kept string
	// day is not free for it, though nothing that could be read is booked;
	// unplaced tells that any day may be taken.
	day      models.Opt[models.Date]
	unplaced bool
}

// bookings lists the bookings of a port from a day up to and including
// another, called off or not, from the configuration, the files and addresses
// it names, and what the commands wrote. With a store each place is read into
// it first, so that a booking moved or called off by command stays so, and a
// place that can't be read keeps what it held.
func (a *App) bookings(ctx context.Context, port config.Port, from, to models.Date) ([]Booked, []misfit) {
	_, list, misfits := a.syncBookings(ctx, port, from, to)
	var out []models.Booking
	for _, b := range list {
		if !b.Cancelled {
			out = append(out, b.Booking)
		}
	}
	for _, s := range overlaps(out, a.cfg.Limits.Turnaround) {
		misfits = append(misfits, misfit{told: s, kept: s})
	}
	return list, misfits
}

// syncBookings does so, and answers what is news to the store.
func (a *App) syncBookings(ctx context.Context, port config.Port, from, to models.Date) (news []store.BookingChange, list []Booked, misfits []misfit) {
	// A place is always read as a whole: what lies outside would be taken for
	// gone, and a trip of last week may have been moved to the next.
	today := models.DateOf(a.now(), port.Zone)
	first, last := today.AddDays(-bookingsBack), today.AddDays(bookingsAhead)
	for _, p := range a.bookingPlaces(port) {
		read, err := p.read(ctx, first, last)
		if err != nil {
			s := fmt.Sprintf("%s: %s; what it held before still counts", p.name, plain(err))
			misfits = append(misfits, misfit{told: s, kept: s, unplaced: true})
			continue
		}
		misfits = append(misfits, unread(p.name, read)...)
		if a.store == nil {
			for _, b := range read.Bookings {
				state := store.Booked
				if b.Cancelled {
					state = store.Cancelled
				}
				list = append(list, Booked{Booking: b, Source: p.name, State: state, FirstDate: b.Date})
			}
			continue
		}
		changes, err := a.syncPlace(ctx, p.name, port.Name, first, read)
		if err != nil {
			misfits = append(misfits, misfit{told: fmt.Sprintf("%s: %v", p.name, err), kept: p.name + ": what it holds can't be kept: `forecastd charter list` tells why", unplaced: true})
		}
		news = append(news, changes...)
	}
	if a.store != nil {
		held, err := a.store.Bookings(ctx, port.Name, from, to)
		if err != nil {
			misfits = append(misfits, misfit{told: err.Error(), kept: err.Error(), unplaced: true})
		}
		for _, b := range held {
			list = append(list, Booked{b.Booking, b.Source, b.State, b.Why, b.FirstDate, b.Erased})
		}
	}
	list = slices.DeleteFunc(list, func(b Booked) bool { return b.Date.Before(from) || to.Before(b.Date) })
	slices.SortStableFunc(list, func(x, y Booked) int {
		return strings.Compare(x.Date.String()+x.Trip.Start.String(), y.Date.String()+y.Trip.Start.String())
	})
	list, over := fewADay(list, a.cfg.Charters.MostADay)
	return news, list, append(misfits, over...)
}

// fewADay leaves out what is over the trips that a day may hold, whichever
// places they come from; the list is in order of time.
func fewADay(list []Booked, most int) ([]Booked, []misfit) {
	var kept []Booked
	var over []misfit
	days := map[models.Date]int{}
	for _, b := range list {
		if b.Cancelled {
			kept = append(kept, b)
			continue
		}
		switch days[b.Date]++; {
		case days[b.Date] <= most:
			kept = append(kept, b)
		case days[b.Date] == most+1:
			s := fmt.Sprintf("%s: over %d trips are booked (charters.most_a_day): those from %s on are left out", b.Date, most, b.Trip.Start)
			over = append(over, misfit{told: s, kept: s, day: models.Known(b.Date)})
		}
	}
	return kept, over
}

// unread are the problems of a place with some of what it holds, and the days
// that it keeps for what is no booking that could be read. Problems quote it,
// so that only the first one counts them for what is kept.
func unread(place string, read bookings.Result) []misfit {
	var list []misfit
	for i, s := range read.Problems {
		m := misfit{told: place + ": " + s}
		if i == 0 {
			m.kept = fmt.Sprintf("%s: %d of its lines do not fit: `forecastd charter list` tells which", place, len(read.Problems))
			if read.Unplaced {
				m.kept += "; of one not even the day can be read, so that no day is known to be free"
			}
		}
		list = append(list, m)
	}
	for _, d := range read.Taken {
		list = append(list, misfit{day: models.Known(d)})
	}
	if read.Unplaced {
		list = append(list, misfit{unplaced: true})
	}
	return list
}

// mayBeTaken tells of a day that a booking is moved to or made for whether
// something keeps it that can't be seen among the bookings.
func mayBeTaken(day models.Date, misfits []misfit) []string {
	for _, m := range misfits {
		if m.day == models.Known(day) {
			return []string{fmt.Sprintf("mind that %s may be taken: an event or a line there is no booking that can be read; `forecastd charter list` tells what does not fit", day)}
		}
	}
	return nil
}

// forKeeping are the sentences about misfits that name nobody.
func forKeeping(list []misfit) []string {
	var out []string
	for _, m := range list {
		if m.kept != "" {
			out = append(out, m.kept)
		}
	}
	return out
}

// syncPlace keeps what a place holds. Where some of it could not be read,
// what is missing is not taken for gone.
func (a *App) syncPlace(ctx context.Context, source, port string, from models.Date, read bookings.Result) ([]store.BookingChange, error) {
	if !read.Partial {
		return a.store.SyncBookings(ctx, source, port, from, read.Bookings, a.now())
	}
	var changes []store.BookingChange
	for _, b := range read.Bookings {
		c, err := a.store.AddBooking(ctx, source, port, b, a.now())
		if err != nil {
			return changes, err
		}
		changes = append(changes, c...)
	}
	return changes, nil
}

// bookingPlace is one place that bookings are read from.
type bookingPlace struct {
	name string
	// where is the file or address; unknown for the configuration itself.
	where models.Opt[string]
	read  func(ctx context.Context, from, to models.Date) (bookings.Result, error)
}

// bookingPlaces lists them for a port. Files and addresses are those of the
// first port.
func (a *App) bookingPlaces(port config.Port) []bookingPlace {
	list := []bookingPlace{{name: fromConfig, read: func(_ context.Context, from, to models.Date) (r bookings.Result, _ error) {
		for _, b := range a.cfg.Charters.Bookings {
			if b.Port == port.Name && !b.Date.Before(from) && !to.Before(b.Date) {
				r.Bookings = append(r.Bookings, a.booked(port, b))
			}
		}
		return r, nil
	}}}
	if port.Name != a.cfg.Ports[0].Name {
		return list
	}
	for _, place := range []struct {
		name  string
		where models.Opt[string]
	}{{fromCSV, a.cfg.Charters.CSV}, {fromCalendar, a.cfg.Charters.Calendar}} {
		where, ok := place.where.Get()
		if !ok {
			continue
		}
		list = append(list, bookingPlace{place.name, place.where, func(ctx context.Context, from, to models.Date) (bookings.Result, error) {
			src, err := a.bookingSource(place.name, where, port)
			if err != nil {
				return bookings.Result{}, err
			}
			r, err := src.Read(ctx, from, to.AddDays(1))
			for i, b := range r.Bookings {
				r.Bookings[i].TellBy = models.Known(a.cfg.Charters.Terms.TellBy(b.Date, port.Zone))
			}
			return r, err
		}})
	}
	return list
}

func (a *App) bookingSource(name, where string, port config.Port) (*bookings.Source, error) {
	c := a.cfg.Charters
	o := bookings.Options{Name: name, Zone: port.Zone, Usual: c.Usual, Marks: c.Marks, Most: c.Most, MostADay: c.MostADay}
	for _, g := range port.Grounds {
		o.Grounds = append(o.Grounds, g.Name)
	}
	if config.IsAddress(where) {
		return bookings.Address(a.client, where, o)
	}
	if !filepath.IsAbs(where) {
		where = filepath.Join(a.dir, where)
	}
	return bookings.File(os.DirFS(filepath.Dir(where)), filepath.Base(where), o)
}

// booked is a booking of the configuration.
func (a *App) booked(p config.Port, b config.Booking) models.Booking {
	return models.Booking{
		ID: b.Name, Date: b.Date, Trip: b.Trip, Name: b.Name, Contact: b.Contact, Ground: b.Ground,
		TellBy: models.Known(a.cfg.Charters.Terms.TellBy(b.Date, p.Zone)),
	}
}

// overlaps tells which bookings want the boat at the same time, or leave it
// less than its time at the dock, by their times alone: it is kept in calls.
// They are in order of time.
func overlaps(list []models.Booking, turnaround time.Duration) []string {
	var out []string
	for i, b := range list {
		for _, c := range list[i+1:] {
			if c.Date != b.Date {
				break
			}
			both := fmt.Sprintf("%s: the trips %s to %s and %s to %s", b.Date, b.Trip.Start, b.Trip.End, c.Trip.Start, c.Trip.End)
			between := c.Trip.Start.On(c.Date, time.UTC).Sub(b.Trip.End.On(b.Date, time.UTC))
			switch {
			case clash(b.Trip, c.Trip):
				out = append(out, both+" want the boat at the same time")
			case between < turnaround:
				out = append(out, fmt.Sprintf("%s leave the boat %.0f min at the dock, and it takes %.0f: the later one leaves later", both, between.Minutes(), turnaround.Minutes()))
			}
		}
	}
	return out
}

func clash(a, b models.Trip) bool {
	return a.Start.String() < b.End.String() && b.Start.String() < a.End.String()
}

// CharterRequest is a booking as a command gives it. What is unknown is as on
// the usual trip, or as the booking stands.
type CharterRequest struct {
	// Port is the name of the port; empty is the first.
	Port, Name, Ground, Contact string
	Date                        models.Date
	Start, End                  models.Opt[models.Clock]
	Party                       models.Opt[models.Party]
	Kind                        models.Opt[models.TripKind]
	Guests                      models.Opt[int]
}

// AddCharter keeps a booking made by command. A booking of the same name and
// day is updated, not doubled. It tells in sentences what became of it and
// what to mind.
func (a *App) AddCharter(ctx context.Context, req CharterRequest) ([]string, error) {
	st, port, err := a.saying(req.Port)
	if err != nil {
		return nil, err
	}
	req.Name, req.Ground, req.Contact = models.PlainLine(req.Name), models.PlainLine(req.Ground), models.PlainLine(req.Contact)
	today := models.DateOf(a.now(), port.Zone)
	switch {
	case req.Name == "":
		return nil, errors.New("a charter needs a name: how the guests are addressed")
	case req.Date.Before(today):
		return nil, fmt.Errorf("%s is past: today is %s", req.Date, today)
	}
	if _, _, err := a.place(port.Name, req.Ground); err != nil {
		return nil, err
	}
	b := models.Booking{
		ID: req.Date.String() + " " + strings.ToLower(req.Name), Name: req.Name, Date: req.Date, Ground: req.Ground, Contact: req.Contact, Trip: a.cfg.Charters.Usual,
		TellBy: models.Known(a.cfg.Charters.Terms.TellBy(req.Date, port.Zone)),
	}
	b.Trip.Guests = models.Unknown[int]()
	held, misfits := a.bookings(ctx, port, req.Date, req.Date)
	for _, h := range held {
		if h.Source == fromCommand && h.ID == b.ID && !h.Cancelled {
			b.Trip = h.Trip // what the command does not say stays
			if b.Ground == "" {
				b.Ground = h.Ground
			}
			if b.Contact == "" {
				b.Contact = h.Contact
			}
		}
	}
	b.Trip.Start, b.Trip.End = req.Start.Or(b.Trip.Start), req.End.Or(b.Trip.End)
	b.Trip.Party, b.Trip.Kind = req.Party.Or(b.Trip.Party), req.Kind.Or(b.Trip.Kind)
	b.Trip.Guests = req.Guests.Else(b.Trip.Guests)
	if err := lasts(b.Trip); err != nil {
		return nil, err
	}
	for _, h := range held {
		if h.Cancelled || h.Source == fromCommand && h.ID == b.ID {
			continue
		}
		if clash(h.Trip, b.Trip) {
			return nil, fmt.Errorf("%s is taken: %s has the boat from %s to %s (from the %s)", req.Date, h.Name, h.Trip.Start, h.Trip.End, h.Source)
		}
	}
	changes, err := st.AddBooking(ctx, fromCommand, port.Name, b, a.now())
	if err != nil {
		return nil, err
	}
	told := []string{"unchanged: " + Booked{Booking: b, Source: fromCommand}.String()}
	for _, c := range changes {
		what := "booked"
		if c.Before.Known() {
			what = "updated"
		}
		told = []string{what + ": " + Booked{Booking: c.Now.Booking, Source: fromCommand}.String()}
	}
	return slices.Concat(told, a.headCount(b), mayBeTaken(b.Date, misfits)), nil
}

// headCount tells how the guests stand against the boat's papers.
func (a *App) headCount(b models.Booking) []string {
	allowed, ok := a.cfg.Boat.Passengers.Get()
	guests, told := b.Trip.Guests.Get()
	hire := b.Trip.ForHire.Or(true)
	switch {
	case !hire:
		return nil
	case !ok:
		return []string{"the configuration does not say how many passengers for hire the boat's papers allow (boat.passengers): check the head count yourself"}
	case !told:
		return []string{fmt.Sprintf("nobody said how many guests come: the boat's papers allow %d", allowed)}
	case guests > allowed:
		return []string{fmt.Sprintf("TOO MANY: %d guests, and the boat's papers allow %d passengers for hire", guests, allowed)}
	}
	return []string{fmt.Sprintf("%d guests of the %d that the boat's papers allow", guests, allowed)}
}

// MoveCharter puts a booking on another day or other times.
func (a *App) MoveCharter(ctx context.Context, portName, which string, to models.Date, start, end models.Opt[models.Clock], why string) ([]string, error) {
	st, port, err := a.saying(portName)
	if err != nil {
		return nil, err
	}
	b, err := a.findCharter(ctx, port, which)
	if err != nil {
		return nil, err
	}
	today := models.DateOf(a.now(), port.Zone)
	if to.Before(today) {
		return nil, fmt.Errorf("%s is past: today is %s", to, today)
	}
	moved := b.Trip
	moved.Start, moved.End = start.Or(moved.Start), end.Or(moved.End)
	if err := lasts(moved); err != nil {
		return nil, err
	}
	held, misfits := a.bookings(ctx, port, to, to)
	for _, h := range held {
		if !h.Cancelled && (h.Source != b.Source || h.ID != b.ID) && clash(h.Trip, moved) {
			return nil, fmt.Errorf("%s is taken: %s has the boat from %s to %s", to, h.Name, h.Trip.Start, h.Trip.End)
		}
	}
	change, err := st.MoveBooking(ctx, b.Source, b.ID, to, moved.Start, moved.End, models.PlainLine(why), a.now())
	if err != nil {
		return nil, err
	}
	return slices.Concat([]string{"moved: " + Booked{Booking: change.Now.Booking, Source: b.Source}.String()}, elsewhere(b), mayBeTaken(to, misfits)), nil
}

// CancelCharter calls a booking off.
func (a *App) CancelCharter(ctx context.Context, portName, which, why string) ([]string, error) {
	st, port, err := a.saying(portName)
	if err != nil {
		return nil, err
	}
	b, err := a.findCharter(ctx, port, which)
	if err != nil {
		return nil, err
	}
	if _, err := st.CancelBooking(ctx, b.Source, b.ID, models.PlainLine(why), a.now()); err != nil {
		return nil, err
	}
	return append([]string{"cancelled: " + b.String()}, elsewhere(b)...), nil
}

// elsewhere says that the place a booking comes from does not know.
func elsewhere(b Booked) []string {
	if b.Source == fromCommand {
		return nil
	}
	return []string{fmt.Sprintf("it comes from the %s, which is left as it is: change it there too, for what it says next counts again", b.Source)}
}

// findCharter finds a booking to come by its mark, which the pages send, by its
// name or by its day.
func (a *App) findCharter(ctx context.Context, port config.Port, which string) (Booked, error) {
	today := models.DateOf(a.now(), port.Zone)
	list, _ := a.bookings(ctx, port, today, today.AddDays(bookingsAhead))
	var found []Booked
	for _, b := range list {
		if !b.Cancelled && b.mark() == which {
			return b, nil
		}
		if !b.Cancelled && (strings.EqualFold(b.Name, which) || b.Date.String() == which || b.Date.String()+" "+b.Name == which) {
			found = append(found, b)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		return Booked{}, fmt.Errorf("there is no charter %q to come: `forecastd charter list` shows them", which)
	}
	var names []string
	for _, b := range found {
		names = append(names, fmt.Sprintf("%q", b.Date.String()+" "+b.Name))
	}
	return Booked{}, fmt.Errorf("%q could be %s: write one of these", which, strings.Join(names, " or "))
}

// Charters lists the bookings of a port from today on.
func (a *App) Charters(ctx context.Context, portName string) (list []Booked, problems []string, err error) {
	port, _, err := a.place(portName, "")
	if err != nil {
		return nil, nil, err
	}
	if a.storeFault != nil {
		return nil, nil, a.storeFault
	}
	today := models.DateOf(a.now(), port.Zone)
	list, misfits := a.bookings(ctx, port, today, today.AddDays(bookingsAhead))
	for _, m := range misfits {
		if m.told != "" {
			problems = append(problems, m.told)
		}
	}
	for _, b := range list {
		if n := b.Trip.Guests.Or(0); !b.Cancelled && b.Trip.ForHire.Or(true) && n > a.cfg.Boat.Passengers.Or(n) {
			problems = append(problems, fmt.Sprintf("%s %s: %s", b.Date, b.Name, a.headCount(b.Booking)[0]))
		}
	}
	return list, problems, nil
}

// String tells a booking in a line.
func (b Booked) String() string {
	s := fmt.Sprintf("%s %s to %s, %s, %s %s", b.Date, b.Trip.Start, b.Trip.End, b.Name, b.Trip.Party, b.Trip.Kind)
	if n, ok := b.Trip.Guests.Get(); ok {
		s += fmt.Sprintf(", %d guests", n)
	}
	if b.Ground != "" {
		s += ", " + b.Ground
	}
	if b.State != "" && b.State != store.Booked {
		s += ", " + string(b.State)
		if b.State == store.Moved && b.FirstDate != b.Date {
			s += " from " + b.FirstDate.String()
		}
		if b.Why != "" {
			s += " (" + b.Why + ")"
		}
	}
	return s
}

func lasts(t models.Trip) error {
	if t.Start.String() >= t.End.String() {
		return fmt.Errorf("the trip from %s to %s does not end after it starts: a trip lies within one day", t.Start, t.End)
	}
	return nil
}
