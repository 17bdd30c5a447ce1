package wind

import (
	"fmt"
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Method tells how a wind was carried to another height.
type Method string

// Methods.
const (
	// Stability is the log law bent by the heat and moisture that the water
	// gives to the air or takes from it.
	Stability Method = "stability"
	// NeutralLog is the plain log law, as if air and water were equally warm.
	NeutralLog Method = "neutral log law"
	// PowerLaw is the fallback where the temperatures are unknown.
	PowerLaw Method = "power law 0.11"
)

// The range that the profiles are good for: the lowest anemometers stand at
// about 2 m, and the surface layer seldom reaches above 200 m.
const (
	MinHeight = 2 * units.Metre
	MaxHeight = 200 * units.Metre
)

const (
	gravity   = 9.81     // m/s²
	karman    = 0.4      // von Kármán's constant
	powerLaw  = 0.11     // exponent over the sea, Hsu1994
	smoothFac = 0.11     // smooth-flow roughness, Smith1988
	maxSpeed  = 40.0     // m/s: measured to about 25; far above, Charnock runs away
	viscosity = 1.5e-5   // m²/s, air at about 15 °C
	iterStop  = 1e-5     // relative change of u* that ends an iteration
	iterMax   = 60       // enough for every case in range, see the tests
	calm      = 0.01     // m/s: below, no log law holds and the air is still
	coareNu0  = 1.326e-5 // m²/s, air at 0 °C, COARE35
)

// Profile is the mean wind over the sea as a function of height:
//
//	U(z) = U(z1) + u*/(k G) [ln(z/z1) - psi(z/L) + psi(z1/L)]
//
// with u* the friction velocity (m/s), k = 0.4, L the Obukhov length (m) and
// G the share by which convective gusts raise the scalar wind over the mean
// wind (1 in neutral and stable air).
type Profile struct {
	// Friction is u*, the square root of stress over density.
	Friction units.Speed
	// Roughness is z0, the height where the log law reaches zero.
	Roughness units.Length
	// Obukhov is L: positive where the water cools the air, negative where
	// it warms it, unknown in a neutral profile.
	Obukhov models.Opt[units.Length]
	// Held tells that the air is more stable than the profile functions
	// were measured in: L is held at 10 m, and the wind aloft may have come
	// loose from the wind at the surface.
	Held   bool
	Method Method

	u, z1 float64 // the wind that the profile was fitted to, m/s at m
	gust  float64 // G
}

// Neutral fits the neutral log law through one wind at one height. The
// roughness is Charnock's with the coefficient of COARE 3.5 and a smooth-flow
// part:
//
//	z0 = a u*²/g + 0.11 nu/u*,  a = 0.0017 U10 - 0.005 (U10 held to 0 to 19 m/s)
//
// Valid from 2 to 200 m and 0 to 40 m/s; outside it answers an error. Below
// 0.01 m/s the air is still and the same at all heights.
//
// Reference: COARE35 eq. 13; Smith1988.
func Neutral(u units.Speed, z units.Length) (Profile, error) {
	if err := check(u, z); err != nil {
		return Profile{}, err
	}
	us, z0 := neutral(float64(u), float64(z), coareCharnock)
	return Profile{
		Friction: units.Speed(us), Roughness: units.Length(z0), Method: NeutralLog,
		u: float64(u), z1: float64(z), gust: 1,
	}, nil
}

// Fit fits the best profile that the temperatures allow through one wind at
// one height: with both known, the log law with the COARE 3.5 stability
// functions, the relative humidity taken as 80 % and the air temperature as
// read at 4 m, as buoys do (both are assumptions; 10 % of humidity moves the
// wind at 50 m by about 1 %); otherwise the neutral log law.
//
// Valid from 2 to 200 m, 0 to 40 m/s and -40 to 45 °C; outside it answers an
// error.
//
// Reference: COARE35; Fairall1996.
func Fit(u units.Speed, z units.Length, air, sea models.Opt[units.Temperature]) (Profile, error) {
	ta, okA := air.Get()
	ts, okS := sea.Get()
	if !okA || !okS {
		return Neutral(u, z)
	}
	if err := check(u, z); err != nil {
		return Profile{}, err
	}
	for _, t := range [...]units.Temperature{ta, ts} {
		if c := t.Celsius(); !(c >= -40 && c <= 45) {
			return Profile{}, fmt.Errorf("a temperature of %.1f °C is outside -40 to 45 °C", c)
		}
	}
	p := bulk(bulkInput{
		u: float64(u), zu: float64(z), zt: buoyThermometer,
		air: ta.Celsius(), sea: ts.Celsius(), humidity: assumedHumidity, pressure: 1013,
	})
	return p, nil
}

// At returns the mean wind at a height, unknown outside 2 to 200 m.
//
// Reference: COARE35.
func (p Profile) At(z units.Length) models.Opt[units.Speed] {
	if !(z >= MinHeight && z <= MaxHeight) || p.gust == 0 {
		return models.Unknown[units.Speed]()
	}
	return models.Known(p.at(z))
}

func (p Profile) at(z units.Length) units.Speed {
	if p.u < calm {
		return units.Speed(p.u)
	}
	zz := float64(z)
	gain := math.Log(zz / p.z1)
	if l, ok := p.Obukhov.Get(); ok {
		gain += psiU(p.z1/float64(l)) - psiU(zz/float64(l))
	}
	return units.Speed(max(0, p.u+float64(p.Friction)/(karman*p.gust)*gain))
}

// Neutral10 returns the wind at 10 m that would give the same stress in
// neutral air: the "equivalent neutral wind" that wave growth formulas want.
//
// Reference: COARE35.
func (p Profile) Neutral10() units.Speed {
	if p.Friction <= 0 || p.Roughness <= 0 {
		return 0
	}
	return units.Speed(float64(p.Friction) / karman * math.Log(10/float64(p.Roughness)))
}

// ToHeight carries a mean wind from height z1 to height z2 over the sea: with
// the temperatures of air and water known by the stability profile of Fit,
// otherwise, and above 40 m/s, by the power law U2 = U1 (z2/z1)^0.11. The
// method says which.
//
// Heights are held to 2 to 200 m, the range of the profiles; callers that
// must tell use Fit and Profile.At, which answer unknown outside.
//
// Reference: COARE35; Hsu1994.
func ToHeight(u units.Speed, z1, z2 units.Length, air, sea models.Opt[units.Temperature]) (units.Speed, Method) {
	z1 = min(max(z1, MinHeight), MaxHeight)
	z2 = min(max(z2, MinHeight), MaxHeight)
	if air.Known() && sea.Known() {
		if p, err := Fit(u, z1, air, sea); err == nil {
			return p.at(z2), p.Method
		}
	}
	return units.Speed(float64(u) * math.Pow(float64(z2/z1), powerLaw)), PowerLaw
}

// To10m carries a mean wind from the height of the anemometer to 10 m, as
// ToHeight does.
//
// Reference: COARE35; Hsu1994.
func To10m(u units.Speed, z units.Length, air, sea models.Opt[units.Temperature]) (units.Speed, Method) {
	return ToHeight(u, z, 10*units.Metre, air, sea)
}

func check(u units.Speed, z units.Length) error {
	if !(z >= MinHeight && z <= MaxHeight) {
		return fmt.Errorf("a height of %.1f m is outside 2 to 200 m", float64(z))
	}
	if !(u >= 0 && u <= maxSpeed) {
		return fmt.Errorf("a wind of %.1f m/s is outside 0 to 40 m/s", float64(u))
	}
	return nil
}

// coareCharnock is the coefficient of COARE 3.5 (eq. 13 with the constants of
// its published code) for the neutral wind at 10 m.
func coareCharnock(u10n float64) float64 {
	return max(0, 0.0017*min(u10n, 19)-0.005)
}

// neutral solves the log law for u* and z0 by iteration, with a Charnock
// coefficient that may depend on the neutral wind at 10 m.
func neutral(u, z float64, charnock func(u10n float64) float64) (us, z0 float64) {
	if u < calm {
		return 0, 0
	}
	us = 0.035 * u
	for range iterMax {
		u10 := u + us/karman*math.Log(10/z)
		z0 = roughness(charnock(u10), us, viscosity)
		next := karman * u / math.Log(z/z0)
		done := math.Abs(next-us) <= iterStop*us
		us = next
		if done {
			break
		}
	}
	return us, z0
}

func roughness(a, us, nu float64) float64 { return a*us*us/gravity + smoothFac*nu/us }
