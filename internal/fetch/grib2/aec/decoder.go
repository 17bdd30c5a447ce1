package aec

import "fmt"

type decoder struct {
	Params
	reader
	idBits int
	max    uint32           // largest sample
	spill  [maxBlock]uint32 // the block that dst ends within
}

// interval decodes one reference sample interval, or its beginning.
func (d *decoder) interval(dst []uint32) error {
	if d.Flags&PadRSI != 0 {
		d.pos = (d.pos + 7) &^ 7
	}
	var (
		differences = d.Flags&Preprocess != 0
		fill        uint32     // what a zero block leaves in each sample
		ref         = 0        // 1: the block starts with a sample as it is
		blocks      = 0        // done
		rest        = len(dst) // samples to do
	)
	if differences {
		ref = 1
	}
	for rest > 0 {
		out := dst[len(dst)-rest:]
		block := out
		if rest >= d.BlockSize {
			block = out[:d.BlockSize]
		} else {
			block = d.spill[:d.BlockSize]
		}
		run, err := d.block(block, ref, blocks)
		if err != nil {
			return err
		}
		if differences {
			if ref == 1 {
				fill = block[0]
			}
			fill = undo(block[ref:], fill, d.BitsPerSample)
			ref = 0
		}
		if rest < d.BlockSize {
			copy(out, block)
		}
		blocks += run
		rest -= d.BlockSize
		if run > 1 && rest > 0 {
			out = dst[len(dst)-rest:]
			out = out[:min(rest, (run-1)*d.BlockSize)]
			for i := range out {
				out[i] = fill
			}
			rest -= len(out)
		}
	}
	return nil
}

// block decodes the next block into dst, which is as long as a block: ref
// samples as they are, then differences. It returns how many blocks the code
// stands for; those after the first are all zero.
func (d *decoder) block(dst []uint32, ref, done int) (run int, err error) {
	start := d.pos
	run = 1
	id := d.take(d.idBits)
	switch last := uint32(1<<d.idBits - 1); {
	case id == last:
		clear(dst)
		d.appendLow(dst, d.BitsPerSample)
	case id == 0 && d.take(1) == 0:
		d.reference(dst, ref)
		clear(dst[ref:])
		run, err = d.zeroRun(start, done)
	case id == 0:
		d.reference(dst, ref)
		err = d.secondExtension(dst, ref, start)
	case int(id)-1 > d.BitsPerSample:
		err = &StreamError{start, fmt.Sprintf("%d low bits in samples of %d bits", id-1, d.BitsPerSample)}
	default:
		d.reference(dst, ref)
		err = d.split(dst[ref:], int(id)-1, start)
	}
	if err == nil && d.pos > d.end {
		err = d.ends()
	}
	return run, err
}

func (d *decoder) reference(dst []uint32, ref int) {
	if ref == 1 {
		dst[0] = d.take(d.BitsPerSample)
	}
}

// zeroRun reads how many zero blocks follow each other (CCSDS121 3.5.3): the
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

// secondExtension reads pairs of small values (CCSDS121 3.5.2): a count m
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

// split reads values whose k low bits stand apart (CCSDS121 3.5.1): first the
// unary high parts of all, then the low parts.
func (d *decoder) split(dst []uint32, k, start int) error {
	union, ok := d.unary(dst)
	if !ok {
		return d.ends()
	}
	if union > d.max>>k {
		return &StreamError{start, fmt.Sprintf("a value that does not fit %d bits", d.BitsPerSample)}
	}
	if k > 0 {
		d.appendLow(dst, k)
	}
	return nil
}

func (d *decoder) ends() error {
	return &StreamError{d.end, "the stream ends inside a block"}
}

// undo turns mapped differences into samples in place (CCSDS121 4.2), after
// the sample x; it returns the last sample. Small codes alternate around x
// as far as both sides have room, larger ones run on to the far side.
func undo(block []uint32, x uint32, bits int) uint32 {
	var (
		top  = uint32(1<<bits - 1)
		half = uint32(1) << (bits - 1)
	)
	for i, e := range block {
		var flip uint32 // top where x lies in the upper half
		if x&half != 0 {
			flip = top
		}
		if room := x ^ flip; e>>1+e&1 <= room {
			x += e>>1 ^ -(e & 1)
		} else {
			x = e ^ flip
		}
		block[i] = x
	}
	return x
}
