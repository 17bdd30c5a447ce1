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
	return binary.BigEndian.Uint64(b[pos>>3:]) << (pos & 7)
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

// unpackInts reads n values of width bits, the first of them pos bits into b,
// and adds base to each. It tells whether a value may be limit or more before
// base is added. Up to spill elements of dst beyond the nth may be written over.
func unpackInts(dst []int64, n int, b []byte, pos, width uint, base, limit int64) bool {
	var room int64 // negative where a value leaves none below the limit
	most := limit - 1
	if width-1 >= maxWidthBy4 || int((pos+uint(n)*width)>>3)+8 > len(b) {
		for i := range dst[:n] {
			v := int64(bitsAt(b, pos, width))
			dst[i] = base + v
			room |= most - v
			pos += width
		}
		return room < 0
	}
	// A value is brought down by turning the word, which takes the same count
	// for each.
	turn, ones := int(width), uint64(1)<<(width&63)-1
	for ; n > 0; n -= 4 {
		d := dst[:4]
		w0 := bits.RotateLeft64(load(b, pos), turn)
		w1 := bits.RotateLeft64(w0, turn)
		w2 := bits.RotateLeft64(w1, turn)
		w3 := bits.RotateLeft64(w2, turn)
		v0, v1, v2, v3 := int64(w0&ones), int64(w1&ones), int64(w2&ones), int64(w3&ones)
		d[0], d[1], d[2], d[3] = base+v0, base+v1, base+v2, base+v3
		room |= (most - v0) | (most - v1) | (most - v2) | (most - v3)
		pos += 4 * width
		dst = dst[4:]
	}
	return room < 0
}
