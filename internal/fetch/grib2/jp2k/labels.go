package jp2k

// zeroLabels has, for each band and neighbourhood, the context of the decision
// whether a coefficient becomes significant (JPEG2000 table D.1).
var zeroLabels = func() (table [4][512]uint8) {
	for n := range flags(512) {
		horizontal := count(n, west, east)
		vertical := count(n, north, south)
		diagonal := count(n, nw, ne, sw, se)
		table[ll][n] = alongLabel(horizontal, vertical, diagonal)
		table[lh][n] = alongLabel(horizontal, vertical, diagonal)
		table[hl][n] = alongLabel(vertical, horizontal, diagonal)
		table[hh][n] = diagonalLabel(diagonal, horizontal+vertical)
	}
	return table
}()

func count(n flags, of ...flags) int {
	sum := 0
	for _, f := range of {
		if n&f != 0 {
			sum++
		}
	}
	return sum
}

func alongLabel(along, across, diagonal int) uint8 {
	switch {
	case along == 2:
		return 8
	case along == 1 && across > 0:
		return 7
	case along == 1 && diagonal > 0:
		return 6
	case along == 1:
		return 5
	case across == 2:
		return 4
	case across == 1:
		return 3
	}
	return uint8(min(diagonal, 2))
}

func diagonalLabel(diagonal, straight int) uint8 {
	switch {
	case diagonal >= 3:
		return 8
	case diagonal == 2:
		return 6 + uint8(min(straight, 1))
	case diagonal == 1:
		return 3 + uint8(min(straight, 2))
	}
	return uint8(min(straight, 2))
}

// signLabels has, for the four straight neighbours, the context of the sign
// times two, plus one where the decision is turned round (JPEG2000 tables D.2
// and D.3). The index holds who is significant at north, west, east and south
// and who is negative: west in bit 0, east in bit 2, north in bit 4, south in
// bit 6.
var signLabels = func() (table [256]uint8) {
	for n := range flags(256) {
		contribution := func(who flags, negative int) int {
			switch {
			case n&who == 0:
				return 0
			case n>>negative&1 != 0:
				return -1
			}
			return 1
		}
		h := min(max(contribution(west, 0)+contribution(east, 2), -1), 1)
		v := min(max(contribution(north, 4)+contribution(south, 6), -1), 1)
		turn := uint8(0)
		if h < 0 || h == 0 && v < 0 {
			h, v, turn = -h, -v, 1
		}
		label := labelSign + v // h is 0
		if h == 1 {
			label = labelSign + 3 + v
		}
		table[n] = uint8(label)<<1 | turn
	}
	return table
}()
