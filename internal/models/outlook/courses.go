package outlook

import (
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// ErrorSize is how wrong a source usually is at a lead.
type ErrorSize struct {
	// Wind is the standard error of the 10 m wind speed.
	Wind units.Speed
	// Sea is the standard error of the significant height as a share of it.
	Sea float64
	// Shift is the standard error of when things happen.
	Shift time.Duration
	// WindBias and SeaBias are taken off before anything else.
	WindBias units.Speed
	SeaBias  units.Length
}

// Assumed is the error until there is history to learn from. The wind's
// 1.75 m/s on day 1, growing to 3.2 m/s on day 5, is the usual size of a
// global model's error against buoys (from memory; design.md §5 marks it an
// assumption). The sea's share (15 % growing to 30 %) and the shift (one hour
// growing by three quarters of an hour a day) are our own assumptions. Leads
// under 12 hours count as 12, over ten days as ten days.
func Assumed(lead time.Duration) ErrorSize {
	days := leadDays(lead)
	grow := func(day1, day5, limit float64) float64 {
		return min(day1+(day5-day1)*(days-1)/4, limit)
	}
	return ErrorSize{
		Wind:  units.Speed(grow(1.75, 3.2, 4)) * units.MetrePerSecond,
		Sea:   grow(0.15, 0.30, 0.40),
		Shift: time.Duration(grow(1, 4, 8) * float64(time.Hour)),
	}
}

func leadDays(lead time.Duration) float64 { return min(max(lead.Hours()/24, 0.5), 10) }

// lasting is the share of the wind's error that lasts the whole day: a
// forecast of tomorrow is wrong by an hour here and there, one of five days
// ahead by a whole day. Our own assumption.
func lasting(lead time.Duration) float64 { return min(0.2*leadDays(lead), 0.9) }

// Sizes of the errors that are not learned: our own assumptions. The current
// on the ground is the least certain input: eddies on the shelf break turn it
// within a day or two.
const (
	currentError     = 0.4 * units.Knot
	currentTurnError = 15.0 // degrees
	seaFollowsWind   = 0.6  // correlation of the sea's error with the wind's
	hourToHour       = 0.9  // correlation of the wind's error of the hour with the next hour's
	turnToTurn       = 0.65 // the same over the four hours between the direction's draws
	gustError        = 0.2  // of the gusts over the mean, as a share of them
	periodError      = 0.08 // of the period, as a share of it
	cloudError       = 15.0 // percent
	sightError       = 0.5  // of the visibility, as a share of it
)

// What rain a course has where it rains, in the percent of the hour: a course
// has no chance of rain but rain or none. A shower or light rain lowers kites;
// a soaking rain stops them.
const (
	LightRain = 40.0
	Soaking   = 100.0
)

// soaks is the share of courses with rain in which it soaks, by the chance of
// rain: a small chance is one of showers, a sure one is mostly of steady rain.
// Our own assumption.
func soaks(chance float64) float64 { return min(max(0.2+0.75*(chance-20)/60, 0.2), 0.95) }

// blow is where a course stands in one hour of its errors.
type blow struct{ wind, turn float64 }

// walk steps through the errors of one course, hour by hour.
type walk struct {
	d     *Draws
	i     int
	start time.Time
	hour  int
	wind  float64 // the error of the hour
}

func newWalk(d *Draws, i int, start time.Time) walk {
	return walk{d: d, i: i, start: start, hour: -1}
}

// to is the error at t, whose lasting share is s; t never goes back.
func (w *walk) to(t time.Time, s float64) blow {
	hour := int(t.Sub(w.start) / time.Hour)
	for w.hour < hour {
		w.hour++
		z := w.d.z[drawHourly+w.hour%longest][w.i]
		if w.hour == 0 {
			w.wind = z
			continue
		}
		w.wind = hourToHour*w.wind + math.Sqrt(1-hourToHour*hourToHour)*z
	}
	stays, goes := math.Sqrt(s), math.Sqrt(1-s)
	return blow{stays*w.d.z[drawWind][w.i] + goes*w.wind, stays*w.d.z[drawTurn][w.i] + goes*w.turning(hour)}
}

// turning is the direction's error of the hour.
func (w *walk) turning(hour int) float64 {
	k := hour / 4
	x := float64(hour%4) / 4
	at := func(k int) float64 {
		v := w.d.z[drawTurn0][w.i]
		for j := 1; j <= k; j++ {
			v = turnToTurn*v + math.Sqrt(1-turnToTurn*turnToTurn)*w.d.z[drawTurn0+j%turns][w.i]
		}
		return v
	}
	a, b := at(k), at(k+1)
	return (a*(1-x) + b*x) / math.Sqrt(1-2*x*(1-x)*(1-turnToTurn))
}

// Around draws the courses around the hours of one forecast, made at an
// instant, with the errors assumed for its lead: for a forecast of which
// nobody tells how it comes.
func Around(hours []models.Hour, made time.Time, place Place, n int) []models.Member {
	base := models.Series{Run: made, Hours: hours}
	return courses(hours, []models.Series{base}, place, func(_ string, lead time.Duration) ErrorSize { return Assumed(lead) }, n)
}

// Place is where and when a course is drawn: what is usual hangs on it where
// nobody knows.
type Place struct {
	Zone *time.Location
	Lat  float64
	// Shore is where the open sea lies: an unknown current is drawn from it.
	Shore units.Toward
}

// courses draws n courses around the middle one, which take turns with the
// series that have wind as their base and fill what it lacks from the middle
// one. The turns go by the quantile of the wind's lasting error, so that each
// series has all of them, the low and the high.
func courses(mid []models.Hour, series []models.Series, place Place, errorsOf func(string, time.Duration) ErrorSize, n int) []models.Member {
	var bases []models.Series
	for _, s := range series {
		for _, h := range s.Hours {
			if h.Wind.Known() {
				bases = append(bases, s)
				break
			}
		}
	}
	if len(bases) == 0 || len(mid) == 0 || n <= 0 {
		return nil
	}
	d := DrawsOf(n)
	all := make([]models.Hour, n*len(mid))
	list := make([]models.Member, n)
	for i := range list {
		base := &bases[turnOf(int(d.u[drawWind][i]*float64(n)), len(bases))]
		hours := all[i*len(mid) : (i+1)*len(mid) : (i+1)*len(mid)]
		dress(hours, mid, base, d, i, place, errorsOf)
		list[i] = models.Member{Hours: hours}
	}
	return list
}

// turnOf is whose turn it is at a rank: up through the series and down again,
// so that none has the higher quantile every time.
func turnOf(rank, of int) int {
	if k := rank % of; rank/of%2 == 0 {
		return k
	}
	return of - 1 - rank%of
}

func dress(out, mid []models.Hour, base *models.Series, d *Draws, i int, place Place, errorsOf func(string, time.Duration) ErrorSize) {
	w := newWalk(d, i, mid[0].At)
	for k := range mid {
		m := &mid[k]
		lead := m.At.Sub(base.Run)
		size := errorsOf(base.Source, lead)
		e := w.to(m.At, lasting(lead))
		h := shifted(mid, base, m, time.Duration(d.z[drawShift][i]*float64(size.Shift)))
		h.At = m.At
		blown(&h, size, e, d.z[drawGust][i])
		sea := size.Sea * (seaFollowsWind*e.wind + math.Sqrt(1-seaFollowsWind*seaFollowsWind)*d.z[drawSea][i])
		h.Sea, h.Swell = capped(times(h.Sea, sea)), capped(times(h.Swell, sea))
		h.Period, h.SwellPeriod = times(h.Period, periodError*d.z[drawPeriod][i]), times(h.SwellPeriod, periodError*d.z[drawPeriod][i])
		h.Visibility = times(h.Visibility, sightError*d.z[drawSight][i])
		if c, ok := h.Current.Get(); ok {
			h.Current = models.Known(max(c+units.Speed(d.z[drawCurrent][i])*currentError, 0))
		}
		if t, ok := h.CurrentToward.Get(); ok {
			h.CurrentToward = models.Known(units.Toward(units.Toward(float64(t) + d.z[drawSet][i]*currentTurnError).Degrees()))
		}
		if c, ok := h.Cloud.Get(); ok {
			h.Cloud = models.Known(min(max(c+cloudError*d.z[drawCloud][i], 0), 100))
		}
		h.InletCurrent = m.InletCurrent // the tide does not come early with the front
		// The chances stand where they are forecast: they hold already that
		// things may come early or late.
		h.Thunder, h.Rain = d.Thunders(m.Thunder, i), d.Rains(m.Rain, i)
		usual(&h, m, d, i, place)
		out[k] = quantise(h)
	}
}

// Thunders is the chance of thunder of an hour as course i has it: 0 or
// 100 percent. As many courses have it as the chance says; a course that has it
// at one chance has it at every higher one, so that a spell begins and ends
// where the chance rises and falls.
func (d *Draws) Thunders(chance models.Opt[float64], i int) models.Opt[float64] {
	c, ok := chance.Get()
	if !ok {
		return chance
	}
	return models.Known(happens(d.u[drawThunder][i], c))
}

// Rains is the chance of rain of an hour as course i has it: none,
// LightRain or Soaking.
func (d *Draws) Rains(chance models.Opt[float64], i int) models.Opt[float64] {
	c, ok := chance.Get()
	if !ok {
		return chance
	}
	u := d.u[drawRain][i]
	switch {
	case happens(u, c*soaks(c)) > 0:
		return models.Known(Soaking)
	case happens(u, c) > 0:
		return models.Known(LightRain)
	}
	return models.Known(0.0)
}

// Warned tells whether course i has an official product out that keeps
// the boat in, where nobody knows what is out: in one course of ten. Our own
// assumption.
func (d *Draws) Warned(i int) bool { return d.u[drawWarned][i] < warnedUsually }

const warnedUsually = 0.1

func happens(u, percent float64) float64 {
	if 100*u < percent {
		return 100
	}
	return 0
}

// times is a value times the exponential of an error.
func times[T ~float64](v models.Opt[T], err float64) models.Opt[T] {
	x, ok := v.Get()
	if !ok || err == 0 {
		return v
	}
	return models.Known(x * T(math.Exp(err)))
}

// capped keeps an error from raising a sea above what any source is believed.
func capped(sea models.Opt[units.Length]) models.Opt[units.Length] {
	return models.MapOpt(sea, func(v units.Length) units.Length { return min(v, highestSea) })
}

// shifted is the base's hour as if its weather came late by the shift, with
// the middle one's values where the base has none.
func shifted(mid []models.Hour, base *models.Series, m *models.Hour, late time.Duration) models.Hour {
	// Past either end of the data the nearest hour that there is stands in.
	from := func(hours []models.Hour) (models.Hour, bool) {
		if h, ok := at(hours, m.At.Add(-late)); ok {
			return h, true
		}
		return at(hours, m.At)
	}
	h, ok := from(base.Hours)
	if !ok {
		h, _ = from(mid)
	} else if len(base.Hours) == 0 || &base.Hours[0] != &mid[0] {
		rest, _ := from(mid)
		h = fill(h, rest)
	}
	return onlyWhereMiddleKnows(h, m)
}

// onlyWhereMiddleKnows keeps an error from making something known that the
// middle one does not know at that hour.
func onlyWhereMiddleKnows(h models.Hour, m *models.Hour) models.Hour {
	if !m.Wind.Known() {
		h.Wind, h.WindFrom = m.Wind, m.WindFrom
	}
	if !m.Gust.Known() {
		h.Gust = m.Gust
	}
	if !m.Sea.Known() {
		h.Sea, h.Period, h.SeaFrom = m.Sea, m.Period, m.SeaFrom
	}
	if !m.Period.Known() {
		h.Period = m.Period
	}
	if !m.Current.Known() {
		h.Current, h.CurrentToward = m.Current, m.CurrentToward
	}
	if !m.Cloud.Known() {
		h.Cloud = m.Cloud
	}
	if !m.Visibility.Known() {
		h.Visibility = m.Visibility
	}
	if !m.DirectionSpread.Known() {
		h.DirectionSpread = m.DirectionSpread
	}
	return h
}

// blown puts errors on speed, gusts and direction. The direction's error is
// the angle that the speed's error makes across the wind, so that a light wind
// may come from anywhere and a strong one from about where it is forecast.
func blown(h *models.Hour, size ErrorSize, e blow, gusty float64) {
	w, ok := h.Wind.Get()
	if !ok {
		return
	}
	after := max(w+units.Speed(e.wind*float64(size.Wind)), 0)
	if g, ok := h.Gust.Get(); ok {
		// Gustiness grows and falls with the wind, though by less: part of it
		// is the weather's and not the wind's.
		spread := float64(max(g-w, 0)) * math.Exp(gustError*gusty)
		if w > units.Knot {
			spread *= math.Sqrt(min(float64(after/w), 2))
		}
		h.Gust = models.Known(after + units.Speed(spread))
	}
	if f, ok := h.WindFrom.Get(); ok {
		across := math.Atan2(float64(size.Wind), float64(max(w, units.Knot))) * 180 / math.Pi
		h.WindFrom = models.Known(units.From(units.From(float64(f) + e.turn*across).Degrees()))
	}
	h.Wind = models.Known(after)
}
