package jp2k

// A coder decodes code blocks (JPEG2000 annex D): the bit planes of the
// coefficients from the highest to the lowest, each in three passes over
// stripes four rows high, column by column.
type coder struct {
	mq
	width   int // of the block
	stripes int

	// values holds a coefficient's magnitude times two, and one more for the
	// half of the lowest plane decoded: the middle of what it may be. Four rows
	// of a column lie together, columns along a stripe, stripes one by one.
	values [4096]int32

	// flags holds for each column of a stripe what the contexts need, with a
	// column to spare on both sides and a stripe above and below.
	flags [maxFlags]flags
}

// maxFlags is room for a block of 1024 by 4, the widest.
const maxFlags = (1024 + 2) * 3

// flags of the four rows of a column. Bits 0 to 17 say which coefficients are
// significant in the six rows and three columns around and in it, row by row:
// shifted right by three bits a row, the low nine are a coefficient's
// neighbourhood. Above them stand, again three bits apart, for each row the
// sign, whether the coefficient was refined, and whether the plane's first
// pass visited it; the signs of the rows above and below fill the gaps.
type flags uint32

const (
	nw flags = 1 << iota
	north
	ne
	west
	self
	east
	sw
	south
	se

	around    = nw | north | ne | west | east | sw | south | se
	anywhere  = flags(1<<18 - 1)
	signAbove = flags(1) << 18
	sign      = flags(1) << 19
	refined   = flags(1) << 20
	visited   = flags(1) << 21
	signBelow = flags(1) << 31
	visitAll  = visited * (1 + 1<<3 + 1<<6 + 1<<9)
)

// orientation of a band: how its coefficients were filtered.
type orientation uint8

const (
	ll orientation = iota
	hl             // high horizontally
	lh             // high vertically
	hh
)

// decode reads passes coding passes of a block of the given size and number
// of magnitude bit planes.
func (b *coder) decode(src []byte, width, height, planes, passes int, o orientation) {
	b.width, b.stripes = width, (height+3)/4
	clear(b.values[:4*width*b.stripes])
	row := width + 2
	clear(b.flags[:row*(b.stripes+2)])
	// The rows that the last stripe lacks count as visited for good, so no pass
	// looks at them.
	var lacking flags
	if over := 4*b.stripes - height; over > 0 {
		lacking = visitAll &^ (visitAll >> (3 * over))
		last := b.flags[row*b.stripes+1:][:width]
		for i := range last {
			last[i] = lacking
		}
	}
	slack := b.start(src)
	labels := &zeroLabels[o]
	kind := 2 // the highest plane has the cleanup pass only
	for plane := planes - 1; passes > 0; passes-- {
		switch kind {
		case 0:
			slack = b.significance(slack, plane, labels)
		case 1:
			slack = b.refinement(slack, plane)
		case 2:
			slack = b.cleanup(slack, plane, labels, lacking)
			plane--
		}
		kind = (kind + 1) % 3
	}
}

// significance is the pass over coefficients that are not yet significant but
// have a significant neighbour.
func (b *coder) significance(slack int64, plane int, labels *[512]uint8) int64 {
	value := int32(3) << plane
	row := b.width + 2
	for stripe := range b.stripes {
		first := row*(stripe+1) + 1
		values := b.values[4*b.width*stripe:][:4*b.width]
		for i := first; len(values) >= 4; i, values = i+1, values[4:] {
			f := b.flags[i]
			if f&anywhere == 0 {
				continue
			}
			for y := range 4 {
				g := f >> (3 * y & 31)
				if g&(self|visited) != 0 || g&around == 0 {
					continue
				}
				label := uint32(labels[g&511])
				s := b.cx[label&31]
				slack -= s.interval()
				bit := s.likely()
				if slack < 0 {
					bit, slack = b.renormalise(slack, label)
				}
				if bit != 0 {
					bit, slack = b.sign(slack, i, y, f)
					values[y] = (value ^ -int32(bit)) + int32(bit)
					f |= b.mark(i, y, row, bit)
				}
				f |= visited << (3 * y & 31)
			}
			b.flags[i] = f
		}
	}
	return slack
}

