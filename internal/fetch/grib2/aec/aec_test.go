package aec_test

import (
	"encoding/binary"
	"encoding/hex"
	"errors"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/fetch/grib2/aec"
	"forecastd/internal/testdata"
)

// Streams made once with libaec 1.0.6 (its coder of the same standard, an
// outside reference) from the invented samples of the functions below.
var references = []struct {
	name    string
	params  aec.Params
	n       int
	samples func(i uint32) uint32
	stream  string
}{
	{"smooth, 12 bits", aec.Params{BitsPerSample: 12, BlockSize: 32, RSI: 128, Flags: 8}, 200, wave(12),
		"4000fb7399cce2a28acbdb471002494536d80092515daa52a54a54a54a94e677670001111222333344355556667736aaaaaaaaaaaaaa9f7a000485201284b18d64230ad295c6338ef3a0064a952952952a52a4924980a5215284b1ad63611ad2b5c671def380080a027555555555555555509411418658621821a28a68c68c39e38e8108124a24949148ffc00000007fffff9ab54cd63458b5aad5fad7365ebdbaf60e17b962c5cb274c99bb66cca020404081010203ffffff11155518000000000000000000000000"},
	{"zero runs and the second extension", aec.Params{BitsPerSample: 8, BlockSize: 16, RSI: 4, Flags: 8}, 1500, steps(255),
		"1063fc0802a20bf84014441603f81005460bf080288028802880288028802a3c17840144417c078100547c17080288028802880288028802a3f82840144417f808100547f822ff0054"},
	// That coder reads padded intervals but cannot write them: this stream is
	// the test encoder's, and libaec decodes it to the same samples.
	{"padded intervals, 5 bits", aec.Params{BitsPerSample: 5, BlockSize: 8, RSI: 2, Flags: 40}, 70, pausing(noise(5)),
		"20000010000010000001000080000020000040000160220810820835b660e9000000000ffc000069fe00010000010000040000000800200000200000080001000001d5ff6e3ef8a7d8820420820809ef28d1ff7ccb340000"},
	{"restricted codes, 2 bits", aec.Params{BitsPerSample: 2, BlockSize: 8, RSI: 16, Flags: 24}, 300, steps(3),
		"63c0014170880580e044582c80"},
	{"no differences, 24 bits", aec.Params{BitsPerSample: 24, BlockSize: 16, RSI: 8, Flags: 0}, 40, wave(24),
		"27ea549108443eb447ff828ff555549aedbb8ec624c61c82dcbf10a42aaaaaaa983c95a3a9346cd9b366cd9b366c80"},
	{"as they are, 32 bits", aec.Params{BitsPerSample: 32, BlockSize: 8, RSI: 8, Flags: 8}, 20, noise(32),
		"f800000004f1bbcd8e1c8864eed533689c3910c9de1c8864edaa66d13563dd6147fc6ef3621c032e31b0e4432773188ea6e55992ecf0e4432769c229ebaeaff7a83fc6ef3620fca1d67d8722193b7c3c104600000000000000000000000000000000"},
}

func wave(bits int) func(uint32) uint32 {
	return func(i uint32) uint32 { return (i*i/7 + i*2654435761>>29) & (1<<bits - 1) }
}

func noise(bits int) func(uint32) uint32 {
	return func(i uint32) uint32 { return i * 2654435761 >> (32 - bits) }
}

func pausing(f func(uint32) uint32) func(uint32) uint32 {
	return func(i uint32) uint32 {
		if 16 <= i && i < 40 {
			return 9
		}
		return f(i)
	}
}

func steps(mask uint32) func(uint32) uint32 {
	return func(i uint32) uint32 {
		if i/300%2 == 0 && i%97 == 0 {
			return 6 & mask
		}
		return 5 & mask
	}
}

