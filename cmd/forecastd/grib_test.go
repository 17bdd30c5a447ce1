package main

import (
	"bytes"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/testdata"
)

func grib(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, err bytes.Buffer
	code = runGrib(t.Context(), args, &out, &err)
	return code, out.String(), err.String()
}

func gribFile(t *testing.T, name string) string {
	t.Helper()
	folder, file := filepath.Split(name)
	return filepath.Join(testdata.Dir(t, filepath.Join("grib", folder)), file)
}

func objects(t *testing.T, out string) []map[string]any {
	t.Helper()
	var all []map[string]any
	for line := range strings.Lines(out) {
		var o map[string]any
		require.NoError(t, json.Unmarshal([]byte(line), &o), line)
		all = append(all, o)
	}
	return all
}

func TestGribListsOneFieldALine(t *testing.T) {
	code, out, errs := grib(t, gribFile(t, "real/gfs_1p00_10u10v__drt53_spatialdiff.grib2"))
	require.Zero(t, code, errs)
	require.Empty(t, errs)
	lines := strings.Split(strings.TrimSpace(out), "\n")
	require.Len(t, lines, 2)
	require.Contains(t, lines[1], "2.1  v-component of wind (0-2-3)  above ground 10 m  run 2019-01-06T12:00:00Z  valid 2019-01-06T18:00:00Z  grid 3.0 360 × 181  packing 5.3  count 65160  missing 0")
}

func TestGribJSONHasTheAgreedKeys(t *testing.T) {
	// Flags may follow the file, and a longitude may be negative.
	code, out, errs := grib(t, gribFile(t, "extract/gfs_2p5_f120_marine.grib2"), "-json", "-at", "25.77,-80.05")
	require.Zero(t, code, errs)
	all := objects(t, out)
	require.Len(t, all, 12)
	want := []string{
		"category", "count", "discipline", "end", "field", "grid_template", "max", "mean", "message", "min", "missing", "name",
		"ni", "nj", "number", "packing_template", "run", "start", "surface_type", "surface_value", "value_at",
	}
	for i, o := range all {
		require.Equal(t, want, slices.Sorted(maps.Keys(o)))
		require.EqualValues(t, i+1, o["message"])
		require.EqualValues(t, 1, o["field"])
		require.EqualValues(t, 10512, o["count"])
		require.Equal(t, "2011-01-10T12:00:00Z", o["run"])
		require.Equal(t, "2011-01-15T12:00:00Z", o["end"])
	}
	// 2 m temperature off Miami in January: anything but Siberia.
	require.InDelta(t, 297, all[2]["value_at"], 6)
}

func TestGribTakesASouthernPlace(t *testing.T) {
	code, out, errs := grib(t, "-at", "-33.9,-18.4", "-json", gribFile(t, "real/gfs_1p00_10u__drt53_constant_210B.grb"))
	require.Zero(t, code, errs)
	require.EqualValues(t, 2.5, objects(t, out)[0]["value_at"])
}

func TestGribTellsWhatIsAbsentByNull(t *testing.T) {
	code, out, _ := grib(t, "-json", gribFile(t, "extract/ecmwf_aifs_wave_pdt4103__drt42_unknown_template_785kB.grib2"))
	require.Zero(t, code)
	o := objects(t, out)[0]
	for _, key := range []string{"start", "end", "surface_type", "surface_value", "value_at"} {
		require.Nil(t, o[key], key)
	}
	require.EqualValues(t, 372418, o["missing"])
}

func TestGribExitCodes(t *testing.T) {
	for name, want := range map[string]int{
		"broken/second_message_truncated.grib2":                      exitPart,
		"broken/html_instead_of_grib.grib2":                          exitNoCall,
		"broken/empty.grib2":                                         exitNoCall,
		"broken/order_7.grib2":                                       exitNoCall,
		"real/jma_nowcast__drt5_200_unsupported_multifield_7sub.bin": exitNoCall,
		"real/icon_icosahedral__gdt101_unsupported_193B.grib2":       exitNoCall,
		"real/cma_2t_3x3__minutes_timeunit_73msg.grib":               exitOK,
	} {
		t.Run(name, func(t *testing.T) {
			code, _, errs := grib(t, gribFile(t, name))
			require.Equal(t, want, code, errs)
			require.Equal(t, want == exitOK, errs == "", errs)
		})
	}
	t.Run("which message", func(t *testing.T) {
		_, out, errs := grib(t, gribFile(t, "broken/second_message_truncated.grib2"))
		require.Contains(t, errs, "message 2: section 0, octet 9: truncated")
		require.Equal(t, 1, strings.Count(out, "\n"))
	})
	t.Run("no such file", func(t *testing.T) {
		code, out, errs := grib(t, filepath.Join(t.TempDir(), "none.grib2"))
		require.Equal(t, exitNoCall, code)
		require.Empty(t, out)
		require.Contains(t, errs, "read the GRIB file")
	})
}

func TestGribUsage(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a.grib2")
	require.NoError(t, os.WriteFile(file, []byte("GRIB"), 0o600))
	for name, args := range map[string][]string{
		"no file":        {},
		"two files":      {file, file},
		"unknown flag":   {file, "-frob"},
		"half a place":   {file, "-at", "25.77"},
		"beyond a pole":  {file, "-at", "91,0"},
		"not a number":   {file, "-at", "NaN,0"},
		"place in words": {file, "-at", "here,there"},
	} {
		t.Run(name, func(t *testing.T) {
			code, out, errs := grib(t, args...)
			require.Equal(t, exitUsage, code)
			require.Empty(t, out)
			require.NotEmpty(t, errs)
		})
	}
}
