package jp2k_test

import (
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/fetch/grib2/jp2k"
	"forecastd/internal/testdata"
)

// codeStreams returns the code streams of a GRIB2 file's messages, template
// 5.40, by a walk over the sections.
func codeStreams(t testing.TB, file []byte) [][]byte {
	var out [][]byte
	for at := 16; at < len(file); {
		if string(file[at:at+4]) == "7777" {
			at += 4 + 16 // and the next message's section 0
			continue
		}
		n := int(binary.BigEndian.Uint32(file[at:]))
		body := file[at : at+n]
		switch body[4] {
		case 5:
			require.EqualValues(t, 40, binary.BigEndian.Uint16(body[9:]))
		case 7:
			out = append(out, body[5:])
		}
		at += n
	}
	return out
}

func realStreams(t testing.TB, name string) [][]byte {
	file, err := os.ReadFile(filepath.Join(testdata.Dir(t, "grib"), name))
	require.NoError(t, err)
	return codeStreams(t, file)
}

func fnv(samples []int32) uint64 {
	h := uint64(14695981039346656037)
	for _, v := range samples {
		for shift := 24; shift >= 0; shift -= 8 {
			h = (h ^ uint64(byte(v>>shift))) * 1099511628211
		}
	}
	return h
}

const (
	waveFile = "real/gfswave_atlocn_0p16_20230823t18z_f001__jpeg2000_bitmap_19msg.grib2"
	windFile = "real/gdaswave_wcoast_wind_1msg__jpeg2000_bitmap_15kB.grib2"
)

// Real fields with a bitmap: images of one row. The sums are those of ecCodes
// 2.28 (OpenJPEG 2.5): its codedValues turned back into whole numbers by the
// message's scaling, the largest distance from one being 4e-12; FNV-1a over
// the samples as four octets, big-endian.
func TestDecodeRealFields(t *testing.T) {
	for _, c := range []struct {
		file    string
		message int
		n       int
		sum     uint64
	}{
		{waveFile, 1, 29419, 0x8b823ad7e4ff01a},
		{waveFile, 2, 29419, 0xe0797069611614e0},
		{waveFile, 3, 29419, 0x9a8305e013bf7fa1},
		{waveFile, 4, 29419, 0xa67503b31c26360b},
		{waveFile, 5, 29419, 0x34b08382fd488c4c},
		{waveFile, 6, 29419, 0x4ffa0dec176564e1},
		{waveFile, 7, 29419, 0xc9c36aa521ad8b1c},
		{waveFile, 8, 16451, 0x7a1dc218288850d7},
		{waveFile, 9, 25668, 0x7a4e2f8b3ef65c3e},
		{waveFile, 10, 18550, 0x5a12638fcd3b8174},
		{waveFile, 11, 11377, 0xe4bfc3e3fe10ae93},
		{waveFile, 12, 16451, 0x712f4e96eafe53bb},
		{waveFile, 13, 25668, 0x76af3964899974b9},
		{waveFile, 14, 18550, 0x966b6be2ec2d3fba},
		{waveFile, 15, 11377, 0x89c727999154be90},
		{waveFile, 16, 16451, 0xd6d89235cfb2b3a6},
		{waveFile, 17, 25668, 0x418cc4e07aa90fdf},
		{waveFile, 18, 18550, 0xeef84d5069cf05dd},
		{waveFile, 19, 11377, 0xd816f5772570aa37},
		{windFile, 1, 11041, 0x3b13a276aa8bb42d},
	} {
		t.Run(fmt.Sprint(filepath.Base(c.file), c.message), func(t *testing.T) {
			m, err := jp2k.Parse(realStreams(t, c.file)[c.message-1])
			require.NoError(t, err)
			require.Equal(t, c.n, m.Width())
			require.Equal(t, 1, m.Height())
			got := make([]int32, c.n)
			require.NoError(t, m.Decode(got))
			require.Equal(t, c.sum, fnv(got))
		})
	}
}

func TestRegionEqualsTheWholeOfRealFields(t *testing.T) {
	for i, src := range realStreams(t, waveFile) {
		if i%6 != 0 {
			continue
		}
		m, err := jp2k.Parse(src)
		require.NoError(t, err)
		whole := make([]int32, m.Width())
		require.NoError(t, m.Decode(whole))
		rapid.Check(t, func(t *rapid.T) { checkRegion(t, m, whole) })
	}
}

// checkRegion draws a region, mostly a small one, and compares it.
func checkRegion(t *rapid.T, m *jp2k.Image, whole []int32) {
	draw := func(n int, name string) (from, to int) {
		from = rapid.IntRange(0, n-1).Draw(t, name)
		most := n - from
		if rapid.Bool().Draw(t, "few "+name) {
			most = min(most, 3)
		}
		return from, from + rapid.IntRange(1, most).Draw(t, name+" many")
	}
	x0, x1 := draw(m.Width(), "column")
	y0, y1 := draw(m.Height(), "row")
	got := make([]int32, (x1-x0)*(y1-y0))
	require.NoError(t, m.Region(x0, y0, x1, y1, got))
	var want []int32
	for y := y0; y < y1; y++ {
		want = append(want, whole[y*m.Width()+x0:y*m.Width()+x1]...)
	}
	require.Equal(t, want, got)
}

func BenchmarkParse(b *testing.B) {
	src := realStreams(b, waveFile)[1]
	for b.Loop() {
		if _, err := jp2k.Parse(src); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDecode(b *testing.B) {
	for _, c := range []struct {
		name    string
		message int
	}{{"wind 11 bits", 0}, {"direction 16 bits", 1}, {"wave height 9 bits", 4}} {
		b.Run(c.name, func(b *testing.B) {
			src := realStreams(b, waveFile)[c.message]
			benchmarkWhole(b, src)
		})
	}
}

func benchmarkWhole(b *testing.B, src []byte) {
	m, err := jp2k.Parse(src)
	require.NoError(b, err)
	dst := make([]int32, m.Width()*m.Height())
	b.SetBytes(int64(4 * len(dst)))
	for b.Loop() {
		m, err := jp2k.Parse(src)
		if err != nil {
			b.Fatal(err)
		}
		if err := m.Decode(dst); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkPoint looks up two neighbours in each of two rows of the grid, from
// the octets on.
func BenchmarkPoint(b *testing.B) {
	src := realStreams(b, waveFile)[1]
	var dst [2]int32
	for b.Loop() {
		m, err := jp2k.Parse(src)
		if err != nil {
			b.Fatal(err)
		}
		for _, at := range []int{14_000, 14_231} {
			if err := m.Region(at, 0, at+2, 1, dst[:]); err != nil {
				b.Fatal(err)
			}
		}
	}
}
