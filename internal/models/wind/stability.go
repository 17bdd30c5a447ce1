package wind

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

const (
	buoyThermometer = 4.0  // m
	assumedHumidity = 80.0 // percent
	gustBeta        = 1.2  // convective gusts, COARE35
	inversion       = 600. // m, depth of the mixed layer, COARE35
	minObukhov      = 10.0 // m, see Profile.Held
	gasDry          = 287.1
	lapse           = 0.0098 // K/m, dry adiabatic
)

// bulkInput is what the bulk formulas look at: m/s, m, °C, percent, hPa.
type bulkInput struct {
	u, zu, zt float64
	air, sea  float64
	humidity  float64
	pressure  float64
}

// bulk solves the COARE 3.5 bulk formulas for the profile of the wind: a
// first guess from the bulk Richardson number, then u*, the temperature and
// humidity scales and z/L by iteration. Cool skin, warm layer and rain are
// left out; they move the profile by less than the air temperature's own
// error.
func bulk(in bulkInput) Profile {
	p := Profile{Method: Stability, u: in.u, z1: in.zu, gust: 1}
	if in.u < calm {
		return p
	}
	tk := in.air + 273.15
	qs := 0.98 * humidityAt(in.sea, 100, in.pressure) // salt lowers it by 2 %
	qa := humidityAt(in.air, in.humidity, in.pressure)
	dt := in.sea - in.air - lapse*in.zt
	dq := qs - qa
	nu := coareNu0 * (1 + 6.542e-3*in.air + 8.301e-6*in.air*in.air - 4.84e-9*in.air*in.air*in.air)

	// First guess: neutral u* with convective gusts of 0.5 m/s, then the
	// bulk Richardson number.
	ug := 0.5
	s := math.Hypot(in.u, ug)
	u10 := s * math.Log(10/1e-4) / math.Log(in.zu/1e-4)
	us := 0.035 * u10
	z0 := roughness(0.011, us, nu)
	cd10 := sq(karman / math.Log(10/z0))
	ct10 := 0.00115 / math.Sqrt(cd10)
	z0t := 10 / math.Exp(karman/ct10)
	cd := sq(karman / math.Log(in.zu/z0))
	ct := karman / math.Log(in.zt/z0t)
	cc := karman * ct / cd
	rib := -gravity * in.zu / tk * (dt + 0.61*tk*dq) / (s * s)
	ribcu := -in.zu / inversion / 0.004 / (gustBeta * gustBeta * gustBeta)
	var zeta float64
	if rib < 0 {
		zeta = cc * rib / (1 + rib/ribcu)
	} else {
		zeta = cc * rib * (1 + 3*rib/cc)
	}
	inv, _ := holdObukhov(zeta / in.zu)
	us = s * karman / (math.Log(in.zu/z0) - psiU(in.zu*inv))

	held := false
	for i := range iterMax {
		u10n := us / karman * math.Log(10/z0)
		z0 = roughness(coareCharnock(u10n), us, nu)
		z0q := min(1.6e-4, 5.8e-5/math.Pow(z0*us/nu, 0.72))
		ct = karman / (math.Log(in.zt/z0q) - psiT(in.zt*inv))
		ts, qstar := -dt*ct, -dq*ct
		buoyancy := gravity / tk * (ts + 0.61*tk*qstar) // m/s² K/K
		next, h := holdObukhov(karman * buoyancy / (us * us))
		if next > 0 && inv > 0 && i > 0 { // the stable branch overshoots: meet halfway
			next = (next + inv) / 2
		}
		inv, held = next, h
		ug = 0.2
		if bf := -us * buoyancy; bf > 0 {
			ug = max(0.2, gustBeta*math.Cbrt(bf*inversion))
		}
		s = math.Hypot(in.u, ug)
		nextUs := max(1e-4, karman*s/(math.Log(in.zu/z0)-psiU(in.zu*inv)))
		done := math.Abs(nextUs-us) <= iterStop*us
		us = nextUs
		if done {
			break
		}
	}
	p.Friction, p.Roughness, p.Held = units.Speed(us), units.Length(z0), held
	p.gust = s / in.u
	if inv != 0 {
		p.Obukhov = models.Known(units.Length(1 / inv))
	}
	return p
}

// holdObukhov keeps 1/L from passing that of the most stable air measured.
func holdObukhov(inv float64) (float64, bool) {
	if inv > 1/minObukhov {
		return 1 / minObukhov, true
	}
	return inv, false
}

// humidityAt returns the specific humidity, kg/kg, of air at a temperature in
// °C, a relative humidity in percent and a pressure in hPa (Buck 1981 with
// the enhancement for sea-level pressure, as in COARE35).
func humidityAt(t, rh, p float64) float64 {
	e := 6.1121 * math.Exp(17.502*t/(t+240.97)) * (1.0007 + 3.46e-6*p) * rh / 100
	return 0.62197 * e / (p - 0.378*e)
}

// psiU is the integrated stability correction of the wind profile, COARE 3.5:
// Kansas functions near neutral blended into free convection when unstable,
// Beljaars and Holtslag 1991 when stable.
func psiU(zeta float64) float64 {
	if zeta < 0 {
		x := math.Sqrt(math.Sqrt(1 - 15*zeta))
		kansas := 2*math.Log((1+x)/2) + math.Log((1+x*x)/2) - 2*math.Atan(x) + math.Pi/2
		return blend(zeta, kansas, convective(math.Cbrt(1-10.15*zeta)))
	}
	return -(0.7*zeta + 0.75*(zeta-5/0.35)*math.Exp(-min(50, 0.35*zeta)) + 0.75*5/0.35)
}

// psiT is the same for temperature and humidity.
func psiT(zeta float64) float64 {
	if zeta < 0 {
		kansas := 2 * math.Log((1+math.Sqrt(1-15*zeta))/2)
		return blend(zeta, kansas, convective(math.Cbrt(1-34.15*zeta)))
	}
	return -(math.Pow(1+2*zeta/3, 1.5) + 2.0/3*(zeta-14.28)*math.Exp(-min(50, 0.35*zeta)) + 2.0/3*14.28 - 1)
}

func convective(y float64) float64 {
	return 1.5*math.Log((1+y+y*y)/3) - math.Sqrt(3)*math.Atan((1+2*y)/math.Sqrt(3)) + math.Pi/math.Sqrt(3)
}

func blend(zeta, kansas, free float64) float64 {
	f := zeta * zeta / (1 + zeta*zeta)
	return (1-f)*kansas + f*free
}

func sq(x float64) float64 { return x * x }
