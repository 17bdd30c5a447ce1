package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/models/wind"
	"forecastd/internal/notify"
	"forecastd/internal/scoring"
	"forecastd/internal/store"
	"forecastd/internal/words"
)

// tell decides about one draft and notes the decision. What is held by quiet
// hours is not written down: the next round decides again.
func (e *engine) tell(ctx context.Context, d notify.Draft, acc *account) error {
	decision, err := e.desk.Tell(ctx, d)
	if err == nil {
		e.decided(d, decision, acc)
	}
	return err
}

// tellTogether decides about several alerts or troubles for one person, who
// gets what is to be sent in one message.
func (e *engine) tellTogether(ctx context.Context, list []notify.Draft, acc *account) error {
	if len(list) == 0 {
		return nil
	}
	decisions, err := e.desk.TellTogether(ctx, list, e.cfg.Daemon.MessagesPerHour)
	if err != nil {
		return err
	}
	for i, d := range list {
		e.decided(d, decisions[i], acc)
	}
	return nil
}

// decided notes a decision, and lets the outbox look.
func (e *engine) decided(d notify.Draft, decision notify.Decision, acc *account) {
	if decision.Reason != models.ReasonNone && len(acc.Told) < mostNoted {
		acc.Told = append(acc.Told, toldAccount{d.Person.Name, d.Notice, d.Key, decision.Reason, decision.Held, decision.At})
	}
	if decision.Send {
		e.nudge()
	}
}

// mostNoted bounds how many decisions the record of a run holds.
const mostNoted = 200

// toEach tells a draft of their own to everybody whom a port's messages reach.
func (e *engine) toEach(ctx context.Context, port string, acc *account, draft func(notify.Person) notify.Draft) error {
	var errs []error
	for _, p := range e.people[port] {
		errs = append(errs, e.tell(ctx, draft(p), acc))
	}
	return errors.Join(errs...)
}

// told is what is told of a day.
func (d madeDay) told() []notify.Trip {
	var trips []words.Trip
	for _, m := range d.trips {
		trips = append(trips, words.Trip{Guests: m.Booking.Or(Booked{}).Name, Call: m.Call, Out: m.out})
	}
	var list []notify.Trip
	for i, t := range loadOnce(trips) {
		m := d.trips[i]
		list = append(list, notify.Trip{Trip: t, Told: m.told, Turned: !m.out && !m.held && m.turned, Why: m.why})
	}
	return list
}

// now is when the day's calls are told.
func (d madeDay) now() time.Time { return d.trips[0].Now }

// tellCall tells the call of the evening, all trips of the day in one message,
// and in checks after it what turned. A person whose quiet hours held the
// evening's message gets it with the first check after them.
func (e *engine) tellCall(ctx context.Context, day madeDay, check bool, acc *account) error {
	if len(day.trips) == 0 {
		return nil
	}
	trips, news := day.told(), day.news()
	var errs []error
	for _, p := range e.people[day.port.Name] {
		d := notify.Evening(p, trips, day.now())
		last, err := e.desk.Ledger.Told(ctx, d.Key)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		switch {
		case check && day.held():
			continue // what this run found is not told yet
		case check && len(news) > 0 && (last.Known() || !p.Wants(models.NoticeCall)):
			d = notify.Changed(p, trips, day.now())
			if same, err := e.saidInTheMorning(ctx, d, last); err != nil || same {
				errs = append(errs, err)
				continue
			}
		case check && last.Known():
			continue
		}
		errs = append(errs, e.tell(ctx, d, acc))
	}
	return errors.Join(errs...)
}

// saidInTheMorning tells whether the morning's message, newer than the last
// one of the evening's key, said the same.
func (e *engine) saidInTheMorning(ctx context.Context, d notify.Draft, last models.Opt[models.Message]) (bool, error) {
	m, err := e.desk.Ledger.Told(ctx, "morning"+strings.TrimPrefix(d.Key, "call"))
	said, ok := m.Get()
	if err != nil || !ok {
		return false, err
	}
	return said.Digest == d.Digest && said.Made.After(last.Or(models.Message{}).Made), nil
}

