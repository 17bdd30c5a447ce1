package jp2k

import (
	"encoding/binary"
	"math/bits"
)

// encoder writes code streams for the tests, straight from the definitions in
// ISO/IEC 15444-1 and without regard to speed. What the two sides share, the
// tables of contexts and probabilities, the real files and the streams of
// OpenJPEG check.
type encoder struct {
	width, height, depth int
	levels               int
	xcb, ycb             int     // logarithms
	precincts            []uint8 // by resolution as in COD, nil: the default
	progression          byte
	ownInTile            bool // the exponents in a QCC of the tile-part's header, wrong ones in the main QCD
	tileParts            int
	drop                 int // coding passes to leave out of every block
}

// guard is how many guard bits hold what the transform can add (Annex E.1): two
// are too few for samples of one bit, where the rounding weighs most.
func (e *encoder) guard() int {
	if e.depth == 1 {
		return 3
	}
	return 2
}

func (e *encoder) exponent(r int, o orientation) int {
	gain := map[orientation]int{ll: 0, hl: 1, lh: 1, hh: 2}[o]
	return e.depth + gain
}

func (e *encoder) encode(samples []int32) []byte {
	var main []byte
	segment := func(to []byte, marker int, body ...byte) []byte {
		to = binary.BigEndian.AppendUint16(to, uint16(marker))
		to = binary.BigEndian.AppendUint16(to, uint16(len(body)+2))
		return append(to, body...)
	}
	main = binary.BigEndian.AppendUint16(main, markerSOC)
	var siz []byte
	siz = append(siz, 0, 0)
	for _, v := range []int{e.width, e.height, 0, 0, e.width, e.height, 0, 0} {
		siz = binary.BigEndian.AppendUint32(siz, uint32(v))
	}
	siz = append(siz, 0, 1, byte(e.depth-1), 1, 1)
	main = segment(main, markerSIZ, siz...)
	cod := []byte{0, e.progression, 0, 1, 0, byte(e.levels), byte(e.xcb - 2), byte(e.ycb - 2), 0, 1}
	if e.precincts != nil {
		cod[0] = 1
		cod = append(cod, e.precincts...)
	}
	main = segment(main, markerCOD, cod...)
	right, wrong := []byte{byte(e.guard() << 5)}, []byte{4 << 5}
	for r := range e.levels + 1 {
		for _, o := range orientationsAt(r) {
			right = append(right, byte(e.exponent(r, o)<<3))
			wrong = append(wrong, 1<<3)
		}
	}
	var tile []byte
	if e.ownInTile {
		main = segment(main, markerQCD, wrong...)
		tile = segment(tile, markerQCC, append([]byte{0}, right...)...)
	} else {
		main = segment(main, markerQCD, right...)
	}
	main = segment(main, markerCOM, 0, 1, 'x')

	packets := e.packets(samples)
	parts := max(1, e.tileParts)
	for i := range parts {
		share := packets[len(packets)*i/parts : len(packets)*(i+1)/parts]
		sot := []byte{0, 0}
		sot = binary.BigEndian.AppendUint32(sot, uint32(12+len(tile)+2+len(share)))
		sot = append(sot, byte(i), byte(parts))
		main = segment(main, markerSOT, sot...)
		main = append(main, tile...)
		main = binary.BigEndian.AppendUint16(main, markerSOD)
		main = append(main, share...)
		tile = nil
	}
	return binary.BigEndian.AppendUint16(main, markerEOC)
}

func orientationsAt(r int) []orientation {
	if r == 0 {
		return []orientation{ll}
	}
	return []orientation{hl, lh, hh}
}

// grid is a band or an image.
type grid struct {
	width, height int
	v             []int32
}

func (g grid) column(x int) []int32 {
	var out []int32
	for y := range g.height {
		out = append(out, g.v[y*g.width+x])
	}
	return out
}

// analyse is the forward 5/3 transform of one row (F.4.8.1).
func analyse(x []int32) (low, high []int32) {
	n := len(x)
	if n == 1 {
		return x, nil
	}
	y := append([]int32(nil), x...)
	at := func(i int) int32 {
		if i < 0 {
			i = -i
		}
		if i >= n {
			i = 2*(n-1) - i
		}
		return y[i]
	}
	for i := 1; i < n; i += 2 {
		y[i] -= (at(i-1) + at(i+1)) >> 1
	}
	for i := 0; i < n; i += 2 {
		y[i] += (at(i-1) + at(i+1) + 2) >> 2
	}
	for i, v := range y {
		if i%2 == 0 {
			low = append(low, v)
		} else {
			high = append(high, v)
		}
	}
	return low, high
}

