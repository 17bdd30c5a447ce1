package grib2

import (
	"math"
	"slices"
)

// groups is templates 5.2 and 5.3: groups of values, each with its own
// reference, width and length, and over them, in 5.3, differences of the first
// or second order between neighbours.
//
// The descriptors of a group stand at fixed distances, so that they are read
// where they are and never copied. Values are unpacked in two steps, a stretch
// at a time: from bits to whole numbers, group by group, and from those to
// values, in one loop that knows nothing of groups.
type groups struct {
	b            []byte // what section 7 holds, and whatever follows it
	p            *complexTemplate
	ref, step    float64
	refBits      uint
	refs         uint // where the group references begin, in bits; and so on
	widths, lens uint
	values       uint

	group int   // the group after the one being read
	batch batch // its descriptors are among these
	left  int   // values left in the group being read
	width uint  // of its values, in bits
	base  int64 // its reference
	pos   uint  // of the next value, in bits

	seeds    []int64 // the first values, as far as they are not used up
	least    int64   // the overall minimum of the differences
	z, slope int64   // the value before, and how far it lies from the one before it

	stretch [stretchLen + spill]int64
}

const (
	stretchLen = 512
	gap        = math.MinInt64 // in a stretch, a missing value
)

// batch is the descriptors of some groups.
type batch struct{ refs, widths, lengths [batchLen + spill]int64 }

const batchLen = 64

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
			u.seeds = append(u.seeds, int64(bitsAt(data, uint(i)*octets*8, octets*8)))
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
	if int(u.values/8)+8 > len(data) {
		// The last octets of the file: peek must be able to look beyond them.
		u.b = append(slices.Clip(data), make([]byte, 8)...)
	}
	if bad := u.check(p.coded, uint(n)*8); bad != nil {
		return nil, bad
	}
	return u, nil
}

func octetAlign(pos uint) uint { return (pos + 7) &^ 7 }

// readBatch reads the widths and lengths of the groups from first on, and
// returns how many.
func (u *groups) readBatch(first int) int {
	p, d := u.p, &u.batch
	n := min(batchLen, p.groups-first)
	unpackInts(d.widths[:], n, u.b, u.widths+uint(first)*uint(p.widthBits), uint(p.widthBits), int64(p.widthRef))
	unpackInts(d.lengths[:], n, u.b, u.lens+uint(first)*uint(p.lengthBits), uint(p.lengthBits), 0)
	inc, ref := int64(p.lengthInc), int64(p.lengthRef)
	for i, length := range d.lengths[:n] {
		d.lengths[i] = length*inc + ref
	}
	if first+n == p.groups {
		d.lengths[n-1] = int64(p.lastLength)
	}
	return n
}

// check compares the groups with the number of values and of bits.
func (u *groups) check(coded int, end uint) *Error {
	const data = 6 // octet where the data of section 7 begin
	values, pos := int64(0), u.values
	for first := 0; first < u.p.groups; first += batchLen {
		for i := range u.readBatch(first) {
			g, width, length := first+i, u.batch.widths[i], u.batch.lengths[i]
			if width > 32 {
				return fault(7, data+int((u.widths+uint(g)*uint(u.p.widthBits))/8), "group %d has a width of %d bits, more than 32", g+1, width)
			}
			values += length
			if values > int64(coded) {
				return fault(7, data+int((u.lens+uint(g)*uint(u.p.lengthBits))/8), "group %d of %d ends at value %d, but there are only %d", g+1, u.p.groups, values, coded)
			}
			pos += uint(length) * uint(width)
		}
	}
	if values != int64(coded) {
		return fault(5, 43, "the lengths of %d groups make %d values, but there are %d", u.p.groups, values, coded)
	}
	if pos > end {
		return fault(7, data, "truncated: %d octets of data, the groups need %d", end/8, (pos+7)/8)
	}
	return nil
}

func (u *groups) mayMiss() bool { return u.p.missing > 0 }

