package scoring

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

const (
	// mostOffers is how many days are offered instead.
	mostOffers = 3
	// roughFrom is how long a rough ride lasts before guests are told of it,
	// in minutes.
	roughFrom = 60
	// leeSector is how far from straight off the land a wind may blow and
	// still leave a lee along the shore, degrees.
	leeSector = 60.0
	// longSwell is the period in seconds from which a rough sea lifts and
	// rolls more than it pounds, as long as the wind is under whitecaps.
	longSwell = 10.0
	whitecaps = 14 * units.Knot
	// manyUnwell is the share of guests unwell, in percent, that is told.
	manyUnwell = 5.0
)

// charter is what to do about the day's booking; unknown where there is none,
// and for trips without guests of the captain's own.
func (s *site) charter(v *view, c *models.Call, with With) models.Opt[models.CharterCall] {
	if s.o.Trip.Kind != models.Charter || with.Unbooked {
		return models.Unknown[models.CharterCall]()
	}
	ch := models.CharterCall{Actions: s.actions(v), TellBy: s.tellBy(with)}
	if v.plan.going {
		ch.Start, ch.End = c.Leave, c.Back
	}
	if !v.plan.going || slices.Contains(ch.Actions, models.CharterShorten) || slices.Contains(ch.Actions, models.CharterRoughNote) {
		ch.Offer = offers(s.o.Date, s.o.Trip.Party, with.Days)
	}
	ch.Subject, ch.Message = s.subject(v, c, ch), s.message(v, c, ch, with)
	return models.Known(ch)
}

func (s *site) actions(v *view) []models.CharterAction {
	if !v.plan.going {
		if s.hopeless(v) {
			return []models.CharterAction{models.CharterCancel, models.CharterMove}
		}
		return []models.CharterAction{models.CharterMove}
	}
	var out []models.CharterAction
	for _, t := range s.timing(v) {
		switch t {
		case models.AsBooked:
			out = append(out, models.CharterGo)
		case models.StartEarlier:
			out = append(out, models.CharterStartEarlier)
		case models.StartLater:
			out = append(out, models.CharterStartLater)
		case models.BackEarly: // by the clock; a trip is shortened by its length
		}
	}
	if v.plan.shorter(&v.trip) {
		out = append(out, models.CharterShorten)
	}
	rough, lee := 0, false
	for i := range v.hours {
		h := &v.hours[i]
		spent := min(h.to, v.plan.back) - max(h.from, v.plan.leave)
		if spent <= 0 || h.ride < models.RideRough {
			continue
		}
		rough += spent
		from, ok := h.c.WindFrom.Get()
		lee = lee || ok && units.Apart(from, s.sea+180) <= leeSector && !h.c.SeaFromElsewhere
	}
	if rough >= roughFrom {
		out = append(out, models.CharterRoughNote)
		if lee {
			out = append(out, models.CharterLee)
		}
	}
	return out
}

// hopeless tells whether a product under which nobody goes keeps the trip in,
// or a shut inlet through all of it: then the guests are told early that the day
// is off.
func (s *site) hopeless(v *view) bool {
	for _, c := range v.closings {
		if c.bars || c.cause == byNobody && c.from <= v.trip.start || c.cause == byInlet && c.from <= v.trip.start && s.shutAllDay(v) {
			return true
		}
	}
	return false
}

func (s *site) shutAllDay(v *view) bool {
	open := v.trip.start
	for _, c := range v.closings {
		if c.cause == byInlet && c.from <= open {
			open = max(open, c.to)
		}
	}
	return open >= v.trip.end
}

// tellHour is when guests are told the evening before, where the captain's
// terms do not say: common practice, no source.
func tellHour() models.Clock { return models.Clock{Hour: 19} }

func (s *site) tellBy(with With) models.Opt[time.Time] {
	if b, ok := with.Booking.Get(); ok && b.TellBy.Known() {
		return b.TellBy
	}
	return models.Known(tellHour().On(s.o.Date.AddDays(-1), s.zone))
}

// offers ranks the days to offer: by the party's comfort, then the fishing,
// then how sure the day is, then how near.
func offers(date models.Date, party models.Party, days []models.DayOutlook) []models.DayOffer {
	var can []models.DayOutlook
	for _, d := range days {
		if d.Date != date && d.Offered() && rideFor(d, party) <= models.RideRough {
			can = append(can, d)
		}
	}
	slices.SortStableFunc(can, func(a, b models.DayOutlook) int {
		return cmp.Or(
			cmp.Compare(rideFor(a, party), rideFor(b, party)),
			-cmp.Compare(tenths(a.Fishing), tenths(b.Fishing)),
			-cmp.Compare(tenths(a.Agreement), tenths(b.Agreement)),
			cmp.Compare(a.Date.String(), b.Date.String()),
		)
	})
	var out []models.DayOffer
	for _, d := range can[:min(len(can), mostOffers)] {
		ride := models.Word(rideFor(d, party).String())
		why := models.Say("offer.why", models.Word(d.Tactic), ride, models.Word(d.Confidence))
		if sea, ok := d.Sea.Get(); ok {
			why = models.Say("offer.why_sea", models.Word(d.Tactic), ride, sea, models.Word(d.Confidence))
		}
		if !d.Free.Known() {
			why = models.Say("offer.if_free", why)
		}
		out = append(out, models.DayOffer{Date: d.Date, Why: why, Guests: offerForGuests(d, rideFor(d, party))})
	}
	return out
}

