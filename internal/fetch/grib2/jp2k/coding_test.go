package jp2k

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func drawEncoder(t *rapid.T) encoder {
	e := encoder{
		depth:       rapid.IntRange(1, 20).Draw(t, "depth"),
		levels:      rapid.IntRange(0, 7).Draw(t, "levels"),
		progression: byte(rapid.IntRange(0, 2).Draw(t, "progression")),
		ownInTile:   rapid.Bool().Draw(t, "own exponents"),
		tileParts:   rapid.IntRange(1, 3).Draw(t, "tile-parts"),
	}
	switch rapid.IntRange(0, 3).Draw(t, "shape") {
	case 0:
		e.width, e.height = rapid.IntRange(1, 700).Draw(t, "width"), 1
	case 1:
		e.width, e.height = 1, rapid.IntRange(1, 300).Draw(t, "height")
	default:
		e.width, e.height = rapid.IntRange(1, 90).Draw(t, "width"), rapid.IntRange(1, 90).Draw(t, "height")
	}
	e.xcb = rapid.IntRange(2, 10).Draw(t, "block width")
	e.ycb = rapid.IntRange(2, 12-max(2, e.xcb)).Draw(t, "block height")
	if rapid.Bool().Draw(t, "usual blocks") {
		e.xcb, e.ycb = 6, 6
	}
	if rapid.Bool().Draw(t, "precincts") {
		for r := range e.levels + 1 {
			least := min(r, 1)
			e.precincts = append(e.precincts, byte(rapid.IntRange(max(least, 3), 8).Draw(t, "x")|rapid.IntRange(max(least, 3), 8).Draw(t, "y")<<4))
		}
	}
	return e
}

// drawImage is smooth, sparse, constant or noise, so that all passes meet
// their kind of block.
func drawImage(t *rapid.T, e encoder) []int32 {
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
	top := int32(1)<<e.depth - 1
	out := make([]int32, e.width*e.height)
	kind := rapid.IntRange(0, 3).Draw(t, "kind")
	base := r.Int32N(top + 1)
	for i := range out {
		x, y := int32(i%e.width), int32(i/e.width)
		v := base
		switch kind {
		case 0:
			v = (x*x/9+y*y/5)/3 + r.Int32N(3)
		case 1:
			if r.IntN(40) == 0 {
				v = r.Int32N(top + 1)
			}
		case 2:
			v = r.Int32N(top + 1)
		}
		out[i] = v & top
	}
	return out
}

func TestDecodeUndoesTheEncoder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		e := drawEncoder(t)
		want := drawImage(t, e)
		src := e.encode(want)
		m, err := Parse(src)
		require.NoError(t, err)
		require.Equal(t, []int{e.width, e.height, e.depth}, []int{m.Width(), m.Height(), m.Depth()})
		got := make([]int32, len(want))
		require.NoError(t, m.Decode(got))
		require.Equal(t, want, got)

		x0, y0 := rapid.IntRange(0, e.width-1).Draw(t, "x0"), rapid.IntRange(0, e.height-1).Draw(t, "y0")
		x1, y1 := rapid.IntRange(x0+1, e.width).Draw(t, "x1"), rapid.IntRange(y0+1, e.height).Draw(t, "y1")
		part := make([]int32, (x1-x0)*(y1-y0))
		require.NoError(t, m.Region(x0, y0, x1, y1, part))
		for i, v := range part {
			x, y := x0+i%(x1-x0), y0+i/(x1-x0)
			require.Equal(t, want[y*e.width+x], v, "column %d row %d", x, y)
		}

		// A stream cut short is an error, not a shorter image: only the end
		// marker may be missing.
		cut := src[:rapid.IntRange(0, len(src)-3).Draw(t, "cut")]
		_, err = Parse(cut)
		require.Error(t, err)
	})
}

// Blocks whose last passes were dropped decode to something near: each
// coefficient is then off by less than its lowest coded plane.
func TestDecodeOfFewerPassesIsNear(t *testing.T) {
	e := encoder{width: 64, height: 48, depth: 12, levels: 3, xcb: 6, ycb: 6, drop: 6}
	want := make([]int32, e.width*e.height)
	for i := range want {
		x, y := i%e.width, i/e.width
		want[i] = int32(2000 + 20*x - 11*y + (x*y)%37)
	}
	m, err := Parse(e.encode(want))
	require.NoError(t, err)
	got := make([]int32, len(want))
	require.NoError(t, m.Decode(got))
	require.NotEqual(t, want, got)
	for i := range want {
		require.InDelta(t, want[i], got[i], 40)
	}
}

// BenchmarkGrid is a field without a bitmap, of the size of a global grid of
// one degree: made up, smooth with a little noise.
func BenchmarkGrid(b *testing.B) {
	e := encoder{width: 360, height: 181, depth: 12, levels: 5, xcb: 6, ycb: 6}
	samples := make([]int32, e.width*e.height)
	r := rand.New(rand.NewPCG(1, 2))
	for i := range samples {
		x, y := i%e.width, i/e.width
		samples[i] = int32(2000+1500*math.Sin(float64(x)/40)*math.Cos(float64(y)/30)) + r.Int32N(9)
	}
	src := e.encode(samples)
	m, err := Parse(src)
	require.NoError(b, err)
	b.Run("whole", func(b *testing.B) {
		b.SetBytes(int64(4 * len(samples)))
		for b.Loop() {
			if err := m.Decode(samples); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("four corners", func(b *testing.B) {
		for b.Loop() {
			if err := m.Region(100, 60, 102, 62, samples[:4]); err != nil {
				b.Fatal(err)
			}
		}
	})
}