func (u *groups) next(dst []float64, missing mask) error {
	for at := 0; at < len(dst); {
		part := dst[at:]
		if u.p.order == 2 && len(u.seeds) == 0 {
			n := u.runSecond(part)
			at += n
			if part = part[n:]; len(part) == 0 {
				break
			}
			part = part[:min(u.left, len(part))] // runSecond cannot do this group
		}
		part = part[:min(stretchLen, len(part))]
		if u.gather(len(part)) {
			u.finishPresent(part)
		} else {
			u.finish(part, missing, at)
		}
		at += len(part)
	}
	return nil
}

// runSecond unpacks second differences whose seeds are used up, as most fields
// have, without the detour by the stretch. It stops in a group with a value
// that is missing or wide, or near the end of dst or the file, and returns how
// many values it has unpacked.
//
// Groups are short and their lengths differ at random, so that a loop for the
// odd values at the end of each would cost as much as the others: instead, the
// last four are all worked out, and those beyond the end written over later.
func (u *groups) runSecond(dst []float64) int {
	b, pos, end := u.b, u.pos, uint(max(len(u.b)-8, 0))<<3 // load may begin before end
	left, width, base := u.left, u.width, u.base
	ref, step, least, z, slope := u.ref, u.step, u.least, u.z, u.slope
	kinds := u.p.missing
	void := int64(1)<<(u.refBits&63) - int64(kinds) // references from here on mean missing
	at := 0
	for at < len(dst) {
		if left == 0 {
			left, width, base = u.enter()
			continue
		}
		n, by := min(left, len(dst)-at), base+least
		if width == 0 {
			if kinds > 0 && base >= void {
				break
			}
			for range n {
				slope += by
				z += slope
				dst[at] = ref + float64(z)*step
				at++
			}
			left -= n
			continue
		}
		if width > maxWidthBy4 || pos+uint(n)*width > end || at+n+spill > len(dst) {
			break
		}
		// All bits one mean missing, and the lowest does not matter where there
		// is a secondary kind.
		var low, high, either uint64
		if kinds > 0 {
			low, high = edges(width)
		}
		if kinds > 1 {
			either = low
		}
		left -= n
		for ; n > 4; n -= 4 {
			w := load(b, pos)
			if anyFull(w|either, low, high) {
				break
			}
			v0, v1, v2, v3 := four(w, width)
			d := dst[at : at+4]
			slope += v0 + by
			z += slope
			d[0] = ref + float64(z)*step
			slope += v1 + by
			z += slope
			d[1] = ref + float64(z)*step
			slope += v2 + by
			z += slope
			d[2] = ref + float64(z)*step
			slope += v3 + by
			z += slope
			d[3] = ref + float64(z)*step
			pos += 4 * width
			at += 4
		}
		w := load(b, pos) &^ (math.MaxUint64 >> (uint(n) * width & 63))
		if n > 4 || anyFull(w|either, low, high) {
			left += n
			break
		}
		v0, v1, v2, v3 := four(w, width)
		s0 := slope + v0 + by
		s1 := s0 + v1 + by
		s2 := s1 + v2 + by
		s3 := s2 + v3 + by
		z0 := z + s0
		z1 := z0 + s1
		z2 := z1 + s2
		z3 := z2 + s3
		d := dst[at : at+4]
		d[0] = ref + float64(z0)*step
		d[1] = ref + float64(z1)*step
		d[2] = ref + float64(z2)*step
		d[3] = ref + float64(z3)*step
		zs, slopes := [4]int64{z0, z1, z2, z3}, [4]int64{s0, s1, s2, s3}
		z, slope = zs[n-1], slopes[n-1]
		pos += uint(n) * width
		at += n
	}
	u.left, u.width, u.base, u.pos, u.z, u.slope = left, width, base, pos, z, slope
	return at
}