// tellMorning confirms the day, with what changed since the evening and the
// upwind stations held against the call.
func (e *engine) tellMorning(ctx context.Context, day madeDay, acc *account) error {
	if len(day.trips) == 0 {
		return nil
	}
	news, err := e.morningNews(ctx, day)
	return errors.Join(err, e.toEach(ctx, day.port.Name, acc, func(p notify.Person) notify.Draft {
		return notify.Morning(p, day.told(), news, day.now())
	}))
}

// morningNews is what the night brought. What can't be had is left out: the
// morning is told all the same.
func (e *engine) morningNews(ctx context.Context, day madeDay) (news notify.MorningNews, err error) {
	st, port, m := e.app.store, day.port, day.trips[0]
	calls, err := st.Calls(ctx, port.Name, day.date, 200)
	if err != nil {
		return news, err
	}
	// The evening's call is the first one told of the day.
	calls = slices.DeleteFunc(calls, func(c store.Call) bool {
		return c.Ground != m.Call.Ground.Name || c.Asked || slices.ContainsFunc(day.trips, func(o made) bool { return o.id == c.ID })
	})
	var said []models.Hour
	since := m.Now.Add(-12 * time.Hour)
	if len(calls) > 0 {
		evening, err := st.Call(ctx, calls[len(calls)-1].ID)
		if err != nil {
			return news, err
		}
		since = evening.Standing.Made
		if len(evening.Outlook) > 0 {
			o, err := words.ReadOutlook(evening.Outlook)
			if err != nil {
				return news, fmt.Errorf("read the evening's outlook: %w", err)
			}
			said = o.Middle.Hours
			news.Front = passage(o)
			news.FrontNow = passage(m.Outlook)
		}
	}
	var errs []error
	for _, s := range port.Stations {
		if !s.For(config.StationUpwind) {
			continue
		}
		reports, err := st.Observations(ctx, s.ID, models.Interval{Start: m.Now.Add(-6 * time.Hour), End: m.Now.Add(time.Minute)})
		errs = append(errs, err)
		if c, ok := notify.Compare(notify.Station{Name: s.ID, Reports: reports, Expected: expected(said, s)}, m.Now); ok {
			news.Stations = append(news.Stations, c)
		} else {
			news.Silent = append(news.Silent, s.ID)
		}
	}
	lives, err := st.Warnings(ctx, tripZones(port), models.Interval{Start: since, End: m.Now.Add(time.Second)})
	errs = append(errs, err)
	for _, same := range byEvent(lives) {
		if slices.ContainsFunc(same, func(w store.WarningLife) bool {
			return w.FirstSeen.After(since) || w.Ended.Known() || w.Changed.Or(since).After(since)
		}) {
			if c, ok := becameOf(same, since); ok {
				news.Warnings = append(news.Warnings, c)
			}
		}
	}
	return news, errors.Join(errs...)
}

// passage is when the first front of a day passes in its middle member.
func passage(o models.Outlook) models.Opt[time.Time] {
	for _, t := range scoring.Fronts([]models.Outlook{o}) {
		if models.DateOf(t, o.Port.Zone) == o.Date {
			return models.Known(t)
		}
	}
	return models.Unknown[time.Time]()
}

// expected is what the call took for granted, on the terms of a station's
// reports: the wind carried from 10 m to its anemometer.
func expected(hours []models.Hour, s config.Station) []notify.Expected {
	z := s.Anemometer.Or(10 * units.Metre)
	var list []notify.Expected
	for _, h := range hours {
		x := notify.Expected{At: h.At, WindFrom: h.WindFrom, Gust: h.Gust, Sea: h.Sea}
		if u, ok := h.Wind.Get(); ok {
			at, _ := wind.ToHeight(u, 10*units.Metre, z, h.Air, h.Water)
			x.Wind = models.Known(at)
		}
		list = append(list, x)
	}
	return list
}

