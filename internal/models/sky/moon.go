package sky

import (
	"math"
	"time"

	"forecastd/internal/models"
)

// Moon is the moon's place in the sky, in degrees as for the sun, seen from
// the earth's surface, and how much of its disc is lit, 0 to 1. DistanceKM is
// from the earth's centre.
type Moon struct {
	Elevation, Azimuth float64
	Illuminated        float64
	DistanceKM         float64
}

// MoonAt returns where the moon stands. Good to about 0.02 degree from 1950
// to 2100.
//
// Reference: Meeus1998 ch. 47, 48.
func MoonAt(t time.Time, at models.Position) Moon {
	d := daysUT(t)
	tt := centuriesTT(d)
	lon, lat, km := lunar(tt)
	f := frameAt(tt)
	el, az := horizontal(d, f, f.equatorial(lon+f.nutation, lat, km), at)
	return Moon{Elevation: el, Azimuth: az, Illuminated: illuminated(tt, lon, lat, km), DistanceKM: km}
}

// Illuminated returns the share of the moon's disc that is lit, 0 to 1, seen
// from the earth's centre.
//
// Reference: Meeus1998 ch. 48.
func Illuminated(t time.Time) float64 {
	tt := centuriesTT(daysUT(t))
	lon, lat, km := lunar(tt)
	return illuminated(tt, lon, lat, km)
}

func illuminated(tt, lon, lat, km float64) float64 {
	sunLon, r := solar(tt)
	cosPsi := math.Cos(lat) * math.Cos(lon-sunLon)
	sinPsi := math.Sqrt(max(0, 1-cosPsi*cosPsi))
	i := math.Atan2(r*au*sinPsi, km-r*au*cosPsi)
	return (1 + math.Cos(i)) / 2
}

// lunar returns the moon's geocentric longitude and latitude (radians, mean
// equinox of date) and distance in km (Meeus1998 tables 47.A and 47.B).
func lunar(t float64) (lon, lat, km float64) {
	lp := 218.3164477 + t*(481267.88123421+t*(-0.0015786+t*(1.0/538841-t/65194000)))
	d := (297.8501921 + t*(445267.1114034+t*(-0.0018819+t*(1.0/545868-t/113065000)))) * deg
	m := (357.5291092 + t*(35999.0502909+t*(-0.0001536+t/24490000))) * deg
	mp := (134.9633964 + t*(477198.8675055+t*(0.0087414+t*(1.0/69699-t/14712000)))) * deg
	f := (93.2720950 + t*(483202.0175233+t*(-0.0036539+t*(-1.0/3526000+t/863310000)))) * deg
	a1 := (119.75 + 131.849*t) * deg
	a2 := (53.09 + 479264.290*t) * deg
	a3 := (313.45 + 481266.484*t) * deg
	e := 1 - t*(0.002516+t*0.0000074)
	ecc := [3]float64{1, e, e * e}
	l := lp * deg

	sumL := 3958*math.Sin(a1) + 1962*math.Sin(l-f) + 318*math.Sin(a2)
	sumB := -2235*math.Sin(l) + 382*math.Sin(a3) + 175*math.Sin(a1-f) + 175*math.Sin(a1+f) +
		127*math.Sin(l-mp) - 115*math.Sin(l+mp)
	var sumR float64
	for _, x := range longitudeTerms {
		s, c := math.Sincos(float64(x.d)*d + float64(x.m)*m + float64(x.mp)*mp + float64(x.f)*f)
		k := ecc[max(x.m, -x.m)]
		sumL += float64(x.l) * k * s
		sumR += float64(x.r) * k * c
	}
	for _, x := range latitudeTerms {
		s := math.Sin(float64(x.d)*d + float64(x.m)*m + float64(x.mp)*mp + float64(x.f)*f)
		sumB += float64(x.b) * ecc[max(x.m, -x.m)] * s
	}
	return math.Mod(lp+sumL*1e-6, 360) * deg, sumB * 1e-6 * deg, 385000.56 + sumR*1e-3
}
