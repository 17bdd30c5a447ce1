package scoring

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/kite"
	"forecastd/internal/models/units"
	"forecastd/internal/models/wind"
)

// The wind at the kite's height is worked out once for every pair of
// temperatures that a day has, at these steps of the wind and of the
// temperatures, and taken between them for the courses: within a hundredth of
// what it is.
const (
	aloftEvery  = 0.5 // m/s
	aloftSteps  = 80  // up to where the profile ends
	warmthEvery = 0.5 // °F
)

// airOver names a pair of temperatures, in steps.
type airOver struct{ air, water int16 }

// aloft carries the wind up to the kite. For a course it is read off a table.
func (s *site) aloft(w units.Speed, c *models.Conditions) (units.Speed, wind.Method) {
	air, okAir := c.Air.Get()
	water, okWater := c.Water.Get()
	if !s.many || !okAir || !okWater || w >= aloftEvery*(aloftSteps-1) {
		return wind.ToHeight(w, 10*units.Metre, kite.WorkingHeight, c.Air, c.Water)
	}
	k := airOver{int16(math.Round(air.Fahrenheit() / warmthEvery)), int16(math.Round(water.Fahrenheit() / warmthEvery))}
	t, ok := s.lifted[k]
	if !ok {
		t = new([aloftSteps]units.Speed)
		a, b := models.Known(units.Fahrenheit(float64(k.air)*warmthEvery)), models.Known(units.Fahrenheit(float64(k.water)*warmthEvery))
		for i := range t {
			t[i], _ = wind.ToHeight(units.Speed(float64(i)*aloftEvery), 10*units.Metre, kite.WorkingHeight, a, b)
		}
		s.lifted[k] = t
	}
	i := int(w / aloftEvery)
	x := w/aloftEvery - units.Speed(i)
	return t[i] + (t[i+1]-t[i])*x, wind.Stability
}
