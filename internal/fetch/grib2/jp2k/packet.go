package jp2k

import (
	"fmt"
	"math/bits"
)

// bitReader reads packet headers: after an octet of 0xff the next one holds
// only seven bits (JPEG2000 B.10.1). Beyond the end it reads zeros and says so.
type bitReader struct {
	src   []byte
	at    int
	octet byte
	left  int
	over  bool
}

func (r *bitReader) bit() int {
	if r.left == 0 {
		r.left = 8
		if r.octet == 0xff {
			r.left = 7
		}
		r.octet = 0
		if r.at < len(r.src) {
			r.octet = r.src[r.at]
			r.at++
		} else {
			r.over = true
		}
	}
	r.left--
	return int(r.octet >> r.left & 1)
}

func (r *bitReader) bits(n int) int {
	v := 0
	for range n {
		v = v<<1 | r.bit()
	}
	return v
}

// start begins the header of the next packet, finish ends it at a whole octet.
func (r *bitReader) start() { r.left, r.octet = 0, 0 }

func (r *bitReader) finish() {
	if r.octet == 0xff {
		r.left = 0
		r.bit()
	}
	r.start()
}

// tagTree codes a number for each block of a grid, lowest first (JPEG2000
// B.10.2): a node holds the least of the four below it.
type tagTree struct {
	levels []tagLevel // the grid first, the root last
	nodes  []tagNode
}

type tagLevel struct{ width, first int }

type tagNode struct {
	floor int32 // what the number is at least
	known bool  // it is the floor
}

func (t *tagTree) reset(width, height int) {
	t.levels = t.levels[:0]
	n := 0
	for {
		t.levels = append(t.levels, tagLevel{width, n})
		n += width * height
		if width*height <= 1 {
			break
		}
		width, height = (width+1)/2, (height+1)/2
	}
	if cap(t.nodes) < n {
		t.nodes = make([]tagNode, n)
	}
	t.nodes = t.nodes[:n]
	clear(t.nodes)
}

// below reads until it is clear whether the number at x, y is below the limit.
func (t *tagTree) below(r *bitReader, x, y int, limit int32) bool {
	floor := int32(0)
	for i := len(t.levels) - 1; i >= 0; i-- {
		level := t.levels[i]
		n := &t.nodes[level.first+(y>>i)*level.width+x>>i]
		n.floor = max(n.floor, floor)
		for n.floor < limit && !n.known {
			if r.bit() == 1 {
				n.known = true
			} else {
				n.floor++
			}
		}
		floor = n.floor
		if i == 0 {
			return n.known && n.floor < limit
		}
	}
	return false
}

// packets reads all packets: which blocks have data, how much, and where.
func (m *Image) packets(src []byte, at int) error {
	r := bitReader{src: src}
	var included, zeros tagTree
	for level := range m.resolutions {
		res := &m.resolutions[level]
		for p := range res.across * res.down {
			start := r.at
			if start >= len(src) {
				return &SyntaxError{at + start, fmt.Sprintf("the data end before packet %d of resolution %d", p, level)}
			}
			r.start()
			if r.bit() == 0 {
				r.finish()
				continue
			}
			for i := range res.bands {
				b := &res.bands[i]
				area := b.precinct(res, p)
				if area.empty() {
					continue
				}
				if b.blocks == nil {
					b.blocks = make([][]block, res.across*res.down)
				}
				if area.count() > maxBlocks {
					return &UnsupportedError{at + start, fmt.Sprintf("a precinct of %d code blocks", area.count())}
				}
				included.reset(area.width(), area.height())
				zeros.reset(area.width(), area.height())
				for j := range area.count() {
					x, y := j%area.width(), j/area.width()
					if !included.below(&r, x, y, 1) {
						continue
					}
					planes := b.planes
					for !zeros.below(&r, x, y, int32(b.planes-planes+1)) {
						if planes--; planes <= 0 {
							return &SyntaxError{at + r.at, fmt.Sprintf("a code block without bit planes in resolution %d", level)}
						}
					}
					passes := r.passes()
					lengthBits := 3
					for r.bit() == 1 {
						lengthBits++
					}
					lengthBits += bits.Len(uint(passes)) - 1
					if passes > 3*planes-2 || lengthBits > 31 || r.over {
						return &SyntaxError{at + r.at, fmt.Sprintf("a code block of %d passes over %d bit planes", passes, planes)}
					}
					if b.blocks[p] == nil {
						b.blocks[p] = make([]block, area.count())
					}
					b.blocks[p][j] = block{length: uint32(r.bits(lengthBits)), planes: uint8(planes), passes: uint8(passes)}
				}
			}
			r.finish()
			if r.over {
				return &SyntaxError{at + len(src), fmt.Sprintf("the data end inside the header of packet %d of resolution %d", p, level)}
			}
			for i := range res.bands {
				if res.bands[i].blocks == nil {
					continue
				}
				blocks := res.bands[i].blocks[p]
				for j := range blocks {
					n := int(blocks[j].length)
					if n > len(src)-r.at {
						return &SyntaxError{at + r.at, fmt.Sprintf("a code block of %d octets, %d are left", n, len(src)-r.at)}
					}
					blocks[j].at = uint32(r.at)
					r.at += n
				}
			}
		}
	}
	return nil
}

// passes reads the number of coding passes (JPEG2000 table B.4).
func (r *bitReader) passes() int {
	if r.bit() == 0 {
		return 1
	}
	if r.bit() == 0 {
		return 2
	}
	if n := r.bits(2); n < 3 {
		return 3 + n
	}
	if n := r.bits(5); n < 31 {
		return 6 + n
	}
	return 37 + r.bits(7)
}