// gather fills the stretch with the next n values, their group's reference
// added, and tells whether all are present.
//
// All bits one mean missing, and for the secondary kind all but the last; in a
// group without width those of its reference.
func (u *groups) gather(n int) bool {
	present, kinds := true, int64(u.p.missing)
	left, width, base, pos := u.left, u.width, u.base, u.pos
	for at := 0; at < n; {
		if left == 0 {
			left, width, base = u.enter()
		}
		size := min(left, n-at)
		part := u.stretch[at : at+size+spill]
		if width > 0 {
			unpackInts(part, size, u.b, pos, width, base)
			if kinds > 0 && markGaps(part[:size], base+int64(1)<<(width&63)-kinds) {
				present = false
			}
			pos += uint(size) * width
		} else {
			v := base
			if kinds > 0 && base >= int64(1)<<(u.refBits&63)-kinds {
				v, present = gap, false
			}
			for i := range part[:size] {
				part[i] = v
			}
		}
		left -= size
		at += size
	}
	u.left, u.width, u.base, u.pos = left, width, base, pos
	return present
}

// enter begins the next group.
func (u *groups) enter() (left int, width uint, base int64) {
	i := u.group % batchLen
	if i == 0 {
		n := u.readBatch(u.group)
		unpackInts(u.batch.refs[:], n, u.b, u.refs+uint(u.group)*u.refBits, u.refBits, 0)
	}
	u.group++
	return int(u.batch.lengths[i]), uint(u.batch.widths[i]), u.batch.refs[i]
}

// markGaps marks the values from limit on as missing, and tells whether there
// are any.
func markGaps(dst []int64, limit int64) bool {
	any := false
	for i, x := range dst {
		if x >= limit {
			dst[i] = gap
			any = true
		}
	}
	return any
}

// finishPresent makes values of the stretch, in which none is missing.
func (u *groups) finishPresent(dst []float64) {
	if len(u.seeds) > 0 {
		n := min(len(u.seeds), len(dst))
		u.finish(dst[:n], nil, 0)
		copy(u.stretch[:], u.stretch[n:])
		dst = dst[n:]
	}
	ref, step, least := u.ref, u.step, u.least
	from := u.stretch[:len(dst)]
	switch z, slope := u.z, u.slope; u.p.order {
	case 0:
		for i, x := range from {
			dst[i] = ref + float64(x)*step
		}
	case 1:
		for i, x := range from {
			z += x + least
			dst[i] = ref + float64(z)*step
		}
		u.z = z
	case 2:
		for i, x := range from {
			slope += x + least
			z += slope
			dst[i] = ref + float64(z)*step
		}
		u.z, u.slope = z, slope
	}
}

// finish makes values of the stretch, seeds and missing ones among them. at is
// where dst begins in missing.
func (u *groups) finish(dst []float64, missing mask, at int) {
	for i, x := range u.stretch[:len(dst)] {
		switch {
		case x == gap:
			dst[i] = 0
			missing.set(at + i)
			continue
		case len(u.seeds) > 0: // what is packed in its place is thrown away
			u.z, u.slope = u.seeds[0], u.seeds[0]-u.z
			u.seeds = u.seeds[1:]
		case u.p.order == 0:
			u.z = x
		case u.p.order == 1:
			u.z += x + u.least
		default:
			u.slope += x + u.least
			u.z += u.slope
		}
		dst[i] = u.ref + float64(u.z)*u.step
	}
}

// pick unpacks from the start to the last value wanted; without differences it
// steps over the values that are not.
func (u *groups) pick(want []int, dst []float64, missing mask) error {
	at := 0 // index of the first value not yet unpacked
	var vals [stretchLen]float64
	for i := 0; i < len(want); {
		n := min(stretchLen, want[len(want)-1]+1-at)
		if u.p.order == 0 {
			u.skip(want[i] - at)
			at, n = want[i], 1
		}
		var void [stretchLen / 64]uint64
		if err := u.next(vals[:n], void[:]); err != nil {
			return err
		}
		for ; i < len(want) && want[i] < at+n; i++ {
			dst[i] = vals[want[i]-at]
			if mask(void[:]).has(want[i] - at) {
				missing.set(i)
			}
		}
		at += n
	}
	return nil
}

// skip steps over n values.
func (u *groups) skip(n int) {
	for n > 0 {
		if u.left == 0 {
			u.left, u.width, u.base = u.enter()
		}
		size := min(u.left, n)
		u.pos += uint(size) * u.width
		u.left -= size
		n -= size
	}
}
