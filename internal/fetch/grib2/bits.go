package grib2

import (
	"encoding/binary"
	"math/bits"
)

// maxWidth is the widest value that one 64-bit load holds wherever in an
// octet it begins.
const maxWidth = 57

// Several values come from one load where they are narrow enough.
const (
	maxWidthBy4 = maxWidth / 4
	maxWidthBy2 = maxWidth / 2
)

// spill is how many elements of its destination unpackInts may write over.
const spill = 3

// load reads 64 bits that begin pos bits into b; the lowest up to seven are
// not to be used. b must reach eight octets beyond where they begin.
func load(b []byte, pos uint) uint64 {
	i := pos >> 3
	return binary.BigEndian.Uint64(b[i:i+8]) << (pos & 7)
}

// peek reads the width-bit value, 0 to 57 bits, that begins pos bits into b,
// which must reach eight octets beyond its beginning.
func peek(b []byte, pos, width uint) uint64 {
	return load(b, pos) >> 1 >> ((63 - width) & 63)
}

// bitsAt is peek near the end of b. Bits beyond the end read as zero.
func bitsAt(b []byte, pos, width uint) uint64 {
	at := pos >> 3
	if at+8 <= uint(len(b)) {
		return peek(b, pos, width)
	}
	var w uint64
	for i := range uint(8) {
		w <<= 8
		if at+i < uint(len(b)) {
			w |= uint64(b[at+i])
		}
	}
	return w << (pos & 7) >> (64 - width)
}

// whole tells how many of n values of width bits, the first of them pos bits
// into b, can be read by load.
func whole(b []byte, pos, width uint, n int) int {
	if len(b) < 8 {
		return 0
	}
	last := uint(len(b)-8)<<3 + 7 // the last bit where a load may begin
	if pos > last {
		return 0
	}
	if pos+uint(n)*width <= last {
		return n
	}
	return min(n, int((last-pos)/width)+1)
}

// four returns the first four values of width bits, at most maxWidthBy4, of a
// word. Each is brought down by turning the word, which takes the same count
// every time.
func four(w uint64, width uint) (v0, v1, v2, v3 int64) {
	turn, ones := int(width), uint64(1)<<(width&63)-1
	w0 := bits.RotateLeft64(w, turn)
	w1 := bits.RotateLeft64(w0, turn)
	w2 := bits.RotateLeft64(w1, turn)
	w3 := bits.RotateLeft64(w2, turn)
	return int64(w0 & ones), int64(w1 & ones), int64(w2 & ones), int64(w3 & ones)
}

// edges returns the lowest and the highest bits of those four values.
func edges(width uint) (low, high uint64) {
	low = 1 << ((64 - 4*width) & 63)
	low |= low << (width & 63)
	low |= low << (2 * width & 63)
	return low, low << ((width - 1) & 63)
}

// anyFull tells whether one of the values of w with those edges has all bits
// one: then adding one to it, and to the others, clears its highest bit.
func anyFull(w, low, high uint64) bool { return w&^(w+low)&high != 0 }

// unpackInts reads n values of width bits, the first of them pos bits into b,
// and adds base to each. Up to spill elements of dst beyond the nth may be
// written over.
func unpackInts(dst []int64, n int, b []byte, pos, width uint, base int64) {
	if width-1 >= maxWidthBy4 || int((pos+uint(n)*width)>>3)+8 > len(b) {
		for i := range dst[:n] {
			dst[i] = base + int64(bitsAt(b, pos, width))
			pos += width
		}
		return
	}
	for i := 0; i < n; i += 4 {
		d := dst[i : i+4]
		v0, v1, v2, v3 := four(load(b, pos), width)
		d[0], d[1], d[2], d[3] = base+v0, base+v1, base+v2, base+v3
		pos += 4 * width
	}
}
