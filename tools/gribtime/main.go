// Command gribtime prints how long our decoder takes beside ecCodes' C
// library, one line a packing. Start it by run.sh.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"forecastd/internal/fetch/grib2"
)

// sample is a file with a packing of its own, a place in it, and the most time
// that may be taken, as a share of ecCodes' for the whole field.
type sample struct {
	packing      string
	file         string
	at           grib2.Point
	whole, point float64 // 0: no budget
}

func samples() []sample {
	miami := grib2.Point{Lat: 25.77, Lon: -80.05}
	offshore := grib2.Point{Lat: 25.77, Lon: -79.5}
	return []sample{
		{"5.0 simple, 65 k points", "real/gfs_1p00_10u10v__drt50_simple.grib2", miami, 0.6, 0.02},
		{"5.0 simple, 1.9 M points", "real/hrrr_conus_20230722t06z_f01_ugrd10m__lambert_simple_gridwinds.grib2", miami, 0.6, 0.02},
		{"5.2 complex", "real/gfs_1p00_10u10v__drt52_complex.grib2", miami, 0, 0},
		{"5.2 complex, missing marked", "real/ndfd_oceanic_waveh_20231130__mercator_drt52_primary_missing_boustrophedon.grib", offshore, 0, 0},
		{"5.3 differences, 65 k points", "real/gfs_1p00_10u10v__drt53_spatialdiff.grib2", miami, 0.35, 0.35},
		{"5.3 differences, 1 M points", "real/gfs_0p25_cwat__drt53_order2.grib2", miami, 0.35, 0.35},
		{"5.3 differences, missing marked", "real/nbm_conus_20250901t00z_f001_tmp2m__lambert_drt53_primary_missing_boustrophedon.grib2", miami, 0.35, 0.35},
		{"5.40 JPEG2000, bitmap", "real/gfswave_atlocn_0p16_20230823t18z_f001__jpeg2000_bitmap_19msg.grib2", offshore, 1.0, 0.1},
		{"5.41 PNG", "real/gfs_1p00_10u__drt41_png_nbits12_depth16.grib2", miami, 0, 0},
		{"5.42 CCSDS", "real/ecmwf_aifs_t500_0p25__drt42_ccsds_12bit.grib2", miami, 0.6, 0},
		{"5.42 CCSDS, bitmap", "extract/ecmwf_aifs_swh_0p25__drt42_ccsds_bitmap.grib2", offshore, 0.6, 0},
	}
}

func main() {
	eccodes := flag.String("eccodes", "", "the built `PROGRAM` of eccodes/whole.c")
	data := flag.String("data", "../shared/data", "`DIR` of the sample files")
	flag.Parse()
	runtime.GOMAXPROCS(1)
	if err := compare(os.Stdout, *eccodes, filepath.Join(*data, "grib")); err != nil {
		fmt.Fprintf(os.Stderr, "gribtime: %v\n", err)
		os.Exit(1)
	}
}

func compare(out io.Writer, eccodes, dir string) error {
	fmt.Fprintf(out, "%-32s %12s %12s %7s %7s %12s %7s %7s\n", "packing", "ecCodes µs", "whole µs", "ratio", "budget", "point µs", "ratio", "budget")
	over := 0
	for _, s := range samples() {
		file := filepath.Join(dir, filepath.FromSlash(s.file))
		b, err := os.ReadFile(file)
		if err != nil {
			return fmt.Errorf("read the sample: %w", err)
		}
		theirs, err := timeEccodes(eccodes, file)
		if err != nil {
			return err
		}
		fields, _ := grib2.Read(b)
		if len(fields) == 0 {
			return fmt.Errorf("%s: no field", s.file)
		}
		f := fields[0]
		var v grib2.Values
		whole, err := measure(func() error { return f.Unpack(&v) })
		if err != nil {
			return err
		}
		point, err := measure(func() error { _, err := f.At(s.at.Lat, s.at.Lon); return err })
		if err != nil {
			return err
		}
		wholeRatio, pointRatio := whole/theirs, point/theirs
		if s.whole > 0 && wholeRatio > s.whole || s.point > 0 && pointRatio > s.point {
			over++
		}
		fmt.Fprintf(out, "%-32s %12.1f %12.1f %7.3f %7s %12.1f %7.3f %7s\n", s.packing,
			theirs/1e3, whole/1e3, wholeRatio, budget(s.whole), point/1e3, pointRatio, budget(s.point))
	}
	if over > 0 {
		return fmt.Errorf("%d of the packings take more than their budget", over)
	}
	return nil
}

func budget(b float64) string {
	if b == 0 {
		return "-"
	}
	return fmt.Sprint(b)
}

func timeEccodes(program, file string) (ns float64, err error) {
	if program == "" {
		return 0, errors.New("no -eccodes program: start this by tools/gribtime/run.sh")
	}
	out, err := exec.Command(program, file).Output()
	if err != nil {
		return 0, fmt.Errorf("time ecCodes on %s: %w", file, err)
	}
	if _, err := fmt.Fscan(strings.NewReader(string(out)), &ns); err != nil {
		return 0, fmt.Errorf("read ecCodes' time: %w", err)
	}
	return ns, nil
}

// measure returns nanoseconds: the median of seven runs of at least 50 ms.
func measure(do func() error) (float64, error) {
	const runs, least = 7, 50 * time.Millisecond
	var all []float64
	for range runs {
		times := 0
		start := time.Now()
		for time.Since(start) < least {
			if err := do(); err != nil {
				return 0, err
			}
			times++
		}
		all = append(all, float64(time.Since(start))/float64(times))
	}
	slices.Sort(all)
	return all[runs/2], nil
}
