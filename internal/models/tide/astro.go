package tide

import (
	"math"
	"time"
)

const rad = math.Pi / 180

// The years that the mean longitudes are used for.
const (
	MinYear = 1900
	MaxYear = 2100
)

// longitudes are the mean longitudes of moon, sun, lunar perigee, solar
// perigee and the moon's ascending node, in degrees.
type longitudes struct{ s, h, p, p1, n float64 }

// longitudesAt follows Schureman1958 table 1 (p. 162), in Julian centuries
// from 1899-12-31 12:00.
func longitudesAt(t time.Time) longitudes {
	epoch := time.Date(1899, 12, 31, 12, 0, 0, 0, time.UTC)
	c := float64(t.Unix()-epoch.Unix()) / 86400 / 36525
	poly := func(d, m, s, turns, rate, c2, c3 float64) float64 {
		return d + m/60 + s/3600 + (math.Mod(turns*c, 1)*360 + (rate*c+c2*c*c+c3*c*c*c)/3600)
	}
	return longitudes{
		s:  poly(270, 26, 14.72, 1336, 1108411.20, 9.09, 0.0068),
		h:  poly(279, 41, 48.04, 0, 129602768.13, 1.089, 0),
		p:  poly(334, 19, 40.87, 11, 392515.94, -37.24, -0.045),
		p1: poly(281, 13, 15.0, 0, 6189.03, 1.63, 0.012),
		n:  poly(259, 10, 57.12, -5, -482912.63, 7.58, 0.008),
	}
}

// Hourly motion of the mean longitudes, degrees (Schureman1958 table 1).
const (
	rateT  = 15.0
	rateS  = 0.54901653
	rateH  = 0.04106864
	rateP  = 0.00464183
	rateP1 = 0.00000196
)

// orbit is where the moon's orbit lies against the earth's equator in the
// middle of a year: its inclination I and the angles xi, nu, nu' and 2nu” by
// which the tide is shifted (Schureman1958 pp. 156 to 173), in radians, and
// P = p - xi. perigee is p at the start of the year, see m1.
type orbit struct{ i, xi, nu, nu1, nu2, p, perigee float64 }

func orbitOf(year int) orbit {
	start := startOf(year)
	l := longitudesAt(start.Add(startOf(year+1).Sub(start) / 2))
	n := math.Remainder(l.n, 360) * rad
	o := orbit{i: math.Acos(0.91370 - 0.03569*math.Cos(n))}
	a := math.Atan(1.01883 * math.Tan(n/2))
	b := math.Atan(0.64412 * math.Tan(n/2))
	o.xi, o.nu = n-a-b, a-b
	s2, si := math.Sin(2*o.i), math.Sin(o.i)
	o.nu1 = math.Atan2(s2*math.Sin(o.nu), s2*math.Cos(o.nu)+0.3347)
	o.nu2 = math.Atan2(si*si*math.Sin(2*o.nu), si*si*math.Cos(2*o.nu)+0.0727)
	o.p = math.Remainder(l.p, 360)*rad - o.xi
	o.perigee = math.Remainder(longitudesAt(start).p, 360) * rad
	return o
}

func startOf(year int) time.Time { return time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC) }
