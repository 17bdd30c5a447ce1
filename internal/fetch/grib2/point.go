package grib2

import (
	"cmp"
	"math"
	"slices"

	"forecastd/internal/models/units"
)

// Point is a place, in degrees north and east. Any longitude is good: -80 and
// 280 are the same.
type Point struct{ Lat, Lon float64 }

// How says where a Value comes from.
type How int

// The ways to come to a Value.
const (
	Missing    How = iota // inside the grid, but no value near
	Outside               // not inside the grid
	Bilinear              // between the four grid points around
	Partial               // between those of them that have a value
	NearestWet            // the nearest grid point with a value, where none of the four has one
)

// String names how.
func (h How) String() string {
	switch h {
	case Outside:
		return "outside"
	case Bilinear:
		return "bilinear"
	case Partial:
		return "partial corners"
	case NearestWet:
		return "nearest wet cell"
	}
	return "missing"
}

// Value is the value of a field at a place, or the lack of one.
type Value struct {
	How How
	// Away is how far the nearest grid point is that went into the value.
	Away units.Length
	// Low and High are the extremes of the grid points that went into it, to
	// tell a spike in the data from its surroundings.
	Low, High float64

	v float64
}

// Get returns the value, in the unit of the field's parameter, and whether
// there is one.
func (v Value) Get() (float64, bool) { return v.v, v.How >= Bilinear }

// edge is how far outside a place may lie, in columns or rows, and still count
// as inside: what rounding the corners to a millionth of a degree takes.
const edge = 1e-3

// node is one grid point of a stencil.
type node struct {
	index  int // in the file
	weight float64
	away   float64 // metres
}

// stencil is the grid points that matter to one place: the four around it, and
// around those, nearest first, the ones to fall back on.
type stencil struct {
	near [4]node
	n    int // of near: 4, fewer where corners coincide on an edge
	ring []node
}

// stencilAt returns false for a place outside. withRing says whether corners
// may be missing.
func (g *Grid) stencilAt(p Point, withRing bool) (stencil, bool) {
	x, y, ok := g.proj.xy(p.Lat, p.Lon)
	if !ok || !finite(x) || !finite(y) || math.Abs(p.Lat) > 90 {
		return stencil{}, false
	}
	right := float64(g.Ni - 1)
	if g.wrap {
		right++
	}
	top := float64(g.Nj - 1)
	if x < -edge || x > right+edge || y < -edge || y > top+edge {
		return stencil{}, false
	}
	x, y = min(max(x, 0), right), min(max(y, 0), top)
	col, row := int(x), int(y)
	fx, fy := x-float64(col), y-float64(row)
	var s stencil
	for j := range 2 {
		for i := range 2 {
			w := weight(fx, i) * weight(fy, j)
			if w == 0 {
				continue // beyond the edge, or of no account
			}
			s.near[s.n] = g.node(p, col+i, row+j)
			s.near[s.n].weight = w
			s.n++
		}
	}
	if withRing {
		s.ring = g.ringAround(p, x, y)
	}
	return s, true
}

func weight(f float64, i int) float64 {
	if i == 0 {
		return 1 - f
	}
	return f
}

func (g *Grid) node(p Point, col, row int) node {
	if g.wrap {
		col = (col + g.Ni) % g.Ni
	}
	lat, lon := g.LatLon(col, row)
	return node{index: g.index(col, row), away: distance(p, Point{lat, lon})}
}

// reach is how far, in columns or rows, a grid point may lie from a place and
// still stand for it: about a cell.
const reach = 1.5

// ringAround returns the grid points within reach, nearest first.
func (g *Grid) ringAround(p Point, x, y float64) []node {
	ring := make([]node, 0, 16)
	for j := int(math.Ceil(y - reach)); float64(j) <= y+reach; j++ {
		for i := int(math.Ceil(x - reach)); float64(i) <= x+reach; i++ {
			if j < 0 || j >= g.Nj || !g.wrap && (i < 0 || i >= g.Ni) {
				continue
			}
			ring = append(ring, g.node(p, i, j))
		}
	}
	slices.SortStableFunc(ring, func(a, b node) int { return cmp.Compare(a.away, b.away) })
	return ring
}

// distance is along the great circle of a sphere of 6371 km, in metres.
func distance(a, b Point) float64 {
	lat1, lat2 := a.Lat*math.Pi/180, b.Lat*math.Pi/180
	sLat := math.Sin((lat2 - lat1) / 2)
	sLon := math.Sin((b.Lon - a.Lon) * math.Pi / 360)
	h := sLat*sLat + math.Cos(lat1)*math.Cos(lat2)*sLon*sLon
	return 2 * 6371e3 * math.Asin(math.Sqrt(min(h, 1)))
}

// AtPoints returns the values at many places. The field is unpacked once, and
// only as far as they need. Bearings are mixed as unit vectors; where they
// cancel, there is no value.
func (f *Field) AtPoints(points []Point) ([]Value, error) { return f.at(points, f.isBearing()) }

func (f *Field) at(points []Point, bearing bool) ([]Value, error) {
	pts, err := sample(points, f)
	if err != nil {
		return nil, err
	}
	out := make([]Value, len(points))
	for i, p := range pts {
		if !p.inside {
			out[i] = Value{How: Outside}
			continue
		}
		nodes, how, away := p.mix(func(k int) bool { return p.has(0, k) })
		if how == Missing {
			continue
		}
		if v, ok := p.join(nodes, bearing); ok {
			v.How, v.Away = how, units.Length(away)
			out[i] = v
		}
	}
	return out, nil
}

// join joins the values at the nodes by their weights.
func (s *sampled) join(nodes []node, bearing bool) (Value, bool) {
	v := Value{Low: math.Inf(1), High: math.Inf(-1)}
	var sum, total float64
	var round bearings
	for _, n := range nodes {
		x := s.get(0, n.index)
		v.Low, v.High = min(v.Low, x), max(v.High, x)
		sum += n.weight * x
		total += n.weight
		if bearing {
			round.add(x, n.weight)
		}
	}
	if bearing {
		var ok bool
		v.v, ok = round.mean()
		return v, ok
	}
	v.v = sum / total
	return v, true
}
