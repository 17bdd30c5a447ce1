package grib2

import "encoding/binary"

// maxWidth is the widest value that one 64-bit load holds wherever in an
// octet it begins.
const maxWidth = 57

// bitsAt reads the width-bit value, 0 to 57 bits, that begins pos bits into b.
// Bits beyond the end of b read as zero.
func bitsAt(b []byte, pos, width uint) uint64 {
	at := pos >> 3
	var w uint64
	if at+8 <= uint(len(b)) {
		w = binary.BigEndian.Uint64(b[at:])
	} else {
		for i := range uint(8) {
			w <<= 8
			if at+i < uint(len(b)) {
				w |= uint64(b[at+i])
			}
		}
	}
	return w << (pos & 7) >> (64 - width)
}

// whole tells how many of n values of width bits, the first of them pos bits
// into b, can be read by full 64-bit loads.
func whole(b []byte, pos, width uint, n int) int {
	if len(b) < 8 {
		return 0
	}
	last := uint(len(b)-8)<<3 + 7 // the last bit where a full load may begin
	if pos > last {
		return 0
	}
	if width == 0 {
		return n
	}
	return min(n, int((last-pos)/width)+1)
}
