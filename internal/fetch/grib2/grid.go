package grib2

import "math"

// Grid says where the points of a field lie. Its methods number columns from
// the west (along x) and rows from the south (along y), whatever order the
// file keeps them in.
type Grid struct {
	Template     int     // grid definition template 3.n
	Ni, Nj       int     // columns and rows
	Radius       float64 // of the spherical earth, in metres; 0 if the shape is another
	GridRelative bool    // vector components run along the grid, not east and north
	Scan         int     // scanning mode, flag table 3.4

	proj projection
	wrap bool // the column after the last is the first
}

// projection leads from places to grid coordinates and back. x counts columns
// from the first in the file to the east, y rows to the north.
type projection interface {
	// xy returns false for a place that the projection cannot show.
	xy(lat, lon float64) (x, y float64, ok bool)
	latLon(x, y float64) (lat, lon float64)
	// turn is the true bearing of the grid's y axis at a longitude, in degrees.
	turn(lon float64) float64
}

// Scanning mode, flag table 3.4.
const (
	scanWestward   = 0x80 // the first point of a row is its eastern end
	scanNorthward  = 0x40 // the first row is the southern one
	scanColumns    = 0x20 // points along j stand side by side
	scanAlternates = 0x10 // every other row runs the other way
	scanStaggered  = 0x0F
)

// LatLon returns the place of a grid point, in degrees north and east, the
// longitude in [-180, 180).
func (g *Grid) LatLon(col, row int) (lat, lon float64) {
	return g.proj.latLon(float64(col), float64(row))
}

// Wraps tells whether the column after the last is the first: the grid goes
// round the earth.
func (g *Grid) Wraps() bool { return g.wrap }

// index returns where a point stands in the file.
func (g *Grid) index(col, row int) int {
	i, j := col, row
	if g.Scan&scanWestward != 0 {
		i = g.Ni - 1 - col
	}
	if g.Scan&scanNorthward == 0 {
		j = g.Nj - 1 - row
	}
	if g.Scan&scanColumns != 0 {
		if g.Scan&scanAlternates != 0 && i&1 != 0 {
			j = g.Nj - 1 - j
		}
		return i*g.Nj + j
	}
	if g.Scan&scanAlternates != 0 && j&1 != 0 {
		i = g.Ni - 1 - i
	}
	return j*g.Ni + i
}

// place is the inverse of index.
func (g *Grid) place(k int) (col, row int) {
	var i, j int
	if g.Scan&scanColumns != 0 {
		i, j = k/g.Nj, k%g.Nj
		if g.Scan&scanAlternates != 0 && i&1 != 0 {
			j = g.Nj - 1 - j
		}
	} else {
		i, j = k%g.Ni, k/g.Ni
		if g.Scan&scanAlternates != 0 && j&1 != 0 {
			i = g.Ni - 1 - i
		}
	}
	if g.Scan&scanWestward != 0 {
		i = g.Ni - 1 - i
	}
	if g.Scan&scanNorthward == 0 {
		j = g.Nj - 1 - j
	}
	return i, j
}

// parseGrid reads section 3, which holds at least 14 octets.
func parseGrid(s section) (*Grid, *Error) {
	template := s.u16(13)
	need, ok := map[int]int{0: 72, 10: 72, 20: 65, 30: 81}[template]
	switch {
	case s.u8(6) != 0:
		return nil, unsupported(3, 6, "source of grid definition %d", s.u8(6))
	case !ok:
		return nil, unsupported(3, 13, "grid definition template 3.%d", template)
	case !s.has(need):
		return nil, fault(3, 1, "%d octets are too few for grid template 3.%d, %d are needed", len(s), template, need)
	case s.u8(11) != 0:
		return nil, unsupported(3, 11, "a list of points per row (thinned grid)")
	}
	g := &Grid{Template: template}
	ni, nj := s.u32(31), s.u32(35)
	switch {
	case ni == missing32 || nj == missing32:
		return nil, unsupported(3, 31, "rows of different length (thinned grid)")
	case ni == 0 || nj == 0:
		return nil, fault(3, 31, "%d × %d grid points", ni, nj)
	case uint64(ni)*uint64(nj) > maxPoints:
		return nil, fault(3, 31, "%d × %d grid points are more than %d", ni, nj, maxPoints)
	}
	g.Ni, g.Nj = ni, nj
	var bad *Error
	switch template {
	case 0:
		bad = g.parseLatLon(s)
	case 10:
		bad = g.parseMercator(s)
	case 20:
		bad = g.parsePolar(s)
	case 30:
		bad = g.parseLambert(s)
	}
	if bad != nil {
		return nil, bad
	}
	return g, nil
}

// setFlags reads the resolution and component flags (flag table 3.3) and the
// scanning mode.
func (g *Grid) setFlags(s section, flagsOctet, scanOctet int) *Error {
	g.GridRelative = s.u8(flagsOctet)&0x08 != 0
	g.Scan = s.u8(scanOctet)
	if g.Scan&scanStaggered != 0 {
		return unsupported(3, scanOctet, "scanning mode %d, a staggered grid", g.Scan)
	}
	return nil
}

// direction is +1 or -1 for the step from one file column to the next, and
// from one file row to the next.
func (g *Grid) direction() (i, j float64) {
	i, j = 1, -1
	if g.Scan&scanWestward != 0 {
		i = -1
	}
	if g.Scan&scanNorthward != 0 {
		j = 1
	}
	return i, j
}

// setRadius reads the shape of the earth, code table 3.2.
func (g *Grid) setRadius(s section) *Error {
	switch shape := s.u8(15); shape {
	case 0:
		g.Radius = 6367470
	case 6:
		g.Radius = 6371229
	case 8:
		g.Radius = 6371200
	case 1:
		r, ok := s.scaled(16, 17)
		if !ok {
			return fault(3, 17, "the radius of the earth is missing")
		}
		// Any other planet, or a radius in kilometres, is a mistake.
		if r < 6.3e6 || r > 6.4e6 {
			return fault(3, 17, "an earth with a radius of %g m", r)
		}
		g.Radius = r
	default:
		return unsupported(3, 15, "shape of the earth %d on a projected grid", shape)
	}
	return nil
}

func (s section) degrees(octet int) float64 { return float64(s.s32(octet)) * 1e-6 }

// wrap180 brings degrees into [-180, 180).
func wrap180(d float64) float64 {
	d = math.Mod(d+180, 360)
	if d < 0 {
		d += 360
	}
	if d >= 360 { // -1e-17 + 360
		d = 0
	}
	return d - 180
}

func sind(d float64) float64 { return math.Sin(d * math.Pi / 180) }
func cosd(d float64) float64 { return math.Cos(d * math.Pi / 180) }
func tand(d float64) float64 { return math.Tan(d * math.Pi / 180) }
func deg(r float64) float64  { return r * 180 / math.Pi }
