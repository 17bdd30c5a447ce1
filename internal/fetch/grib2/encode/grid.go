package encode

import "math"

// Grid is a grid that can be written: LatLon or Lambert.
type Grid interface {
	size() (ni, nj int)
	define(b []byte) []byte // section 3 from octet 6
}

// LatLon is grid template 3.0. First and increments are in degrees; the first
// point is the file's, and Scan (flag table 3.4) says where it goes from there:
// 64 is east and north.
type LatLon struct {
	Ni, Nj              int
	FirstLat, FirstLon  float64
	Di, Dj              float64
	Scan                int
	ComponentsAlongGrid bool
}

func (g LatLon) size() (ni, nj int) { return g.Ni, g.Nj }

func (g LatLon) define(b []byte) []byte {
	b = head(b, g.Ni, g.Nj, 0)
	b = u32(b, 0)
	b = u32(b, math.MaxUint32)
	dirI, dirJ := direction(g.Scan)
	b = place(b, g.FirstLat, g.FirstLon)
	b = append(b, 0x30|along(g.ComponentsAlongGrid))
	b = place(b, g.FirstLat+dirJ*g.Dj*float64(g.Nj-1), g.FirstLon+dirI*g.Di*float64(g.Ni-1))
	b = u32(b, micro(g.Di))
	b = u32(b, micro(g.Dj))
	return append(b, byte(g.Scan))
}

// Lambert is grid template 3.30. Angles are in degrees, Dx and Dy in metres.
type Lambert struct {
	Ni, Nj              int
	FirstLat, FirstLon  float64
	LaD, LoV            float64
	Dx, Dy              float64
	Latin1, Latin2      float64
	Scan                int
	ComponentsAlongGrid bool
}

func (g Lambert) size() (ni, nj int) { return g.Ni, g.Nj }

func (g Lambert) define(b []byte) []byte {
	b = head(b, g.Ni, g.Nj, 30)
	b = place(b, g.FirstLat, g.FirstLon)
	b = append(b, along(g.ComponentsAlongGrid))
	b = place(b, g.LaD, g.LoV)
	b = u32(b, int(math.Round(g.Dx*1000)))
	b = u32(b, int(math.Round(g.Dy*1000)))
	b = append(b, 0, byte(g.Scan))
	b = u32(b, signed(micro(g.Latin1), 32))
	b = u32(b, signed(micro(g.Latin2), 32))
	return place(b, -90, 0)
}

// head writes what all grid templates begin with: a sphere of 6371229 m.
func head(b []byte, ni, nj, template int) []byte {
	b = append(b, 0)
	b = u32(b, ni*nj)
	b = append(b, 0, 0)
	b = u16(b, template)
	b = append(b, 6)
	for range 15 {
		b = append(b, 255)
	}
	b = u32(b, ni)
	return u32(b, nj)
}

func place(b []byte, lat, lon float64) []byte {
	lon = math.Mod(lon, 360)
	if lon < 0 {
		lon += 360
	}
	b = u32(b, signed(micro(lat), 32))
	return u32(b, micro(lon))
}

func micro(deg float64) int { return int(math.Round(deg * 1e6)) }

func direction(scan int) (i, j float64) {
	i, j = 1, -1
	if scan&0x80 != 0 {
		i = -1
	}
	if scan&0x40 != 0 {
		j = 1
	}
	return i, j
}

func along(grid bool) byte {
	if grid {
		return 0x08
	}
	return 0
}
