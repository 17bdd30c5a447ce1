// Package aec decodes the lossless adaptive entropy coding of CCSDS 121.0-B-3
// (2020), as GRIB2 data representation template 5.42 uses it.
//
// A stream is a row of reference sample intervals, each of a fixed number of
// blocks. Every block says which of five codes is the shortest for it: a run
// of zero blocks, the second extension, a unary part with k low bits, or the
// samples as they are. With preprocessing, an interval starts with one sample
// as it is and goes on with mapped differences.
//
// The package is pure: it reads no clock, does no I/O and keeps no state.
package aec

import "fmt"

// Flags are the options of template 5.42, octet 22, with the values of the
// libaec interface that the template adopts.
type Flags uint8

// Signed, ThreeByte, MSB and so on are the bits of Flags. ThreeByte and MSB
// describe the buffer of samples beside the coder, which here holds whole
// numbers: they change nothing. Signed is refused.
const (
	Signed     Flags = 1 << iota // samples are signed
	ThreeByte                    // samples of 17 to 24 bits lie in three octets
	MSB                          // samples lie most significant octet first
	Preprocess                   // differences of neighbours are coded
	Restricted                   // the small set of codes, up to 4 bits
	PadRSI                       // every interval starts at a whole octet
	NotEnforce                   // any even block size is allowed
)

// Params describe a stream.
type Params struct {
	BitsPerSample int   // 1 to 32 (octet 20)
	BlockSize     int   // samples in a block: 8, 16, 32 or 64 (octet 23)
	RSI           int   // blocks in a reference sample interval, 1 to 4096 (octets 24-25)
	Flags         Flags // octet 22
}

// A ParamError says which parameter lies outside what is decoded.
type ParamError struct{ What string }

// Error tells the parameter.
func (e *ParamError) Error() string { return "aec: " + e.What }

// A StreamError says where the coded bits make no sense.
type StreamError struct {
	Bit  int // position in the stream, from 0
	What string
}

// Error tells octet and bit.
func (e *StreamError) Error() string {
	return fmt.Sprintf("aec: octet %d bit %d: %s", e.Bit/8, e.Bit%8, e.What)
}

// Decode fills dst with the first len(dst) samples of src. The stream may hold
// more: decoding stops with the block that holds the last sample wanted, so a
// caller who needs sample i alone passes a dst of i+1. It allocates nothing
// that grows with src.
//
// Errors are a *ParamError or a *StreamError; dst then holds no useful values.
// Source: CCSDS121.
func Decode(dst []uint32, src []byte, p Params) error {
	if err := p.check(); err != nil {
		return err
	}
	d := decoder{
		Params: p,
		reader: reader{src: src, end: 8 * len(src)},
		idBits: p.idBits(),
		max:    uint32(1<<p.BitsPerSample - 1),
	}
	for size := p.RSI * p.BlockSize; len(dst) > size; dst = dst[size:] {
		if err := d.interval(dst[:size]); err != nil {
			return err
		}
	}
	return d.interval(dst)
}

func (p Params) check() error {
	switch {
	case p.BitsPerSample < 1 || p.BitsPerSample > 32:
		return &ParamError{fmt.Sprintf("%d bits a sample, want 1 to 32", p.BitsPerSample)}
	case p.Flags&Signed != 0:
		return &ParamError{"signed samples are not decoded"}
	case p.Flags&Restricted != 0 && p.BitsPerSample > 4:
		return &ParamError{fmt.Sprintf("restricted codes with %d bits a sample, want 1 to 4", p.BitsPerSample)}
	case p.RSI < 1 || p.RSI > 4096:
		return &ParamError{fmt.Sprintf("reference sample interval of %d blocks, want 1 to 4096", p.RSI)}
	}
	switch p.BlockSize {
	case 8, 16, 32, 64:
		return nil
	}
	if p.Flags&NotEnforce != 0 && p.BlockSize >= 2 && p.BlockSize <= maxBlock && p.BlockSize%2 == 0 {
		return nil
	}
	return &ParamError{fmt.Sprintf("block size %d, want 8, 16, 32 or 64", p.BlockSize)}
}

// idBits is the length of a block's option code.
func (p Params) idBits() int {
	switch restricted := p.Flags&Restricted != 0; {
	case restricted && p.BitsPerSample <= 2:
		return 1
	case restricted:
		return 2
	case p.BitsPerSample <= 8:
		return 3
	case p.BitsPerSample <= 16:
		return 4
	default:
		return 5
	}
}

const maxBlock = 254 // one octet holds the block size, which is even
