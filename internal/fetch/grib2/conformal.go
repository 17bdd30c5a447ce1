package grib2

import "math"

// The conformal projections below are those of a sphere. Source: Snyder1987,
// equations 7-1 to 7-5 (Mercator), 21-1 to 21-15 (polar stereographic, here
// true at a given latitude) and 15-1 to 15-11 (Lambert conformal conic).

// mercator is template 3.10.
type mercator struct {
	west   float64 // longitude of column 0
	y0     float64 // of row 0, in metres
	dx, dy float64 // metres
	k      float64 // R cos(LaD)
	round  float64 // columns in 360 degrees
	ni     int
}

func (p mercator) xy(lat, lon float64) (x, y float64, ok bool) {
	if math.Abs(lat) >= 90 {
		return 0, 0, false
	}
	east := math.Mod(lon-p.west, 360)
	if east < 0 {
		east += 360
	}
	x = east * math.Pi / 180 * p.k / p.dx
	if x-p.round > -edge && x > float64(p.ni-1)+edge {
		x -= p.round
	}
	return x, (p.northing(lat) - p.y0) / p.dy, true
}

func (p mercator) northing(lat float64) float64 { return p.k * math.Log(tand(45+lat/2)) }

func (p mercator) latLon(x, y float64) (lat, lon float64) {
	lat = 2*deg(math.Atan(math.Exp((p.y0+y*p.dy)/p.k))) - 90
	return lat, wrap180(p.west + deg(x*p.dx/p.k))
}

func (p mercator) turn(float64) float64 { return 0 }

func (g *Grid) parseMercator(s section) *Error {
	if bad := g.setFlags(s, 47, 60); bad != nil {
		return bad
	}
	g.GridRelative = false // the grid runs east and north, so it makes no difference
	if bad := g.setRadius(s); bad != nil {
		return bad
	}
	if o := s.u32(61); o != 0 && o != missing32 {
		return unsupported(3, 61, "a Mercator grid turned by %g degrees", s.degrees(61))
	}
	la1, lo1, laD := s.degrees(39), s.degrees(43), s.degrees(48)
	if bad := latitude(la1, 39, 89.9); bad != nil {
		return bad
	}
	if bad := latitude(laD, 48, 89.9); bad != nil {
		return bad
	}
	p := mercator{k: g.Radius * cosd(laD), west: lo1, ni: g.Ni}
	var bad *Error
	if p.dx, p.dy, bad = s.lengths(65, 69); bad != nil {
		return bad
	}
	p.round = 2 * math.Pi * p.k / p.dx
	if float64(g.Ni-1) > p.round+0.5 {
		return fault(3, 65, "%d columns of %g m go more than round the earth", g.Ni, p.dx)
	}
	dirI, dirJ := g.direction()
	if dirI < 0 {
		p.west -= deg(float64(g.Ni-1) * p.dx / p.k)
	}
	p.y0 = p.northing(la1)
	if dirJ < 0 {
		p.y0 -= float64(g.Nj-1) * p.dy
	}
	g.proj = p
	g.wrap = math.Abs(float64(g.Ni)-p.round) < 0.25
	return nil
}

// polar is template 3.20, a polar stereographic grid.
type polar struct {
	loV    float64 // the meridian that runs straight up
	x0, y0 float64 // of column 0, row 0, from the pole, in metres
	dx, dy float64
	c      float64 // R (1 + sin|LaD|)
	south  bool
}

func (p polar) plane(lat, lon float64) (x, y float64) {
	sin, cos := math.Sincos(wrap180(lon-p.loV) * math.Pi / 180)
	if p.south {
		rho := p.c * tand(45+lat/2)
		return rho * sin, rho * cos
	}
	rho := p.c * tand(45-lat/2)
	return rho * sin, -rho * cos
}

func (p polar) xy(lat, lon float64) (x, y float64, ok bool) {
	if p.south && lat >= 89 || !p.south && lat <= -89 {
		return 0, 0, false
	}
	x, y = p.plane(lat, lon)
	return (x - p.x0) / p.dx, (y - p.y0) / p.dy, true
}

func (p polar) latLon(x, y float64) (lat, lon float64) {
	x, y = p.x0+x*p.dx, p.y0+y*p.dy
	lat = 90 - 2*deg(math.Atan(math.Hypot(x, y)/p.c))
	if p.south {
		return -lat, wrap180(p.loV + deg(math.Atan2(x, y)))
	}
	return lat, wrap180(p.loV + deg(math.Atan2(x, -y)))
}

func (p polar) turn(lon float64) float64 {
	if p.south {
		return -wrap180(lon - p.loV)
	}
	return wrap180(lon - p.loV)
}

