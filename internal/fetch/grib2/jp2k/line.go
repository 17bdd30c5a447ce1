package jp2k

import "math/bits"

// lineLabels has, for each band and number of significant neighbours in the
// row, the context of the decision whether a coefficient becomes significant:
// JPEG2000 table D.1 with nothing above and below.
var lineLabels = [4][3]uint8{ll: {0, 5, 8}, hl: {0, 3, 4}, lh: {0, 5, 8}, hh: {0, 1, 2}}

// decodeLine is decode for a block one row high and at most 64 wide, which is
// what an image of one row consists of: each set of coefficients is one word,
// and no pass looks at those it leaves out. The values stand side by side.
func (b *coder) decodeLine(src []byte, width, planes, passes int, o orientation) {
	b.width, b.stripes = width, 0
	clear(b.values[:width])
	values := b.values[:64]
	labels := &lineLabels[o]
	var (
		all         = ^uint64(0) >> (64 - width)
		significant uint64
		negative    uint64
		refined     uint64
		visited     uint64
		slack       = b.start(src)
		bit         uint32
	)
	kind := 2 // the highest plane has the cleanup pass only
	for plane := planes - 1; passes > 0; passes-- {
		var todo uint64
		switch kind {
		case 0:
			todo = (significant<<1 | significant>>1) &^ significant & all
			visited = 0
		case 1:
			slack = b.refineLine(slack, plane, significant&^visited, significant, refined)
			refined |= significant &^ visited
		case 2:
			todo = all &^ significant &^ visited
		}
		value := int32(3) << (plane & 31)
		for todo != 0 {
			x := bits.TrailingZeros64(todo)
			at := uint64(1) << x
			todo ^= at
			left, right := significant<<1>>x&1, significant>>1>>x&1
			label := uint32(labels[(left+right)&3%3])
			s := b.cx[label&31]
			slack -= int64(s)
			bit = s.likely()
			if slack < 0 {
				bit, slack = b.renormalise(slack, label)
			}
			if kind == 0 {
				visited |= at
			}
			if bit == 0 {
				continue
			}
			// Each neighbour counts by its sign (JPEG2000 table D.2).
			sum := int(left) - int(negative<<1>>x&1)<<1 + int(right) - int(negative>>1>>x&1)<<1
			label, turn := uint32(labelSign), uint32(0)
			if sum != 0 {
				label += 3
				turn = uint32(sum) >> 31
			}
			bit, slack = b.bit(slack, label)
			bit ^= turn
			values[x&63] = (value ^ -int32(bit)) + int32(bit)
			significant |= at
			negative |= uint64(bit) << x
			if kind == 0 {
				todo |= at << 1 &^ significant & all
			}
		}
		if kind == 2 {
			plane--
		}
		kind = (kind + 1) % 3
	}
}

func (b *coder) refineLine(slack int64, plane int, todo, significant, refined uint64) int64 {
	half := int32(1) << (plane & 31)
	around := significant<<1 | significant>>1
	for todo != 0 {
		x := bits.TrailingZeros64(todo)
		todo &= todo - 1
		label := uint32(labelRefine) + uint32(around>>x&1)
		if refined>>x&1 != 0 {
			label = labelRefine + 2
		}
		s := b.cx[label&31]
		slack -= int64(s)
		bit := s.likely()
		if slack < 0 {
			bit, slack = b.renormalise(slack, label)
		}
		v := b.values[x&63]
		down := int32(bit) - 1 ^ v>>31
		b.values[x&63] = v + (half ^ down - down)
	}
	return slack
}
