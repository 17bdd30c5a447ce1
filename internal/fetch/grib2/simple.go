package grib2

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// simple is template 5.0: n values of the same width, one after another.
type simple struct {
	b         []byte // the values, and whatever follows them
	pos       uint   // in bits
	width     uint
	ref, step float64
}

func openSimple(p *packing, data []byte, n int) (unpacker, *Error) {
	if need := (uint64(p.coded)*uint64(p.bits) + 7) / 8; need > uint64(n) {
		return nil, fault(7, 6, "truncated: %d octets of data, %d values of %d bits need %d", n, p.coded, p.bits, need)
	}
	return &simple{b: data, width: uint(p.bits), ref: p.ref, step: p.step}, nil
}

func (s *simple) mayMiss() bool { return false }

func (s *simple) next(dst []float64, _ mask) error {
	b, pos, width := s.b, s.pos, s.width
	ref, step := s.ref, s.step
	s.pos += uint(len(dst)) * width
	rest := dst[whole(b, pos, width, len(dst)):]
	dst = dst[:len(dst)-len(rest)]
	i := 0
	for ; width <= maxWidthBy4 && i+4 <= len(dst); i += 4 {
		v0, v1, v2, v3 := four(load(b, pos), width)
		d := dst[i : i+4]
		d[0] = ref + float64(v0)*step
		d[1] = ref + float64(v1)*step
		d[2] = ref + float64(v2)*step
		d[3] = ref + float64(v3)*step
		pos += 4 * width
	}
	dst = dst[i:]
	turn, ones := int(width), uint64(1)<<(width&63)-1
	for width <= maxWidthBy2 && len(dst) >= 2 {
		w0 := bits.RotateLeft64(load(b, pos), turn)
		w1 := bits.RotateLeft64(w0, turn)
		dst[0] = ref + float64(int64(w0&ones))*step
		dst[1] = ref + float64(int64(w1&ones))*step
		pos += 2 * width
		dst = dst[2:]
	}
	for i := range dst {
		dst[i] = ref + float64(int64(peek(b, pos, width)))*step
		pos += width
	}
	for i := range rest {
		rest[i] = ref + float64(bitsAt(b, pos, width))*step
		pos += width
	}
	return nil
}

func (s *simple) pick(want []int, dst []float64, _ mask) error {
	for i, k := range want {
		dst[i] = s.ref + float64(bitsAt(s.b, uint(k)*s.width, s.width))*s.step
	}
	return nil
}

// ieee is template 5.4: floating point values as they are. Not a number means
// missing, and so does infinity.
type ieee struct {
	b     []byte
	width int // octets a value
}

func openIEEE(p *packing, data []byte, n int) (unpacker, *Error) {
	width := 4 * p.precise
	if need := p.coded * width; need > n {
		return nil, fault(7, 6, "truncated: %d octets of data, %d values of %d octets need %d", n, p.coded, width, need)
	}
	return &ieee{b: data, width: width}, nil
}

func (u *ieee) mayMiss() bool { return true }

func (u *ieee) at(k int) float64 {
	if u.width == 4 {
		return float64(math.Float32frombits(binary.BigEndian.Uint32(u.b[4*k:])))
	}
	return math.Float64frombits(binary.BigEndian.Uint64(u.b[8*k:]))
}

func (u *ieee) next(dst []float64, missing mask) error {
	for i := range dst {
		dst[i] = u.at(i)
		if !finite(dst[i]) {
			dst[i] = 0
			missing.set(i)
		}
	}
	u.b = u.b[len(dst)*u.width:]
	return nil
}

func (u *ieee) pick(want []int, dst []float64, missing mask) error {
	for i, k := range want {
		dst[i] = u.at(k)
		if !finite(dst[i]) {
			dst[i] = 0
			missing.set(i)
		}
	}
	return nil
}
