package grib2

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// The readers by the word must agree with bitsAt, and that with the octets read
// as one number, bit after bit.
func TestReadersOfBitsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Octets of all ones and zeros make values that are all ones likely.
		octet := rapid.OneOf(rapid.Just(byte(0xff)), rapid.Just(byte(0)), rapid.Byte())
		b := rapid.SliceOfN(octet, 8, 40).Draw(t, "octets")
		pos := rapid.UintRange(0, 7).Draw(t, "position")
		width := rapid.UintRange(1, maxWidth).Draw(t, "width")
		n := (len(b)*8 - int(pos)) / int(width)

		want := make([]int64, n)
		for i := range want {
			for k := pos + uint(i)*width; k < pos+uint(i+1)*width; k++ {
				want[i] = want[i]<<1 | int64(b[k>>3]>>(7-k&7)&1)
			}
			require.EqualValues(t, want[i], bitsAt(b, pos+uint(i)*width, width))
		}
		got := make([]int64, n+spill)
		unpackInts(got, n, b, pos, width, 0)
		require.Equal(t, want, got[:n])

		if width > maxWidthBy4 {
			return
		}
		w := load(b, pos)
		v0, v1, v2, v3 := four(w, width)
		first := []int64{v0, v1, v2, v3}
		n = min(n, 4)
		require.Equal(t, want[:n], first[:n])
		low, high := edges(width)
		full := int64(1)<<width - 1
		require.Equal(t, v0 == full || v1 == full || v2 == full || v3 == full, anyFull(w, low, high))
		// With the lowest bits set, the last value but one counts as well.
		require.Equal(t, v0|1 == full || v1|1 == full || v2|1 == full || v3|1 == full, anyFull(w|low, low, high))
	})
}
