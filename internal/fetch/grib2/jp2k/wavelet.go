package jp2k

// need is what a resolution takes of the bands to give the samples out: low
// and high are the parts of the lower resolution and of the details, in each
// direction.
type need struct {
	out, low, high area
}

// reach returns which low and high coefficients the samples out of a row of n
// are made of. An even sample takes its low coefficient and the high ones on
// both sides, an odd one its high coefficient and the even samples on both
// sides.
func reach(out interval, n int) (low, high interval) {
	low = interval{out.from / 2, out.to/2 + 1}.clip(interval{0, (n + 1) / 2})
	high = interval{low.from - 1, low.to}.clip(interval{0, n / 2})
	return low, high
}

// wavelet undoes a level of the reversible 5/3 wavelet (JPEG2000 F.3): an even
// sample is its low coefficient less a quarter of the sum of the high ones
// beside it, an odd one its high coefficient and half the sum of the samples
// beside it. Rows are undone first, then columns; at the edges the row is
// mirrored.
type wavelet struct {
	line []int32
}

// batch is the number of columns that are undone together.
const batch = 16

// synthesise turns the bands in p, side by side and one below the other, into
// the samples n.out of a resolution of the given size.
func (w *wavelet) synthesise(p plane, n need, width, height int) {
	rows := n.low.height() + n.high.height()
	room := max(2*n.low.width()+1, batch*(2*n.low.height()+1))
	if cap(w.line) < room {
		w.line = make([]int32, room)
	}
	if width > 1 {
		for y := range rows {
			w.row(p.values[y*p.stride:], n.low.x, n.high.x, n.out.x, width)
		}
	}
	if height > 1 {
		for x := 0; x < n.out.width(); x += batch {
			w.columns(p.at(x, 0), min(batch, n.out.width()-x), n.low.y, n.high.y, n.out.y, height)
		}
	}
}

// row undoes one row of n samples in place.
func (w *wavelet) row(values []int32, low, high, out interval, n int) {
	lows := values[:low.size()]
	highs := values[low.size():][:high.size()]
	// line starts with the odd sample before the first even one.
	line := w.line[:2*len(lows)+1]
	next := 0
	before := highs[0] // mirrored, where the row starts here
	if high.from < low.from {
		next = 1
	}
	var even int32
	for i, v := range lows {
		after := before
		if next < len(highs) {
			after = highs[next]
			next++
		}
		last := even
		even = v - (before+after+2)>>2
		line[2*i] = before + (last+even)>>1
		line[2*i+1] = even
		before = after
	}
	line[2*len(lows)] = before + even // mirrored, where the row ends here
	start := 2*low.from - 1
	copy(values, line[out.from-start:out.to-start])
}

// columns undoes up to batch columns of n samples in place.
func (w *wavelet) columns(p plane, width int, low, high, out interval, n int) {
	start := 2*low.from - 1
	at := func(y int) []int32 { return w.line[batch*(y-start):][:batch] }
	for i := range low.size() {
		copy(at(2*(low.from+i)), p.values[i*p.stride:][:width])
	}
	for i := range high.size() {
		copy(at(2*(high.from+i)+1), p.values[(low.size()+i)*p.stride:][:width])
	}
	inside := func(y int) int {
		switch {
		case y < 0:
			return -y
		case y >= n:
			return 2*(n-1) - y
		}
		return y
	}
	for y := 2 * low.from; y < 2*low.to; y += 2 {
		a, b, v := at(inside(y-1)), at(inside(y+1)), at(y)
		for i := range v {
			v[i] -= (a[i] + b[i] + 2) >> 2
		}
	}
	for y := out.from | 1; y < out.to; y += 2 {
		a, b, v := at(y-1), at(inside(y+1)), at(y)
		for i := range v {
			v[i] += (a[i] + b[i]) >> 1
		}
	}
	for y := out.from; y < out.to; y++ {
		copy(p.values[(y-out.from)*p.stride:][:width], at(y))
	}
}