// refinement is the pass that adds a bit to the coefficients that were
// significant before this plane.
func (b *coder) refinement(slack int64, plane int) int64 {
	half := int32(1) << plane
	row := b.width + 2
	const someSelf = self * (1 + 1<<3 + 1<<6 + 1<<9)
	for stripe := range b.stripes {
		first := row*(stripe+1) + 1
		values := b.values[4*b.width*stripe:][:4*b.width]
		for i := first; len(values) >= 4; i, values = i+1, values[4:] {
			f := b.flags[i]
			if f&someSelf == 0 {
				continue
			}
			for y := range 4 {
				g := f >> (3 * y & 31)
				if g&(self|visited) != self {
					continue
				}
				label := uint32(labelRefine)
				if g&refined != 0 {
					label += 2
				} else if g&around != 0 {
					label++
				}
				s := b.cx[label&31]
				slack -= s.interval()
				bit := s.likely()
				if slack < 0 {
					bit, slack = b.renormalise(slack, label)
				}
				// Up half a step for a one, down for a zero, away from the sign.
				v := values[y]
				down := int32(bit) - 1 ^ v>>31
				values[y] = v + (half ^ down - down)
				f |= refined << (3 * y & 31)
			}
			b.flags[i] = f
		}
	}
	return slack
}

// cleanup is the pass over what the others left out. Where nothing around a
// whole column is significant, one decision may stand for all four rows.
func (b *coder) cleanup(slack int64, plane int, labels *[512]uint8, lacking flags) int64 {
	value := int32(3) << plane
	row := b.width + 2
	for stripe := range b.stripes {
		first := row*(stripe+1) + 1
		keep := ^visitAll
		if stripe == b.stripes-1 {
			keep |= lacking
		}
		values := b.values[4*b.width*stripe:][:4*b.width]
		for i := first; len(values) >= 4; i, values = i+1, values[4:] {
			f := b.flags[i]
			from := 0
			if f == 0 {
				var bit uint32
				if bit, slack = b.bit(slack, labelRun); bit == 0 {
					continue
				}
				var high, low uint32
				high, slack = b.bit(slack, labelUniform)
				low, slack = b.bit(slack, labelUniform)
				from = int(high<<1 | low)
				bit, slack = b.sign(slack, i, from, f)
				values[from&3] = (value ^ -int32(bit)) + int32(bit)
				f |= b.mark(i, from, row, bit)
				from++
			}
			for y := from; y < 4; y++ {
				g := f >> (3 * y & 31)
				if g&(self|visited) != 0 {
					continue
				}
				label := uint32(labels[g&511])
				s := b.cx[label&31]
				slack -= s.interval()
				bit := s.likely()
				if slack < 0 {
					bit, slack = b.renormalise(slack, label)
				}
				if bit != 0 {
					bit, slack = b.sign(slack, i, y, f)
					values[y] = (value ^ -int32(bit)) + int32(bit)
					f |= b.mark(i, y, row, bit)
				}
			}
			b.flags[i] = f & keep
		}
	}
	return slack
}

func (m *mq) bit(slack int64, label uint32) (uint32, int64) {
	s := m.cx[label&31]
	if slack -= s.interval(); slack < 0 {
		return m.renormalise(slack, label)
	}
	return s.likely(), slack
}

// sign decodes the sign of the coefficient in row y of the column with the
// flags f at i: 1 is negative.
func (b *coder) sign(slack int64, i, y int, f flags) (uint32, int64) {
	shift := 3 * y
	above := f >> 18
	if y > 0 {
		above = f >> (16 + shift)
	}
	index := f>>shift&(north|west|east|south) |
		b.flags[i-1]>>(19+shift)&1 | b.flags[i+1]>>(19+shift)&1<<2 |
		above&1<<4 | f>>(22+shift)&1<<6
	entry := uint32(signLabels[index&255])
	bit, slack := b.bit(slack, entry>>1)
	return bit ^ entry&1, slack
}

// mark tells the coefficient's neighbours that it is significant and what
// sign it has, and returns the flags of its own column.
func (b *coder) mark(i, y, row int, negative uint32) flags {
	shift := 3 * y
	b.flags[i-1] |= east << shift
	b.flags[i+1] |= west << shift
	switch y {
	case 0:
		up := b.flags[i-row-1 : i-row+2]
		up[0] |= se << 9
		up[1] |= south<<9 | signBelow*flags(negative)
		up[2] |= sw << 9
	case 3:
		down := b.flags[i+row-1 : i+row+2]
		down[0] |= ne
		down[1] |= north | signAbove*flags(negative)
		down[2] |= nw
	}
	return (self | sign*flags(negative)) << shift
}
