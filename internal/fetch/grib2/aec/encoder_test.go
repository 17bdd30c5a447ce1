package aec_test

import "forecastd/internal/fetch/grib2/aec"

// encoder writes streams for the tests, after CCSDS 121.0-B-3 chapters 3 and
// 4. Which of the codes that can hold a block it takes is the test's choice,
// so that a test reaches all of them.
type encoder struct {
	aec.Params
	choose func(n int) int // one of 0..n-1
	out    []byte
	bits   int
	used   map[string]int // how often each code was taken
}

func (e *encoder) put(v uint64, n int) {
	for n--; n >= 0; n-- {
		if e.bits%8 == 0 {
			e.out = append(e.out, 0)
		}
		e.out[e.bits/8] |= byte(v>>n&1) << (7 - e.bits%8)
		e.bits++
	}
}

func (e *encoder) unary(n uint32) {
	for ; n > 0; n-- {
		e.put(0, 1)
	}
	e.put(1, 1)
}

func (e *encoder) encode(samples []uint32) []byte {
	e.used = map[string]int{}
	size := e.RSI * e.BlockSize
	for len(samples) > 0 {
		n := min(size, len(samples))
		e.interval(samples[:n])
		samples = samples[n:]
	}
	return e.out
}

func (e *encoder) interval(samples []uint32) {
	if e.Flags&aec.PadRSI != 0 {
		for e.bits%8 != 0 {
			e.put(0, 1)
		}
	}
	padded := append([]uint32(nil), samples...)
	for len(padded)%e.BlockSize != 0 {
		padded = append(padded, padded[len(padded)-1])
	}
	values := padded
	ref := 0
	if e.Flags&aec.Preprocess != 0 {
		ref = 1
		values = e.differences(padded)
	}
	blocks := len(values) / e.BlockSize
	for b := 0; b < blocks; {
		b += e.block(values[b*e.BlockSize:], ref, b)
		ref = 0
	}
}

// differences maps each difference to a whole number that is small where the
// difference is (CCSDS 121.0-B-3, 4.2.4).
func (e *encoder) differences(x []uint32) []uint32 {
	top := int64(1)<<e.BitsPerSample - 1
	out := []uint32{x[0]}
	for i := 1; i < len(x); i++ {
		before := int64(x[i-1])
		delta := int64(x[i]) - before
		room := min(before, top-before)
		switch {
		case 0 <= delta && delta <= room:
			out = append(out, uint32(2*delta))
		case -room <= delta && delta < 0:
			out = append(out, uint32(-2*delta-1))
		default:
			out = append(out, uint32(room+max(delta, -delta)))
		}
	}
	return out
}

func (e *encoder) idBits() int {
	switch {
	case e.Flags&aec.Restricted != 0 && e.BitsPerSample <= 2:
		return 1
	case e.Flags&aec.Restricted != 0:
		return 2
	case e.BitsPerSample <= 8:
		return 3
	case e.BitsPerSample <= 16:
		return 4
	}
	return 5
}

// block writes the first block of values, or a run of zero blocks, and returns
// how many blocks it wrote.
func (e *encoder) block(values []uint32, ref, done int) int {
	idBits := e.idBits()
	all := uint64(1)<<idBits - 1
	block := values[:e.BlockSize]
	reference := func() {
		if ref == 1 {
			e.put(uint64(block[0]), e.BitsPerSample)
		}
	}
	type code struct {
		name  string
		write func() int
	}
	codes := []code{{"samples as they are", func() int {
		e.put(all, idBits)
		for _, v := range block {
			e.put(uint64(v), e.BitsPerSample)
		}
		return 1
	}}}

	zero := 0
	for zero*e.BlockSize < len(values) && allZero(values[max(ref, zero*e.BlockSize):(zero+1)*e.BlockSize]) {
		zero++
	}
	rest := min(e.RSI-done, 64-done%64)
	atEnd := zero*e.BlockSize == len(values) // of the interval or of the samples
	if zero = min(zero, rest); zero > 0 {
		codes = append(codes, code{"zero run", func() int {
			n := 1 + e.choose(min(zero, 63))
			e.put(0, idBits+1)
			reference()
			if n <= 4 {
				e.unary(uint32(n - 1))
			} else {
				e.unary(uint32(n))
			}
			return n
		}})
		if zero == rest || atEnd {
			codes = append(codes, code{"zero to the end", func() int {
				e.put(0, idBits+1)
				reference()
				e.unary(4)
				return zero
			}})
		}
	}

	var largest, pairSum uint64
	for i, v := range block {
		if i < ref {
			continue
		}
		largest = max(largest, uint64(v))
		if i%2 == 1 {
			first := uint64(block[i-1])
			if i == ref {
				first = 0
			}
			pairSum = max(pairSum, first+uint64(v))
		}
	}
	if pairSum <= 12 {
		codes = append(codes, code{"second extension", func() int {
			e.put(0, idBits)
			e.put(1, 1)
			reference()
			for i := 0; i < len(block); i += 2 {
				a, b := block[i], block[i+1]
				if i < ref {
					a = 0
				}
				e.unary((a+b)*(a+b+1)/2 + b)
			}
			return 1
		}})
	}
	for k := 0; k <= int(all)-2 && k <= e.BitsPerSample; k++ {
		if largest>>k > 200 {
			continue
		}
		codes = append(codes, code{"split", func() int {
			e.put(uint64(k+1), idBits)
			reference()
			for _, v := range block[ref:] {
				e.unary(v >> k)
			}
			for _, v := range block[ref:] {
				e.put(uint64(v)&(1<<k-1), k)
			}
			return 1
		}})
	}
	c := codes[e.choose(len(codes))]
	e.used[c.name]++
	return c.write()
}

func allZero(values []uint32) bool {
	for _, v := range values {
		if v != 0 {
			return false
		}
	}
	return true
}
