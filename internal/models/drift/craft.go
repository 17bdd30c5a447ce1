// Package drift computes how a boat drifts before the wind and in a current:
// leeway from published field trials, with and without a sea anchor or under
// power, the track over the ground for a trip with its doubt, and the slip
// through the water, which is what the baits feel.
//
// Directions: wind comes From, currents and drift go Toward. All vectors are
// east and north components over the ground unless a name says otherwise.
package drift

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Craft is what decides how a boat is blown: the coefficients of its class
// in the Coast Guard's leeway field trials.
//
// Leeway down the wind is DownSlope times the 10 m wind; leeway across it is
// CrossSlope times the wind, to the left or to the right, and nobody knows
// beforehand to which.
type Craft struct {
	// Class is the trials' own name of the class of craft.
	Class string
	// DownSlope and CrossSlope are shares of the 10 m wind speed.
	DownSlope, CrossSlope float64
	// DownScatter and CrossScatter are the standard errors of the trials'
	// regressions (Syx), widened for boats outside the trials.
	DownScatter, CrossScatter units.Speed
	// Outside marks a boat longer than the craft of the trials.
	Outside bool
}

// Longest is the length up to which the trials' small craft reach, from
// memory; longer boats take the same slopes with wider scatter.
const Longest = 10 * units.Metre

// widen is how much the scatter of the trials grows for boats longer than
// those measured: an assumption, to be replaced by the captain's own drifts.
const widen = 1.5

// StrongestWind is the 10 m wind up to which the trials' regressions hold,
// from memory. Past it the slopes are kept and Motion.Outside is set.
const StrongestWind = 20 * units.MetrePerSecond

// CraftFor picks the class of craft for a boat.
//
// A centre console drifts as the trials' open-cockpit sport fisher: 5.55 %
// down the wind and 2.27 % across. A sportfish drifts as the sport boat with
// a cuddy cabin: 6.54 % and 2.19 %; the nearest class, since no cabin boat
// over 10 m was in the trials. Unknown kinds are taken as a centre console.
//
// Reference: AllenPlourde1999, classes "sport boat" and "sport fisher"; the
// numbers also in Allen2005.
func CraftFor(kind models.BoatKind, length units.Length) Craft {
	c := Craft{
		Class:     "sport fisher, center console, open cockpit",
		DownSlope: 0.0555, CrossSlope: 0.0227,
		DownScatter: 0.0330, CrossScatter: 0.0300,
	}
	if kind == models.Sportfish {
		c = Craft{
			Class:     "sport boat, no canvas, modified V, cuddy cabin",
			DownSlope: 0.0654, CrossSlope: 0.0219,
			DownScatter: 0.0300, CrossScatter: 0.0280,
		}
	}
	if length > Longest {
		c.Outside = true
		c.DownScatter *= widen
		c.CrossScatter *= widen
	}
	return c
}

// Motion is a boat's leeway: its motion through the water.
type Motion struct {
	// Down and Cross are the leeway down the wind and across it.
	Down, Cross units.Speed
	// Mean is the leeway down the wind. Left and Right are the two courses
	// it can settle on, seen looking down the wind.
	Mean, Left, Right units.Vector
	// Slip is the speed through the water on either course, which is what
	// the baits and a drop line feel.
	Slip units.Speed
	// Outside says why the motion lies outside the trials; empty inside.
	Outside string
}

// Leeway returns how a craft drifts through the water in a 10 m wind, with or
// without a sea anchor off the bow. A negative wind counts as calm.
//
// Validity: winds to about 20 m/s, boats to about 10 m, drifting freely. The
// trials' raft data put the effect of a drogue at 0.36 to 0.78 of the free
// leeway; see Anchored for ours.
//
// Reference: AllenPlourde1999.
func Leeway(c Craft, wind10 units.Speed, from units.From, seaAnchor bool) Motion {
	w := max(wind10, 0)
	down, cross := c.DownSlope, c.CrossSlope
	if seaAnchor {
		k := Anchored(c.DownSlope) / c.DownSlope
		down, cross = down*k, cross*k
	}
	m := Motion{
		Down:  units.Speed(down) * w,
		Cross: units.Speed(cross) * w,
	}
	m.Mean = units.FlowVector(m.Down, from.Toward())
	side := units.FlowVector(m.Cross, from.Toward()+90)
	m.Right, m.Left = m.Mean.Add(side), m.Mean.Sub(side)
	m.Slip = units.Speed(math.Hypot(float64(m.Down), float64(m.Cross)))
	switch {
	case w > StrongestWind:
		m.Outside = "wind is stronger than in the leeway trials"
	case c.Outside:
		m.Outside = "boat is longer than those of the leeway trials"
	}
	return m
}

// Densities of sea water at 25 °C and 35 g/kg, and of air at 15 °C and
// 1013.25 hPa, in kg/m³.
const (
	rhoWater = 1025
	rhoAir   = 1.225
)

// anchorRatio is the drag area of a sea anchor over the boat's drag area in
// the wind. Its flat diameter is taken as 0.35 of the boat's length, its open
// mouth as two thirds of that, and the boat's windage as 0.07 of its length
// squared: common practice, no source. The length cancels. The drag
// coefficient 1.33 is that of a hemispherical cup, open side to the flow
// (Hoerner1965, from memory).
const anchorRatio = 1.33 * (math.Pi / 4 * (0.35 * 2 / 3) * (0.35 * 2 / 3)) / 0.07

// Anchored returns the down-wind slope of a boat that hangs on its sea anchor
// from the free slope (0 < free < 1), by balancing the drag of the wind on the
// boat against the drag of the water on hull and anchor (Own).
func Anchored(free float64) float64 {
	return AnchorSlope(free, anchorRatio)
}

// AnchorSlope is the balance behind Anchored for a given ratio of the
// anchor's drag area in the water to the boat's drag area in the wind. Both
// drags go with the square of speed, so that the slope does not depend on the
// wind. A ratio of 0 gives the free slope back.
func AnchorSlope(free, ratio float64) float64 {
	hull := (1 - free) * (1 - free) / (free * free) // (rho_w CwAw)/(rho_a CaAa)
	q := math.Sqrt(hull + rhoWater/rhoAir*ratio)    // (W-v)/v
	return 1 / (1 + q)
}
