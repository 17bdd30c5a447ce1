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
	for name := range benchPlaces() {
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
	for name, place := range benchPlaces() {
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
