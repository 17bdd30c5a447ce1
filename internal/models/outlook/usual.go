package outlook

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// What nobody knows is drawn from how it usually is at that season and hour,
// wide: none of it is measured, all of it our own assumption for a subtropical
// coast. What has no use for a spread (the stream in the inlet, the wind's and
// the sea's direction, air and water) stays unknown and is judged so.
const (
	usualGust       = 0.35 // of the wind, over it
	usualGustSpread = 0.35 // of that, as a share of it
	// The sea that a wind raises here is usually seaOfWind of the fully grown
	// one (0.0246 s²/m times the square of its speed, from memory), over a
	// swell of usualSwell.
	seaOfWind      = 0.7
	fullyGrown     = 0.0246
	usualSwell     = 0.6 * units.Metre
	usualSeaSpread = 0.5
	usualPeriod    = 5.5 // seconds
	periodSpread   = 0.3
	usualCurrent   = 1 * units.Knot
	currentSpread  = 0.7
	usualRange     = 20.0 // degrees that the wind's direction ranges
	rangeSpread    = 0.5
	usualFog       = 0.4 * units.NauticalMile
	usualClear     = 8 * units.NauticalMile
)

// Chances in percent where nobody tells them: thunder on summer afternoons,
// in other hours of summer, and else; rain in summer and else; fog at dawn and
// else.
const (
	thunderAfternoon, thunderSummer, thunderElse = 30.0, 12.0, 6.0
	rainSummer, rainElse                         = 35.0, 25.0
	fogDawn, fogElse                             = 6.0, 3.0
)

// Lack names what an hour may lack, as the gaps of an outlook do.
type Lack string

// What is drawn where an hour lacks it.
const (
	LackGust       Lack = "gusts"
	LackSea        Lack = "seas"
	LackPeriod     Lack = "wave period"
	LackCurrent    Lack = "current"
	LackCloud      Lack = "cloud"
	LackRain       Lack = "rain"
	LackThunder    Lack = "thunder"
	LackVisibility Lack = "visibility"
	LackSpread     Lack = "wind spread"
)

// Of tells whether an hour lacks it.
func (l Lack) Of(h *models.Hour) bool {
	switch l {
	case LackGust:
		return !h.Gust.Known()
	case LackSea:
		return !h.Sea.Known()
	case LackPeriod:
		return !h.Period.Known()
	case LackCurrent:
		return !h.Current.Known() || !h.CurrentToward.Known()
	case LackCloud:
		return !h.Cloud.Known()
	case LackRain:
		return !h.Rain.Known()
	case LackThunder:
		return !h.Thunder.Known()
	case LackVisibility:
		return !h.Visibility.Known()
	case LackSpread:
		return !h.DirectionSpread.Known()
	}
	return false
}

// Complete draws for course i what an hour of it does not know.
func (d *Draws) Complete(h *models.Hour, i int, place Place) { usual(h, h, d, i, place) }

// Settle puts in for one input what it usually is, as if somebody had told it.
func (l Lack) Settle(h *models.Hour, place Place) {
	all := *h
	forget(&all, l)
	fillUsual(&all, middling{}, place)
	switch l {
	case LackGust:
		h.Gust = all.Gust
	case LackSea:
		h.Sea = all.Sea
		h.Period = h.Period.Else(all.Period)
	case LackPeriod:
		h.Period = all.Period
	case LackCurrent:
		h.Current, h.CurrentToward = all.Current, all.CurrentToward
	case LackCloud:
		h.Cloud = all.Cloud
	case LackRain:
		h.Rain = all.Rain
	case LackThunder:
		h.Thunder = all.Thunder
	case LackVisibility:
		h.Visibility = all.Visibility
	case LackSpread:
		h.DirectionSpread = all.DirectionSpread
	}
}

func forget(h *models.Hour, l Lack) {
	switch l {
	case LackGust:
		h.Gust = models.Unknown[units.Speed]()
	case LackSea:
		h.Sea = models.Unknown[units.Length]()
	case LackPeriod:
		h.Period = models.Unknown[float64]()
	case LackCurrent:
		h.Current, h.CurrentToward = models.Unknown[units.Speed](), models.Unknown[units.Toward]()
	case LackCloud:
		h.Cloud = models.Unknown[float64]()
	case LackRain:
		h.Rain = models.Unknown[float64]()
	case LackThunder:
		h.Thunder = models.Unknown[float64]()
	case LackVisibility:
		h.Visibility = models.Unknown[units.Length]()
	case LackSpread:
		h.DirectionSpread = models.Unknown[float64]()
	}
}