func TestDecodeReadsTheReferenceCoder(t *testing.T) {
	for _, c := range references {
		t.Run(c.name, func(t *testing.T) {
			src, err := hex.DecodeString(c.stream)
			require.NoError(t, err)
			want := make([]uint32, c.n)
			for i := range want {
				want[i] = c.samples(uint32(i))
			}
			// Any beginning decodes to the same samples.
			for _, n := range []int{c.n, 0, 1, c.n / 3, c.n - 1} {
				got := make([]uint32, n)
				require.NoError(t, aec.Decode(got, src, c.params))
				require.Equal(t, want[:n], got)
			}
		})
	}
}

func drawParams(t *rapid.T) aec.Params {
	p := aec.Params{
		BitsPerSample: rapid.IntRange(1, 32).Draw(t, "bits"),
		BlockSize:     rapid.SampledFrom([]int{8, 16, 32, 64}).Draw(t, "block"),
		RSI:           rapid.SampledFrom([]int{1, 2, 3, 63, 64, 65, 128, 300}).Draw(t, "rsi"),
		Flags:         rapid.SampledFrom([]aec.Flags{0, aec.Preprocess, aec.Preprocess | aec.MSB | aec.ThreeByte}).Draw(t, "flags"),
	}
	if rapid.Bool().Draw(t, "pad") {
		p.Flags |= aec.PadRSI
	}
	if p.BitsPerSample <= 4 && rapid.Bool().Draw(t, "restricted") {
		p.Flags |= aec.Restricted
	}
	if rapid.IntRange(0, 9).Draw(t, "odd size") == 0 {
		p.Flags |= aec.NotEnforce
		p.BlockSize = 2 * rapid.IntRange(1, 127).Draw(t, "half block")
	}
	return p
}

// drawSamples are stretches that stand still, drift, and jump about, so that
// every code is the natural one somewhere.
func drawSamples(t *rapid.T, p aec.Params) []uint32 {
	top := uint64(1)<<p.BitsPerSample - 1
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
	var out []uint32
	x := r.Uint64() & top
	for range rapid.IntRange(1, 8).Draw(t, "stretches") {
		n := 1 + r.IntN(5*p.BlockSize)
		kind := r.IntN(5)
		if kind == 0 {
			n *= 1 + r.IntN(30)
		}
		for range n {
			switch kind {
			case 0: // x stands still
			case 1:
				x += r.Uint64N(3) - 1
			case 2:
				x += r.Uint64N(41) - 20
			case 3:
				x = r.Uint64()
			case 4:
				x = []uint64{0, top, 0, 1}[r.IntN(4)]
			}
			x &= top
			out = append(out, uint32(x))
		}
	}
	return out
}

func TestDecodeUndoesEveryCode(t *testing.T) {
	used := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		p := drawParams(t)
		want := drawSamples(t, p)
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "choices"), 1))
		e := encoder{Params: p, choose: r.IntN}
		src := e.encode(want)
		for k, n := range e.used {
			used[k] += n
		}
		got := make([]uint32, len(want))
		require.NoError(t, aec.Decode(got, src, p))
		require.Equal(t, want, got)

		n := rapid.IntRange(0, len(want)).Draw(t, "beginning")
		got = make([]uint32, n)
		require.NoError(t, aec.Decode(got, src, p))
		require.Equal(t, want[:n], got)

		// A stream cut short never passes for a whole one.
		cut := src[:rapid.IntRange(0, (e.bits-1)/8).Draw(t, "cut")]
		var bad *aec.StreamError
		require.ErrorAs(t, aec.Decode(make([]uint32, len(want)), cut, p), &bad)
		require.LessOrEqual(t, bad.Bit, 8*len(cut))
	})
	for _, code := range []string{"zero run", "zero to the end", "second extension", "split", "samples as they are"} {
		require.Positive(t, used[code], code)
	}
}

