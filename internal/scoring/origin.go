package scoring

import (
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/models/wave"
)

const (
	// openFetch is the fetch of a wind that does not come off the land, and
	// blowsFor how long the wind on hand is taken to have blown: a whole day,
	// so that what it can have raised is not put too low.
	openFetch = 500 * units.NauticalMile
	blowsFor  = 24 * time.Hour
	// leastFetch is the fetch of a wind off the land at a ground close in.
	leastFetch = 1 * units.NauticalMile
	// longer is how much longer than the wind's own sea a peak period may be:
	// published growth formulas differ by that much.
	longer = 1.3
)

// comesFrom is where a sea runs from as far as the mouth is concerned. Where
// nobody says, it runs with the wind, unless it is higher or longer than that
// wind can raise over the water that it crosses: then it comes from somewhere
// else, which is not known, and elsewhere tells so (trade.md 8.2).
func (s *site) comesFrom(c *models.Conditions, height units.Length, period models.Opt[float64], dir models.Opt[units.From]) (from models.Opt[units.From], elsewhere bool) {
	if dir.Known() {
		return dir, false
	}
	wind, ok := c.WindFrom.Get()
	if !ok || units.Apart(wind, s.sea) <= s.lim.InletSector {
		return c.WindFrom, false
	}
	own, ok := wave.Growth(c.Wind.Or(0), s.fetch(wind), blowsFor).Get()
	if !ok || height > own.High || period.Or(0) > longer*own.Period.Seconds() {
		return models.Unknown[units.From](), height > 0
	}
	return c.WindFrom, false
}

// fetch is the water that a wind crosses to the ground: from the shore, the
// farther the more it slants, where it comes off the land; else the open sea.
func (s *site) fetch(wind units.From) units.Length {
	offLand := -math.Cos(units.Apart(wind, s.sea) * math.Pi / 180)
	if offLand <= 0 {
		return openFetch
	}
	shore := max(models.Apart(s.o.Port.At, s.o.Ground.At), leastFetch)
	return min(shore/units.Length(offLand), openFetch)
}

// fromElsewhere is the highest sea of the trip in the mouth whose direction is
// not known though the wind on hand has not raised it, where it is high enough
// to count there.
func (s *site) fromElsewhere(v *view) (units.Length, bool) {
	most := units.Length(0)
	for i := range v.hours {
		h := &v.hours[i]
		if h.c.SeaFromElsewhere && h.to > v.trip.start && h.from < v.trip.end {
			most = max(most, h.c.InletSea.Or(0))
		}
	}
	return most, atLeast(most, s.lim.InletSteepFrom)
}
