package grib2_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch/grib2"
	"forecastd/internal/testdata"
)

// benchFiles are one field for each packing, and a place in it.
func benchFiles() map[string]struct {
	file     string
	lat, lon float64
} {
	type field = struct {
		file     string
		lat, lon float64
	}
	return map[string]field{
		"simple":          {"real/gfs_1p00_10u10v__drt50_simple.grib2", 25.77, -80.05},
		"simple-large":    {"real/hrrr_conus_20230722t06z_f01_ugrd10m__lambert_simple_gridwinds.grib2", 25.77, -80.05},
		"complex":         {"real/gfs_1p00_10u10v__drt52_complex.grib2", 25.77, -80.05},
		"complex-missing": {"real/ndfd_oceanic_waveh_20231130__mercator_drt52_primary_missing_boustrophedon.grib", 25.77, -79.5},
		"spatial":         {"real/gfs_0p25_cwat__drt53_order2.grib2", 25.77, -80.05},
		"spatial-small":   {"real/gfs_1p00_10u10v__drt53_spatialdiff.grib2", 25.77, -80.05},
		"spatial-missing": {"real/nbm_conus_20250901t00z_f001_tmp2m__lambert_drt53_primary_missing_boustrophedon.grib2", 25.77, -80.05},
		"jpeg2000-bitmap": {"real/gfswave_atlocn_0p16_20230823t18z_f001__jpeg2000_bitmap_19msg.grib2", 25.77, -80.0},
		"png":             {"real/gfs_1p00_10u__drt41_png_nbits12_depth16.grib2", 25.77, -80.05},
		"ccsds":           {"real/ecmwf_aifs_t500_0p25__drt42_ccsds_12bit.grib2", 25.77, -80.05},
		"ccsds-bitmap":    {"extract/ecmwf_aifs_swh_0p25__drt42_ccsds_bitmap.grib2", 25.77, -80.0},
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

func BenchmarkWhole(b *testing.B) {
	for name, c := range benchFiles() {
		b.Run(name, func(b *testing.B) {
			f := firstField(b, c.file)
			var v grib2.Values
			b.SetBytes(int64(f.Count))
			b.ReportAllocs()
			for b.Loop() {
				require.NoError(b, f.Unpack(&v))
			}
		})
	}
}

func BenchmarkPoint(b *testing.B) {
	for name, c := range benchFiles() {
		b.Run(name, func(b *testing.B) {
			f := firstField(b, c.file)
			b.ReportAllocs()
			for b.Loop() {
				_, err := f.At(c.lat, c.lon)
				require.NoError(b, err)
			}
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
