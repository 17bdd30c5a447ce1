package spread

import (
	"math"

	"forecastd/internal/models/units"
)

const (
	gravity    = 9.81  // m/s²
	rhoAir     = 1.225 // kg/m³
	normalDrag = 1.1   // cylinder across the flow, Hoerner1965, from memory
	nylon      = 1140  // density of monofilament, kg/m³
	// carried is the share of a bait's weight that the line carries while its
	// back is out of the water and it pulls to get down: an assumption.
	carried = 0.5
)

// Drop is a drop line: the fishing line from its clip down to a bait at the
// surface, blown back by the wind.
type Drop struct {
	// Back is how far downwind of the clip the bait comes to the surface.
	Back units.Length
	// Length is the line from clip to bait.
	Length units.Length
	// Pull is the tension in the line at the clip; Down and Away are its
	// parts downward and downwind, N.
	Pull, Down, Away float64
	// Blown marks a line that the wind carries out so far that it does not
	// come down within six times the height of its clip.
	Blown bool
}

// Hang returns the drop line below a clip at a height above the water, with
// the load (lead and what the bait weighs out of the water) at its end, for a
// wind relative to the boat. The line is solved along its length from the bait
// up: the part of the wind across it pushes square to it, and its own weight
// pulls down. A load that is not positive, or a wind that carries it out too
// far, gives a line that is Blown.
//
// Left out: the drag of float and leader, and of the bait in the water.
//
// Reference: Hoerner1965 for the cross-flow drag of a cylinder, as for the kite
// line.
func Hang(height units.Length, load units.Mass, diameter units.Length, wind units.Speed) Drop {
	const steps = 24
	h := float64(height)
	if h <= 0 {
		return Drop{Pull: float64(load) * gravity, Down: float64(load) * gravity}
	}
	d := float64(diameter)
	drag := rhoAir / 2 * float64(wind) * float64(wind) * normalDrag * d
	weight := nylon * math.Pi / 4 * d * d * gravity
	tx, tz := 0.0, float64(load)*gravity
	out := Drop{}
	if tz <= 0 {
		out.Blown = true
		return out
	}
	ds := h / steps
	x, z, s := 0.0, 0.0, 0.0
	for s < 6*h {
		c, e := slope(tx, tz)
		c, e = slope(tx+drag*c*c*c*ds/2, tz+(weight-drag*c*c*e)*ds/2)
		step := ds
		if z+c*ds >= h { // the last, shorter step ends at the clip
			step = (h - z) / c
		}
		tx += drag * c * c * c * step
		tz += (weight - drag*c*c*e) * step
		x += e * step
		z += c * step
		s += step
		if step < ds || z >= h {
			break
		}
	}
	out.Blown = z < h-1e-9
	out.Back, out.Length = units.Length(x), units.Length(s)
	out.Pull, out.Down, out.Away = math.Hypot(tx, tz), tz, tx
	return out
}

// slope returns cosine and sine of the angle off the plumb.
func slope(tx, tz float64) (cos, sin float64) {
	t := math.Hypot(tx, tz)
	return tz / t, tx / t
}

// PlumbAngle is the captain's own check: the angle of a straight kite line, in
// degrees, whose drops hang plumb, from how far behind the boat two baits
// stand and how far apart their clips ride. Clips 180 ft apart with baits at
// 60 and 197 ft give 40 degrees. It is 0 where the baits stand further apart
// than the clips, as they cannot.
func PlumbAngle(near, far, clips units.Length) float64 {
	return math.Acos(min(max(float64((far-near)/clips), 0), 1)) * 180 / math.Pi
}
