package aec

import (
	"encoding/binary"
	"math/bits"
)

// reader hands out the stream's bits from the most significant end. Bits past
// the end read as zero; the decoder looks at pos afterwards.
type reader struct {
	src []byte
	pos int // in bits
	end int // in bits
}

// word returns the bits from the bit position at on, left-aligned: at least 57
// of them, 64 where at is a multiple of 8.
func (r *reader) word(at int) uint64 {
	b := at >> 3
	if b+8 <= len(r.src) {
		return binary.BigEndian.Uint64(r.src[b:]) << (at & 7)
	}
	var tail [8]byte
	if b < len(r.src) {
		copy(tail[:], r.src[b:])
	}
	return binary.BigEndian.Uint64(tail[:]) << (at & 7)
}

// take reads n bits, 1 to 32.
func (r *reader) take(n int) uint32 {
	w := r.word(r.pos)
	r.pos += n
	return uint32(w >> (64 - n))
}

// unary reads one count of zeros in front of a one for each element of dst. It
// returns the union of their bits, and false where the stream ends first.
func (r *reader) unary(dst []uint32) (union uint32, ok bool) {
	var (
		left = 64 - r.pos&7                     // bits of w not yet read, its lowest
		stop = r.pos&^7 + 64                    // bit position just past w
		w    = r.word(r.pos&^7) & (1<<left - 1) // ones not yet read
	)
	for i := range dst {
		zeros := left
		for w == 0 {
			if stop >= r.end {
				r.pos = r.end
				return 0, false
			}
			w = r.word(stop)
			stop += 64
			zeros += 64
		}
		left = bits.Len64(w) - 1
		w &^= 1 << (left & 63)
		n := uint32(zeros - left - 1)
		dst[i] = n
		union |= n
	}
	r.pos = stop - left
	return union, r.pos <= r.end
}

// low shifts the next k bits, up to 32, into each element of dst from the
// right.
func (r *reader) low(dst []uint32, k int) {
	pos := r.pos
	r.pos += k * len(dst)
	for i := range dst {
		dst[i] = dst[i]<<k | uint32(r.word(pos)>>1>>(63-k))
		pos += k
	}
}
