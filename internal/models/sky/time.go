package sky

import (
	"math"
	"time"
)

const (
	deg = math.Pi / 180
	// j2000 is the Julian day of 2000-01-01 12:00.
	j2000 = 2451545.0
	// unixEpoch is the Julian day of 1970-01-01 00:00.
	unixEpoch = 2440587.5
)

// daysUT returns the days since 2000-01-01 12:00 UT. UTC stands for UT1: they
// stay within 0.9 s.
func daysUT(t time.Time) float64 {
	return float64(t.Unix())/86400 + float64(t.Nanosecond())/86400e9 + (unixEpoch - j2000)
}

// centuriesTT returns Julian centuries of terrestrial time since J2000 for
// days of UT.
func centuriesTT(d float64) float64 { return (d + deltaT(d)/86400) / 36525 }

// deltaT returns terrestrial time less universal time in seconds: observed to
// 2025 (International Earth Rotation Service, rounded to 0.5 s, from memory),
// held at 69 s after. A second is 0.00015 degree of the moon.
func deltaT(d float64) float64 {
	y := 2000 + d/365.25
	table := [...]struct{ year, seconds float64 }{
		{1950, 29.1}, {1960, 33.2}, {1970, 40.2}, {1980, 50.5}, {1990, 56.9}, {2000, 63.8},
		{2005, 64.7}, {2010, 66.1}, {2015, 67.6}, {2020, 69.4}, {2025, 69.1},
	}
	if y <= table[0].year {
		return table[0].seconds
	}
	for i := 1; i < len(table); i++ {
		if y < table[i].year {
			a, b := table[i-1], table[i]
			return a.seconds + (b.seconds-a.seconds)*(y-a.year)/(b.year-a.year)
		}
	}
	return 69.1
}

// siderealDegrees returns the mean sidereal time at Greenwich in degrees, for
// days of UT (Meeus1998 eq. 12.4).
func siderealDegrees(d float64) float64 {
	t := d / 36525
	return math.Mod(280.46061837+360.98564736629*d+t*t*(0.000387933-t/38710000), 360)
}

// place is a body on the sky of date: right ascension and declination in
// radians, distance in km.
type place struct{ ra, dec, km float64 }

// frame is what the earth adds at one instant: the obliquity and the nutation
// in longitude, in radians (Meeus1998 ch. 22, the terms over 0.1").
type frame struct{ obliquity, nutation float64 }

func frameAt(t float64) frame {
	node := (125.04452 - 1934.136261*t) * deg
	sun2 := 2 * (280.4665 + 36000.7698*t) * deg
	moon2 := 2 * (218.3165 + 481267.8813*t) * deg
	sn, cn := math.Sincos(node)
	ss, cs := math.Sincos(sun2)
	sm, cm := math.Sincos(moon2)
	const arcsec = deg / 3600
	return frame{
		nutation:  (-17.20*sn - 1.32*ss - 0.23*sm + 0.42*sn*cn) * arcsec,
		obliquity: (23.4392911-0.0130042*t)*deg + (9.20*cn+0.57*cs+0.10*cm-0.09*(2*cn*cn-1))*arcsec,
	}
}

// equatorial turns ecliptic coordinates of date (radians) into a place.
func (f frame) equatorial(lon, lat, km float64) place {
	sl, cl := math.Sincos(lon)
	sb, cb := math.Sincos(lat)
	se, ce := math.Sincos(f.obliquity)
	return place{
		ra:  math.Atan2(sl*cb*ce-sb*se, cl*cb),
		dec: math.Asin(sb*ce + cb*se*sl),
		km:  km,
	}
}
