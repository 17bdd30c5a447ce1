package grib2

import (
	"errors"

	"forecastd/internal/fetch/grib2/jp2k"
)

func openJPEG2000(p *packing, data []byte, w *work) (unpacker, *Error) {
	picture, err := jp2k.Parse(data)
	if err != nil {
		return nil, jpegFault(err)
	}
	if cols, rows := picture.Width(), picture.Height(); uint64(cols)*uint64(rows) != uint64(p.coded) {
		return nil, fault(7, 6, "a JPEG2000 picture of %d × %d points for %d values", cols, rows, p.coded)
	}
	whole := func(buf []int32) ([]int32, error) {
		all := sized(buf, p.coded)
		return all, picture.Decode(all)
	}
	part := func(want []int, got []int32) error { return jpegPart(picture, want, got) }
	return &samples[int32]{whole: whole, part: part, buf: &w.signed, ref: p.ref, step: p.step}, nil
}

func jpegFault(err error) *Error {
	var outside *jp2k.UnsupportedError
	var broken *jp2k.SyntaxError
	switch {
	case errors.As(err, &outside):
		return unsupported(7, 6+outside.Offset, "JPEG2000: %s", outside.What)
	case errors.As(err, &broken):
		return fault(7, 6+broken.Offset, "JPEG2000: %s", broken.What)
	}
	return fault(7, 6, "%v", err)
}

// rectangle is a part of a picture; x1 and y1 are not in it.
type rectangle struct{ x0, y0, x1, y1 int }

// jpegPart decodes only what reaches the samples wanted, unless that is most
// of the picture.
func jpegPart(picture *jp2k.Image, want []int, got []int32) error {
	w, h := picture.Width(), picture.Height()
	parts, of := cover(want, w)
	// What one small part costs, in samples: a code block or two of each band of
	// six resolutions. In a picture of one row they are 64 samples long, else
	// 64 × 64.
	cost := 16 * 64
	if h > 1 {
		cost *= 64
	}
	if len(parts)*cost > w*h {
		parts = []rectangle{{0, 0, w, h}}
		clear(of)
	}
	pixels := make([][]int32, len(parts))
	for i, r := range parts {
		pixels[i] = make([]int32, (r.x1-r.x0)*(r.y1-r.y0))
		if err := picture.Region(r.x0, r.y0, r.x1, r.y1, pixels[i]); err != nil {
			return err
		}
	}
	for i, k := range want {
		r := parts[of[i]]
		got[i] = pixels[of[i]][(k/w-r.y0)*(r.x1-r.x0)+k%w-r.x0]
	}
	return nil
}

// cover finds small parts of a picture that hold the samples at ascending
// indices, and tells which part each sample is of.
func cover(want []int, width int) (parts []rectangle, of []int) {
	const most, back = 32, 8 // the longest side, how many parts to try
	of = make([]int, len(want))
next:
	for n, k := range want {
		x, y := k%width, k/width
		for i := len(parts) - 1; i >= max(0, len(parts)-back); i-- {
			r := parts[i]
			r = rectangle{min(r.x0, x), r.y0, max(r.x1, x+1), y + 1}
			if r.x1-r.x0 <= most && r.y1-r.y0 <= most {
				parts[i], of[n] = r, i
				continue next
			}
		}
		of[n] = len(parts)
		parts = append(parts, rectangle{x, y, x + 1, y + 1})
	}
	return parts, of
}
