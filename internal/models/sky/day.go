package sky

import (
	"math"
	"time"

	"forecastd/internal/models"
)

// Elevations of the centre at which a body is said to rise or set, and at
// which civil twilight begins or ends, in degrees (Meeus1998 ch. 15).
const (
	refractionAtHorizon = 34.0 / 60
	sunRise             = -50.0 / 60
	civilTwilight       = -6.0
)

// maxWindow is the longest window that the day functions search.
const maxWindow = 10 * 24 * time.Hour

// SunDay returns the first instants of the sun between start and end (the
// civil day of a port, which may last 23 or 25 hours): its upper edge on a
// sea horizon with standard refraction for Rise and Set, its centre 6 degrees
// below for CivilDawn and CivilDusk, its highest for Noon. What does not
// happen in the window is unknown: near the poles the sun may not rise or
// set. A window that is empty or longer than 10 days answers nothing.
//
// Reference: Meeus1998 ch. 15.
func SunDay(start, end time.Time, at models.Position) models.SunTimes {
	var out models.SunTimes
	if !searchable(start, end, at) {
		return out
	}
	el := func(t time.Time) float64 { return SunAt(t, at).Elevation }
	out.Rise, out.Set = crossings(start, end, func(t time.Time) float64 { return el(t) - sunRise })
	out.CivilDawn, out.CivilDusk = crossings(start, end, func(t time.Time) float64 { return el(t) - civilTwilight })
	out.Noon = transit(start, end, func(t time.Time) float64 {
		d := daysUT(t)
		f, p := sunPlace(centuriesTT(d))
		return hourAngle(d, f, p, at)
	})
	return out
}

func searchable(start, end time.Time, at models.Position) bool {
	return end.After(start) && end.Sub(start) <= maxWindow && at.Valid()
}

// hourAngle returns the local hour angle in (-180, 180] degrees.
func hourAngle(d float64, f frame, p place, at models.Position) float64 {
	return math.Remainder(siderealDegrees(d)+at.Lon+(f.nutation*math.Cos(f.obliquity)-p.ra)/deg, 360)
}

// step is how far apart the height of a body is looked at. What dips past a
// limit and back between two looks is found by the turning point.
const step = 20 * time.Minute

// crossings returns the first instants when h turns positive and when it
// turns negative, to a tenth of a second.
func crossings(start, end time.Time, h func(time.Time) float64) (up, down models.Opt[time.Time]) {
	note := func(a, b time.Time, ha float64) {
		at := models.Known(bisect(a, b, ha, h))
		if ha <= 0 {
			up = up.Else(at)
		} else {
			down = down.Else(at)
		}
	}
	t0, h0 := start, h(start)
	back, hBack := t0, h0
	for t0.Before(end) && (!up.Known() || !down.Known()) {
		t1 := t0.Add(step)
		if t1.After(end) {
			t1 = end
		}
		h1 := h(t1)
		switch {
		case (h0 <= 0) != (h1 <= 0):
			note(t0, t1, h0)
		case (h0-hBack)*(h1-h0) < 0 && (h0 <= 0) == (hBack <= 0):
			// A turning point near t0 that may reach past zero and back.
			top, hTop := turn(back, t1, h0 > hBack, h)
			if (hTop <= 0) != (h0 <= 0) {
				note(back, top, hBack)
				note(top, t1, hTop)
			}
		}
		back, hBack = t0, h0
		t0, h0 = t1, h1
	}
	return up, down
}

// turn finds the highest (or lowest) point of h between a and b by golden
// section, to about a second.
func turn(a, b time.Time, highest bool, h func(time.Time) float64) (time.Time, float64) {
	f := func(t time.Time) float64 {
		if highest {
			return h(t)
		}
		return -h(t)
	}
	at := func(x float64) time.Time { return a.Add(time.Duration(x * float64(b.Sub(a)))) }
	const golden = 0.6180339887498949
	lo, hi := 0.0, 1.0
	x1, x2 := 1-golden, golden
	f1, f2 := f(at(x1)), f(at(x2))
	for range 18 {
		if f1 > f2 {
			hi, x2, f2 = x2, x1, f1
			x1 = hi - golden*(hi-lo)
			f1 = f(at(x1))
		} else {
			lo, x1, f1 = x1, x2, f2
			x2 = lo + golden*(hi-lo)
			f2 = f(at(x2))
		}
	}
	t := at((lo + hi) / 2)
	return t, h(t)
}

// transit returns the first instant when an hour angle passes zero upward.
func transit(start, end time.Time, hour func(time.Time) float64) models.Opt[time.Time] {
	t0, h0 := start, hour(start)
	for t0.Before(end) {
		t1 := t0.Add(3 * time.Hour)
		if t1.After(end) {
			t1 = end
		}
		h1 := hour(t1)
		if h0 <= 0 && h1 > 0 && h1-h0 < 180 {
			return models.Known(bisect(t0, t1, h0, hour))
		}
		t0, h0 = t1, h1
	}
	return models.Unknown[time.Time]()
}

// bisect finds where h leaves the sign it has at a (ha) between a and b.
func bisect(a, b time.Time, ha float64, h func(time.Time) float64) time.Time {
	for b.Sub(a) > 100*time.Millisecond {
		mid := a.Add(b.Sub(a) / 2)
		if (h(mid) <= 0) == (ha <= 0) {
			a = mid
		} else {
			b = mid
		}
	}
	return b.UTC()
}