// deviates tell where in what is usual a value lies.
type deviates interface {
	z(dimension int) float64
	u(dimension int) float64
}

// middling is the middle of everything.
type middling struct{}

func (middling) z(int) float64 { return 0 }
func (middling) u(int) float64 { return 0.5 }

type ofCourse struct {
	d *Draws
	i int
}

func (c ofCourse) z(dim int) float64 { return c.d.z[dim][c.i] }
func (c ofCourse) u(dim int) float64 { return c.d.u[dim][c.i] }

// usual draws for a course what the middle one does not know.
func usual(h, m *models.Hour, d *Draws, i int, place Place) {
	if m.Gust.Known() && m.Sea.Known() && m.Period.Known() && m.Current.Known() && m.Cloud.Known() && m.Rain.Known() && m.Thunder.Known() &&
		m.Visibility.Known() && m.DirectionSpread.Known() {
		return
	}
	fillUsual(h, ofCourse{d, i}, place)
}

// fillUsual puts in what an hour does not know, where the deviates say.
func fillUsual(h *models.Hour, d deviates, place Place) {
	w, blows := h.Wind.Get()
	summer, clock := season(h, place)
	if !h.Gust.Known() && blows {
		h.Gust = models.Known(w * units.Speed(1+usualGust*math.Exp(usualGustSpread*d.z(drawGust))))
	}
	if !h.Sea.Known() && blows {
		own := seaOfWind * fullyGrown * float64(w) * float64(w)
		middle := units.Length(math.Hypot(own, float64(usualSwell)))
		h.Sea = models.Known(min(middle*units.Length(math.Exp(usualSeaSpread*d.z(drawSea))), highestSea))
	}
	if !h.Period.Known() && h.Sea.Known() {
		h.Period = models.Known(usualPeriod * math.Exp(periodSpread*d.z(drawPeriod)))
	}
	if !h.Current.Known() {
		h.Current = models.Known(usualCurrent * units.Speed(math.Exp(currentSpread*d.z(drawCurrent))))
		h.CurrentToward = models.Known(units.Toward((place.Shore + units.Toward(360*d.u(drawSet))).Degrees()))
	}
	if !h.Cloud.Known() {
		h.Cloud = models.Known(100 * d.u(drawCloud))
	}
	if !h.Thunder.Known() {
		chance := thunderElse
		switch {
		case summer && clock >= 12 && clock < 20:
			chance = thunderAfternoon
		case summer:
			chance = thunderSummer
		}
		h.Thunder = models.Known(happens(d.u(drawThunder), chance))
	}
	if !h.Rain.Known() {
		chance := rainElse
		if summer {
			chance = rainSummer
		}
		h.Rain = models.Known(0.0)
		switch u := d.u(drawRain); {
		case happens(u, chance*soaks(chance)) > 0:
			h.Rain = models.Known(Soaking)
		case happens(u, chance) > 0:
			h.Rain = models.Known(LightRain)
		}
	}
	if !h.Visibility.Known() {
		chance := fogElse
		if clock >= 4 && clock < 10 {
			chance = fogDawn
		}
		h.Visibility = models.Known(usualClear)
		if happens(d.u(drawFog), chance) > 0 {
			h.Visibility = models.Known(usualFog)
		}
	}
	if !h.DirectionSpread.Known() {
		h.DirectionSpread = models.Known(usualRange * math.Exp(rangeSpread*d.z(drawSpread)))
	}
}

// season tells whether it is summer and what hour the clock shows.
func season(h *models.Hour, place Place) (summer bool, clock int) {
	at := h.At
	if place.Zone != nil {
		at = at.In(place.Zone)
	}
	m := int(at.Month())
	if place.Lat < 0 {
		m = (m+5)%12 + 1
	}
	return m >= 5 && m <= 10, at.Hour()
}