// tellGuests drafts the messages to the guests of a day's trips where the call
// changes them, and asks the captain for each. Guests are written to only
// after his word.
func (e *engine) tellGuests(ctx context.Context, day madeDay, acc *account) error {
	var errs []error
	for _, m := range day.trips {
		errs = append(errs, e.tellGuestsOf(ctx, day.port, m, acc))
	}
	return errors.Join(errs...)
}

// tellGuestsOf does so for one trip. It goes by where the trip stands for
// people, so that a forecast that wobbles asks nobody twice.
func (e *engine) tellGuestsOf(ctx context.Context, port config.Port, m made, acc *account) error {
	ch, ok := m.Call.Charter.Get()
	held, booked := m.Booking.Get()
	if !ok || !booked || m.out || m.held || len(ch.Message) == 0 || len(ch.Actions) == 1 && ch.Actions[0] == models.CharterGo {
		return nil
	}
	b := held.Booking
	b.ID = held.mark() // keys of messages outlast the guests, and may name nobody
	draft, err := e.keepDraft(ctx, port, m, b)
	errs := []error{err}
	for _, p := range e.people[port.Name] {
		link, err := e.approveLink(draft)
		errs = append(errs, err)
		d, ok := notify.Approval(p, reader(e.cfg), m.Call, b, link, m.Now)
		if !ok || !d.Wanted() {
			continue
		}
		last, err := e.desk.Ledger.Told(ctx, d.Key)
		if err != nil {
			errs = append(errs, err)
			continue
		}
		if asked, ok := last.Get(); ok && !asked.Made.Before(m.told.Made) {
			continue // asked since the day last turned
		}
		errs = append(errs, e.tell(ctx, d, acc))
	}
	return errors.Join(errs...)
}

// keepDraft keeps the message to the guests until the captain has answered, and
// answers it; unknown where there is none to answer.
func (e *engine) keepDraft(ctx context.Context, port config.Port, m made, b models.Booking) (models.Opt[store.Draft], error) {
	none := models.Unknown[store.Draft]()
	guests := notify.Person{Name: b.Name, Reader: reader(e.cfg), Routes: routesTo(e.channels, b.Contact), What: []models.Notice{models.NoticeGuests}, Quiet: notify.Quiet{Zone: port.Zone}}
	if b.Contact == "" || len(guests.Routes) == 0 || e.d.o.DryRun != nil {
		return none, nil
	}
	d, ok, err := notify.Guests(guests, m.Call, b, int(m.id), m.Now)
	if err != nil || !ok {
		return none, err
	}
	open, err := e.app.store.Outbox().Drafts(ctx, m.Now)
	if err != nil {
		return none, err
	}
	if i := slices.IndexFunc(open, func(o store.Draft) bool { return o.Key == d.Key && !o.Made.Before(m.told.Made.Truncate(time.Second)) }); i >= 0 {
		return models.Known(open[i]), nil
	}
	last, err := e.desk.Ledger.Told(ctx, d.Key)
	if err != nil {
		return none, err
	}
	if sent, ok := last.Get(); ok && !sent.Made.Before(m.told.Made) {
		return none, nil // approved since the day last turned
	}
	id, err := draftID()
	if err != nil {
		return none, err
	}
	reason := models.ReasonFirst
	if last.Known() {
		reason = models.ReasonChanged
	}
	kept := store.Draft{
		ID: id, Key: d.Key, Port: port.Name, Date: m.Call.Date, Booking: b.ID, Made: m.Now, Expires: d.Deadline,
		Message: d.Message(reason, m.Now, e.desk.Domain),
	}
	return models.Known(kept), e.app.store.Outbox().AddDraft(ctx, kept)
}

// approveLink is the address of a link that lets a draft go out; empty where
// there is none, or no address of the pages.
func (e *engine) approveLink(draft models.Opt[store.Draft]) (string, error) {
	d, ok := draft.Get()
	if !ok {
		return "", nil
	}
	return e.link(notify.ActionApprove, d.ID, d.Expires)
}