// split undoes one level: columns first, then rows (F.4.2).
func split(g grid) map[orientation]grid {
	lh0, hh0 := (g.height+1)/2, g.height/2
	lw, hw := (g.width+1)/2, g.width/2
	out := map[orientation]grid{
		ll: {lw, lh0, make([]int32, lw*lh0)}, hl: {hw, lh0, make([]int32, hw*lh0)},
		lh: {lw, hh0, make([]int32, lw*hh0)}, hh: {hw, hh0, make([]int32, hw*hh0)},
	}
	rows := make([][]int32, g.height)
	for y := range rows {
		rows[y] = make([]int32, g.width)
	}
	for x := range g.width {
		low, high := analyse(g.column(x))
		for y, v := range append(append([]int32(nil), low...), high...) {
			rows[y][x] = v
		}
	}
	for y, row := range rows {
		low, high := analyse(row)
		if y < lh0 {
			copy(out[ll].v[y*lw:], low)
			copy(out[hl].v[y*hw:], high)
		} else {
			copy(out[lh].v[(y-lh0)*lw:], low)
			copy(out[hh].v[(y-lh0)*hw:], high)
		}
	}
	return out
}

func (e *encoder) packets(samples []int32) []byte {
	image := grid{e.width, e.height, make([]int32, len(samples))}
	for i, v := range samples {
		image.v[i] = v - 1<<(e.depth-1)
	}
	resolutions := make([]map[orientation]grid, e.levels+1)
	sizes := make([][2]int, e.levels+1)
	for r := e.levels; r > 0; r-- {
		sizes[r] = [2]int{image.width, image.height}
		resolutions[r] = split(image)
		image = resolutions[r][ll]
	}
	sizes[0] = [2]int{image.width, image.height}
	resolutions[0] = map[orientation]grid{ll: image}

	var out []byte
	for r, bands := range resolutions {
		xp, yp := 15, 15
		if e.precincts != nil {
			xp, yp = int(e.precincts[r]&15), int(e.precincts[r]>>4)
		}
		for py := 0; py<<yp < sizes[r][1]; py++ {
			for px := 0; px<<xp < sizes[r][0]; px++ {
				w := bitWriter{}
				var body []byte
				w.bit(1)
				for _, o := range orientationsAt(r) {
					bx, by := xp, yp
					if r > 0 {
						bx, by = xp-1, yp-1
					}
					b := bands[o]
					x1, y1 := min((px+1)<<bx, b.width), min((py+1)<<by, b.height)
					body = append(body, e.precinct(&w, b, r, o, px<<bx, py<<by, x1, y1, min(e.xcb, bx), min(e.ycb, by))...)
				}
				out = append(out, w.done()...)
				out = append(out, body...)
			}
		}
	}
	return out
}

// precinct writes a band's part of a packet.
func (e *encoder) precinct(w *bitWriter, b grid, r int, o orientation, x0, y0, x1, y1, xcb, ycb int) (body []byte) {
	if x0 >= x1 || y0 >= y1 {
		return nil
	}
	columns, rows := (x1-x0-1)>>xcb+1, (y1-y0-1)>>ycb+1
	type coded struct {
		data           []byte
		planes, passes int
	}
	blocks := make([]coded, columns*rows)
	inclusion, zeros := newTree(columns, rows), newTree(columns, rows)
	all := e.guard() + e.exponent(r, o) - 1
	for i := range blocks {
		cx, cy := x0+i%columns<<xcb, y0+i/columns<<ycb
		part := grid{min(cx+1<<xcb, x1) - cx, min(cy+1<<ycb, y1) - cy, nil}
		for y := range part.height {
			part.v = append(part.v, b.v[(cy+y)*b.width+cx:][:part.width]...)
		}
		k := &blocks[i]
		k.data, k.planes, k.passes = encodeBlock(part, o, e.drop)
		if k.planes > all {
			panic("the guard bits do not hold these samples: no such stream may be written")
		}
		inclusion.set(i%columns, i/columns, 1)
		if k.passes > 0 {
			inclusion.set(i%columns, i/columns, 0)
		}
		zeros.set(i%columns, i/columns, all-k.planes)
	}
	for i, k := range blocks {
		inclusion.code(w, i%columns, i/columns, 1)
		if k.passes == 0 {
			continue
		}
		for t := 1; t <= all-k.planes+1; t++ {
			zeros.code(w, i%columns, i/columns, t)
		}
		switch n := k.passes; {
		case n == 1:
			w.bits(0, 1)
		case n == 2:
			w.bits(2, 2)
		case n < 6:
			w.bits(12|(n-3), 4)
		case n < 37:
			w.bits(15<<5|(n-6), 9)
		default:
			w.bits(511<<7|(n-37), 16)
		}
		n := 3 + bits.Len(uint(k.passes)) - 1
		for bits.Len(uint(len(k.data))) > n {
			w.bit(1)
			n++
		}
		w.bit(0)
		w.bits(len(k.data), n)
		body = append(body, k.data...)
	}
	return body
}

