package grib2

import "encoding/binary"

// groups is templates 5.2 and 5.3: groups of values, each with its own
// reference, width and length, and over them, in 5.3, differences of the first
// or second order between neighbours.
//
// The descriptors of group g stand at fixed distances, so that they are read
// where they are and never copied.
type groups struct {
	b            []byte // what section 7 holds, and whatever follows it
	p            *complexTemplate
	ref, step    float64
	refBits      uint
	refs         uint // where the group references begin, in bits; and so on
	widths, lens uint
	values       uint

	seeds [2]int64 // the first values, which the differences start from
	least int64    // the overall minimum of the differences

	group  int // the group after the one being read
	left   int // values left in the group being read
	width  uint
	base   int64 // its reference
	void   bool  // all its values are missing
	pos    uint  // of the next value, in bits
	seen   int   // values, the missing ones not counted, of the differences
	z1, z2 int64 // the one before, and the one before that
}

func openComplex(p *packing, data []byte, n int) (unpacker, *Error) {
	c := &p.complex
	u := &groups{b: data, p: c, ref: p.ref, step: p.step, refBits: uint(p.bits)}
	header := uint(0)
	if c.order > 0 {
		octets := uint(c.extraOctets)
		header = octets * uint(c.order+1)
		if header > uint(n) {
			return nil, fault(7, 6, "truncated: %d octets of data, the extra descriptors alone need %d", n, header)
		}
		for i := range c.order {
			u.seeds[i] = int64(bitsAt(data, uint(i)*octets*8, octets*8))
		}
		u.least = int64(signMagnitude(bitsAt(data, uint(c.order)*octets*8, octets*8), int(octets*8)))
	}
	count := uint(c.groups)
	u.refs = header * 8
	u.widths = octetAlign(u.refs + count*uint(p.bits))
	u.lens = octetAlign(u.widths + count*uint(c.widthBits))
	u.values = octetAlign(u.lens + count*uint(c.lengthBits))
	if u.values > uint(n)*8 {
		return nil, fault(7, 6+int(header), "truncated: %d octets of data, the descriptors of %d groups alone need %d", n, count, u.values/8)
	}
	u.pos = u.values
	if bad := u.check(p.coded, uint(n)*8); bad != nil {
		return nil, bad
	}
	return u, nil
}

func octetAlign(pos uint) uint { return (pos + 7) &^ 7 }

func (u *groups) widthOf(g int) int {
	at := u.widths + uint(g)*uint(u.p.widthBits)
	return u.p.widthRef + int(bitsAt(u.b, at, uint(u.p.widthBits)))
}

func (u *groups) lengthOf(g int) int {
	if g == u.p.groups-1 {
		return u.p.lastLength
	}
	at := u.lens + uint(g)*uint(u.p.lengthBits)
	return u.p.lengthRef + u.p.lengthInc*int(bitsAt(u.b, at, uint(u.p.lengthBits)))
}

// check compares the groups with the number of values and of bits.
func (u *groups) check(coded int, end uint) *Error {
	values, pos := 0, u.values
	for g := range u.p.groups {
		width, length := u.widthOf(g), u.lengthOf(g)
		if width > 32 {
			return fault(7, 1+5+int((u.widths+uint(g)*uint(u.p.widthBits))/8), "group %d has a width of %d bits, more than 32", g+1, width)
		}
		values += length
		if values > coded {
			return fault(7, 1+5+int((u.lens+uint(g)*uint(u.p.lengthBits))/8), "group %d of %d ends at value %d, but there are only %d", g+1, u.p.groups, values, coded)
		}
		pos += uint(length) * uint(width)
	}
	if values != coded {
		return fault(5, 43, "the lengths of %d groups make %d values, but there are %d", u.p.groups, values, coded)
	}
	if pos > end {
		return fault(7, 6, "truncated: %d octets of data, the groups need %d", end/8, (pos+7)/8)
	}
	return nil
}

func (u *groups) mayMiss() bool { return u.p.missing > 0 }

// enter begins the next group that holds any value.
func (u *groups) enter() {
	for u.left == 0 {
		g := u.group
		u.group++
		u.left = u.lengthOf(g)
		u.width = uint(u.widthOf(g))
		u.base = int64(bitsAt(u.b, u.refs+uint(g)*u.refBits, u.refBits))
	}
	u.void = u.width == 0 && u.isVoid(uint64(u.base), u.refBits)
}

// isVoid tells whether a value of a width means missing: all bits one, or for
// the secondary kind all but the last.
func (u *groups) isVoid(v uint64, width uint) bool {
	ones := uint64(1)<<width - 1
	return u.p.missing >= 1 && v == ones || u.p.missing == 2 && v == ones-1
}

