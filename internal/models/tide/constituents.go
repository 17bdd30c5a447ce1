package tide

import (
	"math"
	"strings"
)

// node is a node factor f and a node angle u (radians).
type node struct{ f, u float64 }

// times joins two nodes: the factors multiply, the angles add.
func (n node) times(m node) node { return node{n.f * m.f, n.u + m.u} }

// minus joins the difference of two constituents: the angle is taken off.
func (n node) minus(m node) node { return node{n.f * m.f, n.u - m.u} }

// The node factors and angles of the lunar constituents that the others are
// built from (Schureman1958 formulas 65 to 79, 206 to 235).
func (o orbit) m2() node {
	return node{sq(sq(math.Cos(o.i/2))) / 0.9154, 2*o.xi - 2*o.nu}
}

func (o orbit) o1() node {
	return node{math.Sin(o.i) * sq(math.Cos(o.i/2)) / 0.3800, 2*o.xi - o.nu}
}

func (o orbit) k1() node {
	s := math.Sin(2 * o.i)
	return node{math.Sqrt(0.8965*s*s + 0.6001*s*math.Cos(o.nu) + 0.1006), -o.nu1}
}

func (o orbit) k2() node {
	s := sq(math.Sin(o.i))
	return node{math.Sqrt(19.0444*s*s + 2.7702*s*math.Cos(2*o.nu) + 0.0981), -o.nu2}
}

func (o orbit) j1() node  { return node{math.Sin(2*o.i) / 0.7214, -o.nu} }
func (o orbit) oo1() node { return node{math.Sin(o.i) * sq(math.Sin(o.i/2)) / 0.0164, -2*o.xi - o.nu} }
func (o orbit) m3() node  { return node{math.Pow(math.Cos(o.i/2), 6) / 0.8758, 3*o.xi - 3*o.nu} }
func (o orbit) mm() node  { return node{(2.0/3 - sq(math.Sin(o.i))) / 0.5021, 0} }
func (o orbit) mf() node  { return node{sq(math.Sin(o.i)) / 0.1578, -2 * o.xi} }

func (o orbit) l2() node {
	t2 := sq(math.Tan(o.i / 2))
	s, c := math.Sincos(2 * o.p)
	r := math.Atan2(s, 1/(6*t2)-c)
	return o.m2().times(node{math.Sqrt(1 - 12*t2*c + 36*t2*t2), -r})
}

// m1 takes p off again at the start of the year, not at its middle: its
// argument is T - s + h - 90 + xi - nu + Q, while its speed holds p. That is
// how the published tables have it.
func (o orbit) m1() node {
	s, c := math.Sincos(o.p)
	q := math.Atan2(0.483*s, c)
	return node{o.o1().f * math.Sqrt(2.310+1.435*math.Cos(2*o.p)), o.xi - o.nu + q - o.perigee}
}

// still is the node of what the moon's orbit does not touch.
func still() node { return node{1, 0} }

func solar(orbit) node { return still() }

// harmonic is a constituent's argument V = multiples of T, s, h, p, p1 plus
// a constant in degrees (Schureman1958 table 2), and its node.
type harmonic struct {
	name           string
	t, s, h, p, p1 float64
	constant       float64
	node           func(orbit) node
}

// speed returns the constituent's speed in degrees an hour.
func (c harmonic) speed() float64 {
	return c.t*rateT + c.s*rateS + c.h*rateH + c.p*rateP + c.p1*rateP1
}

func (o orbit) m4() node { return o.m2().times(o.m2()) }
func (o orbit) m6() node { return o.m4().times(o.m2()) }
func (o orbit) m8() node { return o.m4().times(o.m4()) }

// harmonics are the 37 constituents that NOAA publishes, in its order. Never
// written to.
var harmonics = [...]harmonic{
	{"M2", 2, -2, 2, 0, 0, 0, orbit.m2},
	{"S2", 2, 0, 0, 0, 0, 0, solar},
	{"N2", 2, -3, 2, 1, 0, 0, orbit.m2},
	{"K1", 1, 0, 1, 0, 0, -90, orbit.k1},
	{"M4", 4, -4, 4, 0, 0, 0, orbit.m4},
	{"O1", 1, -2, 1, 0, 0, 90, orbit.o1},
	{"M6", 6, -6, 6, 0, 0, 0, orbit.m6},
	{"MK3", 3, -2, 3, 0, 0, -90, func(o orbit) node { return o.m2().times(o.k1()) }},
	{"S4", 4, 0, 0, 0, 0, 0, solar},
	{"MN4", 4, -5, 4, 1, 0, 0, orbit.m4},
	{"NU2", 2, -3, 4, -1, 0, 0, orbit.m2},
	{"S6", 6, 0, 0, 0, 0, 0, solar},
	{"MU2", 2, -4, 4, 0, 0, 0, orbit.m2},
	{"2N2", 2, -4, 2, 2, 0, 0, orbit.m2},
	{"OO1", 1, 2, 1, 0, 0, -90, orbit.oo1},
	{"LAM2", 2, -1, 0, 1, 0, 180, orbit.m2},
	{"S1", 1, 0, 0, 0, 0, 0, solar},
	{"M1", 1, -1, 1, 1, 0, -90, orbit.m1},
	{"J1", 1, 1, 1, -1, 0, -90, orbit.j1},
	{"MM", 0, 1, 0, -1, 0, 0, orbit.mm},
	{"SSA", 0, 0, 2, 0, 0, 0, solar},
	{"SA", 0, 0, 1, 0, 0, 0, solar},
	{"MSF", 0, 2, -2, 0, 0, 0, func(o orbit) node { return still().minus(o.m2()) }},
	{"MF", 0, 2, 0, 0, 0, 0, orbit.mf},
	{"RHO", 1, -3, 3, -1, 0, 90, orbit.o1},
	{"Q1", 1, -3, 1, 1, 0, 90, orbit.o1},
	{"T2", 2, 0, -1, 0, 1, 0, solar},
	{"R2", 2, 0, 1, 0, -1, 180, solar},
	{"2Q1", 1, -4, 1, 2, 0, 90, orbit.o1},
	{"P1", 1, 0, -1, 0, 0, 90, solar},
	{"2SM2", 2, 2, -2, 0, 0, 0, func(o orbit) node { return still().minus(o.m2()) }},
	{"M3", 3, -3, 3, 0, 0, 0, orbit.m3},
	{"L2", 2, -1, 2, -1, 0, 180, orbit.l2},
	{"2MK3", 3, -4, 3, 0, 0, 90, func(o orbit) node { return o.m4().minus(o.k1()) }},
	{"K2", 2, 0, 2, 0, 0, 0, orbit.k2},
	{"M8", 8, -8, 8, 0, 0, 0, orbit.m8},
	{"MS4", 4, -2, 2, 0, 0, 0, orbit.m2},
}

// harmonicNamed finds a constituent by NOAA's name or another name for it.
func harmonicNamed(name string) (harmonic, bool) {
	n := strings.ToUpper(strings.TrimSpace(name))
	switch n {
	case "RHO1":
		n = "RHO"
	case "LDA2", "LAMBDA2":
		n = "LAM2"
	}
	for _, h := range harmonics {
		if h.name == n {
			return h, true
		}
	}
	return harmonic{}, false
}

func sq(x float64) float64 { return x * x }