// bitWriter stuffs a zero bit after each octet of 0xff.
type bitWriter struct {
	out   []byte
	octet int
	n     int
}

func (w *bitWriter) bit(b int) {
	w.octet = w.octet<<1 | b
	w.n++
	room := 8
	if len(w.out) > 0 && w.out[len(w.out)-1] == 0xff {
		room = 7
	}
	if w.n == room {
		w.out = append(w.out, byte(w.octet))
		w.octet, w.n = 0, 0
	}
}

func (w *bitWriter) bits(v, n int) {
	for n--; n >= 0; n-- {
		w.bit(v >> n & 1)
	}
}

func (w *bitWriter) done() []byte {
	for w.n > 0 {
		w.bit(0)
	}
	if len(w.out) > 0 && w.out[len(w.out)-1] == 0xff {
		w.out = append(w.out, 0)
	}
	return w.out
}

// tree is a tag tree: values and what the reader knows of them.
type tree struct {
	width, height int
	value         []int
	floor         []int
	told          []bool
	up            *tree
}

func newTree(width, height int) *tree {
	n := width * height
	t := &tree{width, height, make([]int, n), make([]int, n), make([]bool, n), nil}
	for i := range t.value {
		t.value[i] = 1 << 20
	}
	if n > 1 {
		t.up = newTree((width+1)/2, (height+1)/2)
	}
	return t
}

func (t *tree) set(x, y, v int) {
	t.value[y*t.width+x] = v
	if t.up != nil {
		least := 1 << 20
		for _, d := range [4][2]int{{0, 0}, {0, 1}, {1, 0}, {1, 1}} {
			cx, cy := x&^1+d[0], y&^1+d[1]
			if cx < t.width && cy < t.height {
				least = min(least, t.value[cy*t.width+cx])
			}
		}
		t.up.set(x/2, y/2, least)
	}
}

func (t *tree) code(w *bitWriter, x, y, limit int) int {
	i := y*t.width + x
	if t.up != nil {
		t.floor[i] = max(t.floor[i], t.up.code(w, x/2, y/2, limit))
	}
	for t.floor[i] < limit && !t.told[i] {
		if t.value[i] > t.floor[i] {
			w.bit(0)
			t.floor[i]++
		} else {
			w.bit(1)
			t.told[i] = true
		}
	}
	return t.floor[i]
}

// mqEncoder is annex C.2.
type mqEncoder struct {
	a, c  uint32
	ct    int
	out   []byte // the first octet is only a place for a carry
	index [19]int
	mps   [19]int
}

func newMQEncoder() *mqEncoder {
	m := &mqEncoder{a: 0x8000, ct: 12, out: []byte{0}}
	m.index[0], m.index[labelRun], m.index[labelUniform] = 4, 3, 46
	return m
}

func (m *mqEncoder) encode(bit, label int) {
	p := probabilities[m.index[label]]
	qe := uint32(p.qe)
	m.a -= qe
	if bit == m.mps[label] {
		if m.a&0x8000 != 0 {
			m.c += qe
			return
		}
		if m.a < qe {
			m.a = qe
		} else {
			m.c += qe
		}
		m.index[label] = int(p.nmps)
	} else {
		if m.a < qe {
			m.c += qe
		} else {
			m.a = qe
		}
		if p.swap {
			m.mps[label] = 1 - m.mps[label]
		}
		m.index[label] = int(p.nlps)
	}
	for {
		m.a <<= 1
		m.c <<= 1
		if m.ct--; m.ct == 0 {
			m.byteOut()
		}
		if m.a&0x8000 != 0 {
			return
		}
	}
}

func (m *mqEncoder) byteOut() {
	last := &m.out[len(m.out)-1]
	if *last != 0xff && m.c >= 0x8000000 {
		*last++
		m.c &= 0x7ffffff
	}
	if *last == 0xff {
		m.out = append(m.out, byte(m.c>>20))
		m.c &= 0xfffff
		m.ct = 7
	} else {
		m.out = append(m.out, byte(m.c>>19))
		m.c &= 0x7ffff
		m.ct = 8
	}
}

