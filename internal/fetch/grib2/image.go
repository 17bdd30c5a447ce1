package grib2

import (
	"bytes"
	"errors"
	"image"
	"image/png"

	"forecastd/internal/fetch/grib2/aec"
)

// samples unpacks the templates whose code streams yield whole numbers: 5.40,
// 5.41 and 5.42.
type samples[T int32 | uint32] struct {
	// whole reads all samples, into buf if it is long enough.
	whole func(buf []T) ([]T, error)
	// part reads the samples at ascending indices.
	part      func(want []int, got []T) error
	buf       *[]T // memory to use again
	left      []T  // of whole, what next has not passed on yet
	ref, step float64
}

func openImage(p *packing, data []byte, w *work) (unpacker, *Error) {
	if bad := backed(p.coded, len(data)); bad != nil {
		return nil, bad
	}
	switch p.template {
	case 40:
		return openJPEG2000(p, data, w)
	case 41:
		return &samples[uint32]{
			whole: func(buf []uint32) ([]uint32, error) { return pngSamples(buf, data, p.coded) },
			part:  prefix(func(int) ([]uint32, error) { return pngSamples(nil, data, p.coded) }),
			buf:   &w.unsigned, ref: p.ref, step: p.step,
		}, nil
	}
	return &samples[uint32]{
		whole: func(buf []uint32) ([]uint32, error) { return ccsdsSamples(buf, data, p.coded, p) },
		part:  prefix(func(n int) ([]uint32, error) { return ccsdsSamples(nil, data, n, p) }),
		buf:   &w.unsigned, ref: p.ref, step: p.step,
	}, nil
}

// prefix makes a part of a stream that can only be read from its beginning.
func prefix(first func(n int) ([]uint32, error)) func(want []int, got []uint32) error {
	return func(want []int, got []uint32) error {
		all, err := first(want[len(want)-1] + 1)
		if err != nil {
			return err
		}
		for i, k := range want {
			got[i] = all[k]
		}
		return nil
	}
}

func (u *samples[T]) mayMiss() bool { return false }

func (u *samples[T]) next(dst []float64, _ mask) error {
	if u.left == nil {
		all, err := u.whole(*u.buf)
		if err != nil {
			return err
		}
		*u.buf, u.left = all, all
	}
	u.scale(dst, u.left[:len(dst)])
	u.left = u.left[len(dst):]
	return nil
}

func (u *samples[T]) pick(want []int, dst []float64, _ mask) error {
	if len(want) == 0 {
		return nil
	}
	got := make([]T, len(want))
	if err := u.part(want, got); err != nil {
		return err
	}
	u.scale(dst, got)
	return nil
}

func (u *samples[T]) scale(dst []float64, src []T) {
	ref, step := u.ref, u.step
	dst = dst[:len(src)]
	for i, v := range src {
		dst[i] = ref + float64(int64(v))*step
	}
}

// sized returns room for n samples, buf's if it is enough.
func sized[T any](buf []T, n int) []T {
	if cap(buf) >= n {
		return buf[:n]
	}
	return make([]T, n)
}

func ccsdsSamples(buf []uint32, data []byte, n int, p *packing) ([]uint32, error) {
	dst := sized(buf, n)
	err := aec.Decode(dst, data, aec.Params{
		BitsPerSample: p.bits, BlockSize: p.ccsds.block, RSI: p.ccsds.interval, Flags: aec.Flags(p.ccsds.flags),
	})
	var param *aec.ParamError
	switch {
	case errors.As(err, &param):
		e := fault(5, 22, "CCSDS parameters")
		e.Err = err
		return nil, e
	case err != nil:
		e := fault(7, 6, "CCSDS code stream")
		e.Err = err
		return nil, e
	}
	return dst, nil
}

// pngSamples reads the picture of template 5.41. The depth of a sample is the
// picture's own: some writers state another in section 5.
func pngSamples(buf []uint32, data []byte, n int) ([]uint32, error) {
	broken := func(err error) error {
		e := fault(7, 6, "PNG picture")
		e.Err = err
		return e
	}
	head, err := png.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, broken(err)
	}
	if head.Width <= 0 || head.Height <= 0 || head.Width > n || head.Width*head.Height != n {
		return nil, fault(7, 6, "a PNG picture of %d × %d points for %d values", head.Width, head.Height, n)
	}
	picture, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, broken(err)
	}
	const depthOctet = 25 // of the PNG stream, in its IHDR chunk
	out := sized(buf, n)[:0]
	w, h := head.Width, head.Height
	switch m := picture.(type) {
	case *image.Gray:
		// Samples of fewer than 8 bits come stretched to the full range.
		stretch := map[byte]uint32{1: 255, 2: 85, 4: 17}[data[depthOctet-1]]
		for y := range h {
			for _, v := range m.Pix[y*m.Stride : y*m.Stride+w] {
				if stretch > 0 {
					out = append(out, uint32(v)/stretch)
				} else {
					out = append(out, uint32(v))
				}
			}
		}
	case *image.Gray16:
		for y := range h {
			row := m.Pix[y*m.Stride : y*m.Stride+2*w]
			for i := 0; i < len(row); i += 2 {
				out = append(out, uint32(row[i])<<8|uint32(row[i+1]))
			}
		}
	case *image.RGBA: // what Go makes of 24-bit colour
		for y := range h {
			row := m.Pix[y*m.Stride : y*m.Stride+4*w]
			for i := 0; i < len(row); i += 4 {
				out = append(out, uint32(row[i])<<16|uint32(row[i+1])<<8|uint32(row[i+2]))
			}
		}
	case *image.NRGBA:
		for y := range h {
			row := m.Pix[y*m.Stride : y*m.Stride+4*w]
			for i := 0; i < len(row); i += 4 {
				out = append(out, uint32(row[i])<<24|uint32(row[i+1])<<16|uint32(row[i+2])<<8|uint32(row[i+3]))
			}
		}
	default:
		return nil, unsupported(7, 6, "a PNG picture of %T", picture)
	}
	return out, nil
}
