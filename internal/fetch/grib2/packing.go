package grib2

import "math"

// packing is section 5: how the values are coded.
type packing struct {
	template int
	coded    int     // number of coded values
	ref      float64 // R / 10^D
	step     float64 // 2^E / 10^D
	bits     int     // per value, or per group reference
	precise  int     // 5.4: 1 is 32 bits a value, 2 is 64
	complex  complexTemplate
	ccsds    ccsdsTemplate
}

// complexTemplate is what templates 5.2 and 5.3 say beyond octet 21.
type complexTemplate struct {
	missing     int // missing value management: 0 none, 1 primary, 2 primary and secondary
	groups      int
	widthRef    int
	widthBits   int
	lengthRef   int
	lengthInc   int
	lastLength  int
	lengthBits  int
	order       int // of spatial differencing; 0 is none
	extraOctets int // octets per extra descriptor
}

type ccsdsTemplate struct{ flags, block, interval int }

// octetsOfTemplate is the least length of section 5 for a template.
func octetsOfTemplate(template int) (int, bool) {
	n, ok := map[int]int{0: 21, 2: 47, 3: 49, 4: 12, 40: 21, 41: 21, 42: 25}[template]
	return n, ok
}

func parsePacking(s section) (packing, *Error) {
	if !s.has(11) {
		return packing{}, fault(5, 1, "%d octets are too few for a data representation", len(s))
	}
	p := packing{coded: s.u32(6), template: s.u16(10)}
	need, ok := octetsOfTemplate(p.template)
	if !ok {
		return p, unsupported(5, 10, "data representation template 5.%d", p.template)
	}
	if !s.has(need) {
		return p, fault(5, 1, "%d octets are too few for template 5.%d, %d are needed", len(s), p.template, need)
	}
	if p.template == 4 {
		p.precise = s.u8(12)
		if p.precise != 1 && p.precise != 2 {
			return p, unsupported(5, 12, "floating point precision %d", p.precise)
		}
		return p, nil
	}
	ref, e, d := s.float32(12), s.s16(16), s.s16(18)
	p.bits = s.u8(20)
	p.ref = scale10(ref, d)
	p.step = scale10(math.Ldexp(1, e), d)
	if !finite(p.ref) {
		return p, fault(5, 12, "reference value %g with decimal scale %d is not a finite number", ref, d)
	}
	if !finite(math.Ldexp(p.step, 63)) {
		return p, fault(5, 16, "scale factors E %d and D %d are out of all proportion", e, d)
	}
	if p.bits > 32 {
		return p, fault(5, 20, "%d bits a value are more than 32", p.bits)
	}
	switch p.template {
	case 2, 3:
		return p, p.parseComplex(s)
	case 42:
		p.ccsds = ccsdsTemplate{flags: s.u8(22), block: s.u8(23), interval: s.u16(24)}
	}
	return p, nil
}

func (p *packing) parseComplex(s section) *Error {
	p.complex = complexTemplate{
		missing: s.u8(23), groups: s.u32(32), widthRef: s.u8(36), widthBits: s.u8(37),
		lengthRef: s.u32(38), lengthInc: s.u8(42), lastLength: s.u32(43), lengthBits: s.u8(47),
	}
	c := &p.complex
	if p.template == 3 {
		c.order, c.extraOctets = s.u8(48), s.u8(49)
	}
	if c.groups == 0 {
		return nil // a constant field: the other octets mean nothing
	}
	switch {
	case s.u8(22) != 1:
		return unsupported(5, 22, "group splitting method %d", s.u8(22))
	case c.missing > 2:
		return fault(5, 23, "missing value management %d is not 0, 1 or 2", c.missing)
	case c.groups > p.coded:
		return fault(5, 32, "%d groups for %d values", c.groups, p.coded)
	case c.widthBits > 32:
		return fault(5, 37, "%d bits a group width are more than 32", c.widthBits)
	case c.lengthBits > 32:
		return fault(5, 47, "%d bits a group length are more than 32", c.lengthBits)
	case c.order > 2:
		return fault(5, 48, "spatial differencing of order %d is not 0, 1 or 2", c.order)
	case c.extraOctets > 4 || c.order > 0 && c.extraOctets == 0:
		return fault(5, 49, "%d octets an extra descriptor are not 1 to 4", c.extraOctets)
	}
	return nil
}

// constant tells whether all coded values are the reference value, and
// section 7 holds nothing.
func (p *packing) constant() bool {
	switch p.template {
	case 0, 40, 41, 42:
		return p.bits == 0
	case 2, 3:
		return p.complex.groups == 0
	}
	return false
}

func finite(v float64) bool { return !math.IsInf(v, 0) && !math.IsNaN(v) }