func (u *groups) next(dst []float64, missing mask) error {
	for at := 0; at < len(dst); {
		if u.left == 0 {
			u.enter()
		}
		n := min(u.left, len(dst)-at)
		u.run(dst[at:at+n], missing, at)
		u.left -= n
		at += n
	}
	return nil
}

// run unpacks values of the current group. at is where dst begins in missing.
func (u *groups) run(dst []float64, missing mask, at int) {
	switch {
	case u.void:
		for i := range dst {
			dst[i] = 0
			missing.set(at + i)
		}
	case u.p.missing > 0 && u.width > 0:
		u.runMissing(dst, missing, at)
	case u.width == 0:
		u.runFlat(dst)
	default:
		for u.seen < u.p.order && len(dst) > 0 {
			dst[0] = u.value(int64(bitsAt(u.b, u.pos, u.width)))
			u.pos += u.width
			dst = dst[1:]
		}
		u.runPresent(dst)
	}
}

// value undoes the difference of one value that is not missing, and scales it.
func (u *groups) value(packed int64) float64 {
	x := packed + u.base
	if u.p.order > 0 {
		switch {
		case u.seen < u.p.order:
			x = u.seeds[u.seen]
		case u.p.order == 1:
			x += u.least + u.z1
		default:
			x += u.least + 2*u.z1 - u.z2
		}
		u.seen++
		u.z2, u.z1 = u.z1, x
	}
	return u.ref + float64(x)*u.step
}

// runFlat unpacks values that are all the group's reference.
func (u *groups) runFlat(dst []float64) {
	if u.p.order == 0 {
		v := u.value(0)
		for i := range dst {
			dst[i] = v
		}
		return
	}
	for i := range dst {
		dst[i] = u.value(0)
	}
}

// runMissing unpacks values any of which may be missing.
func (u *groups) runMissing(dst []float64, missing mask, at int) {
	primary := uint64(1)<<u.width - 1
	secondary := primary
	if u.p.missing == 2 {
		secondary--
	}
	pos := u.pos
	for i := range dst {
		v := bitsAt(u.b, pos, u.width)
		pos += u.width
		if v == primary || v == secondary {
			dst[i] = 0
			missing.set(at + i)
			continue
		}
		dst[i] = u.value(int64(v))
	}
	u.pos = pos
}

// runPresent unpacks values none of which is missing or a seed.
func (u *groups) runPresent(dst []float64) {
	b, pos, width, down := u.b, u.pos, u.width, (64-u.width)&63
	ref, step := u.ref, u.step
	fast := whole(b, pos, width, len(dst))
	switch u.p.order {
	case 0:
		base := u.base
		for i := range dst[:fast] {
			v := binary.BigEndian.Uint64(b[pos>>3:]) << (pos & 7) >> down
			pos += width
			dst[i] = ref + float64(int64(v)+base)*step
		}
	case 1:
		base, z := u.base+u.least, u.z1
		for i := range dst[:fast] {
			v := binary.BigEndian.Uint64(b[pos>>3:]) << (pos & 7) >> down
			pos += width
			z += int64(v) + base
			dst[i] = ref + float64(z)*step
		}
		u.z1 = z
	case 2:
		base, z, slope := u.base+u.least, u.z1, u.z1-u.z2
		for i := range dst[:fast] {
			v := binary.BigEndian.Uint64(b[pos>>3:]) << (pos & 7) >> down
			pos += width
			slope += int64(v) + base
			z += slope
			dst[i] = ref + float64(z)*step
		}
		u.z1, u.z2 = z, z-slope
	}
	u.pos = pos
	for i := fast; i < len(dst); i++ { // the last octets of the file
		dst[i] = u.value(int64(bitsAt(b, u.pos, width)))
		u.pos += width
	}
}

// pick unpacks from the start to the last value wanted; without differences
// groups without a wanted value are stepped over.
func (u *groups) pick(want []int, dst []float64, missing mask) error {
	var chunk [256]float64
	var void [4]uint64
	at := 0 // index of the first value not yet unpacked
	for i := 0; i < len(want); {
		if u.left == 0 {
			u.enter()
		}
		if u.p.order == 0 && want[i] > at {
			n := min(u.left, want[i]-at)
			if !u.void {
				u.pos += uint(n) * u.width
			}
			u.left -= n
			at += n
			continue
		}
		n := min(u.left, len(chunk))
		clear(void[:])
		u.run(chunk[:n], void[:], 0)
		u.left -= n
		for ; i < len(want) && want[i] < at+n; i++ {
			dst[i] = chunk[want[i]-at]
			if mask(void[:]).has(want[i] - at) {
				missing.set(i)
			}
		}
		at += n
	}
	return nil
}
