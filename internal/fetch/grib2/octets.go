package grib2

import (
	"encoding/binary"
	"math"
)

// section is the bytes of one section, its five header octets included.
// Octets are numbered from 1, as in the standard. The reader checks the length
// before any of these methods is called.
type section []byte

func (s section) u8(octet int) int   { return int(s[octet-1]) }
func (s section) u16(octet int) int  { return int(binary.BigEndian.Uint16(s[octet-1:])) }
func (s section) u32(octet int) int  { return int(binary.BigEndian.Uint32(s[octet-1:])) }
func (s section) has(octet int) bool { return len(s) >= octet }

// Signed integers are a sign bit and a magnitude, not two's complement.
func (s section) s8(octet int) int  { return signMagnitude(uint64(s.u8(octet)), 8) }
func (s section) s16(octet int) int { return signMagnitude(uint64(s.u16(octet)), 16) }
func (s section) s32(octet int) int { return signMagnitude(uint64(s.u32(octet)), 32) }

func (s section) float32(octet int) float64 {
	return float64(math.Float32frombits(uint32(s.u32(octet))))
}

func signMagnitude(v uint64, bits int) int {
	sign := uint64(1) << (bits - 1)
	if v&sign != 0 {
		return -int(v &^ sign)
	}
	return int(v)
}

// All bits one means missing.
const (
	missing8  = 0xFF
	missing32 = 0xFFFFFFFF
)

// scaled reads a scale factor of one octet and a scaled value of four. It
// answers false where the value is missing; a missing scale is taken as 0.
func (s section) scaled(factorOctet, valueOctet int) (float64, bool) {
	if s.u32(valueOctet) == missing32 {
		return 0, false
	}
	factor := 0
	if s.u8(factorOctet) != missing8 {
		factor = s.s8(factorOctet)
	}
	return scale10(float64(s.s32(valueOctet)), factor), true
}

// scale10 returns v / 10^d, exactly rounded where 10^|d| is exact.
func scale10(v float64, d int) float64 {
	if d >= 0 {
		return v / math.Pow10(d)
	}
	return v * math.Pow10(-d)
}
