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
)

// charter is what to do about the day's booking; unknown for trips without
// guests of the captain's own.
func (s *site) charter(v *view, c *models.Call, with With) models.Opt[models.CharterCall] {
	if s.o.Trip.Kind != models.Charter {
		return models.Unknown[models.CharterCall]()
	}
	ch := models.CharterCall{Actions: s.actions(v), TellBy: s.tellBy(with)}
	if v.plan.going {
		ch.Start, ch.End = c.Leave, c.Back
	}
	if !v.plan.going || slices.Contains(ch.Actions, models.CharterShorten) || slices.Contains(ch.Actions, models.CharterRoughNote) {
		ch.Offer = offers(s.o.Date, s.o.Trip.Party, with.Days)
	}
	ch.Message = s.message(v, c, ch, with)
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
		case models.BackEarly:
			out = append(out, models.CharterShorten)
		}
	}
	rough, lee := 0, false
	for i := range v.hours {
		h := &v.hours[i]
		spent := min(s.minute(h.span.End), v.plan.back) - max(s.minute(h.span.Start), v.plan.leave)
		if spent <= 0 || h.ride < models.RideRough {
			continue
		}
		rough += spent
		from, ok := h.c.WindFrom.Get()
		lee = lee || ok && units.Apart(from, s.sea+180) <= leeSector
	}
	if rough >= roughFrom {
		out = append(out, models.CharterRoughNote)
		if lee {
			out = append(out, models.CharterLee)
		}
	}
	return out
}

// hopeless tells whether a product under which nobody goes, or a shut inlet,
// holds through the whole trip: then the guests are told early that the day
// is off.
func (s *site) hopeless(v *view) bool {
	for _, c := range v.closings {
		if (c.cause == byNobody || c.cause == byInlet && s.shutAllDay(v)) && c.from <= v.trip.start {
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
		if d.Date != date && d.Out.Known() && d.Free.Or(true) && rideFor(d, party) <= models.RideRough {
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
		out = append(out, models.DayOffer{Date: d.Date, Why: why})
	}
	return out
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
	if !v.plan.going {
		why := models.Say("guests.conditions")
		if in := v.inTrip(); len(in) > 0 {
			why = in[0].why
		}
		list = append(list, models.Say("guests.stay_in", s.o.Date, why))
	} else {
		list = append(list, s.proposal(v, c))
		if why, ok := s.bindingPhrase(v); ok && c.Timing[0] != models.AsBooked {
			list = append(list, models.Say("guests.because", why))
		}
		list = append(list, s.feel(v)...)
		list = append(list, models.Say("guests.tactic."+strings.ReplaceAll(string(c.Tactic), " ", "_")))
	}
	for _, p := range products {
		list = append(list, models.Say("guests.product", p))
	}
	if len(products) > 0 || s.worstRide(v) >= models.RideRough {
		list = append(list, models.Say("guests.single_waves"))
	}
	if !s.o.Warnings.Known() {
		list = append(list, models.Say("guests.warnings_unknown"))
	}
	switch {
	case len(ch.Offer) > 0 && !v.plan.going:
		for _, o := range ch.Offer {
			list = append(list, models.Say("guests.offer", o.Date, o.Why))
		}
	case len(ch.Offer) > 0:
		list = append(list, models.Say("guests.or_move", ch.Offer[0].Date, ch.Offer[0].Why))
	case !v.plan.going:
		list = append(list, models.Say("guests.another_day"))
	}
	return append(list, models.Say("guests.bye"))
}

func (s *site) productsOfDay() []string {
	var out []string
	list, _ := s.o.Warnings.Get()
	for _, w := range list {
		if w.During(s.day) && !cancelled(w) && !slices.Contains(out, w.Event) {
			out = append(out, w.Event)
		}
	}
	return out
}

func (s *site) proposal(v *view, c *models.Call) models.Phrase {
	leave, _ := c.Leave.Get()
	back, _ := c.Back.Get()
	key := "guests.go"
	switch early, late, short := slices.Contains(c.Timing, models.StartEarlier), slices.Contains(c.Timing, models.StartLater), slices.Contains(c.Timing, models.BackEarly); {
	case early && short:
		key = "guests.earlier_shorter"
	case early:
		key = "guests.earlier"
	case late && short:
		key = "guests.later_shorter"
	case late:
		key = "guests.later"
	case short:
		key = "guests.shorter"
	}
	return models.Say(key, s.o.Date, leave, back)
}

// feel tells what the sea will feel like.
func (s *site) feel(v *view) []models.Phrase {
	w := s.worstOut(v)
	if w == nil || !w.c.LocalSea.Known() {
		return []models.Phrase{models.Say("guests.sea_unknown")}
	}
	sea := w.c.LocalSea.Or(0)
	list := []models.Phrase{models.Say("guests.feel."+w.ride.String(), sea)}
	if u, ok := w.c.Unwell.Get(); ok && w.ride >= models.RideRough {
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