func TestDecodeRefusesParametersOutsideTheStandard(t *testing.T) {
	good := aec.Params{BitsPerSample: 12, BlockSize: 32, RSI: 128, Flags: aec.Preprocess}
	for _, c := range []struct {
		name   string
		change func(*aec.Params)
		says   string
	}{
		{"no bits", func(p *aec.Params) { p.BitsPerSample = 0 }, "aec: 0 bits a sample, want 1 to 32"},
		{"33 bits", func(p *aec.Params) { p.BitsPerSample = 33 }, "aec: 33 bits a sample, want 1 to 32"},
		{"signed", func(p *aec.Params) { p.Flags |= aec.Signed }, "aec: signed samples are not decoded"},
		{"restricted", func(p *aec.Params) { p.Flags |= aec.Restricted }, "aec: restricted codes with 12 bits a sample, want 1 to 4"},
		{"block", func(p *aec.Params) { p.BlockSize = 24 }, "aec: block size 24, want 8, 16, 32 or 64"},
		{"odd block", func(p *aec.Params) { p.BlockSize, p.Flags = 7, aec.NotEnforce }, "aec: block size 7, want 8, 16, 32 or 64"},
		{"interval", func(p *aec.Params) { p.RSI = 0 }, "aec: reference sample interval of 0 blocks, want 1 to 4096"},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := good
			c.change(&p)
			err := aec.Decode(make([]uint32, 1), make([]byte, 64), p)
			var bad *aec.ParamError
			require.ErrorAs(t, err, &bad)
			require.EqualError(t, err, c.says)
		})
	}
}

func TestDecodeNamesWhereTheStreamIsWrong(t *testing.T) {
	p := aec.Params{BitsPerSample: 8, BlockSize: 8, RSI: 2}
	for _, c := range []struct {
		name string
		p    aec.Params
		src  []byte
		says string
	}{
		{"empty", p, nil, "aec: octet 0 bit 0: the stream ends inside a block"},
		// 000 0 0000001: seven zero blocks (six, as codes over five count one less).
		{"run", p, []byte{0b0000_0000, 0b0010_0000, 0, 0}, "aec: octet 0 bit 0: a run of 6 zero blocks where the interval has 2 left"},
		// 010: one low bit, and 130 zeros in front of the first one.
		{"too large", p, append([]byte{0b0100_0000}, append(make([]byte, 16), 0xff, 0xff, 0xff)...), "aec: octet 0 bit 0: a value that does not fit 8 bits"},
		// 000 1 and 95 zeros: no pair is coded like that.
		{"pair", p, append([]byte{0b0001_0000}, append(make([]byte, 12), 0xff, 0xff)...), "aec: octet 0 bit 0: a second extension code of 100 zeros, want at most 90"},
		// 000 1 and 0000001: the pair (0, 3), 1 bit a sample.
		{"pair too large", aec.Params{BitsPerSample: 1, BlockSize: 8, RSI: 2}, []byte{0b0001_0000, 0b0001_1110}, "aec: octet 0 bit 0: a difference that does not fit 1 bits"},
		{"low bits", aec.Params{BitsPerSample: 1, BlockSize: 8, RSI: 2}, []byte{0b1000_0000, 0, 0, 0}, "aec: octet 0 bit 0: 3 low bits in samples of 1 bits"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := aec.Decode(make([]uint32, 16), c.src, c.p)
			var bad *aec.StreamError
			require.ErrorAs(t, err, &bad)
			require.EqualError(t, err, c.says)
		})
	}
}

// section is what the tests need to know of a GRIB2 message with template
// 5.42.
type section struct {
	params aec.Params
	n      int
	data   []byte
}

