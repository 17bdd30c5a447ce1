package jp2k

import "fmt"

// Decode fills dst with all samples, row by row; its length must be width
// times height.
func (m *Image) Decode(dst []int32) error {
	return m.Region(0, 0, m.width, m.height, dst)
}

// Region fills dst with the samples of the columns x0 to x1-1 of the rows y0
// to y1-1, row by row. It decodes only the code blocks that reach them, and
// its memory grows with the region, not with the image.
//
// The error says that the region is not inside the image or that dst has not
// its size. Damaged code blocks cannot be told from sound ones: they yield
// wrong samples, which still lie within the depth. Source: JPEG2000 annexes D
// and F.
func (m *Image) Region(x0, y0, x1, y1 int, dst []int32) error {
	want := area{interval{x0, x1}, interval{y0, y1}}
	if x0 < 0 || y0 < 0 || x1 > m.width || y1 > m.height || want.empty() {
		return fmt.Errorf("jpeg2000: columns %d to %d of rows %d to %d are not in an image of %d by %d", x0, x1, y0, y1, m.width, m.height)
	}
	if len(dst) != want.count() {
		return fmt.Errorf("jpeg2000: room for %d samples, want %d", len(dst), want.count())
	}

	// From the highest resolution down: what each needs of its bands.
	needs := make([]need, len(m.resolutions))
	width, height := want.width(), want.height()
	for r, out := len(needs)-1, want; r >= 0; r-- {
		n := &needs[r]
		n.out = out
		if r == 0 {
			n.low = out
		} else {
			n.low.x, n.high.x = reach(out.x, m.resolutions[r].width)
			n.low.y, n.high.y = reach(out.y, m.resolutions[r].height)
			out = n.low
		}
		width = max(width, n.low.width()+n.high.width())
		height = max(height, n.low.height()+n.high.height())
	}

	p := plane{dst, width}
	if width*height != len(dst) {
		p.values = make([]int32, width*height)
	}
	var c coder
	var w wavelet
	for r := range needs {
		n, res := needs[r], &m.resolutions[r]
		for i := range res.bands {
			b := &res.bands[i]
			from := area{n.low.x, n.low.y}
			x, y := 0, 0
			if b.orientation == hl || b.orientation == hh {
				from.x, x = n.high.x, n.low.width()
			}
			if b.orientation == lh || b.orientation == hh {
				from.y, y = n.high.y, n.low.height()
			}
			if !from.empty() {
				m.band(&c, res, b, from, p.at(x, y))
			}
		}
		if r > 0 {
			w.synthesise(p, n, res.width, res.height)
		}
	}

	half, top := int32(1)<<(m.depth-1), int32(1)<<m.depth-1
	for y := range want.height() {
		row := p.values[y*p.stride:][:want.width()]
		out := dst[y*want.width():][:len(row)]
		for i, v := range row {
			out[i] = min(max(v+half, 0), top)
		}
	}
	return nil
}

// plane is a part of a grid of values: the first at the top left.
type plane struct {
	values []int32
	stride int
}

func (p plane) at(x, y int) plane {
	return plane{p.values[y*p.stride+x:], p.stride}
}

// band writes a part of a band into p.
func (m *Image) band(c *coder, res *resolution, b *band, part area, p plane) {
	for y := range part.height() {
		clear(p.values[y*p.stride:][:part.width()])
	}
	if b.blocks == nil {
		return
	}
	px, py := cells(part.x, res.xp), cells(part.y, res.yp)
	for y := py.from; y < py.to; y++ {
		for x := px.from; x < px.to; x++ {
			index := y*res.across + x
			blocks := b.blocks[index]
			if blocks == nil {
				continue
			}
			all := b.precinct(res, index)
			todo := area{cells(part.x, b.xcb), cells(part.y, b.ycb)}.clip(all)
			for by := todo.y.from; by < todo.y.to; by++ {
				for bx := todo.x.from; bx < todo.x.to; bx++ {
					k := &blocks[(by-all.y.from)*all.width()+bx-all.x.from]
					if k.passes == 0 {
						continue
					}
					samples := area{cell(bx, b.xcb), cell(by, b.ycb)}.clip(area{interval{0, b.width}, interval{0, b.height}})
					c.block(m.data[k.at:k.at+k.length], samples, k, b.orientation)
					c.copy(p, part, samples)
				}
			}
		}
	}
}

// block decodes one code block.
func (c *coder) block(src []byte, samples area, k *block, o orientation) {
	if width, height := samples.width(), samples.height(); height == 1 && width <= 64 {
		c.decodeLine(src, width, int(k.planes), int(k.passes), o)
	} else {
		c.decode(src, width, height, int(k.planes), int(k.passes), o)
	}
}

// copy writes what part has of the decoded samples into p, which starts at
// part's first.
func (c *coder) copy(p plane, part, samples area) {
	both := samples.clip(part)
	for y := both.y.from; y < both.y.to; y++ {
		row := p.values[(y-part.y.from)*p.stride+both.x.from-part.x.from:][:both.width()]
		x := both.x.from - samples.x.from
		if c.stripes == 0 {
			for i, v := range c.values[x:][:len(row)] {
				row[i] = v / 2
			}
			continue
		}
		line := y - samples.y.from
		values := c.values[4*c.width*(line/4)+4*x+line%4:]
		for i := range row {
			row[i] = values[4*i] / 2
		}
	}
}
