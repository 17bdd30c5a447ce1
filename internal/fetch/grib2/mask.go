package grib2

import (
	"encoding/binary"
	"math/bits"
)

// mask marks the missing ones among numbered values: bit k%64 of word k/64.
// A nil mask marks none.
type mask []uint64

func newMask(n int) mask { return make(mask, (n+63)/64) }

func (m mask) set(k int)      { m[k>>6] |= 1 << (k & 63) }
func (m mask) has(k int) bool { return m != nil && m[k>>6]>>(k&63)&1 != 0 }

// bitmap is section 6: which grid points, in file order, have a coded value.
type bitmap struct {
	bits []byte // most significant bit first
	n    int    // points
	ones int    // points that have a value
	sums []int  // how many ones stand before each block
}

// blockOctets is the length of the blocks whose ones are counted beforehand.
const blockOctets = 512

// newBitmap counts the ones of a bitmap of n points; b holds at least (n+7)/8
// octets.
func newBitmap(b []byte, n int) *bitmap {
	m := &bitmap{bits: b[:(n+7)/8], n: n}
	m.sums = make([]int, 0, len(m.bits)/blockOctets+1)
	for at := 0; at < len(m.bits); at += blockOctets {
		m.sums = append(m.sums, m.ones)
		m.ones += onesIn(m.bits[at:min(at+blockOctets, len(m.bits))])
	}
	if spare := n & 7; spare != 0 {
		m.ones -= bits.OnesCount8(m.bits[len(m.bits)-1] << spare)
	}
	return m
}

func (m *bitmap) has(k int) bool { return m.bits[k>>3]<<(k&7)&0x80 != 0 }

// rank returns how many points before k have a value: the index of k's own
// among the coded values.
func (m *bitmap) rank(k int) int {
	block := k >> 3 / blockOctets
	n := m.sums[block] + onesIn(m.bits[block*blockOctets:k>>3])
	if part := k & 7; part != 0 {
		n += bits.OnesCount8(m.bits[k>>3] >> (8 - part))
	}
	return n
}

// word returns points 64i to 64i+63 with point 64i in the lowest bit.
func (m *bitmap) word(i int) uint64 {
	if at := 8 * i; at+8 <= len(m.bits) {
		w := bits.Reverse64(binary.BigEndian.Uint64(m.bits[at:]))
		if left := m.n - 64*i; left < 64 {
			w &= 1<<left - 1
		}
		return w
	}
	var w uint64
	for k := 64 * i; k < m.n; k++ {
		if m.has(k) {
			w |= 1 << (k & 63)
		}
	}
	return w
}

func onesIn(b []byte) int {
	n := 0
	for len(b) >= 8 {
		n += bits.OnesCount64(binary.LittleEndian.Uint64(b))
		b = b[8:]
	}
	for _, c := range b {
		n += bits.OnesCount8(c)
	}
	return n
}

// spread moves the coded values at the front of vals to the points of the
// bitmap, in place, and returns the mask of the points without one. coded
// marks the missing ones among the coded values, or is nil.
func (m *bitmap) spread(vals []float64, coded mask) mask {
	out := newMask(m.n)
	from := m.ones
	for i := len(out) - 1; i >= 0; i-- {
		at := 64 * i
		size := min(64, m.n-at)
		w := m.word(i)
		out[i] = ^w
		if size < 64 {
			out[i] &= 1<<size - 1
		}
		if bits.OnesCount64(w) == size && coded == nil {
			from -= size
			copy(vals[at:at+size], vals[from:from+size])
			continue
		}
		for k := size - 1; k >= 0; k-- {
			if w>>k&1 == 0 {
				vals[at+k] = 0
				continue
			}
			from--
			vals[at+k] = vals[from]
			if coded.has(from) {
				out.set(at + k)
			}
		}
	}
	return out
}
