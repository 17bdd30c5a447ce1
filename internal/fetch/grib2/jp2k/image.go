// Package jp2k decodes the part of JPEG2000 (ISO/IEC 15444-1) that GRIB2 data
// representation template 5.40 is made of: a raw code stream of one component
// of unsigned samples in one tile and one layer, with the reversible 5/3
// wavelet and plain code blocks. Whatever lies outside is refused by name.
//
// An image is parsed once; any part of it is then decoded from the code blocks
// that reach that part. Values of a field with a bitmap form an image of one
// row, in which neighbouring coded values stand side by side.
//
// The package is pure: it reads no clock, does no I/O and keeps no state.
package jp2k

import "fmt"

const (
	// MaxSamples is the largest image, in samples, that Parse accepts. A few
	// octets can stand for a large image whose code blocks are all empty, so
	// the size of the source says little.
	MaxSamples = 40_000_000

	maxDepth  = 28      // bits a sample: the wavelet works in 32
	maxBlocks = 1 << 16 // in a precinct of a band
	maxPlanes = 30      // of magnitude, times two in 32 bits
)

// An Image is a parsed code stream. It may be used by several goroutines at
// the same time.
type Image struct {
	width, height, depth int
	data                 []byte // the packets
	resolutions          []resolution
}

// resolution is what a level of decomposition adds: the lowest has the band
// LL, the others HL, LH and HH.
type resolution struct {
	width, height int
	xp, yp        int // logarithms of a precinct's size in the bands
	across, down  int // precincts
	bands         []band
}

type band struct {
	orientation   orientation
	width, height int
	planes        int       // of magnitude
	xcb, ycb      int       // logarithms of a code block's size
	blocks        [][]block // by precinct, then row by row; nil where all are empty
}

// block is a code block's share of the data.
type block struct {
	at, length     uint32
	planes, passes uint8 // without passes the block is empty
}

// Parse reads the headers of a code stream and of its packets. It keeps src,
// which must not change as long as the image is used.
//
// The error is a *SyntaxError where src is damaged or cut short and an
// *UnsupportedError where it is outside the subset. Source: JPEG2000 annexes A
// and B.
func Parse(src []byte) (*Image, error) {
	h, packets, at, err := parseHeaders(src)
	if err != nil {
		return nil, err
	}
	m := &Image{width: h.width, height: h.height, depth: h.depth, data: packets}
	if err := m.layOut(h, at); err != nil {
		return nil, err
	}
	if err := m.packets(packets, at); err != nil {
		return nil, err
	}
	return m, nil
}

// Width is the number of columns.
func (m *Image) Width() int { return m.width }

// Height is the number of rows.
func (m *Image) Height() int { return m.height }

// layOut computes the bands and precincts of each resolution (JPEG2000 B.5 to
// B.7).
func (m *Image) layOut(h *header, at int) error {
	m.resolutions = make([]resolution, h.levels+1)
	packets := 0
	for r := range m.resolutions {
		res := &m.resolutions[r]
		down := h.levels - r
		res.width, res.height = halves(h.width, down), halves(h.height, down)
		res.xp, res.yp = int(h.precincts[r]&15), int(h.precincts[r]>>4)
		res.across, res.down = halves(res.width, res.xp), halves(res.height, res.yp)
		packets += res.across * res.down
		if packets > len(m.data) {
			return &SyntaxError{at, fmt.Sprintf("%d octets of data for more than as many packets", len(m.data))}
		}
		orientations := []orientation{ll}
		if r > 0 {
			orientations = []orientation{hl, lh, hh}
			res.xp--
			res.yp--
		}
		res.bands = make([]band, len(orientations))
		for i, o := range orientations {
			b := &res.bands[i]
			b.orientation = o
			b.width, b.height = res.width, res.height
			if r > 0 {
				b.width, b.height = (res.width+1)/2, (res.height+1)/2
				if o != lh {
					b.width = res.width / 2
				}
				if o != hl {
					b.height = res.height / 2
				}
			}
			b.xcb, b.ycb = min(h.xcb, res.xp), min(h.ycb, res.yp)
			var err error
			if b.planes, err = h.planes(max(0, 3*(r-1)+1) + i); err != nil {
				return err
			}
		}
	}
	return nil
}

// halves is n divided by two, rounded up, so many times.
func halves(n, times int) int { return (n-1)>>times + 1 }

// interval is half open: from is in, to is not.
type interval struct{ from, to int }

func (i interval) size() int   { return max(0, i.to-i.from) }
func (i interval) empty() bool { return i.from >= i.to }
func (i interval) clip(to interval) interval {
	return interval{max(i.from, to.from), min(i.to, to.to)}
}

// area is a rectangle of samples or, in grid, of code blocks.
type area struct{ x, y interval }

func (a area) empty() bool { return a.x.empty() || a.y.empty() }
func (a area) width() int  { return a.x.size() }
func (a area) height() int { return a.y.size() }
func (a area) count() int  { return a.x.size() * a.y.size() }
func (a area) clip(to area) area {
	return area{a.x.clip(to.x), a.y.clip(to.y)}
}

// precinct returns the code blocks of precinct p, counted over the whole band.
func (b *band) precinct(res *resolution, p int) area {
	samples := area{
		cell(p%res.across, res.xp).clip(interval{0, b.width}),
		cell(p/res.across, res.yp).clip(interval{0, b.height}),
	}
	return area{cells(samples.x, b.xcb), cells(samples.y, b.ycb)}
}

// cell is the nth interval of 2^log, cells the numbers of those that meet i.
func cell(n, log int) interval { return interval{n << log, (n + 1) << log} }
func cells(i interval, log int) interval {
	if i.empty() {
		return interval{}
	}
	return interval{i.from >> log, (i.to-1)>>log + 1}
}