func (m *mqEncoder) flush() []byte {
	limit := m.c + m.a
	m.c |= 0xffff
	if m.c >= limit {
		m.c -= 0x8000
	}
	for range 2 {
		m.c <<= m.ct
		m.byteOut()
	}
	if m.out[len(m.out)-1] == 0xff {
		m.out = m.out[:len(m.out)-1]
	}
	return m.out[1:]
}

// encodeBlock codes a block with all its passes but the last few.
func encodeBlock(g grid, o orientation, drop int) (data []byte, planes, passes int) {
	for _, v := range g.v {
		planes = max(planes, bits.Len32(uint32(max(v, -v))))
	}
	passes = 3*planes - 2 - drop
	if planes == 0 || passes <= 0 {
		return nil, 0, 0
	}
	m := newMQEncoder()
	n := len(g.v)
	significant, refined, visited := make([]bool, n), make([]bool, n), make([]bool, n)
	is := func(x, y int) int {
		if x < 0 || y < 0 || x >= g.width || y >= g.height || !significant[y*g.width+x] {
			return 0
		}
		return 1
	}
	signed := func(x, y int) int {
		if is(x, y) == 1 && g.v[y*g.width+x] < 0 {
			return -1
		}
		return is(x, y)
	}
	around := func(x, y int) (h, v, d int) {
		return is(x-1, y) + is(x+1, y), is(x, y-1) + is(x, y+1),
			is(x-1, y-1) + is(x+1, y-1) + is(x-1, y+1) + is(x+1, y+1)
	}
	label := func(x, y int) int {
		h, v, d := around(x, y)
		switch o {
		case hh:
			return int(diagonalLabel(d, h+v))
		case hl:
			return int(alongLabel(v, h, d))
		}
		return int(alongLabel(h, v, d))
	}
	sign := func(x, y int) {
		h := min(max(signed(x-1, y)+signed(x+1, y), -1), 1)
		v := min(max(signed(x, y-1)+signed(x, y+1), -1), 1)
		entry := map[[2]int][2]int{ // table D.3
			{1, 1}: {13, 0}, {1, 0}: {12, 0}, {1, -1}: {11, 0},
			{0, 1}: {10, 0}, {0, 0}: {9, 0}, {0, -1}: {10, 1},
			{-1, 1}: {11, 1}, {-1, 0}: {12, 1}, {-1, -1}: {13, 1},
		}[[2]int{h, v}]
		negative := 0
		if g.v[y*g.width+x] < 0 {
			negative = 1
		}
		m.encode(negative^entry[1], entry[0])
		significant[y*g.width+x] = true
	}
	kind := 2
	for p, plane := 0, planes-1; p < passes; p++ {
		bit := func(x, y int) int {
			v := g.v[y*g.width+x]
			return int(max(v, -v)>>plane) & 1
		}
		for top := 0; top < g.height; top += 4 {
			for x := range g.width {
				y := top
				if kind == 2 && top+4 <= g.height {
					still := true
					for y := top; y < top+4; y++ {
						h, v, d := around(x, y)
						still = still && h+v+d == 0 && is(x, y) == 0 && !visited[y*g.width+x]
					}
					if still {
						for y < top+4 && bit(x, y) == 0 {
							y++
						}
						if y == top+4 {
							m.encode(0, labelRun)
							continue
						}
						m.encode(1, labelRun)
						m.encode((y-top)>>1, labelUniform)
						m.encode((y-top)&1, labelUniform)
						sign(x, y)
						y++
					}
				}
				for ; y < min(top+4, g.height); y++ {
					i := y*g.width + x
					h, v, d := around(x, y)
					switch {
					case kind == 0 && !significant[i] && h+v+d > 0,
						kind == 2 && !significant[i] && !visited[i]:
						m.encode(bit(x, y), label(x, y))
						visited[i] = kind == 0
						if bit(x, y) == 1 {
							sign(x, y)
						}
					case kind == 1 && significant[i] && !visited[i]:
						c := labelRefine
						if h+v+d > 0 {
							c++
						}
						if refined[i] {
							c = labelRefine + 2
						}
						m.encode(bit(x, y), c)
						refined[i] = true
					}
				}
			}
		}
		if kind == 2 {
			clear(visited)
			plane--
		}
		kind = (kind + 1) % 3
	}
	return m.flush(), planes, passes
}
