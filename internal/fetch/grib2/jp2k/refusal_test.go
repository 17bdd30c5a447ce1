package jp2k

import (
	"bytes"
	"encoding/binary"
	"runtime"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestParseRefusesByName(t *testing.T) {
	e := encoder{width: 40, height: 30, depth: 9, levels: 2, xcb: 4, ycb: 4, precincts: []uint8{0x55, 0x66, 0x66}}
	samples := make([]int32, e.width*e.height)
	for i := range samples {
		samples[i] = int32(i * i % 300)
	}
	good := e.encode(samples)
	_, err := Parse(good)
	require.NoError(t, err)

	// Offsets of what the segments say, from the two octets of their markers.
	find := func(marker uint16) int {
		return bytes.Index(good, binary.BigEndian.AppendUint16(nil, marker))
	}
	siz, cod, qcd, com, sot, sod := find(markerSIZ), find(markerCOD), find(markerQCD), find(markerCOM), find(markerSOT), find(markerSOD)
	set := func(at int, v ...byte) func([]byte) []byte {
		return func(b []byte) []byte {
			copy(b[at:], v)
			return b
		}
	}
	cut := func(n int) func([]byte) []byte { return func(b []byte) []byte { return b[:n] } }

	for _, c := range []struct {
		name        string
		change      func([]byte) []byte
		unsupported bool
		says        string
	}{
		{"nothing", cut(0), false, "octet 0: no start of a code stream (0xff4f)"},
		{"another format", set(0, 'G', 'R', 'I', 'B'), false, "octet 0: no start of a code stream (0xff4f)"},
		{"no size", set(siz+1, 0x64), false, "octet 2: no image size (SIZ) behind the start"},
		{"no samples", set(siz+6, 0, 0, 0, 0), false, "octet 2: an image of 0 by 30 samples"},
		{"absurd size", set(siz+6, 0x7f, 0xff, 0xff, 0xff, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0x7f, 0xff, 0xff, 0xff), true, "octet 2: not supported: an image of 2147483647 by 1 samples"},
		{"offset", set(siz+17, 1), true, "octet 2: not supported: an image or tile offset"},
		{"tiles", set(siz+22, 0, 0, 0, 20), true, "octet 2: not supported: an image of several tiles"},
		{"components", set(siz+39, 3), false, "octet 2: image size (SIZ) of 39 octets for 3 components"},
		{"signed", set(siz+40, 0x88), true, "octet 2: not supported: an image of signed samples"},
		{"deep", set(siz+40, 37), true, "octet 2: not supported: an image of 38 bits a sample"},
		{"subsampled", set(siz+41, 2), true, "octet 2: not supported: a subsampled image"},
		{"packet markers", set(cod+4, 3), true, "octet 45: not supported: packet markers (SOP, EPH)"},
		{"progression", set(cod+5, 3), true, "octet 45: not supported: progression order 3"},
		{"layers", set(cod+7, 2), true, "octet 45: not supported: an image of 2 layers"},
		{"component transform", set(cod+8, 1), true, "octet 45: not supported: a component transform"},
		{"levels", set(cod+9, 33), false, "octet 45: 33 decomposition levels, want at most 32"},
		{"large blocks", set(cod+10, 8, 8), false, "octet 45: code blocks of 2^10 by 2^10"},
		{"block style", set(cod+12, 0x20), true, "octet 45: not supported: code block style 0x20"},
		{"other wavelet", set(cod+13, 0), true, "octet 45: not supported: the irreversible wavelet (9/7)"},
		{"precinct of one sample", set(cod+15, 0x60), false, "octet 45: precincts of one sample at resolution 1"},
		{"too few precincts", set(cod+9, 3), false, "octet 45: 3 precinct sizes for 4 resolutions"},
		{"quantised", set(qcd+4, 0x41), true, "octet 62: not supported: quantisation"},
		{"many planes", set(qcd+5, 0xf8), true, "octet 0: not supported: a band of 32 bit planes"},
		{"region of interest", set(com+1, 0x5e), true, "octet 74: not supported: a region of interest (RGN)"},
		{"own coding style", set(com+1, 0x53), true, "octet 74: not supported: a component's own coding style (COC)"},
		{"unknown marker", set(com+1, 0x70), true, "octet 74: not supported: marker 0xff70"},
		{"segment too long", set(com+2, 0xff), false, "octet 74: marker segment 0xff64 of 65285 octets, 1297 are left"},
		{"second tile", set(sot+5, 1), false, "octet 81: tile 1 in an image of one tile"},
		{"tile-part too long", set(sot+6, 0x7f), false, "octet 81: a tile-part of 2130707722 octets, 1292 are left"},
		{"tile-part too short", set(sot+6, 0, 0, 0, 13), false, "octet 81: a tile-part shorter than its header"},
		{"no data", cut(sod), false, "octet 81: a tile-part of 1290 octets, 12 are left"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Parse(c.change(bytes.Clone(good)))
			if c.unsupported {
				require.ErrorAs(t, err, new(*UnsupportedError))
			} else {
				require.ErrorAs(t, err, new(*SyntaxError))
			}
			require.EqualError(t, err, "jpeg2000: "+c.says)
		})
	}
}

// A few octets may stand for a large image, all of whose blocks are empty. A
// look-up in it must not cost the image's memory.
func TestRegionOfALargeEmptyImage(t *testing.T) {
	e := encoder{width: 1, height: 1, depth: 8, levels: 0, xcb: 6, ycb: 6}
	src := e.encode([]int32{128})
	siz := bytes.Index(src, []byte{0xff, 0x51})
	for _, at := range []int{6, 22} {
		binary.BigEndian.PutUint32(src[siz+at:], 32_768)
		binary.BigEndian.PutUint32(src[siz+at+4:], 1_000)
	}
	m, err := Parse(src)
	require.NoError(t, err)
	var got [2]int32
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	require.NoError(t, m.Region(20_000, 500, 20_002, 501, got[:]))
	runtime.ReadMemStats(&after)
	require.Equal(t, [2]int32{128, 128}, got)
	require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(1<<20))

	require.EqualError(t, m.Region(0, 0, 32_769, 1, nil), "jpeg2000: columns 0 to 32769 of rows 0 to 1 are not in an image of 32768 by 1000")
	require.EqualError(t, m.Region(0, 0, 3, 1, got[:]), "jpeg2000: room for 2 samples, want 3")
	require.Error(t, m.Region(5, 0, 5, 1, nil))
}