// offerForGuests tells a day offered by what guests will notice: the sea, and
// how far it can be counted on.
func offerForGuests(d models.DayOutlook, ride models.Ride) models.Phrase {
	sea := models.Say("guests.day." + ride.String())
	if h, ok := d.Sea.Get(); ok {
		sea = models.Say("guests.day_sea."+ride.String(), h)
	}
	if d.Confidence == models.Sure || d.Confidence == models.Likely {
		return models.Say("guests.day_likely", sea)
	}
	return models.Say("guests.day_doubt", sea)
}

// subject says what happens to the guests' trip.
func (s *site) subject(v *view, c *models.Call, ch models.CharterCall) models.Phrase {
	if !v.plan.going {
		if slices.Contains(ch.Actions, models.CharterCancel) {
			return models.Say("guests.subject.off", s.o.Date)
		}
		return models.Say("guests.subject.move", s.o.Date)
	}
	leave, back, _ := c.Times()
	return models.Say("guests.subject."+s.change(v, c), s.o.Date, leave, back)
}

// reach tells how guests reach the captain.
func (s *site) reach() []models.Phrase {
	switch phone, mail := s.o.Boat.Phone, s.o.Boat.ReplyTo; {
	case phone != "" && mail != "":
		return []models.Phrase{models.Say("guests.reach", phone, mail)}
	case phone != "":
		return []models.Phrase{models.Say("guests.reach_phone", phone)}
	case mail != "":
		return []models.Phrase{models.Say("guests.reach_mail", mail)}
	}
	return nil
}

func rideFor(d models.DayOutlook, party models.Party) models.Ride {
	if r, ok := d.Rides[party]; ok {
		return r
	}
	return d.WorstRide
}

func tenths(x float64) int { return int(x*10 + 0.5) }

// message is the draft for the guests: what is proposed, what the sea will
// feel like, what is likely to bite, the choices, and every official product
// in force by name.
func (s *site) message(v *view, c *models.Call, ch models.CharterCall, with With) []models.Phrase {
	list := []models.Phrase{models.Say("guests.hello")}
	if b, ok := with.Booking.Get(); ok && b.Name != "" {
		list = []models.Phrase{models.Say("guests.hello_name", b.Name)}
	}
	products := s.productsOfDay()
	heights := false
	if !v.plan.going {
		list = append(list, models.Say("guests.stay_in", s.o.Date, s.whyInForGuests(v)))
		if sea, ok := s.seaOfTrip(v).Get(); ok && len(products) > 0 {
			list = append(list, models.Say("guests.seas", sea))
		}
	} else {
		list = append(list, s.proposal(v, c))
		list = append(list, s.doubt(v)...)
		if why, ok := s.bindingForGuests(v); ok && c.Timing[0] != models.AsBooked {
			list = append(list, models.Say("guests.because", why))
		}
		list = append(list, s.feel(v)...)
		heights = s.worstRide(v) >= models.RideRough && s.worstOut(v).c.LocalSea.Known()
		if slices.Contains(ch.Actions, models.CharterLee) {
			list = append(list, models.Say("guests.lee"))
		}
		list = append(list, models.Say("guests.tactic."+strings.ReplaceAll(string(c.Tactic), " ", "_")))
		if s.slow(&v.plan) {
			list = append(list, models.Say("guests.slow"))
		}
	}
	for _, w := range products {
		if end, ok := w.Ends.Get(); ok {
			list = append(list, models.Say("guests.product_times", models.Word(w.Event), w.Onset, end))
		} else {
			list = append(list, models.Say("guests.product", models.Word(w.Event)))
		}
	}
	if len(products) > 0 || heights {
		list = append(list, models.Say("guests.single_waves"))
	}
	if !s.o.Warnings.Known() {
		list = append(list, models.Say("guests.warnings_unknown"))
	}
	switch {
	case len(ch.Offer) > 0 && !v.plan.going:
		for _, o := range ch.Offer {
			list = append(list, models.Say("guests.offer", o.Date, o.Guests))
		}
		list = append(list, models.Say("guests.choose"))
	case len(ch.Offer) > 0:
		list = append(list, models.Say("guests.or_move", ch.Offer[0].Date, ch.Offer[0].Guests))
	case !v.plan.going:
		list = append(list, models.Say("guests.another_day"))
	}
	if v.plan.going {
		list = append(list, models.Say("guests.bye"))
	}
	return append(list, s.reach()...)
}

