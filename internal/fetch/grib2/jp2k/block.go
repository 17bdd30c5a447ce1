package jp2k

import "math/bits"

// A coder decodes code blocks (JPEG2000 annex D): the bit planes of the
// coefficients from the highest to the lowest, each in three passes over
// stripes four rows high, column by column.
type coder struct {
	mq
	width   int // of the block
	stripes int
	labels  *[512]uint8 // contexts of the block's band
	half    int32       // half a step of the plane, in the values' terms

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
	b.labels = &zeroLabels[o]
	kind := 2 // the highest plane has the cleanup pass only
	for b.half = 1 << (planes - 1); passes > 0; passes-- {
		switch kind {
		case 0:
			slack = b.significance(slack)
		case 1:
			slack = b.refinement(slack)
		case 2:
			slack = b.cleanup(slack, lacking)
			b.half >>= 1
		}
		kind = (kind + 1) % 3
	}
}

// significance is the pass over coefficients that are not yet significant but
// have a significant neighbour.
func (b *coder) significance(slack int64) int64 {
	for stripe := range b.stripes {
		first, k := b.origin(stripe)
		for x := range b.width {
			f := b.flags[first+x]
			if f&anywhere == 0 {
				continue
			}
			busy := f | f>>1 | f>>2
			if todo := (busy | busy>>3 | busy>>6) &^ done(f) & rows; todo != 0 {
				slack = b.visit(slack, f, todo, first+x, k+4*x)
			}
		}
	}
	return slack
}

// visit decides on the rows todo of the column with the flags f at i and the
// values at k, and on those below that get a significant neighbour by that.
func (b *coder) visit(slack int64, f, todo flags, i, k int) int64 {
	for todo != 0 {
		shift := bits.TrailingZeros32(uint32(todo))
		todo &= todo - 1
		label := uint32(b.labels[f>>(shift&31)&511])
		s := b.cx[label&31]
		slack -= int64(s)
		bit := s.likely()
		if slack < 0 {
			bit, slack = b.renormalise(slack, label)
		}
		f |= visited << (shift & 31)
		if bit != 0 {
			f, slack = b.become(slack, f, shift, i, k)
			todo |= 8 << (shift & 31) &^ done(f) & rows
		}
	}
	b.flags[i] = f
	return slack
}

// refinement is the pass that adds a bit to the coefficients that were
// significant before this plane.
func (b *coder) refinement(slack int64) int64 {
	for stripe := range b.stripes {
		first, k := b.origin(stripe)
		for x := range b.width {
			f := b.flags[first+x]
			if todo := f / self &^ (f / visited) & rows; todo != 0 {
				slack = b.refineColumn(slack, f, todo, k+4*x)
				b.flags[first+x] = f | todo*refined
			}
		}
	}
	return slack
}

// refineColumn adds a bit to the rows todo of the column with the flags f and
// the values at k.
func (b *coder) refineColumn(slack int64, f, todo flags, k int) int64 {
	for todo != 0 {
		shift := bits.TrailingZeros32(uint32(todo))
		todo &= todo - 1
		g := f >> (shift & 31)
		label := uint32(labelRefine)
		if g&around != 0 {
			label++
		}
		if g&refined != 0 {
			label = labelRefine + 2
		}
		s := b.cx[label&31]
		slack -= int64(s)
		bit := s.likely()
		if slack < 0 {
			bit, slack = b.renormalise(slack, label)
		}
		v := &b.values[(k+shift/3)&4095]
		*v = refine(*v, b.half, bit)
	}
	return slack
}

// refine moves a value up by half a step for a one and down for a zero, away
// from the sign.
func refine(v, half int32, bit uint32) int32 {
	down := int32(bit) - 1 ^ v>>31
	return v + (half ^ down - down)
}

