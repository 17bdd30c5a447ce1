package aec

import (
	"fmt"
	"math/bits"
)

type decoder struct {
	Params
	reader
	idBits int
	max    uint32           // largest sample
	last   uint32           // the sample before, where differences are coded, else 0
	spill  [maxBlock]uint32 // the block that dst ends within
}

// interval decodes one reference sample interval, or its beginning.
func (d *decoder) interval(dst []uint32) error {
	if d.Flags&PadRSI != 0 {
		d.pos = (d.pos + 7) &^ 7
	}
	ref := 0 // 1: the block starts with a sample as it is
	if d.Flags&Preprocess != 0 {
		ref = 1
	}
	d.last = 0
	for done := 0; len(dst) > 0; ref = 0 {
		block := d.spill[:d.BlockSize]
		if len(dst) >= d.BlockSize {
			block = dst[:d.BlockSize]
		}
		run, err := d.block(block, ref, done)
		if err != nil {
			return err
		}
		if len(dst) < d.BlockSize {
			copy(dst, block)
			return nil
		}
		done += run
		dst = dst[d.BlockSize:]
		if run > 1 {
			zero := dst[:min(len(dst), (run-1)*d.BlockSize)]
			for i := range zero {
				zero[i] = d.last
			}
			dst = dst[len(zero):]
		}
	}
	return nil
}

// block decodes the next block into dst, which is as long as a block: ref
// samples as they are, then the rest. It returns how many blocks the code
// stands for; those after the first are all zero.
func (d *decoder) block(dst []uint32, ref, done int) (run int, err error) {
	start := d.pos
	id := int(d.take(d.idBits))
	run = 1
	switch {
	case id == 1<<d.idBits-1:
		clear(dst)
		d.low(dst, d.BitsPerSample)
		if ref == 1 {
			d.last = dst[0]
		}
		d.undo(dst[ref:])
	case id == 0 && d.take(1) == 0:
		d.reference(dst, ref)
		for i := ref; i < len(dst); i++ {
			dst[i] = d.last
		}
		run, err = d.zeroRun(start, done)
	case id == 0:
		d.reference(dst, ref)
		err = d.secondExtension(dst, ref, start)
		d.undo(dst[ref:])
	default:
		d.reference(dst, ref)
		err = d.split(dst[ref:], id-1, start)
	}
	if err == nil && d.pos > d.end {
		err = d.ends()
	}
	return run, err
}

func (d *decoder) reference(dst []uint32, ref int) {
	if ref == 1 {
		d.last = d.take(d.BitsPerSample)
		dst[0] = d.last
	}
}

// zeroRun reads how many zero blocks follow each other (CCSDS121): the
// fifth code stands for all blocks up to the end of the interval or of its
// current stretch of 64.
func (d *decoder) zeroRun(start, done int) (int, error) {
	const toTheEnd = 5
	var count [1]uint32
	if _, ok := d.unary(count[:]); !ok {
		return 0, d.ends()
	}
	left := d.RSI - done
	run := int(count[0]) + 1
	switch {
	case run == toTheEnd:
		return min(left, 64-done%64), nil
	case run > toTheEnd:
		run--
	}
	if run > left {
		return 0, &StreamError{start, fmt.Sprintf("a run of %d zero blocks where the interval has %d left", run, left)}
	}
	return run, nil
}

// secondExtension reads pairs of small values (CCSDS121): a count m
// stands for the pair whose sum b is the largest with b(b+1)/2 <= m, and whose
// second value is what remains. Where the block starts with a sample as it is,
// the first pair's first value is only filler.
func (d *decoder) secondExtension(dst []uint32, ref, start int) error {
	pairs := dst[len(dst)/2:]
	if _, ok := d.unary(pairs); !ok {
		return d.ends()
	}
	var union uint32
	for i, m := range pairs {
		if m > maxPair {
			return &StreamError{start, fmt.Sprintf("a second extension code of %d zeros, want at most %d", m, maxPair)}
		}
		sum := pairSums[m]
		second := m - sum*(sum+1)/2
		// pairs[i] lies at or behind both: it is read before it is overwritten.
		if i > 0 || ref == 0 {
			dst[2*i] = sum - second
			union |= sum - second
		}
		dst[2*i+1] = second
		union |= second
	}
	if union > d.max {
		return &StreamError{start, fmt.Sprintf("a difference that does not fit %d bits", d.BitsPerSample)}
	}
	return nil
}

// maxPair is the largest second extension code: the sum 12, as far as the
// tables of the reference coder reach. A longer code is never the shortest.
const maxPair = 90

var pairSums = func() (sums [maxPair + 1]uint32) {
	for m := range sums {
		for b := uint32(0); b*(b+1)/2 <= uint32(m); b++ {
			sums[m] = b
		}
	}
	return sums
}()

// split reads values whose k low bits stand apart (CCSDS121): first the
// unary high parts of all, then the low parts.
func (d *decoder) split(dst []uint32, k, start int) error {
	if k > d.BitsPerSample {
		return &StreamError{start, fmt.Sprintf("%d low bits in samples of %d bits", k, d.BitsPerSample)}
	}
	union, ok := d.unary(dst)
	if !ok {
		return d.ends()
	}
	if union > d.max>>k {
		return &StreamError{start, fmt.Sprintf("a value that does not fit %d bits", d.BitsPerSample)}
	}
	switch {
	case d.Flags&Preprocess == 0:
		d.low(dst, k)
	case k > 0:
		d.lowDifferences(dst, k)
	default:
		d.low(dst, k)
		d.undo(dst)
	}
	return nil
}

func (d *decoder) ends() error {
	return &StreamError{d.end, "the stream ends inside a block"}
}

// undo turns mapped differences into samples in place, where differences are
// coded.
func (d *decoder) undo(block []uint32) {
	if d.Flags&Preprocess == 0 {
		return
	}
	x, half, top := d.last, d.max/2+1, d.max
	for i, e := range block {
		x = step(x, e, half, top)
		block[i] = x
	}
	d.last = x
}

// lowDifferences is low and undo in one go, for k of 1 and more.
func (d *decoder) lowDifferences(block []uint32, k int) {
	for each := 57 / k; len(block) > 0; {
		group := block[:min(each, len(block))]
		block = block[len(group):]
		d.last = group57(group, d.word(d.pos), k, d.last, d.max)
		d.pos += k * len(group)
	}
}

// group57 ends as many values as a word is sure to hold: w holds their k low
// bits each, from the left, and x is the sample before.
func group57(group []uint32, w uint64, k int, x, top uint32) uint32 {
	mask, half := uint32(1)<<k-1, top/2+1
	for i, e := range group {
		w = bits.RotateLeft64(w, k)
		x = step(x, e<<(k&31)|uint32(w)&mask, half, top)
		group[i] = x
	}
	return x
}

// step returns the sample after x by the mapped difference e (CCSDS121, the
// prediction error mapper): small codes alternate around x as far as both
// sides have room, larger ones run on to the far side. Half is the first
// sample of the upper half, top the largest.
func step(x, e, half, top uint32) uint32 {
	var flip uint32 // top where x lies in the upper half
	if x >= half {
		flip = top
	}
	if room := x ^ flip; e > room<<1 {
		return e ^ flip
	}
	return x + (e>>1 ^ -(e & 1))
}
