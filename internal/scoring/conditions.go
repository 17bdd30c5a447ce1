package scoring

import (
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/drift"
	"forecastd/internal/models/kite"
	"forecastd/internal/models/ride"
	"forecastd/internal/models/sky"
	"forecastd/internal/models/units"
	"forecastd/internal/models/wave"
	"forecastd/internal/models/wind"
)

// hour is one hour after physics, with its worths.
type hour struct {
	span models.Interval
	// from and to are the span in minutes of the day called.
	from, to int
	c        models.Conditions
	ch       kite.Choice
	kite     kiteWorth
	look     sightWorth
	fish     float64
	ride     models.Ride
	// alone is what the hour is worth by itself, before it is given the grades
	// that half of the courses reach.
	alone struct{ kite, look float64 }
}

// conditions works the physics of one hour that counts for its grades.
func (s *site) conditions(h models.Hour, span models.Interval) (models.Conditions, kite.Choice) {
	c := models.Conditions{Hour: h}
	mid := s.sun(span.Start.Add(span.Duration() / 2))
	c.SunElevation, c.SunAzimuth = mid.Elevation, mid.Azimuth
	s.seaOnGround(&c)
	s.driftOnGround(&c)
	s.inTheInlet(&c)
	choice := s.atTheKite(&c)
	s.glareOf(&c, span)
	return c, choice
}

// glareOf is the glare of an hour, known where the wind's direction is.
func (s *site) glareOf(c *models.Conditions, span models.Interval) {
	if from, ok := c.WindFrom.Get(); ok {
		c.Glare = models.Known(s.glare(s.sun(span.Start.Add(span.Duration()/2)), from))
	}
}

// seaOnGround is the sea on the ground.
func (s *site) seaOnGround(c *models.Conditions) {
	toward, okToward := c.CurrentToward.Get()
	c.LocalSea = c.Sea
	sea, okSea := c.Sea.Get()
	if okSea {
		t := time.Duration(c.Period.Or(unknownPeriod) * float64(time.Second))
		c.Steepness = models.Known(wave.Steepness(sea, t))
		from, okDir := c.SeaFrom.Else(c.WindFrom).Get()
		current, okCurrent := c.Current.Get()
		if !c.SeaIncludesCurrent.Or(false) && okDir && okCurrent && okToward {
			if on, err := wave.Shift(sea, t, from, current, toward, s.o.Ground.Depth); err == nil {
				c.Steepness = models.Known(on.Steepness)
				c.LocalSea = models.Known(sea * units.Length(growth(on, sea, from, current, toward, s.o.Ground.Depth)))
			}
		}
	}
}

// driftOnGround is how the boat drifts on the ground, and how much wind and
// current run against each other.
func (s *site) driftOnGround(c *models.Conditions) {
	windFrom, okFrom := c.WindFrom.Get()
	toward, okToward := c.CurrentToward.Get()
	if okFrom && okToward {
		c.Opposition = models.Known(math.Cos((windFrom.Degrees() - toward.Degrees()) * math.Pi / 180))
	}
	w, okWind := c.Wind.Get()
	if !okWind {
		return
	}
	m := drift.Leeway(s.craft, w, windFrom, false)
	c.Slip = models.Known(m.Slip)
	current, okCurrent := c.Current.Get()
	if okFrom && okCurrent && (okToward || current == 0) {
		v := drift.Ground(m.Mean, units.FlowVector(current, toward))
		c.DriftSpeed = models.Known(v.Speed())
		if to, ok := v.Toward(); ok {
			c.DriftToward = models.Known(to)
		}
	}
}

const (
	// unknownPeriod is what a sea of unknown period is taken for, in seconds:
	// a short one.
	unknownPeriod = 5.0
	// mostGrowth is the most that a sea is taken to grow against a current.
	// Linear theory overstates it near blocking, and a sea that breaks there
	// counts as grown by as much (trade.md 1.6: 5 s against 3 kn).
	mostGrowth = 2.0
	// longSea is the period at which a following current's laying down of the
	// sea is taken, whatever its period: long waves are laid down least, and
	// a short sea is never taken as the better one.
	longSea = 10 * time.Second
)

// growth is what a current does to the height of a sea, for judging.
func growth(on wave.OnCurrent, sea units.Length, from units.From, current units.Speed, toward units.Toward, depth units.Length) float64 {
	along := units.FlowVector(current, toward).Along(from.Toward())
	switch {
	case along >= 0:
		if long, err := wave.Shift(sea, longSea, from, current, toward, depth); err == nil {
			return long.HeightRatio
		}
		return 1
	case on.Breaking || on.Blocked:
		return mostGrowth
	}
	return min(on.HeightRatio, mostGrowth)
}

// barDepth is the depth in the mouth where the port does not give it
// (trade.md 8.2).
const barDepth = 20 * units.Foot

// inTheInlet is the worse of sea and swell that run into the mouth, after the
// ebb has worked on it. A sea whose direction nobody says is taken from the
// wind's where that wind can have raised it, and else to run in.
func (s *site) inTheInlet(c *models.Conditions) {
	s.intoTheMouth(c, c.Sea, c.Period, c.SeaFrom)
	s.intoTheMouth(c, c.Swell, c.SwellPeriod, c.SwellFrom)
}

