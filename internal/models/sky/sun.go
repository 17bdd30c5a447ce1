package sky

import (
	"math"
	"time"

	"forecastd/internal/models"
)

const (
	earthRadius = 6378.14     // km, equatorial
	au          = 149597870.7 // km
)

// Sun is the sun's place in the sky, in degrees. Elevation is of its centre
// above the true horizon without refraction (see Apparent), negative below;
// Azimuth is true, from north through east.
type Sun struct{ Elevation, Azimuth float64 }

// SunAt returns where the sun stands. Good to about 0.01 degree from 1950 to
// 2100.
//
// Reference: Meeus1998 ch. 25.
func SunAt(t time.Time, at models.Position) Sun {
	d := daysUT(t)
	f, p := sunPlace(centuriesTT(d))
	el, az := horizontal(d, f, p, at)
	return Sun{Elevation: el, Azimuth: az}
}

// solar returns the sun's geometric longitude (radians, of date) and distance
// in astronomical units (Meeus1998 ch. 25, lower accuracy).
func solar(t float64) (lon, r float64) {
	l0 := 280.46646 + t*(36000.76983+t*0.0003032)
	m := (357.52911 + t*(35999.05029-t*0.0001537)) * deg
	e := 0.016708634 - t*(0.000042037+t*0.0000001267)
	s1, c1 := math.Sincos(m)
	s2 := 2 * s1 * c1
	s3 := s1 * (3 - 4*s1*s1)
	c := (1.914602-t*(0.004817+t*0.000014))*s1 + (0.019993-t*0.000101)*s2 + 0.000289*s3
	v := m + c*deg
	return (l0 + c) * deg, 1.000001018 * (1 - e*e) / (1 + e*math.Cos(v))
}

func sunPlace(t float64) (frame, place) {
	lon, r := solar(t)
	f := frameAt(t)
	const aberration = 20.4898 / 3600 * deg
	return f, f.equatorial(lon+f.nutation-aberration/r, 0, r*au)
}

// horizontal returns elevation and azimuth in degrees as seen from a place on
// the earth's surface, parallax included, refraction not.
func horizontal(d float64, f frame, p place, at models.Position) (el, az float64) {
	hour := (siderealDegrees(d)+at.Lon)*deg + f.nutation*math.Cos(f.obliquity) - p.ra
	sh, ch := math.Sincos(hour)
	sp, cp := math.Sincos(at.Lat * deg)
	sd, cd := math.Sincos(p.dec)
	// Toward south, west and up, for a body at distance one.
	south := sp*cd*ch - cp*sd
	west := cd * sh
	up := sp*sd + cp*cd*ch
	// The earth's centre lies below: move to its surface. The flattening
	// tilts the vertical by up to 0.19 degree, worth 0.003 of the moon.
	rho, tilt := figure(at.Lat)
	st, ct := math.Sincos(tilt)
	pi := rho * earthRadius / p.km
	south -= pi * st
	up -= pi * ct
	az = math.Mod(math.Atan2(west, south)/deg+180+360, 360)
	return math.Atan2(up, math.Hypot(south, west)) / deg, az
}

// figure returns the distance from the earth's centre in equatorial radii at
// sea level, and how far the vertical leans from the radius, in radians
// (Meeus1998 ch. 11).
func figure(lat float64) (rho, tilt float64) {
	s2, c2 := math.Sincos(2 * lat * deg)
	return 0.9983271 + 0.0016764*c2, 692.73 / 3600 * deg * s2
}