// slow tells whether the fishing of a plan is less than fair.
func (s *site) slow(p *plan) bool { return p.going && p.fishing < s.lim.GradeFair*p.fished }

// productsOfDay are the official products of the day, one of each name, but
// those that are over before the boat would leave.
func (s *site) productsOfDay() []models.Warning {
	var out []models.Warning
	start := s.instant(s.clock(s.o.Trip.Start))
	for _, w := range s.products {
		if !w.During(s.day) || cancelled(w) || slices.ContainsFunc(out, func(x models.Warning) bool { return x.Event == w.Event }) {
			continue
		}
		if end, ok := w.Ends.Get(); ok && !end.After(start) {
			continue
		}
		out = append(out, w)
	}
	return out
}

// seaOfTrip is the highest sea of the booked hours.
func (s *site) seaOfTrip(v *view) models.Opt[units.Length] {
	var most models.Opt[units.Length]
	for i := range v.hours {
		h := &v.hours[i]
		if h.to <= v.trip.start || h.from >= v.trip.end {
			continue
		}
		if sea, ok := h.c.LocalSea.Get(); ok && sea > most.Or(-1) {
			most = models.Known(sea)
		}
	}
	return most
}

// whyInForGuests says in a guest's words why the boat stays in.
func (s *site) whyInForGuests(v *view) models.Phrase {
	if in := v.inTrip(); len(in) > 0 {
		if c := in[0]; c.from > v.trip.start {
			return models.Say("guests.from", s.begins(c), forGuests(c))
		}
		return forGuests(in[0])
	}
	if v.refused.Key != "" {
		return models.Say("guests.conditions")
	}
	if s.clearUntil(v.trip.start, v.courses) < v.trip.end {
		return models.Say("guests.why.never")
	}
	if !s.enough(v.answers.Runs.Courses, len(v.courses)) && s.whyNone(v).Key == "reason.few_run" {
		return models.Say("guests.conditions")
	}
	for _, p := range append(s.weakest(v), s.whyNone(v)) {
		if p.Key == "reason.not_kite.rain" || p.Key == "reason.soaked" {
			return models.Say("guests.why.rain")
		}
	}
	return models.Say("guests.why.fishing")
}

// bindingForGuests says in a guest's words what moves the times.
func (s *site) bindingForGuests(v *view) (models.Phrase, bool) {
	if c, ok := s.holdsUp(v); ok && v.plan.leave > v.trip.start {
		return models.Say("guests.until", s.told(v.plan.leave), forGuests(c)), true
	}
	if c, ok := s.bringsBack(v); ok && v.plan.back < v.trip.end {
		return models.Say("guests.from", s.begins(c), forGuests(c)), true
	}
	return models.Phrase{}, false
}

// forGuests says a closing without the trade's terms.
func forGuests(c closing) models.Phrase {
	key := map[cause]string{
		byThunder: "thunder", byInlet: "inlet", byFog: "fog", byNever: "never", byOwn: "own", byRide: "ride", byNoData: "no_data",
	}[c.cause]
	switch {
	case c.why.Key == "closed.scenarios":
		return models.Say("guests.conditions")
	case key == "":
		return models.Say("guests.why.product", c.why)
	case c.cause == byOwn && c.why.Key == "closed.own_sea":
		return models.Say("guests.why.ride")
	}
	return models.Say("guests.why." + key)
}

func (s *site) proposal(v *view, c *models.Call) models.Phrase {
	leave, back, _ := c.Times()
	return models.Say("guests."+s.change(v, c), s.o.Date, leave, back)
}

// change is the word for what a plan makes of the booked times.
func (s *site) change(v *view, c *models.Call) string {
	early, late, short := slices.Contains(c.Timing, models.StartEarlier), slices.Contains(c.Timing, models.StartLater), v.plan.shorter(&v.trip)
	switch {
	case early && short:
		return "earlier_shorter"
	case early:
		return "earlier"
	case late && short:
		return "later_shorter"
	case late:
		return "later"
	case short:
		return "shorter"
	}
	return "go"
}

// feel tells what the sea will feel like.
func (s *site) feel(v *view) []models.Phrase {
	w := s.worstOut(v)
	if w == nil || !w.c.LocalSea.Known() {
		return []models.Phrase{models.Say("guests.sea_unknown")}
	}
	sea := w.c.LocalSea.Or(0)
	feel := "guests.feel." + w.ride.String()
	if w.ride == models.RideRough && w.c.Period.Or(0) >= longSwell && w.c.Wind.Or(units.Speed(1<<10)) < whitecaps {
		feel = "guests.feel.swell"
	}
	list := []models.Phrase{models.Say(feel, sea)}
	if u, ok := w.c.Unwell.Get(); ok && w.ride >= models.RideRough && float64(u) >= manyUnwell {
		list = append(list, models.Say("guests.unwell", u))
	}
	return list
}

func (s *site) worstRide(v *view) models.Ride {
	if w := s.worstOut(v); w != nil {
		return w.ride
	}
	return models.RideEasy
}
