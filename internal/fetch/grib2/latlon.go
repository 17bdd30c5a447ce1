package grib2

import "math"

// latLon is template 3.0: equal steps of latitude and longitude.
type latLon struct {
	south, west float64 // of column 0, row 0, in degrees
	di, dj      float64 // steps, in degrees
	round       float64 // columns in 360 degrees
	ni          int
}

func (p latLon) xy(lat, lon float64) (x, y float64, ok bool) {
	east := math.Mod(lon-p.west, 360)
	if east < 0 {
		east += 360
	}
	x = east / p.di
	// A place a hair west of the first column is not a whole turn east of it.
	if x-p.round > -edge && x > float64(p.ni-1)+edge {
		x -= p.round
	}
	return x, (lat - p.south) / p.dj, true
}

func (p latLon) latLon(x, y float64) (lat, lon float64) {
	return p.south + y*p.dj, wrap180(p.west + x*p.di)
}

func (p latLon) turn(float64) float64 { return 0 }

func (g *Grid) parseLatLon(s section) *Error {
	if bad := g.setFlags(s, 55, 72); bad != nil {
		return bad
	}
	g.GridRelative = false // the grid runs east and north, so it makes no difference
	unit := 1e-6
	if basic, parts := s.u32(39), s.u32(43); basic != 0 && basic != missing32 {
		if parts == 0 || parts == missing32 {
			return fault(3, 43, "a basic angle of %d without subdivisions", basic)
		}
		unit = float64(basic) / float64(parts)
	}
	la1, lo1 := float64(s.s32(47))*unit, float64(s.s32(51))*unit
	la2, lo2 := float64(s.s32(56))*unit, float64(s.s32(60))*unit
	if math.Abs(la1) > 90+1e-6 {
		return fault(3, 47, "a first latitude of %g degrees", la1)
	}
	if math.Abs(lo1) > 720 {
		return fault(3, 51, "a first longitude of %g degrees", lo1)
	}
	di, dj := s.increment(64, 0x20, unit), s.increment(68, 0x10, unit)
	dirI, dirJ := g.direction()

	spanI := math.Mod((lo2-lo1)*dirI, 360)
	if spanI <= 0 && g.Ni > 1 {
		spanI += 360
	}
	var bad *Error
	if di, bad = step(spanI, di, g.Ni, 64); bad != nil {
		return bad
	}
	if dj, bad = step((la2-la1)*dirJ, dj, g.Nj, 68); bad != nil {
		return bad
	}
	if across := di * float64(g.Ni-1); across > 360+di/2 {
		return fault(3, 64, "%d columns of %g degrees go more than round the earth", g.Ni, di)
	}
	p := latLon{south: la1, west: lo1, di: di, dj: dj, round: 360 / di, ni: g.Ni}
	if dirI < 0 {
		p.west -= di * float64(g.Ni-1)
	}
	if dirJ < 0 {
		p.south -= dj * float64(g.Nj-1)
	}
	if north := p.south + dj*float64(g.Nj-1); p.south < -90-dj/2 || north > 90+dj/2 {
		return fault(3, 68, "%d rows of %g degrees reach from %g to %g", g.Nj, dj, p.south, north)
	}
	g.proj = p
	g.wrap = math.Abs(float64(g.Ni)*di-360) < di/4
	return nil
}

// increment reads Di or Dj; 0 is not given, as a flag of octet 55 may say.
func (s section) increment(octet, flag int, unit float64) float64 {
	if n := s.u32(octet); n != missing32 && s.u8(55)&flag != 0 {
		return float64(n) * unit
	}
	return 0
}

// step settles the step between n columns or rows from the span of the corners
// and the coded increment. The span is exact where the increment is rounded
// (0.166667), but some files code a corner one step off: then the increment
// holds.
func step(span, increment float64, n, octet int) (float64, *Error) {
	if n == 1 {
		if increment == 0 {
			return 1, nil
		}
		return increment, nil
	}
	bySpan := span / float64(n-1)
	switch {
	case increment == 0 && bySpan <= 0:
		return 0, fault(3, octet, "no increment, and corners that run against the scanning mode")
	case increment == 0:
		return bySpan, nil
	case math.Abs(span-float64(n-1)*increment) > increment/4:
		return increment, nil
	}
	return bySpan, nil
}
