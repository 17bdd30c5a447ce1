package grib2_test

import (
	"bufio"
	"bytes"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch/grib2"
	"forecastd/internal/testdata"
)

// ecCodes of the European Centre for Medium-Range Weather Forecasts is the
// outside reference. Where it is wrong, the case is listed here with the test
// that shows what is right.
func eccodesIsWrong(name string) string {
	for part, test := range map[string]string{
		"gfs_2p5_cicep":                  "TestNoGroupsIsConstant",
		"ncep_s2s_constant":              "TestConstantIsScaled",
		"s50_constant":                   "TestConstantIsScaled",
		"ecmwf_2t__latlon_boustrophedon": "TestAlternatingRowsOfLatitudes",
		"synthetic_rtofs_like":           "TestCornerOneStepOff",
		"ecmwf_aifs_wave_pdt4103":        "TestUnknownProductTemplate",
		"jma_nowcast__drt5_200":          "TestUnsupportedIsNamed",
		"icon_icosahedral":               "TestUnsupportedIsNamed",
		"odd_lambert_shape7":             "TestUnsupportedIsNamed",
		"odd_2x2_bad_angles":             "TestUnsupportedIsNamed",
	} {
		if strings.HasPrefix(name, part) {
			return test
		}
	}
	return ""
}

func gribFiles(t testing.TB, folders ...string) []string {
	var out []string
	for _, d := range folders {
		dir := testdata.Dir(t, "grib/"+d)
		entries, err := os.ReadDir(dir)
		require.NoError(t, err)
		for _, e := range entries {
			if x := filepath.Ext(e.Name()); x != ".txt" && x != ".idx" {
				out = append(out, filepath.Join(dir, e.Name()))
			}
		}
	}
	return out
}

func needEccodes(t testing.TB) {
	for _, tool := range []string{"grib_get", "grib_get_data"} {
		if _, err := exec.LookPath(tool); err != nil {
			testdata.Skip(t, tool+" of ecCodes (Debian package libeccodes-tools) is not installed")
		}
	}
}

func TestAgreesWithEccodes(t *testing.T) {
	needEccodes(t)
	for _, file := range gribFiles(t, "real", "extract", "synthetic") {
		name := filepath.Base(file)
		t.Run(name, func(t *testing.T) {
			if test := eccodesIsWrong(name); test != "" {
				t.Skipf("ecCodes is wrong here, see %s", test)
			}
			b, err := os.ReadFile(file)
			require.NoError(t, err)
			if testing.Short() && len(b) > 150_000 {
				return // the tool prints every point
			}
			fields, errs := grib2.Read(b)
			require.Empty(t, errs)
			rows := summaries(t, file)
			require.Len(t, fields, len(rows))
			lines := 0
			for i, f := range fields {
				compareStats(t, f, rows[i])
				// The tool prints every point: of long files the first fields do.
				if lines += f.Count; i == 0 || lines < 500_000 && i < 10 {
					comparePoints(t, f, file, i+1)
				}
			}
		})
	}
}

// summaries asks for count, missing, min, max and mean of every field.
func summaries(t *testing.T, file string) [][5]float64 {
	out, err := exec.Command("grib_get", "-f", "-F", "%.12g", "-p", "numberOfPoints,numberOfMissing,min,max,average", file).Output()
	require.NoError(t, err)
	var rows [][5]float64
	for line := range strings.Lines(string(out)) {
		var row [5]float64
		cells := strings.Fields(line)
		require.Len(t, cells, len(row), line)
		for i, c := range cells {
			row[i], err = strconv.ParseFloat(c, 64)
			require.NoError(t, err)
		}
		rows = append(rows, row)
	}
	return rows
}

func compareStats(t *testing.T, f *grib2.Field, want [5]float64) {
	t.Helper()
	s, err := f.Stats()
	require.NoError(t, err)
	require.EqualValues(t, want[0], s.Count)
	require.EqualValues(t, want[1], s.Missing, "message %d", f.Message)
	near := 1e-9 * math.Max(math.Abs(want[2]), math.Abs(want[3]))
	require.InDelta(t, want[2], s.Min, near, "message %d", f.Message)
	require.InDelta(t, want[3], s.Max, near, "message %d", f.Message)
	require.InDelta(t, want[4], s.Mean, near, "message %d", f.Message)
}

// comparePoints compares at least 200 points of a field, or all of them: where
// they lie, what they hold whole, and what is found at the place.
func comparePoints(t *testing.T, f *grib2.Field, file string, count int) {
	t.Helper()
	vals, err := f.Values()
	require.NoError(t, err)
	stats, err := f.Stats()
	require.NoError(t, err)
	near := 1e-9*math.Max(math.Abs(stats.Min), math.Abs(stats.Max)) + 1e-12
	stride := max(1, f.Count/311)
	var points []grib2.Point
	var there []float64
	eachLine(t, file, count, func(k int, line string) {
		if k%stride != 0 {
			return
		}
		cells := strings.Fields(line)
		require.Len(t, cells, 3, line)
		lat, err := strconv.ParseFloat(cells[0], 64)
		require.NoError(t, err)
		lon, err := strconv.ParseFloat(cells[1], 64)
		require.NoError(t, err)
		if g := f.Grid; g.Scan&0x10 != 0 && k/g.Ni%2 == 1 {
			// The lines come row by row, all from the same side; the file turns
			// every other row.
			k = k/g.Ni*g.Ni + g.Ni - 1 - k%g.Ni
		}
		gotLat, gotLon := vals.Place(k)
		// Some metres: ecCodes goes by increments rounded to a millionth of a degree.
		require.InDelta(t, lat, gotLat, 2e-4, "latitude of point %d", k)
		require.InDelta(t, 0, math.Remainder(lon-gotLon, 360), 2e-4, "longitude of point %d", k)
		got, ok := vals.InFile(k)
		require.Equal(t, cells[2] != "m", ok, "point %d: %s", k, line)
		if !ok {
			return
		}
		want, err := strconv.ParseFloat(cells[2], 64)
		require.NoError(t, err)
		require.InDelta(t, want, got, near, "point %d", k)
		points, there = append(points, grib2.Point{Lat: gotLat, Lon: gotLon}), append(there, want)
	})
	at, err := f.AtPoints(points)
	require.NoError(t, err)
	for i, v := range at {
		got, ok := v.Get()
		require.True(t, ok, "%v: %v", points[i], v.How)
		require.InDelta(t, there[i], got, near+1e-6*(v.High-v.Low)+1e-9, "%v", points[i])
	}
}

// eachLine calls back with the lines "lat lon value" of a field, by their
// order in the file.
func eachLine(t *testing.T, file string, count int, line func(k int, line string)) {
	cmd := exec.Command("grib_get_data", "-w", "count="+strconv.Itoa(count), "-m", "m", "-F", "%.12g", "-L", "%.6f %.6f", file)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	k := 0
	scan := bufio.NewScanner(out)
	for scan.Scan() {
		if text := scan.Text(); !strings.HasPrefix(text, "Latitude") {
			line(k, text)
			k++
		}
	}
	require.NoError(t, scan.Err())
	_, err = io.Copy(io.Discard, out)
	require.NoError(t, err)
	require.NoError(t, cmd.Wait(), stderr.String())
	require.Positive(t, k)
}