// ccsds walks the sections of the first message of a file.
func ccsds(t testing.TB, name string) section {
	file, err := os.ReadFile(filepath.Join(testdata.Dir(t, "grib"), name))
	require.NoError(t, err)
	var s section
	for at := 16; string(file[at:at+4]) != "7777"; {
		n := int(binary.BigEndian.Uint32(file[at:]))
		body := file[at : at+n]
		switch body[4] {
		case 5:
			require.EqualValues(t, 42, binary.BigEndian.Uint16(body[9:]))
			s.n = int(binary.BigEndian.Uint32(body[5:]))
			s.params = aec.Params{
				BitsPerSample: int(body[19]),
				Flags:         aec.Flags(body[21]),
				BlockSize:     int(body[22]),
				RSI:           int(binary.BigEndian.Uint16(body[23:])),
			}
		case 7:
			s.data = body[5:]
		}
		at += n
	}
	return s
}

// Real fields; the sums are those of libaec 1.0.6 over the same octets
// (aec_buffer_decode; FNV-1a over the samples as four octets, big-endian).
func TestDecodeRealFields(t *testing.T) {
	for _, c := range []struct {
		file string
		n    int
		sum  uint64
	}{
		{"extract/ecmwf_aifs_swh_0p25__drt42_ccsds_bitmap.grib2", 665822, 0xc0bfe23b7df0b7a7},
		{"extract/ecmwf_aifs_wave_pdt4103__drt42_unknown_template_785kB.grib2", 665822, 0xf4d2de1c0311a665},
		{"real/arome_tcdc__drt42_ccsds_bitmap_crosses_greenwich.grib2", 665681, 0x803518ee466d85a9},
		{"real/ecmwf_aifs_t500_0p25__drt42_ccsds_12bit.grib2", 1038240, 0x2528d55e3240dd66},
		{"real/mfwam_swell__drt42_ccsds_bitmap_regional.grib2", 181711, 0x3c51e0648a137db2},
	} {
		t.Run(c.file, func(t *testing.T) {
			s := ccsds(t, c.file)
			require.Equal(t, c.n, s.n)
			got := make([]uint32, s.n)
			require.NoError(t, aec.Decode(got, s.data, s.params))
			require.Equal(t, c.sum, fnv(got))
		})
	}
}

func fnv(samples []uint32) uint64 {
	h := uint64(14695981039346656037)
	for _, v := range samples {
		for shift := 24; shift >= 0; shift -= 8 {
			h = (h ^ uint64(byte(v>>shift))) * 1099511628211
		}
	}
	return h
}

func FuzzDecode(f *testing.F) {
	for _, c := range references {
		src, err := hex.DecodeString(c.stream)
		require.NoError(f, err)
		f.Add(src, uint8(c.params.BitsPerSample), uint8(c.params.BlockSize), uint16(c.params.RSI), uint8(c.params.Flags), uint16(c.n))
	}
	f.Fuzz(func(t *testing.T, src []byte, bits, block uint8, rsi uint16, flags uint8, n uint16) {
		p := aec.Params{BitsPerSample: int(bits), BlockSize: int(block), RSI: int(rsi), Flags: aec.Flags(flags)}
		dst := make([]uint32, n)
		err := aec.Decode(dst, src, p)
		if err == nil {
			for _, v := range dst {
				require.Zero(t, uint64(v)>>bits, "sample %d of %d bits", v, bits)
			}
			return
		}
		var (
			param  *aec.ParamError
			stream *aec.StreamError
		)
		require.True(t, errors.As(err, &param) || errors.As(err, &stream), err)
	})
}

func BenchmarkDecode(b *testing.B) {
	for _, name := range []string{
		"real/ecmwf_aifs_t500_0p25__drt42_ccsds_12bit.grib2",
		"extract/ecmwf_aifs_swh_0p25__drt42_ccsds_bitmap.grib2",
		"real/arome_tcdc__drt42_ccsds_bitmap_crosses_greenwich.grib2",
		"real/mfwam_swell__drt42_ccsds_bitmap_regional.grib2",
	} {
		b.Run(filepath.Base(name), func(b *testing.B) {
			s := ccsds(b, name)
			dst := make([]uint32, s.n)
			b.SetBytes(int64(4 * s.n))
			for b.Loop() {
				if err := aec.Decode(dst, s.data, s.params); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