func (g *Grid) parsePolar(s section) *Error {
	if bad := g.setFlags(s, 47, 65); bad != nil {
		return bad
	}
	if bad := g.setRadius(s); bad != nil {
		return bad
	}
	la1, lo1, laD := s.degrees(39), s.degrees(43), s.degrees(48)
	p := polar{loV: s.degrees(52), south: s.u8(64)&0x80 != 0}
	p.c = g.Radius * (1 + sind(math.Abs(laD)))
	if bad := latitude(la1, 39, 90); bad != nil {
		return bad
	}
	if bad := latitude(laD, 48, 90); bad != nil {
		return bad
	}
	if p.south && la1 > 80 || !p.south && la1 < -80 {
		return fault(3, 39, "a first latitude of %g degrees, far from the centre of the projection", la1)
	}
	var bad *Error
	if p.dx, p.dy, bad = s.lengths(56, 60); bad != nil {
		return bad
	}
	p.x0, p.y0 = g.origin(p.dx, p.dy)
	x1, y1 := p.plane(la1, lo1)
	p.x0, p.y0 = p.x0+x1, p.y0+y1
	g.proj = p
	return nil
}

// lambert is template 3.30, a Lambert conformal conic grid.
type lambert struct {
	loV    float64
	x0, y0 float64 // of column 0, row 0; y up from the reference parallel, metres
	dx, dy float64
	n      float64 // cone constant
	rf     float64 // R F
	rho0   float64
}

func (p lambert) rho(lat float64) float64 { return p.rf * math.Pow(tand(45+lat/2), -p.n) }

func (p lambert) plane(lat, lon float64) (x, y float64) {
	sin, cos := math.Sincos(p.turn(lon) * math.Pi / 180)
	rho := p.rho(lat)
	return rho * sin, p.rho0 - rho*cos
}

func (p lambert) xy(lat, lon float64) (x, y float64, ok bool) {
	if math.Abs(lat) > 89.9 {
		return 0, 0, false
	}
	x, y = p.plane(lat, lon)
	return (x - p.x0) / p.dx, (y - p.y0) / p.dy, true
}

func (p lambert) latLon(x, y float64) (lat, lon float64) {
	sign := math.Copysign(1, p.n)
	x, y = p.x0+x*p.dx, p.rho0-(p.y0+y*p.dy)
	r := sign * math.Hypot(x, y)
	theta := deg(math.Atan2(sign*x, sign*y))
	lat = 2*deg(math.Atan(math.Pow(p.rf/r, 1/p.n))) - 90
	return lat, wrap180(p.loV + theta/p.n)
}

func (p lambert) turn(lon float64) float64 { return p.n * wrap180(lon-p.loV) }

func (g *Grid) parseLambert(s section) *Error {
	if bad := g.setFlags(s, 47, 65); bad != nil {
		return bad
	}
	if bad := g.setRadius(s); bad != nil {
		return bad
	}
	la1, lo1, laD := s.degrees(39), s.degrees(43), s.degrees(48)
	lat1, lat2 := s.degrees(66), s.degrees(70)
	for _, l := range []struct {
		lat   float64
		octet int
	}{{la1, 39}, {laD, 48}, {lat1, 66}, {lat2, 70}} {
		if bad := latitude(l.lat, l.octet, 89.9); bad != nil {
			return bad
		}
	}
	p := lambert{loV: s.degrees(52)}
	if lat1 == lat2 {
		p.n = sind(lat1)
	} else {
		p.n = math.Log(cosd(lat1)/cosd(lat2)) / math.Log(tand(45+lat2/2)/tand(45+lat1/2))
	}
	if !finite(p.n) || math.Abs(p.n) < 1e-3 {
		return fault(3, 66, "standard parallels %g and %g make no cone", lat1, lat2)
	}
	p.rf = g.Radius * cosd(lat1) * math.Pow(tand(45+lat1/2), p.n) / p.n
	p.rho0 = p.rho(laD)
	var bad *Error
	if p.dx, p.dy, bad = s.lengths(56, 60); bad != nil {
		return bad
	}
	p.x0, p.y0 = g.origin(p.dx, p.dy)
	x1, y1 := p.plane(la1, lo1)
	p.x0, p.y0 = p.x0+x1, p.y0+y1
	g.proj = p
	return nil
}

// origin returns how far the south-western point lies from the first point of
// the file, in the plane, in metres.
func (g *Grid) origin(dx, dy float64) (x, y float64) {
	dirI, dirJ := g.direction()
	if dirI < 0 {
		x = -float64(g.Ni-1) * dx
	}
	if dirJ < 0 {
		y = -float64(g.Nj-1) * dy
	}
	return x, y
}

// lengths reads Dx and Dy, in millimetres, as metres.
func (s section) lengths(xOctet, yOctet int) (dx, dy float64, bad *Error) {
	for _, octet := range []int{xOctet, yOctet} {
		if n := s.u32(octet); n == 0 || n == missing32 {
			return 0, 0, fault(3, octet, "no grid length")
		}
	}
	return float64(s.u32(xOctet)) / 1000, float64(s.u32(yOctet)) / 1000, nil
}

func latitude(lat float64, octet int, most float64) *Error {
	if math.Abs(lat) > most+1e-6 {
		return fault(3, octet, "a latitude of %g degrees", lat)
	}
	return nil
}
