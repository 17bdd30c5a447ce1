package jp2k_test

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch/grib2/jp2k"
	"forecastd/internal/testdata"
)

// ecCodes packs real fields without a bitmap, images of many rows, anew and
// says what they hold.
func TestDecodeReadsECCodes(t *testing.T) {
	for _, tool := range []string{"grib_set", "grib_get_data"} {
		if _, err := exec.LookPath(tool); err != nil {
			testdata.Skip(t, "the ecCodes tools are not installed: "+tool+" is absent")
		}
	}
	for _, name := range []string{
		"real/aqm_hawaii_o3__mercator_drt53_scan64.grib2",
		"real/gefs_1p00_prmsl__drt50_pdt41.grib",
	} {
		t.Run(filepath.Base(name), func(t *testing.T) {
			packed := filepath.Join(t.TempDir(), "jpeg.grib2")
			out, err := exec.Command("grib_set", "-r", "-s", "packingType=grid_jpeg",
				filepath.Join(testdata.Dir(t, "grib"), name), packed).CombinedOutput()
			require.NoError(t, err, string(out))
			text, err := exec.Command("grib_get_data", "-F", "%.14g", packed).Output()
			require.NoError(t, err)
			file, err := os.ReadFile(packed)
			require.NoError(t, err)

			m, err := jp2k.Parse(codeStreams(t, file)[0])
			require.NoError(t, err)
			require.Greater(t, m.Height(), 1)
			got := make([]int32, m.Width()*m.Height())
			require.NoError(t, m.Decode(got))

			// Octets 12-19 of section 5: reference value, binary and decimal scale.
			s := section(file, 5)
			require.EqualValues(t, len(got), binary.BigEndian.Uint32(s[5:]))
			reference := float64(math.Float32frombits(binary.BigEndian.Uint32(s[11:])))
			binaryScale := math.Pow(2, float64(signMagnitude(s[15:])))
			decimalScale := math.Pow(10, float64(signMagnitude(s[17:])))

			lines := bufio.NewScanner(bytes.NewReader(text))
			require.True(t, lines.Scan()) // the heading
			for i, sample := range got {
				require.True(t, lines.Scan())
				columns := strings.Fields(lines.Text())
				value, err := strconv.ParseFloat(columns[2], 64)
				require.NoError(t, err)
				want := (value*decimalScale - reference) / binaryScale
				require.InDelta(t, want, float64(sample), 1e-3, "point %d", i)
			}
		})
	}
}

// section returns a section of a file's first message.
func section(file []byte, number byte) []byte {
	at := 16
	for file[at+4] != number {
		at += int(binary.BigEndian.Uint32(file[at:]))
	}
	return file[at:]
}

func signMagnitude(b []byte) int {
	v := int(binary.BigEndian.Uint16(b))
	if v >= 0x8000 {
		return 0x8000 - v
	}
	return v
}
