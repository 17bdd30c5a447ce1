package scoring

import (
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Factors of the sight lane: first what brings fish up, then the light and
// the cast.
const (
	sightWind = iota
	sightOpposed
	sightCurrent
	sightFaces
	sightEdge
	sightWater
	sightSeason
	sightReport
	sightShower
	sightSun
	sightCloud
	sightGlare
	sightCast
	sightWeather
	sightFactorCount
)

// show is which of the three shows the sight lane is judged by.
type show int

const (
	showJumpers show = iota
	showTailing
	showShower
)

// sightWorth is the chance of seeing and reaching fish on top in an hour.
type sightWorth struct {
	part [sightFactorCount]float64
	best show
	// worth goes over 1 where fish have been seen on top.
	worth float64
}

// lowestSun is the sun height under which sight casting is at most fair
// unless fish were seen on top that day (trade.md 8.3).
const lowestSun = 20.0

func (s *site) sightOf(c *models.Conditions) sightWorth {
	var v sightWorth
	s.fishUp(c, &v)
	s.lightAndCast(c, &v)
	p := &v.part
	r := &s.o.Reports
	season, _ := r.Season.Get()
	seen, _ := r.FishOnTop.Get()
	around := p[sightSun] * p[sightCloud] * p[sightCast] * p[sightWeather]

	tail := p[sightWind] * p[sightOpposed] * p[sightCurrent] * p[sightFaces] * p[sightEdge] * p[sightWater] * p[sightSeason] * p[sightReport] *
		p[sightGlare] * around
	if season == models.SeasonOff {
		tail = min(tail, s.lim.GradeFair-0.01)
	}
	shower := p[sightShower] * p[sightWater] * around
	jump := jumpers * max(p[sightEdge], 0.7) * p[sightWater] * max(p[sightSeason], 0.7) * around
	v.worth, v.best = jump, showJumpers
	if shower > v.worth {
		v.worth, v.best = shower, showShower
	}
	if tail > v.worth {
		v.worth, v.best = tail, showTailing
	}
	if c.SunElevation < lowestSun && seen != models.SeenToday {
		v.worth = min(v.worth, s.lim.GradeGood-0.01)
	}
	if !c.Thunder.Known() {
		v.worth = min(v.worth, s.lim.GradeGood-0.01)
	}
	return v
}

// fishUp is what brings fish up: wind against current, a sea with a face, the
// edge, the water, the season, and what has been reported.
func (s *site) fishUp(c *models.Conditions, v *sightWorth) {
	p, lim, r := &v.part, &s.lim, &s.o.Reports
	if w, ok := c.Wind.Get(); ok {
		p[sightWind] = lim.TailingWind.At(w)
	}
	p[sightOpposed] = unknownOpposed
	if o, ok := c.Opposition.Get(); ok {
		p[sightOpposed] = curve{{lim.OppositionUseful / 3, 0}, {lim.OppositionUseful, 0.6}, {lim.OppositionStrong, 1}}.at(o)
	}
	p[sightCurrent] = unknownCurrent
	if current, ok := c.Current.Get(); ok {
		p[sightCurrent] = curve{
			{float64(lim.TailCurrentUseful) / 2, 0}, {float64(lim.TailCurrentUseful), 0.6}, {float64(lim.TailCurrentStrong), 1},
		}.at(float64(current))
	}
	p[sightFaces] = unknownFaces
	if sea, ok := c.LocalSea.Get(); ok {
		p[sightFaces] = faces.at(sea.Feet())
		if t, ok := c.Period.Get(); ok {
			p[sightFaces] *= regular.at(t)
		} else {
			p[sightFaces] *= regular[0].y
		}
	}
	p[sightEdge] = edgeWorth(r.EdgeInReach)
	p[sightWater] = waterWorth(r.Water)
	p[sightSeason] = seasonWorth(r.Season)
	p[sightReport] = reportWorth(r.FishOnTop)
	if r.BaitShowering.Or(false) {
		p[sightShower] = unknownFaces
		if sea, ok := c.Sea.Get(); ok {
			p[sightShower] = showerSea.at(sea.Feet())
		}
	}
}

// lightAndCast is what can be seen and reached.
func (s *site) lightAndCast(c *models.Conditions, v *sightWorth) {
	p, lim := &v.part, &s.lim
	if c.SunElevation > 0 {
		p[sightSun] = curve{{0, lowSun / 2}, {10, lowSun}, {lim.SunStart, lowSun}, {lim.SunFull, 1}}.at(c.SunElevation)
	}
	p[sightCloud] = unknownCloud
	if cloud, ok := c.Cloud.Get(); ok {
		p[sightCloud] = curve{{lim.CloudFull, 1}, {lim.CloudNil, 0.1}, {100, 0.03}}.at(cloud)
	}
	p[sightGlare] = c.Glare.Or(glareHalves)
	if w, ok := c.Wind.Get(); ok {
		p[sightCast] = castWind.at(w.Knots())
	}
	if sea, ok := c.Sea.Get(); ok {
		p[sightCast] *= castSea.at(sea.Feet())
	} else {
		p[sightCast] *= unknownSea
	}
	p[sightWeather] = 1
	if vis, ok := c.Visibility.Get(); ok && vis < lim.FogWait {
		p[sightWeather] *= sightInFog
	}
	if th, ok := c.Thunder.Get(); ok {
		switch {
		case atLeast(th, lim.ThunderStop):
			p[sightWeather] = 0
		case atLeast(th, lim.ThunderWarn):
			p[sightWeather] *= sightInThunder
		}
	}
	if rain, ok := c.Rain.Get(); ok && atLeast(rain, lim.RainStops) {
		p[sightWeather] *= sightInRain
	}
}

// upSea is where the eyes look for tailing fish.
func upSea(from units.From) units.Toward { return units.Toward(from.Degrees()) }
