package kite

import (
	"math"

	"forecastd/internal/models/units"
)

// Line is the kite line with what hangs from it.
type Line struct {
	// Out is the length from the reel to the kite.
	Out units.Length
	// Diameter and Weight (mass per metre) of the line.
	Diameter units.Length
	Weight   units.Mass
	// Load is the working load, N; 0 is no limit.
	Load float64
	// Clips are what the fishing lines pull, ordered from the kite down.
	Clips []Clip
}

// Clip is a release clip with the pull of the fishing line that runs through
// it.
type Clip struct {
	// FromKite is the length of line between kite and clip.
	FromKite units.Length
	// Down is the pull downward and Back the pull toward the boat, N.
	Down, Back float64
}

// normalDrag is the drag coefficient of a long cylinder across the flow at
// the Reynolds numbers of a line (1e2 to 1e4): Hoerner1965, from memory.
const normalDrag = 1.1

// workingLoad is the working load taken for a kite that names none: about
// a third of the breaking load of 80 lb braid, N.
const workingLoad = 120

// DefaultLine is 100 m of braid of about 80 lb with two light baits in its
// clips: 0.45 mm and 0.16 g/m. Common practice, no source.
func DefaultLine() Line {
	return Line{
		Out: 100, Diameter: 0.00045, Weight: 0.00016, Load: workingLoad,
		Clips: []Clip{{FromKite: 45, Down: 0.5}, {FromKite: 72, Down: 0.5}},
	}
}

// Place is a point on the line: how far behind the boat and how high above
// the reel it is.
type Place struct{ Behind, Height units.Length }

// steps is the number of steps along the line between two loads. With the
// midpoint rule the error in height is below 0.1 % (tested against 2000).
const steps = 12

// hang is the shape of a line under the forces at its top.
type hang struct {
	// tx, tz is the pull at the boat, downwind and up, N.
	tx, tz float64
	top    float64 // tension at the kite, N
	end    Place   // kite against boat
	clips  []Place // clips against boat
}

// solve integrates the line from the kite down. Along its length act its
// weight and, by the cross-flow principle, the drag of the part of the wind
// that blows across it, square to the line; at the clips the fishing lines
// pull. tx, tz is the pull of the kite.
func (l Line) solve(tx, tz, q float64, places bool) hang {
	return l.solveN(tx, tz, q, places, steps)
}

func (l Line) solveN(tx, tz, q float64, places bool, n int) hang {
	h := hang{top: math.Hypot(tx, tz)}
	weight := float64(l.Weight) * gravity
	drag := q * normalDrag * float64(l.Diameter)
	var x, z, s float64 // below and before the kite
	if places && len(l.Clips) > 0 {
		h.clips = make([]Place, 0, len(l.Clips))
	}
	run := func(to float64) {
		if to <= s {
			return
		}
		ds := (to - s) / float64(n)
		for range n {
			t := math.Hypot(tx, tz)
			if t == 0 {
				t = math.SmallestNonzeroFloat32
			}
			c, e := tx/t, tz/t // cosine and sine of the slope
			mx := tx + drag*e*math.Abs(e)*e*ds/2
			mz := tz - (drag*e*math.Abs(e)*c+weight)*ds/2
			t = math.Hypot(mx, mz)
			if t == 0 {
				t = math.SmallestNonzeroFloat32
			}
			c, e = mx/t, mz/t
			tx += drag * e * math.Abs(e) * e * ds
			tz -= (drag*e*math.Abs(e)*c + weight) * ds
			x += c * ds
			z += e * ds
		}
		s = to
	}
	for _, c := range l.Clips {
		run(min(max(float64(c.FromKite), s), float64(l.Out)))
		tz -= c.Down
		tx -= c.Back
		if places {
			h.clips = append(h.clips, Place{units.Length(x), units.Length(z)})
		}
	}
	run(float64(l.Out))
	h.tx, h.tz = tx, tz
	h.end = Place{units.Length(x), units.Length(z)}
	for i, p := range h.clips { // from the kite's to the boat's end
		h.clips[i] = Place{units.Length(x) - p.Behind, units.Length(z) - p.Height}
	}
	return h
}
