package app

import (
	"sync"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
	"forecastd/internal/scoring"
)

// held keeps what was judged of each ground of each port, for as long as all
// that it was judged from stays as it was: a look that finds nothing new has
// nothing to judge. It keeps one answer for each thing asked, and those of
// days that are past go with the next that is kept. Of more places than there
// is room for, some are judged again at each look.
type held[V any] struct {
	mu     sync.Mutex
	places map[[2]string]map[asked]answered[V] // by port and ground
	most   int                                 // answers, of all places
	count  int
}

// asked is what is judged of a ground: the trip of a day by its mark, in one
// of the passes over the day's trips.
type asked struct {
	date models.Date
	mark string
	pass int
}

type answered[V any] struct {
	from  digest
	value V
}

// How many answers are held at most: a call takes about 150 KB, the days ahead
// of a ground about 11 KB.
const (
	mostCalls = 1500
	mostDays  = 20_000
)

func newHeld[V any](most int) *held[V] {
	return &held[V]{places: map[[2]string]map[asked]answered[V]{}, most: most}
}

// get is what was judged from the same.
func (h *held[V]) get(place [2]string, what asked, from digest) (V, bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	a, ok := h.places[place][what]
	if !ok || a.from != from {
		var none V
		return none, false
	}
	return a.value, true
}

// put keeps what was judged on a day.
func (h *held[V]) put(place [2]string, what asked, from digest, value V, today models.Date) {
	h.mu.Lock()
	defer h.mu.Unlock()
	list := h.places[place]
	if list == nil {
		list = map[asked]answered[V]{}
		h.places[place] = list
	}
	before := len(list)
	for k := range list {
		if k.date.Before(today) {
			delete(list, k)
		}
	}
	if len(list) >= mostHeld {
		clear(list)
	}
	list[what] = answered[V]{from, value}
	h.count += len(list) - before
	for other, answers := range h.places {
		if h.count <= h.most {
			break
		}
		if other != place {
			h.count -= len(answers)
			delete(h.places, other)
		}
	}
}

// mostHeld is how many answers are kept for a ground: eleven days of a few
// trips each.
const mostHeld = 64

// shortDays judges the days from so many ahead on in short, each with its
// bookings. The first of them is judged whatever is known of it where it is
// today.
func (a *App) shortDays(g gathered, first int) []models.DayOutlook {
	now := a.now().UTC().Truncate(time.Second)
	today := models.DateOf(now, g.port.Zone)
	place, what := [2]string{g.port.Name, g.ground.Name}, asked{date: today, pass: first}
	from, sure := a.digestDays(g, today, first)
	days, ok := []models.DayOutlook(nil), false
	if sure {
		days, ok = a.days.get(place, what, from)
	}
	if !ok {
		days = scoring.Days(a.ahead(g, first), a.cfg.Limits, g.mem.free)
		if sure {
			a.days.put(place, what, from, days, today)
		}
	}
	days = append([]models.DayOutlook(nil), days...)
	for i := range days {
		d := &days[i]
		d.Bookings = g.mem.bookedOn(d.Date)
		d.PastWarnings = models.PastWarnings(now, a.tripOf(g, d.Date).End.On(d.Date, g.port.Zone))
	}
	return days
}

// digestDays digests what the days ahead are judged from.
func (a *App) digestDays(g gathered, today models.Date, first int) (digest, bool) {
	type day struct {
		date      models.Date
		trip      models.Trip
		reports   models.Reports
		overrides []models.Override
		history   int
		free      models.Opt[bool]
		// beyond tells that it is told in parts of the day.
		beyond bool
	}
	var days []day
	var in outlook.Input
	for n := first; n <= farthest; n++ {
		date := today.AddDays(n)
		trip := a.tripOf(g, date)
		in = a.input(g, date, trip)
		days = append(days, day{date, trip, in.Reports, in.Overrides, in.HistoryDays, g.mem.free(date), beyondHours(in)})
	}
	in.Date, in.Trip, in.Reports, in.Overrides, in.HistoryDays = models.Date{}, models.Trip{}, models.Reports{}, nil, 0
	return digestOf(entering(in), g.mem.learned, a.cfg.Limits, days)
}

// entering is an input without what does not change what is judged from it:
// when it is, where things came from, and the reports of the stations but for
// the water's temperature that is taken from one.
func entering(in outlook.Input) outlook.Input {
	in.Observed = outlook.Warming(in)
	in.Now, in.Sources, in.Errors = time.Time{}, nil, nil
	return in
}

// called is the call of a trip, held where nothing changed that it was made
// from.
func (a *App) called(t ready, pass int, with scoring.With) (models.Call, error) {
	place, what := [2]string{t.port.Name, t.ground.Name}, asked{t.slot.date, t.slot.mark, pass}
	from, sure := a.digestCall(t, with)
	if sure {
		if c, ok := a.calls.get(place, what, from); ok {
			return scoring.Again(c, t.outlook, a.cfg.Limits, with), nil
		}
	}
	c, err := judge(t.outlook, a.cfg.Limits, with)
	if err == nil && sure {
		a.calls.put(place, what, from, c, models.DateOf(a.now(), t.port.Zone))
	}
	return c, err
}

// digestCall digests what a call is judged from. What was told before changes
// what is said to be new in it, and no more.
func (a *App) digestCall(t ready, with scoring.With) (digest, bool) {
	with.Told, with.Runs = models.Unknown[models.Standing](), nil
	in := a.input(t.g, t.slot.date, t.trip)
	return digestOf(entering(in), beyondHours(in), t.g.mem.learned, a.cfg.Limits, with)
}

// beyondHours tells whether a trip is so far ahead that it is told in parts of
// the day.
func beyondHours(in outlook.Input) bool {
	return models.BeyondHours(in.Now.UTC().Truncate(time.Second), in.Trip.Start.On(in.Date, in.Port.Zone))
}
