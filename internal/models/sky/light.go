package sky

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Light is how well fish can be seen under the surface from a tower, looking
// one way. The crew's polarised glasses are left out: they help everywhere.
type Light struct {
	// Off is how far the sun's bearing is from the look direction, 0 (in the
	// eyes) to 180 (behind), in degrees.
	Off float64
	// Behind tells that the sun is in the half of the sky behind the eyes;
	// InEyes that it is up, within 45 degrees of the look direction and under
	// 45 degrees high.
	Behind, InEyes bool
	// Tilt is how much the water's facets must lean to throw the sun into
	// the eyes, at the place looked at where it takes least, in degrees, no
	// nearer than 30 degrees below the horizon; TiltRMS is its tangent over
	// the root mean square slope of the facets. Unknown with the sun down.
	Tilt, TiltRMS models.Opt[float64]
	// Glare is the brightness of the glitter there over that of its centre,
	// exp(-(tan tilt)²/mss), 0 to 1, while the sun is out. Clouds do not
	// lower it: between them the sun glares.
	Glare float64
	// Fresnel is the share of the sky's light that the water throws back
	// 20 degrees below the horizon, a usual line of sight.
	Fresnel float64
	// Whitecaps is the share of the surface under foam.
	Whitecaps float64
	// SightDistance is how much of the water ahead can be seen into, as a
	// length along the line of sight: from below the tower out to where the
	// sky's reflection drowns what comes from below, less what the glitter
	// takes. Unknown where the cloud is unknown.
	SightDistance models.Opt[units.Length]
}

const (
	seaIndex  = 1.34 // refractive index of sea water
	glassLook = 20.0 // degrees below the horizon, see Light.Fresnel
	nearest   = 0.58 // heights of the eye: 60 degrees down, nearer is the boat
	stride    = 1.14 // each line of sight reaches so much farther
	looks     = 30   // lines of sight: to 29 heights, 2 degrees down
	lookedAt  = 1.7  // heights of the eye: 30 degrees down, see Light.Tilt
	// slopeWind is the strongest wind that the facets were photographed in.
	slopeWind = 14.0 // m/s
	// fromBelow is the light that comes up from clear blue water over the
	// light that falls on the sea, as radiances; contrast is the share of it
	// in all light from a patch at which a fish still stands out. Ours, set
	// so that a 6 m eye sees some 40 m under a high sun and some 10 m under
	// cloud, common practice, no source.
	fromBelow = 0.02
	contrast  = 0.25
	// skyOverBeam is the clear sky's light on the flat over the direct beam
	// square to the sun (Meinel and Meinel 1976).
	skyOverBeam = 0.1
)

