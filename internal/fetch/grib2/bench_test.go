//go:build unix

package grib2_test

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch/grib2"
	"forecastd/internal/testdata"
)

// benchFiles are files with a field of each packing, and a place in it.
// tools/gribtime compares the times with those of ecCodes, by file.
func benchFiles() map[string]grib2.Point {
	miami := grib2.Point{Lat: 25.77, Lon: -80.05}
	offshore := grib2.Point{Lat: 25.77, Lon: -79.5}
	return map[string]grib2.Point{
		"real/gfs_1p00_10u10v__drt50_simple.grib2":                                                  miami,
		"real/hrrr_conus_20230722t06z_f01_ugrd10m__lambert_simple_gridwinds.grib2":                  miami,
		"real/gfs_1p00_10u10v__drt52_complex.grib2":                                                 miami,
		"real/ndfd_oceanic_waveh_20231130__mercator_drt52_primary_missing_boustrophedon.grib":       offshore,
		"real/gfs_1p00_10u10v__drt53_spatialdiff.grib2":                                             miami,
		"real/gfs_0p25_cwat__drt53_order2.grib2":                                                    miami,
		"real/nbm_conus_20250901t00z_f001_tmp2m__lambert_drt53_primary_missing_boustrophedon.grib2": miami,
		"real/gfswave_atlocn_0p16_20230823t18z_f001__jpeg2000_bitmap_19msg.grib2":                   offshore,
		"real/gfs_1p00_10u__drt41_png_nbits12_depth16.grib2":                                        miami,
		"real/ecmwf_aifs_t500_0p25__drt42_ccsds_12bit.grib2":                                        miami,
		"extract/ecmwf_aifs_swh_0p25__drt42_ccsds_bitmap.grib2":                                     offshore,
	}
}

func firstField(b *testing.B, name string) *grib2.Field {
	folder, file := filepath.Split(name)
	raw, err := os.ReadFile(filepath.Join(testdata.Dir(b, filepath.Join("grib", folder)), file))
	require.NoError(b, err)
	fields, _ := grib2.Read(raw)
	require.NotEmpty(b, fields)
	return fields[0]
}

// cpuTime reports the processor time of an operation, which other work on the
// machine disturbs less than the time on the clock.
func cpuTime(b *testing.B) func() {
	used := func() int64 {
		var r syscall.Rusage
		require.NoError(b, syscall.Getrusage(syscall.RUSAGE_SELF, &r))
		return r.Utime.Nano() + r.Stime.Nano()
	}
	start := used()
	return func() { b.ReportMetric(float64(used()-start)/float64(b.N), "cpu-ns/op") }
}

func BenchmarkWhole(b *testing.B) {
	for name := range benchFiles() {
		b.Run(name, func(b *testing.B) {
			f := firstField(b, name)
			var v grib2.Values
			b.SetBytes(int64(f.Count))
			b.ReportAllocs()
			require.NoError(b, f.Unpack(&v))
			report := cpuTime(b)
			for b.Loop() {
				require.NoError(b, f.Unpack(&v))
			}
			report()
		})
	}
}

func BenchmarkPoint(b *testing.B) {
	for name, place := range benchFiles() {
		b.Run(name, func(b *testing.B) {
			f := firstField(b, name)
			b.ReportAllocs()
			report := cpuTime(b)
			for b.Loop() {
				_, err := f.At(place.Lat, place.Lon)
				require.NoError(b, err)
			}
			report()
		})
	}
}

func BenchmarkRead(b *testing.B) {
	raw, err := os.ReadFile(filepath.Join(testdata.Dir(b, "grib/real"), "cma_2t_3x3__minutes_timeunit_73msg.grib"))
	require.NoError(b, err)
	b.SetBytes(int64(len(raw)))
	b.ReportAllocs()
	for b.Loop() {
		grib2.Read(raw)
	}
}