// cleanup is the pass over what the others left out. Where nothing around a
// whole column is significant, one decision may stand for all four rows.
func (b *coder) cleanup(slack int64, lacking flags) int64 {
	for stripe := range b.stripes {
		first, k := b.origin(stripe)
		keep := ^visitAll
		if stripe == b.stripes-1 {
			keep |= lacking
		}
		for x := range b.width {
			f := b.flags[first+x]
			if f == 0 {
				s := b.cx[labelRun]
				slack -= int64(s)
				bit := s.likely()
				if slack < 0 {
					bit, slack = b.renormalise(slack, labelRun)
				}
				if bit != 0 {
					slack = b.run(slack, first+x, k+4*x)
				}
				continue
			}
			if todo := rows &^ done(f); todo != 0 {
				f, slack = b.settle(slack, f, todo, first+x, k+4*x)
			}
			b.flags[first+x] = f & keep
		}
	}
	return slack
}

// run reads where in a column with nothing around the first coefficient turns
// significant, and settles those below it.
func (b *coder) run(slack int64, i, k int) int64 {
	high, slack := b.bit(slack, labelUniform)
	low, slack := b.bit(slack, labelUniform)
	shift := 3 * int(high<<1|low)
	f, slack := b.become(slack, 0, shift, i, k)
	b.flags[i], slack = b.settle(slack, f, rows&^(8<<shift-1), i, k)
	return slack
}

// settle decides on the rows todo of the column with the flags f at i and the
// values at k, and returns the new flags.
func (b *coder) settle(slack int64, f, todo flags, i, k int) (flags, int64) {
	for todo != 0 {
		shift := bits.TrailingZeros32(uint32(todo))
		todo &= todo - 1
		label := uint32(b.labels[f>>(shift&31)&511])
		s := b.cx[label&31]
		slack -= int64(s)
		bit := s.likely()
		if slack < 0 {
			bit, slack = b.renormalise(slack, label)
		}
		if bit != 0 {
			f, slack = b.become(slack, f, shift, i, k)
		}
	}
	return f, slack
}

// origin returns where a stripe's flags and values start.
func (b *coder) origin(stripe int) (flags, values int) {
	return (b.width+2)*(stripe+1) + 1, 4 * b.width * stripe
}

// rows has a bit for each row of a column, as far apart as the flags are; done
// says in which of them no significance is to be decided in this plane.
const rows flags = 1 + 1<<3 + 1<<6 + 1<<9

func done(f flags) flags { return f/self | f/visited }

// signsAbove is where the flags of a row, by their shift, have the sign of the
// row above.
var signsAbove = [16]uint8{0: 18, 3: 19, 6: 22, 9: 25}

// become decodes the sign of a coefficient that turns significant, gives it
// its value and tells its neighbours. It is the one in the column with the
// flags f at i and the values at k whose flags start at shift; the column's new
// flags come back.
func (b *coder) become(slack int64, f flags, shift, i, k int) (flags, int64) {
	left, right := &b.flags[i-1], &b.flags[i+1]
	g := f >> (shift & 31)
	index := g&(north|west|east|south) | f>>(signsAbove[shift&15]&31)&1<<4 | g>>22&1<<6 |
		*left>>(shift&31)>>19&1 | *right>>(shift&31)>>19&1<<2
	entry := uint32(signLabels[index&255])
	label := entry >> 1
	s := b.cx[label&31]
	slack -= int64(s)
	negative := s.likely()
	if slack < 0 {
		negative, slack = b.renormalise(slack, label)
	}
	negative ^= entry & 1
	b.values[(k+shift/3)&4095] = (3*b.half ^ -int32(negative)) + int32(negative)

	*left |= east << (shift & 31)
	*right |= west << (shift & 31)
	row := b.width + 2
	switch shift {
	case 0:
		up := b.flags[i-row-1 : i-row+2]
		up[0] |= se << 9
		up[1] |= south<<9 | signBelow*flags(negative)
		up[2] |= sw << 9
	case 9:
		down := b.flags[i+row-1 : i+row+2]
		down[0] |= ne
		down[1] |= north | signAbove*flags(negative)
		down[2] |= nw
	}
	return f | (self|sign*flags(negative))<<(shift&31), slack
}

func (m *mq) bit(slack int64, label uint32) (uint32, int64) {
	s := m.cx[label&31]
	if slack -= int64(s); slack < 0 {
		return m.renormalise(slack, label)
	}
	return s.likely(), slack
}
