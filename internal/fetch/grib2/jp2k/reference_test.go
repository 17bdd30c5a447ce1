package jp2k_test

import (
	"encoding/hex"
	"errors"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/fetch/grib2/jp2k"
)

type reference struct {
	name                 string
	width, height, depth int
	sample               func(x, y int) int32
	stream               string
}

// references are streams made once with OpenJPEG 2.5.0, an outside coder, from
// the invented samples of the functions below.
func references() []reference {
	return []reference{
		{"five resolutions", 37, 29, 10, hills,
			"ff4fff5100290000000000250000001d0000000000000000000000250000001d00000000000000000001090101ff52000c000000010004" +
				"04040001ff5c00104050585860585860585860585860ff640025000143726561746564206279204f70656e4a5045472076657273696f6e" +
				"20322e352e30ff90000a0000000001250001ff93dfb04807a36c441083049babc01f08703ea05800e840088f7f0b3b4776670b57c07ce2" +
				"603e713001d1c025e588a9bc209ddfbb037ff08358714db6a32628cfca5ab23fc00ea3003a740075201e7e13d7c9ceb72857c35550cb70" +
				"9a9a7f4b72151c01aaec8d96622685f05f169dc0f4c245b6046a068888d64119c8a1d9c00ed9400ed5c0076cc020ecaab4c1367fb40257" +
				"9e7d2883f8a70323751533f08af456cf4a54ef4f2d51336f7028906408196027bf0bf6fbaad3387f292391ce142a981689feb3f6f2d1ee" +
				"3912650709142cd5a4781e691024cbab3b611b6a62b3740bc4ff4e3f1e79c3634a4d8f0eca07250fd1b4570400a6d4917d914bb1e1ec63" +
				"3fea8e73261e1079c8cf3d190409b198e866084f149b753fffd9"},
		{"small blocks and precincts, three tile-parts, RPCL", 37, 29, 10, hills,
			"ff4fff5100290000000000250000001d0000000000000000000000250000001d00000000000000000001090101ff52000f010200010002" +
				"01020001355344ff5c000a4050585860585860ff640025000143726561746564206279204f70656e4a5045472076657273696f6e20322e" +
				"352e30ff90000a0000000000670003ff93efec7f7e6280122b67168f8f9facf4783c829aeb723cca929cc6f7b64139420fb72ed0f9bc32" +
				"7c971149fd952143d7091ab3b96392ec770e5411cf4d9308a8ae2274c2bf2311505200bd26ab63509f324702f9f13b2dda423fff90000a" +
				"00000000005f0103ff93c00e93003a340074701e7936bccf4d0dff7f2c9af528569316a77074f1f004c0054c004d001d28143b2ec5b1ee" +
				"15942914948bd4b87f13a6c63b22d735e6203fc00450012c00230d710c1837ae7f13f03fff90000a0000000000e50203ff93c00e97003a" +
				"640074e020edfb8f698a11075c2037292395cc07371e4f51eedddf1e7745ce01dbf7b0c9e235fb8a1fc00e9b00157001d34027605aa219" +
				"85a712061ee115df09b815c00e3bb157fb45bf617edce8aa82d97f89af0b9fafc0049003a34007450c926fdf16cfb318b1df1a08c11a0c" +
				"c00e9900151001d28069a01d19415655f831944425195319d11d2ae8ef5c19a0f01b4938a8d9bfc00e9b003a4c0074e019dcf236946cc3" +
				"48a220054dbf383c264d9e9060c7f5143acfd14f09176fd89cfc5bff7fc0045003a240022016852c8c7c1f1d9fffd9"},
		{"one row", 90, 1, 9, hills,
			"ff4fff51002900000000005a0000000100000000000000000000005a0000000100000000000000000001080101ff52000c000000010000" +
				"04040001ff5c00044048ff640025000143726561746564206279204f70656e4a5045472076657273696f6e20322e352e30ff90000a0000" +
				"000000670001ff93efe67b7e02c0091c1e60e08dfa69d3182b6d5088251825cef011c42ea9e932d2f13d9725ccaff351894e1284b05b1b" +
				"20de053ad2c16d1ba48cd055b49b33e99efe33df3bd866e70b49a0a3a7ae86e62ada282a95867f212f7fffd9"},
		{"two values", 70, 7, 8, box,
			"ff4fff510029000000000046000000070000000000000000000000460000000700000000000000000001070101ff52000c000000010001" +
				"03010001ff5c00074040484850ff640025000143726561746564206279204f70656e4a5045472076657273696f6e20322e352e30ff9000" +
				"0a0000000000520001ff93e7ed25fda100115054adeba9e441511de736ef5a949ce8973b358483549f04c4a4e739ce744b9d9ac2425f11" +
				"5030c9da0063cfe00c6c018d8018c04745f651aff94b662fffd9"},
		{"one sample", 1, 1, 8, seventySeven,
			"ff4fff510029000000000001000000010000000000000000000000010000000100000000000000000001070101ff52000c000000010000" +
				"04040001ff5c00044040ff640025000143726561746564206279204f70656e4a5045472076657273696f6e20322e352e30ff90000a0000" +
				"000000130001ff93c7d404087bffd9"},
	}
}

func hills(x, y int) int32 {
	v := (x*x/5 + y*y/3 + x*y/7) / 4
	if x*y%11 == 3 {
		v++
	}
	return int32(v & 1023)
}

func box(x, y int) int32 {
	if 20 < x && x < 50 && y > 2 {
		return 5
	}
	return 3
}

func seventySeven(int, int) int32 { return 77 }

func (r reference) octets(t testing.TB) []byte {
	src, err := hex.DecodeString(r.stream)
	require.NoError(t, err)
	return src
}

func TestDecodeReadsTheReferenceCoder(t *testing.T) {
	for _, c := range references() {
		t.Run(c.name, func(t *testing.T) {
			m, err := jp2k.Parse(c.octets(t))
			require.NoError(t, err)
			require.Equal(t, []int{c.width, c.height, c.depth}, []int{m.Width(), m.Height(), m.Depth()})
			var want []int32
			for y := range c.height {
				for x := range c.width {
					want = append(want, c.sample(x, y))
				}
			}
			got := make([]int32, len(want))
			require.NoError(t, m.Decode(got))
			require.Equal(t, want, got)
			rapid.Check(t, func(t *rapid.T) { checkRegion(t, m, want) })
		})
	}
}

// Whatever the octets are, an image either is refused with one of the two
// errors or decodes to samples within its depth, the same by parts.
func FuzzDecode(f *testing.F) {
	for _, c := range references() {
		f.Add(c.octets(f), uint16(3), uint16(2))
	}
	f.Fuzz(func(t *testing.T, src []byte, x, y uint16) {
		m, err := jp2k.Parse(src)
		if err != nil {
			var (
				syntax      *jp2k.SyntaxError
				unsupported *jp2k.UnsupportedError
			)
			require.True(t, errors.As(err, &syntax) || errors.As(err, &unsupported), err)
			return
		}
		x0, y0 := int(x)%m.Width(), int(y)%m.Height()
		var one [1]int32
		require.NoError(t, m.Region(x0, y0, x0+1, y0+1, one[:]))
		require.Zero(t, one[0]>>m.Depth())
		if m.Width()*m.Height() > 1<<16 {
			return
		}
		whole := make([]int32, m.Width()*m.Height())
		require.NoError(t, m.Decode(whole))
		require.Equal(t, whole[y0*m.Width()+x0], one[0])
	})
}
