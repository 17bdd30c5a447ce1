package scoring

import (
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Lanes of the factors.
const (
	LaneKite  = "kite"
	LaneSight = "sight"
	LaneFish  = "fish"
	LaneRide  = "ride"
)

// factors explains an hour: every factor with what was looked at, its worth
// and what it means.
func (s *site) factors(h *hour) map[string][]models.Factor {
	return map[string][]models.Factor{
		LaneKite: s.kiteFactors(h), LaneSight: s.sightFactors(h), LaneFish: s.fishFactors(h), LaneRide: s.rideFactors(h),
	}
}

func (s *site) kiteFactors(h *hour) []models.Factor {
	c, k := &h.c, &h.kite
	if !c.Wind.Known() {
		return []models.Factor{{Name: "wind", Input: unknownInput(), Phrase: models.Say("factor.no_wind_forecast")}}
	}
	w := c.Wind.Or(0)
	spread := models.MapOpt(c.Gust, func(g units.Speed) units.Speed { return max(g-w, 0) })
	set := h.ch.Why()
	list := []models.Factor{
		factor("wind", input(c.Wind), k.part[kiteWind], s.windPhrase(h)),
		factor("gust spread", input(spread), k.part[kiteGust], worthPhrase("gust_spread", k.part[kiteGust])),
		factor("gust", input(c.Gust), k.part[kiteTop], worthPhrase("gust", k.part[kiteTop])),
		factor("direction spread", inputDegrees(c.DirectionSpread), k.part[kiteDirection], worthPhrase("direction", k.part[kiteDirection])),
		factor("rain", inputPercent(c.Rain), k.part[kiteRain], worthPhrase("rain", k.part[kiteRain])),
		factor("thunder", inputPercent(c.Thunder), k.part[kiteThunder], worthPhrase("thunder", k.part[kiteThunder])),
		factor("drift through the water", input(c.Slip), k.part[kiteSlip], worthPhrase("slip", k.part[kiteSlip])),
		factor("sea", input(c.LocalSea), k.part[kiteSea], worthPhrase("tending", k.part[kiteSea])),
		factor("crew", models.Say("input.count", s.o.Boat.Crew), k.part[kiteCrew], worthPhrase("crew", k.part[kiteCrew])),
		factor("own kites", input(c.KiteWind), k.part[kiteSet], set),
	}
	return append(list, models.Factor{Name: "kite", Input: models.Say("input.all"), Value: k.worth, Phrase: models.Say("factor.grade", models.Word(s.grade(k.worth).String()))})
}

func (s *site) windPhrase(h *hour) models.Phrase {
	switch k := &h.kite; {
	case k.helium && k.bare:
		return models.Say("factor.helium_suggested")
	case k.helium:
		return models.Say("factor.helium_needed")
	case !k.bare:
		return models.Say("factor.helium_lacking")
	}
	return worthPhrase("wind", h.kite.part[kiteWind])
}

func (s *site) sightFactors(h *hour) []models.Factor {
	c, v, r := &h.c, &h.look, &s.o.Reports
	list := []models.Factor{
		factor("tailing wind", input(c.Wind), v.part[sightWind], worthPhrase("tailing_wind", v.part[sightWind])),
		factor("wind against current", inputNumber(c.Opposition), v.part[sightOpposed], worthPhrase("opposed", v.part[sightOpposed])),
		factor("current", input(c.Current), v.part[sightCurrent], worthPhrase("current", v.part[sightCurrent])),
		factor("faces", input(c.LocalSea), v.part[sightFaces], worthPhrase("faces", v.part[sightFaces])),
		factor("edge in reach", inputBool(r.EdgeInReach), v.part[sightEdge], worthPhrase("edge", v.part[sightEdge])),
		factor("water", inputWord(r.Water), v.part[sightWater], worthPhrase("water", v.part[sightWater])),
		factor("season", inputWord(r.Season), v.part[sightSeason], worthPhrase("season", v.part[sightSeason])),
		factor("fish on top", inputWord(r.FishOnTop), v.part[sightReport], worthPhrase("report", v.part[sightReport])),
		factor("showering bait", inputBool(r.BaitShowering), v.part[sightShower], worthPhrase("shower", v.part[sightShower])),
		factor("sun", models.Say("input.sun", c.SunElevation, units.From(c.SunAzimuth)), v.part[sightSun], worthPhrase("sun", v.part[sightSun])),
		factor("cloud", inputPercent(c.Cloud), v.part[sightCloud], worthPhrase("cloud", v.part[sightCloud])),
		factor("glare", inputNumber(c.Glare), v.part[sightGlare], worthPhrase("glare", v.part[sightGlare])),
		factor("cast", input(c.Wind), v.part[sightCast], worthPhrase("cast", v.part[sightCast])),
		factor("weather", inputPercent(c.Thunder), v.part[sightWeather], worthPhrase("weather", v.part[sightWeather])),
	}
	best := [...]string{"jumpers", "tailing", "showering"}[v.best]
	return append(list, models.Factor{Name: "sight", Input: models.Say("input.show", models.Word(best)), Value: v.worth, Phrase: models.Say("factor.grade", models.Word(s.grade(v.worth).String()))})
}

func (s *site) rideFactors(h *hour) []models.Factor {
	c := &h.c
	if !c.LocalSea.Known() {
		return []models.Factor{{Name: "sea", Input: unknownInput(), Phrase: models.Say("factor.ride_unknown")}}
	}
	period := models.MapOpt(c.Period, func(p float64) float64 { return p })
	return []models.Factor{
		factor("sea", input(c.LocalSea), rideWorth(h.ride), models.Say("factor.ride_table", s.ride.Easy, s.ride.Talk, s.ride.CallOff)),
		factor("period", inputSeconds(period), min(1, 1/s.scale.At(period)), models.Say("factor.ride_period")),
		factor("ride", models.Say("input.party", models.Word(s.o.Trip.Party)), rideWorth(h.ride), models.Say("factor.grade", models.Word(h.ride.String()))),
	}
}

func (s *site) fishFactors(h *hour) []models.Factor {
	c, r := &h.c, &s.o.Reports
	list := []models.Factor{
		factor("season", inputWord(r.Season), seasonWorth(r.Season), worthPhrase("season", seasonWorth(r.Season))),
		factor("edge in reach", inputBool(r.EdgeInReach), edgeWorth(r.EdgeInReach), worthPhrase("edge", edgeWorth(r.EdgeInReach))),
		factor("water", inputWord(r.Water), waterWorth(r.Water), worthPhrase("water", waterWorth(r.Water))),
		factor("fish on top", inputWord(r.FishOnTop), min(reportWorth(r.FishOnTop), 1), worthPhrase("report", min(reportWorth(r.FishOnTop), 1))),
	}
	against := s.opposedWorth(c)
	list = append(list, factor("wind against current", inputNumber(c.Opposition), min(against, 1), worthPhrase("opposed", min(against, 1))))
	return append(list, models.Factor{Name: "fish", Input: models.Say("input.all"), Value: h.fish, Phrase: models.Say("factor.grade", models.Word(fishGrade(h.fish)))})
}

func rideWorth(r models.Ride) float64 { return 1 - float64(r)/float64(models.RideNo) }

func unknownInput() models.Phrase { return models.Say("input.unknown") }

func input[T any](v models.Opt[T]) models.Phrase {
	if x, ok := v.Get(); ok {
		return models.Say("input.value", x)
	}
	return unknownInput()
}

func inputPercent(v models.Opt[float64]) models.Phrase {
	return input(models.MapOpt(v, func(p float64) models.Percent { return models.Percent(p) }))
}

func inputNumber(v models.Opt[float64]) models.Phrase { return input(v) }

func inputDegrees(v models.Opt[float64]) models.Phrase {
	if x, ok := v.Get(); ok {
		return models.Say("input.degrees", x)
	}
	return unknownInput()
}

func inputSeconds(v models.Opt[float64]) models.Phrase {
	if x, ok := v.Get(); ok {
		return models.Say("input.seconds", x)
	}
	return unknownInput()
}

func inputWord[T ~string](v models.Opt[T]) models.Phrase {
	return input(models.MapOpt(v, func(w T) models.Word { return models.Word(w) }))
}

func inputBool(v models.Opt[bool]) models.Phrase {
	b, ok := v.Get()
	switch {
	case !ok:
		return unknownInput()
	case b:
		return models.Say("input.yes")
	}
	return models.Say("input.no")
}

// worthPhrase says what a factor's worth means: "factor.gust.good" and so on.
func worthPhrase(factor string, worth float64) models.Phrase {
	word := "good"
	switch {
	case worth <= 0.02:
		word = "none"
	case worth < 0.5:
		word = "poor"
	case worth < 0.85:
		word = "fair"
	}
	return models.Say("factor." + factor + "." + word)
}

// factor is one factor. Of an unknown input its worth says nothing about the
// hour: what it is taken for is told instead.
func factor(name string, in models.Phrase, value float64, phrase models.Phrase) models.Factor {
	if in.Key == unknownInput().Key {
		phrase = models.Say("factor.unknown")
	}
	return models.Factor{Name: name, Input: in, Value: value, Phrase: phrase}
}