func (s *site) intoTheMouth(c *models.Conditions, height models.Opt[units.Length], seconds models.Opt[float64], dir models.Opt[units.From]) {
	h, ok := height.Get()
	if !ok {
		return
	}
	came, elsewhere := s.comesFrom(c, h, seconds, dir)
	c.SeaFromElsewhere = c.SeaFromElsewhere || elsewhere
	if from, ok := came.Get(); ok && units.Apart(from, s.sea) > s.lim.InletSector {
		h = 0
	}
	steep := models.Unknown[float64]()
	period, okPeriod := seconds.Get()
	t := time.Duration(period * float64(time.Second))
	if okPeriod {
		steep = models.Known(wave.Steepness(h, t))
	}
	if stream, ok := c.InletCurrent.Get(); ok && stream < 0 && h > 0 {
		// An unknown period is the worse of a short sea's and a long one's.
		periods := []time.Duration{t}
		if !okPeriod {
			periods = []time.Duration{unknownPeriod * time.Second, longSea}
		}
		sea := h
		for _, t := range periods {
			on, err := wave.AtInlet(sea, t, -stream, s.o.Port.InletDepth.Or(barDepth))
			if err == nil && (okPeriod || on.Height > h) {
				h, steep = on.Height, models.Known(on.Steepness)
			}
		}
	}
	if before, ok := c.InletSea.Get(); !ok || h > before {
		c.InletSea, c.InletSteepness = models.Known(h), steep
	}
}

// atTheKite carries the wind up to the kite and off the drifting boat, and
// picks the kite.
func (s *site) atTheKite(c *models.Conditions) kite.Choice {
	w, ok := c.Wind.Get()
	if !ok {
		return kite.Choice{Index: -1}
	}
	up, method := s.aloft(w, c)
	c.ProfileMethod = string(method)
	gust := c.Gust.Or(units.Speed(float64(w) * unknownGustRatio))
	aloft := up
	if from, ok := c.WindFrom.Get(); ok {
		boat := units.Vector{}
		if v, ok := c.DriftSpeed.Get(); ok {
			boat = units.FlowVector(v, c.DriftToward.Or(0))
		} else {
			boat = drift.Leeway(s.craft, w, from, false).Mean
		}
		aloft = wind.RelativeToBoat(units.WindVector(up, from), boat).Speed()
	}
	top := wind.GustAloft(w, gust, aloft)
	lull := wind.Lull(aloft, top)
	c.KiteWind, c.KiteGust, c.KiteLull = models.Known(aloft), models.Known(top), models.Known(lull)
	choice := s.kites.Choose(lull, aloft, top, s.gas(w))
	c.KiteName, c.KiteHelium = choice.Kite.Name, choice.Helium
	c.KiteMarginLow, c.KiteMarginHigh = choice.MarginLow, choice.MarginHigh
	return choice
}

// glare is what the sun in the eyes leaves, from 1 down to a half, looking
// up-sea to where the wind comes from. It is whole within the captain's two
// limits and fades out past them.
func (s *site) glare(sun sky.Sun, from units.From) float64 {
	if sun.Elevation <= 0 {
		return 1
	}
	off := units.Apart(units.From(sun.Azimuth), from)
	side := curve{{s.lim.GlareAzimuth, 1}, {s.lim.GlareAzimuth + glareFadeAzimuth, 0}}.at(off)
	height := curve{{s.lim.GlareElevation, 1}, {s.lim.GlareElevation + glareFadeHeight, 0}}.at(sun.Elevation)
	return 1 - glareHalves*side*height
}

// tripInSea is the stretch for which the share of guests unwell is told.
const tripInSea = 4 * time.Hour

// tell adds what is told beside the grades but does not make them.
func (s *site) tell(c *models.Conditions) {
	if sea, ok := c.LocalSea.Get(); ok {
		if period, ok := c.Period.Get(); ok {
			// Drifting boats lie across the sea.
			if m, ok := ride.Move(sea, period, 90, s.o.Boat.Length, 0).Get(); ok {
				c.Unwell = ride.Unwell(m, tripInSea)
			}
		}
	}
	w, okWind := c.Wind.Get()
	from, okFrom := c.WindFrom.Get()
	if okWind && okFrom && s.o.Boat.Tower > 0 {
		sun := sky.Sun{Elevation: c.SunElevation, Azimuth: c.SunAzimuth}
		c.SightDistance = sky.SeeFish(sun, upSea(from), w, c.Cloud, s.o.Boat.Tower).SightDistance
	}
}

// work judges a series of hours; full adds what is only told.
func (s *site) work(hours []models.Hour, full bool, into []hour) []hour {
	if into == nil {
		into = make([]hour, 0, len(hours))
	}
	into = into[:0]
	for i, span := range spans(hours) {
		if !span.Overlaps(s.day) {
			continue
		}
		h := hour{span: span, from: s.minute(span.Start), to: s.minute(span.End)}
		h.c, h.ch = s.conditions(hours[i], span)
		if full {
			s.tell(&h.c)
		}
		into = append(into, h)
	}
	for i := range into {
		s.judge(&into[i])
	}
	return into
}

// judge grades an hour whose physics is given.
func (s *site) judge(h *hour) {
	h.ride = s.rideOf(&h.c)
	h.kite = s.kiteOf(&h.c, &h.ch)
	h.look = s.sightOf(&h.c)
	h.fish = s.fishOf(&h.c)
	if s.squall(h) {
		h.kite.worth, h.look.worth = 0, 0
	}
}

// squall tells whether a special marine warning is in force in the hour.
func (s *site) squall(h *hour) bool {
	for i := range s.squalls {
		if s.squalls[i].During(h.span) {
			return true
		}
	}
	return false
}

func (s *site) rideOf(c *models.Conditions) models.Ride {
	sea, ok := c.LocalSea.Get()
	if !ok {
		return models.RideRough // unknown is never taken as good
	}
	return ride.Judge(s.ride, s.scale, sea, c.Period)
}
