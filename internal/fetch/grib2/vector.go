package grib2

import (
	"fmt"
	"math"

	"forecastd/internal/models/units"
)

// VectorValue is a velocity at a place, or the lack of one.
type VectorValue struct {
	How  How
	Away units.Length // of the nearest grid point that went into it

	v units.Vector
}

// Get returns the velocity, toward true east and north, and whether there is
// one. Where it is a wind, Vector.From is where the wind comes from; where it
// is a current, Vector.Toward is where it sets.
func (v VectorValue) Get() (units.Vector, bool) { return v.v, v.How >= Bilinear }

// VectorAtPoints returns the velocities at many places. The components are
// interpolated and then turned from the grid's axes to true east and north, if
// they run along the grid. Only grid points that have both count.
func VectorAtPoints(u, v *Field, points []Point) ([]VectorValue, error) {
	if err := pair(u, v); err != nil {
		return nil, err
	}
	pts, err := sample(points, u, v)
	if err != nil {
		return nil, err
	}
	out := make([]VectorValue, len(points))
	for i, p := range pts {
		if !p.inside {
			out[i].How = Outside
			continue
		}
		nodes, how, away := p.mix(func(k int) bool { return p.has(0, k) && p.has(1, k) })
		if how == Missing {
			continue
		}
		var total, x, y float64
		for _, n := range nodes {
			total += n.weight
			x += n.weight * p.get(0, n.index)
			y += n.weight * p.get(1, n.index)
		}
		out[i] = VectorValue{How: how, Away: units.Length(away), v: u.Grid.ToEarth(x/total, y/total, points[i].Lon)}
	}
	return out, nil
}

// pair refuses two fields that are not the components of one velocity.
func pair(u, v *Field) error {
	for _, f := range []*Field{u, v} {
		if f.Grid == nil && f.badGrid != nil {
			return f.badGrid
		}
	}
	switch {
	case u.Grid == nil || v.Grid == nil || *u.Grid != *v.Grid:
		return fmt.Errorf("message %d and message %d: the components lie on different grids", u.Message, v.Message)
	case u.Discipline != v.Discipline || u.Category != v.Category || u.Number+1 != v.Number || u.Surface1 != v.Surface1:
		return fmt.Errorf("message %d and message %d: %s and %s are no pair", u.Message, v.Message, u.Name(), v.Name())
	case !u.Run.Equal(v.Run) || !u.Start.Equal(v.Start) || !u.End.Equal(v.End):
		return fmt.Errorf("message %d and message %d: the components are valid at different times", u.Message, v.Message)
	}
	return nil
}

// ToEarth turns components along the grid's x and y at a longitude to a
// velocity toward true east and north. Where the grid says that its components
// are already true, it changes nothing. Both are in metres per second.
func (g *Grid) ToEarth(x, y, lon float64) units.Vector {
	if !g.GridRelative {
		return units.Vector{East: units.Speed(x), North: units.Speed(y)}
	}
	sin, cos := math.Sincos(g.proj.turn(lon) * math.Pi / 180)
	return units.Vector{East: units.Speed(x*cos + y*sin), North: units.Speed(-x*sin + y*cos)}
}