// SeeFish judges the light for seeing fish from a tower. The sun is given
// without refraction, look is the bearing the eyes are on (up-sea, for fish
// that run down it), the wind is at 10 m, cloud is the sky cover in percent,
// eye is the height above the water.
//
// The reflection is Fresnel's for a flat sea, the glitter that of facets with
// Cox and Munk's slopes (mss = 0.003 + 0.00512 U, U held to 14 m/s), the foam
// Monahan and O'Muircheartaigh's (W = 3.84e-6 U^3.41). The sight distance
// weighs the light from below against both; it falls with cloud, with a
// lower sun and with glitter, and fades out in civil twilight.
//
// Reference: CoxMunk1954; MonahanOMuircheartaigh1980; Meinel1976; Own for the
// contrast.
func SeeFish(sun Sun, look units.Toward, wind units.Speed, cloudPercent models.Opt[float64], eye units.Length) Light {
	u := max(0, float64(wind))
	mss := 0.003 + 0.00512*min(u, slopeWind)
	l := Light{
		Off:       units.Apart(units.Toward(sun.Azimuth), look),
		Fresnel:   Fresnel(90 - glassLook),
		Whitecaps: min(1, 3.84e-6*math.Pow(u, 3.41)),
	}
	l.Behind = l.Off > 90
	up := sun.Elevation > 0
	l.InEyes = up && l.Off < 45 && sun.Elevation < 45

	cloud, cloudKnown := cloudPercent.Get()
	cloud = min(1, max(0, cloud/100))
	// Shares of the light on the flat, in radiances of an even sky.
	sinEl := math.Sin(max(0, sun.Elevation) * deg)
	clearSky := skyOverBeam / (skyOverBeam + sinEl)
	sky := clearSky + (1-clearSky)*cloud

	// Lines of sight in even steps of the logarithm of the distance. A line
	// is told by x, the distance over the height of the eye, which is the
	// cotangent of the angle that it looks down by.
	toSun := sunVector(sun.Elevation, l.Off)
	beam := math.Pi * (1 - clearSky) / max(sinEl, 0.02)
	least, seen, x := math.Inf(1), 0.0, nearest
	for range looks {
		down := 1 / math.Sqrt(1+x*x*stride) // at the middle of the step
		along := x * math.Sqrt(stride) * down
		back := sky * reflect(down)
		if up {
			tan2, cos, incidence := facet(toSun, along, down)
			if x >= lookedAt {
				least = min(least, tan2)
			}
			back += beam * glitter(tan2, cos, incidence, down, mss)
		}
		// Fade in over a tenth of contrast, so that nothing jumps.
		share := fromBelow / (fromBelow + back)
		seen += x * (stride - 1) * min(1, max(0, (share-contrast)/0.1))
		x *= stride
	}
	if up {
		l.Tilt = models.Known(math.Atan(math.Sqrt(least)) / deg)
		l.TiltRMS = models.Known(math.Sqrt(least / mss))
		l.Glare = math.Exp(-least / mss)
	}
	if cloudKnown {
		twilight := min(1, max(0, 1+sun.Elevation/6))
		l.SightDistance = models.Known(units.Length(seen * max(0, float64(eye)) * twilight * (1 - l.Whitecaps)))
	}
	return l
}

// Fresnel returns the share of unpolarised light that flat sea water (index
// 1.34) throws back, for an angle of incidence from the vertical in degrees,
// held to 0 to 90.
//
// Reference: Jerlov1976 (Fresnel's equations).
func Fresnel(incidence float64) float64 {
	return reflect(math.Cos(min(90, max(0, incidence)) * deg))
}

// reflect is Fresnel by the cosine of the angle of incidence.
func reflect(c float64) float64 {
	t := math.Sqrt(1 - (1-c*c)/(seaIndex*seaIndex))
	rs := (c - seaIndex*t) / (c + seaIndex*t)
	rp := (seaIndex*c - t) / (seaIndex*c + t)
	return (rs*rs + rp*rp) / 2
}

// vector is a direction from a patch of water: along the look, square to it,
// and up.
type vector struct{ along, across, up float64 }

func sunVector(elevation, off float64) vector {
	se, ce := math.Sincos(elevation * deg)
	so, co := math.Sincos(off * deg)
	return vector{ce * co, ce * so, se}
}

// facet returns how far a piece of surface must lean (squared tangent and
// cosine) to throw the sun into eyes that look at it along and down, and the
// cosine of the angle of incidence on it.
func facet(sun vector, along, down float64) (tan2, cos, incidence float64) {
	x, y, z := sun.along-along, sun.across, sun.up+down
	flat := x*x + y*y
	half := math.Sqrt(flat + z*z) // twice the cosine of the incidence
	return flat / (z * z), z / half, min(1, half/2)
}

// glitter returns the radiance of the glitter over the irradiance of the beam
// square to the sun, per steradian (CoxMunk1954).
func glitter(tan2, cos, incidence, down, mss float64) float64 {
	p := math.Exp(-tan2/mss) / (math.Pi * mss)
	return reflect(incidence) * p / (4 * down * cos * cos * cos * cos)
}
