package encode

import "math/bits"

// Groups are multiples of this many values long, save the last.
const groupUnit = 8

// group is a run of values that share a reference and a width.
type group struct {
	from, to int
	ref      int64
	width    int
	void     Gap // all values are gaps of this kind, if not Present
}

// complex returns octets 20 to 47 or 49 of section 5, and the data of section
// 7.
func (q *quantised) complex(p Packing) (template, data []byte) {
	marks := q.marks()
	var w writer
	var extra byte
	x := q.x
	if p.Template == 3 {
		var seeds []int64
		var least int64
		x, seeds, least = q.differences(p.Order)
		extra = octetsFor(seeds, least)
		for _, s := range seeds {
			w.put(uint64(s), 8*int(extra))
		}
		w.put(uint64(signed(int(least), 8*int(extra))), 8*int(extra))
	}
	groups := split(x, q.gaps, marks)
	l := layoutOf(groups, marks)
	for _, g := range groups {
		ref := uint64(g.ref)
		switch g.void {
		case Primary:
			ref = 1<<l.refBits - 1
		case Secondary:
			ref = 1<<l.refBits - 2
		}
		w.put(ref, l.refBits)
	}
	w.align()
	for _, g := range groups {
		w.put(uint64(g.width-l.width), l.widthBits)
	}
	w.align()
	for i := range groups {
		scaled := 0
		if i < len(groups)-1 {
			scaled = (groups[i].to-groups[i].from)/groupUnit - 1
		}
		w.put(uint64(scaled), l.lengthBits)
	}
	w.align()
	for _, g := range groups {
		if g.void != Present {
			continue
		}
		for k := g.from; k < g.to; k++ {
			w.put(q.coded(x[k]-g.ref, k, g.width), g.width)
		}
	}
	last := 0
	if n := len(groups); n > 0 {
		last = groups[n-1].to - groups[n-1].from
	}
	t := []byte{byte(l.refBits), 0, 1, byte(marks)}
	t = u32(t, 0x7F7FFFFF) // substitutes for missing values, for information
	t = u32(t, 0x7F7FFFFF)
	t = u32(t, len(groups))
	t = append(t, byte(l.width), byte(l.widthBits))
	t = u32(t, groupUnit)
	t = append(t, groupUnit)
	t = u32(t, last)
	t = append(t, byte(l.lengthBits))
	if p.Template == 3 {
		t = append(t, byte(p.Order), extra)
	}
	return t, w.bytes()
}

// coded is a value within its group, or the mark of a gap.
func (q *quantised) coded(x int64, k, width int) uint64 {
	if q.gaps != nil {
		switch q.gaps[k] {
		case Primary:
			return 1<<width - 1
		case Secondary:
			return 1<<width - 2
		}
	}
	return uint64(x)
}

// marks is the missing value management: how many kinds of gap are marked.
func (q *quantised) marks() int {
	marks := 0
	for _, g := range q.gaps {
		marks = max(marks, int(g))
	}
	return marks
}

// differences returns the differences between neighbours that are no gaps,
// above the least of them, the first values, and that least.
func (q *quantised) differences(order int) (d, seeds []int64, least int64) {
	d = make([]int64, len(q.x))
	seeds = make([]int64, order)
	var at []int // where the differences stand
	var z1, z2 int64
	seen := 0
	for k, x := range q.x {
		if q.gaps != nil && q.gaps[k] != Present {
			continue
		}
		switch {
		case seen < order:
			seeds[seen] = x
		case order == 1:
			d[k] = x - z1
		default:
			d[k] = x - 2*z1 + z2
		}
		if seen >= order {
			at = append(at, k)
		}
		seen++
		z2, z1 = z1, x
	}
	for i, k := range at {
		if i == 0 || d[k] < least {
			least = d[k]
		}
	}
	for _, k := range at {
		d[k] -= least
	}
	return d, seeds, least
}

func octetsFor(seeds []int64, least int64) byte {
	n := 1 + bits.Len64(uint64(max(least, -least))) // with its sign
	for _, s := range seeds {
		n = max(n, bits.Len64(uint64(s)))
	}
	return byte((n + 7) / 8)
}

// split cuts the values into groups: as long as they need no wider values than
// their first eight.
func split(x []int64, gaps []Gap, marks int) []group {
	var out []group
	for from := 0; from < len(x); {
		g := measure(x, gaps, from, min(from+groupUnit, len(x)), marks)
		for g.to < len(x) {
			longer := measure(x, gaps, from, min(g.to+groupUnit, len(x)), marks)
			if longer.width != g.width || longer.void != g.void {
				break
			}
			g = longer
		}
		out = append(out, g)
		from = g.to
	}
	return out
}

func measure(x []int64, gaps []Gap, from, to, marks int) group {
	g := group{from: from, to: to}
	var least, most int64
	var kinds [3]int
	for k := from; k < to; k++ {
		if gaps != nil && gaps[k] != Present {
			kinds[gaps[k]]++
			continue
		}
		if kinds[Present] == 0 {
			least, most = x[k], x[k]
		}
		kinds[Present]++
		least, most = min(least, x[k]), max(most, x[k])
	}
	for _, kind := range []Gap{Primary, Secondary} {
		if kinds[kind] == to-from {
			g.void = kind
			return g
		}
	}
	g.ref = least
	span := uint64(most - least)
	if kinds[Primary]+kinds[Secondary] > 0 || span > 0 {
		span += uint64(marks) // the highest values are the marks
	}
	g.width = bits.Len64(span)
	return g
}

// layout is how wide the descriptors of groups are.
type layout struct{ refBits, width, widthBits, lengthBits int }

func layoutOf(groups []group, marks int) layout {
	var l layout
	var ref int64
	wide, long := 0, 0
	for i, g := range groups {
		ref = max(ref, g.ref)
		if i == 0 || g.width < l.width {
			l.width = g.width
		}
		wide = max(wide, g.width)
		if i < len(groups)-1 {
			long = max(long, (g.to-g.from)/groupUnit-1)
		}
	}
	// A reference that is all ones means that the whole group is missing.
	l.refBits = bits.Len64(uint64(ref) + uint64(marks))
	l.widthBits = bits.Len(uint(wide - l.width))
	l.lengthBits = bits.Len(uint(long))
	return l
}
