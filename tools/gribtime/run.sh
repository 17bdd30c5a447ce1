#!/bin/sh
# Compares the time our decoder takes with that of ecCodes' C library, on one
# thread of this machine, from memory: the whole field, and our look-up of one
# point against their whole field. Medians of seven, of processor time, so that
# other work on the machine counts less. Needs a C compiler and the
# headers of ecCodes (Debian packages gcc, libeccodes-dev). Fails where a
# budget is exceeded.
set -eu
cd "$(dirname "$0")/../.."
data=${FORECASTD_DATA:-../shared/data}/grib
tmp=$(mktemp -d)
trap 'rm -rf "$tmp"' EXIT
cc -O2 -o "$tmp/whole" tools/gribtime/eccodes/whole.c -leccodes
go test -c -o "$tmp/bench" ./internal/fetch/grib2

# packing; budget of the whole field; of a point; file
while IFS=';' read -r packing whole point file; do
	"$tmp/whole" "$data/$file" | sed "s|^\([0-9]*\) .*|theirs;$packing;$whole;$point;$file;\1|"
	for what in Whole Point; do
		(cd internal/fetch/grib2 && "$tmp/bench" -test.run '^$' -test.cpu 1 -test.count 7 -test.benchtime 50ms \
			-test.bench "^Benchmark$what\$/^${file%%/*}\$/^${file#*/}\$") |
			awk '/^Benchmark/ { for (i = 2; i <= NF; i++) if ($i == "cpu-ns/op") print $(i-1) }' | sort -n | sed -n "4s|^|$what;$packing;;;$file;|p"
	done
done <<'END' | awk -F ';' '
	BEGIN { printf "%-34s %12s %10s %6s %6s %10s %6s %6s\n", "packing", "ecCodes us", "whole us", "ratio", "budget", "point us", "ratio", "budget" }
	$1 == "theirs" { theirs = $6; wb = $3; pb = $4 }
	$1 == "Whole" { whole = $6 }
	$1 == "Point" {
		w = whole / theirs; p = $6 / theirs
		printf "%-34s %12.0f %10.0f %6.3f %6s %10.1f %6.3f %6s\n", $2, theirs / 1e3, whole / 1e3, w, wb, $6 / 1e3, p, pb
		over += (wb != "-" && w > wb) + (pb != "-" && p > pb)
	}
	END { if (over) { print over " above the budget"; exit 1 } }'
5.0 simple, 65 k points;0.6;0.02;real/gfs_1p00_10u10v__drt50_simple.grib2
5.0 simple, 1.9 M points;0.6;0.02;real/hrrr_conus_20230722t06z_f01_ugrd10m__lambert_simple_gridwinds.grib2
5.2 complex;-;-;real/gfs_1p00_10u10v__drt52_complex.grib2
5.2 complex, missing marked;-;-;real/ndfd_oceanic_waveh_20231130__mercator_drt52_primary_missing_boustrophedon.grib
5.3 differences, 65 k points;0.35;0.35;real/gfs_1p00_10u10v__drt53_spatialdiff.grib2
5.3 differences, 1 M points;0.35;0.35;real/gfs_0p25_cwat__drt53_order2.grib2
5.3 differences, missing marked;0.35;0.35;real/nbm_conus_20250901t00z_f001_tmp2m__lambert_drt53_primary_missing_boustrophedon.grib2
5.40 JPEG2000, bitmap;1.0;0.1;real/gfswave_atlocn_0p16_20230823t18z_f001__jpeg2000_bitmap_19msg.grib2
5.41 PNG;-;-;real/gfs_1p00_10u__drt41_png_nbits12_depth16.grib2
5.42 CCSDS;0.6;-;real/ecmwf_aifs_t500_0p25__drt42_ccsds_12bit.grib2
5.42 CCSDS, bitmap;0.6;-;extract/ecmwf_aifs_swh_0p25__drt42_ccsds_bitmap.grib2
END
