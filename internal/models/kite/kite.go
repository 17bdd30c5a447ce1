// Package kite computes how a fishing kite flies: lift and drag of a flat
// kite, the line with its weight, its drag in the wind and the baits that
// hang from its clips, the winds between which the whole holds, and which of
// the captain's kites to fly.
//
// Winds are at the height of the kite and relative to the drifting boat.
// Forces are in newton, angles in degrees unless a name says otherwise.
package kite

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

const (
	gravity = 9.81  // m/s²
	rhoAir  = 1.225 // kg/m³, 15 °C and 1013.25 hPa
)

// Attack is the angle between a kite's sail and the wind that its bridle is
// taken to hold, degrees. The formulas hold below about 20 degrees.
const Attack = 15

// defaultAspect is taken where a kite's aspect is not given.
const defaultAspect = 1.5

// Coefficients returns the lift and drag coefficients of a thin flat plate of
// low aspect (span squared over area) at an angle of attack in radians. Valid
// to about 20 degrees; the stall past it is not in them.
//
// Reference: NASAKite: Clo = 2 pi a, Cl = Clo/(1+Clo/(pi AR)), Cd = 1.28 sin a +
// Cl²/(0.7 pi AR).
func Coefficients(attack, aspect float64) (lift, drag float64) {
	flat := 2 * math.Pi * attack
	lift = flat / (1 + flat/(math.Pi*aspect))
	drag = 1.28*math.Sin(attack) + lift*lift/(0.7*math.Pi*aspect)
	return lift, drag
}

// sail is what pulls at the top of the line: forces are
// (q*drag, q*lift + rise) with q the dynamic pressure.
type sail struct {
	lift, drag float64 // coefficient times area, m²
	rise       float64 // buoyancy less weight, N
}

// newSail describes a kite by its size; ok is false without size or mass.
func newSail(k models.Kite, b models.Opt[Balloon]) (s sail, ok bool) {
	area, haveArea := k.Area.Get()
	mass, haveMass := k.Mass.Get()
	if !haveArea || !haveMass || !(area > 0) || mass < 0 {
		return s, false
	}
	aspect := k.Aspect.Or(defaultAspect)
	if !(aspect > 0) {
		return s, false
	}
	cl, cd := Coefficients(Attack*math.Pi/180, aspect)
	s = sail{lift: cl * area, drag: cd * area, rise: -float64(mass) * gravity}
	if bal, ok := b.Get(); ok {
		s.drag += sphereDrag * bal.section()
		s.rise += bal.Net(warmAir)
	}
	return s, true
}

func pressure(v units.Speed) float64 { return rhoAir / 2 * float64(v) * float64(v) }

func speedAt(q float64) units.Speed { return units.Speed(math.Sqrt(2 * q / rhoAir)) }

// DefaultSet is a generic set of kites for light, ordinary and heavy air, for
// an outlook without configuration. The sizes are invented for this project;
// with the default line their usable winds agree with common practice: the
// light kite from about 6 kn, the heavy one to about 30 kn sustained with the
// gusts that go with it.
func DefaultSet() []models.Kite {
	set := func(name string, area float64, mass units.Mass, load float64) models.Kite {
		return models.Kite{
			Name: name, Area: models.Known(area), Aspect: models.Known(1.5),
			Mass: models.Known(mass), Line: models.Known(load),
		}
	}
	return []models.Kite{
		set("light", 0.90, 0.20, 110),
		set("ordinary", 0.60, 0.25, 130),
		set("heavy", 0.40, 0.27, 170),
	}
}
