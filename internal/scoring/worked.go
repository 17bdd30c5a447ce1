package scoring

import (
	"forecastd/internal/models"
	"forecastd/internal/models/kite"
)

// worked are the physics of the hours of the courses, kept while one call is
// made: what would change it and what is missing are asked of the same hours
// with one input moved, and the rest of their physics stays as it was.
type worked struct {
	courses, stride int
	hours           []workedHour
}

type workedHour struct {
	known bool
	span  models.Interval
	c     models.Conditions
	ch    kite.Choice
}

// newWorked makes room for the hours of courses.
func newWorked(lists [][]models.Hour) *worked {
	w := &worked{courses: len(lists)}
	for _, hours := range lists {
		w.stride = max(w.stride, len(hours))
	}
	w.hours = make([]workedHour, w.courses*w.stride)
	return w
}

// at is the place of an hour of a course, nil where nothing is kept.
func (w *worked) at(courses, course, hour int) *workedHour {
	if w == nil || courses != w.courses || hour >= w.stride {
		return nil
	}
	return &w.hours[course*w.stride+hour]
}

// inCourse are the conditions of an hour of a course: as they were worked out
// before, as far as what they come from is the same.
func (s *site) inCourse(h models.Hour, span models.Interval, b *workedHour) (models.Conditions, kite.Choice) {
	switch {
	case b == nil:
		return s.conditions(h, span)
	case !b.known || b.span != span:
		c, ch := s.conditions(h, span)
		if !b.known {
			*b = workedHour{true, span, c, ch}
		}
		return c, ch
	}
	was := &b.c
	sameWind := h.Wind == was.Wind && h.WindFrom == was.WindFrom
	sameFlow := h.Current == was.Current && h.CurrentToward == was.CurrentToward
	sameSea := h.Sea == was.Sea && h.Period == was.Period && h.SeaFrom == was.SeaFrom
	sameSwell := h.Swell == was.Swell && h.SwellPeriod == was.SwellPeriod && h.SwellFrom == was.SwellFrom
	c := models.Conditions{Hour: h, SunElevation: was.SunElevation, SunAzimuth: was.SunAzimuth}

	if sameSea && sameFlow && h.SeaIncludesCurrent == was.SeaIncludesCurrent && (h.SeaFrom.Known() || h.WindFrom == was.WindFrom) {
		c.LocalSea, c.Steepness = was.LocalSea, was.Steepness
	} else {
		s.seaOnGround(&c)
	}
	if sameWind && sameFlow {
		c.Opposition, c.Slip, c.DriftSpeed, c.DriftToward = was.Opposition, was.Slip, was.DriftSpeed, was.DriftToward
	} else {
		s.driftOnGround(&c)
	}
	// Where a direction is not known the wind's stands in.
	if sameSea && sameSwell && h.InletCurrent == was.InletCurrent && (sameWind || h.SeaFrom.Known() && (h.SwellFrom.Known() || !h.Swell.Known())) {
		c.InletSea, c.InletSteepness, c.SeaFromElsewhere = was.InletSea, was.InletSteepness, was.SeaFromElsewhere
	} else {
		s.inTheInlet(&c)
	}
	ch := b.ch
	if sameWind && sameFlow && h.Gust == was.Gust && h.Air == was.Air && h.Water == was.Water {
		c.ProfileMethod, c.KiteWind, c.KiteGust, c.KiteLull = was.ProfileMethod, was.KiteWind, was.KiteGust, was.KiteLull
		c.KiteName, c.KiteHelium, c.KiteMarginLow, c.KiteMarginHigh = was.KiteName, was.KiteHelium, was.KiteMarginLow, was.KiteMarginHigh
		c.Glare = was.Glare
	} else {
		ch = s.atTheKite(&c)
		s.glareOf(&c, span)
	}
	return c, ch
}
