package grib2_test

import (
	"bufio"
	"bytes"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch/grib2"
	"forecastd/internal/testdata"
)

func bytesOf(t testing.TB, name string) []byte {
	t.Helper()
	folder, file := filepath.Split(name)
	b, err := os.ReadFile(filepath.Join(testdata.Dir(t, filepath.Join("grib", folder)), file))
	require.NoError(t, err)
	return b
}

func fieldsOf(t testing.TB, name string) []*grib2.Field {
	t.Helper()
	fields, errs := grib2.Read(bytesOf(t, name))
	require.Empty(t, errs)
	require.NotEmpty(t, fields)
	return fields
}

// A field of 5.3 without groups is its reference value everywhere, whatever
// the other octets say. ecCodes 2.28 makes 55 to 578160 of this cloud ice; the
// reference value is 0.
func TestNoGroupsIsConstant(t *testing.T) {
	f := fieldsOf(t, "extract/gfs_2p5_cicep__drt53_NG0_garbage_octets_231B.grb")[0]
	s, err := f.Stats()
	require.NoError(t, err)
	require.Equal(t, grib2.Stats{Count: 10512}, s)
	v, err := f.At(25.77, -80.05)
	require.NoError(t, err)
	x, ok := v.Get()
	require.True(t, ok)
	require.Zero(t, x)
}

// Regulation 92.9.4 of WMO306: Y = (R + X 2^E) / 10^D. With 0 bits a value X is
// 0 and Y is R / 10^D; ecCodes 2.28 leaves R unscaled in 5.0.
func TestConstantIsScaled(t *testing.T) {
	for name, want := range map[string]float64{
		"synthetic/s50_constant.grib2":                              -3.25 / 100,
		"synthetic/c53_o2_constant.grib2":                           -3.25 / 100,
		"real/ncep_s2s_constant__pdt49_410_412_2kB.grib2":           0.01, // R = 1, D = 2
		"real/gfs_1p00_10u__drt53_constant_210B.grb":                2.5,  // R = 250, D = 2
		"real/hrrr_conus_cfrzr__lambert_simple_constant_188B.grib2": 0,
	} {
		s, err := fieldsOf(t, name)[0].Stats()
		require.NoError(t, err)
		require.InDelta(t, want, s.Min, 1e-12, name)
		require.InDelta(t, want, s.Max, 1e-12, name)
	}
}

// A temperature is smooth from row to row if the rows that run west are turned
// round, and is not if they are left as they are, as ecCodes 2.28 does on
// latitudes and longitudes.
func TestAlternatingRowsOfLatitudes(t *testing.T) {
	f := fieldsOf(t, "real/ecmwf_2t__latlon_boustrophedon_scan16.grib")[0]
	v, err := f.Values()
	require.NoError(t, err)
	g := f.Grid
	var turned, left float64
	for row := 1; row < g.Nj; row++ {
		for col := range g.Ni {
			a, _ := v.At(col, row)
			b, _ := v.At(col, row-1)
			c, _ := v.At(g.Ni-1-col, row-1)
			turned += math.Abs(a - b)
			left += math.Abs(a - c)
		}
	}
	n := float64(g.Ni * (g.Nj - 1))
	require.Less(t, turned/n, 0.7)  // 0.58 K
	require.Greater(t, left/n, 4.0) // 5.00 K
}

// The last corner of this grid is coded one step too far on purpose, as files
// of the ocean model do; the increments are right. ecCodes stretches the grid.
func TestCornerOneStepOff(t *testing.T) {
	f := fieldsOf(t, "synthetic/synthetic_rtofs_like_uogrd_vogrd_wtmp__simple_bitmap_scan64_La2Lo2_off_by_one.grb2")[0]
	lat0, lon0 := f.Grid.LatLon(0, 0)
	lat, lon := f.Grid.LatLon(f.Grid.Ni-1, f.Grid.Nj-1)
	require.InDelta(t, 0.08, (lat-lat0)/float64(f.Grid.Nj-1), 1e-9)
	require.InDelta(t, 0.08, (lon-lon0)/float64(f.Grid.Ni-1), 1e-9)
}

// An unknown product template takes nothing but what only it can tell.
func TestUnknownProductTemplate(t *testing.T) {
	f := fieldsOf(t, "extract/ecmwf_aifs_wave_pdt4103__drt42_unknown_template_785kB.grib2")[0]
	require.False(t, f.TemplateKnown)
	require.Equal(t, 103, f.Template)
	require.Equal(t, "significant height of combined wind waves and swell", f.Name())
	require.True(t, f.Start.IsZero())
	s, err := f.Stats()
	require.NoError(t, err)
	require.Equal(t, 372418, s.Missing)
	require.Positive(t, s.Min)
	require.Less(t, s.Max, 20.0) // waves, not noise
}

// What is not supported is described, and named where the values are asked for.
func TestUnsupportedIsNamed(t *testing.T) {
	for _, c := range []struct {
		file     string
		fields   int
		section  int
		octet    int
		values   bool
		legal    bool
		describe string
	}{
		{"real/jma_nowcast__drt5_200_unsupported_multifield_7sub.bin", 7, 5, 10, false, true, "template 5.200"},
		{"real/icon_icosahedral__gdt101_unsupported_193B.grib2", 1, 3, 13, true, true, "template 3.101"},
		{"real/odd_lambert_shape7_missing_radius_212B.grb2", 1, 3, 15, true, true, "shape of the earth 7"},
		// La2 lies north of La1, the rows run south, and there is no increment.
		{"real/odd_2x2_bad_angles_191B.grb2", 1, 3, 68, true, false, "corners"},
	} {
		t.Run(filepath.Base(c.file), func(t *testing.T) {
			fields, errs := grib2.Read(bytesOf(t, c.file))
			require.Len(t, fields, c.fields)
			require.Len(t, errs, c.fields)
			_, err := fields[0].At(25.77, -80.05)
			var e *grib2.Error
			require.ErrorAs(t, err, &e)
			require.Equal(t, []int{1, c.section, c.octet}, []int{e.Message, e.Section, e.Octet})
			require.ErrorContains(t, err, c.describe)
			require.Equal(t, c.legal, errors.Is(err, grib2.ErrUnsupported))
			_, err = fields[0].Stats()
			require.Equal(t, c.values, err == nil)
		})
	}
}

// The values of libg2c's own test field, missing ones as m, one a line.
func TestMarkedMissingValues(t *testing.T) {
	for name, expected := range map[string]string{
		"c52_mvm1":    "c53_o1_mvm1",
		"c52_mvm2":    "c52_mvm2",
		"c53_o1_mvm1": "c53_o1_mvm1",
		"c53_o1_mvm2": "c52_mvm2",
		"c53_o2_mvm1": "c53_o1_mvm1",
		"c53_o2_mvm2": "c52_mvm2",
	} {
		t.Run(name, func(t *testing.T) {
			v, err := fieldsOf(t, "synthetic/"+name+".grib2")[0].Values()
			require.NoError(t, err)
			lines := bufio.NewScanner(bytes.NewReader(bytesOf(t, "synthetic/"+expected+".expected.txt")))
			k := 0
			for ; lines.Scan(); k++ {
				got, ok := v.InFile(k)
				if lines.Text() == "m" {
					require.False(t, ok, "point %d", k)
					continue
				}
				want, err := strconv.ParseFloat(lines.Text(), 64)
				require.NoError(t, err)
				require.True(t, ok, "point %d", k)
				require.InDelta(t, want, got, 0.005+1e-6, "point %d", k) // half a step, D = 2
			}
			require.Equal(t, v.Len(), k)
		})
	}
}

// One wind in three packings is one wind. The steps are 2^-9 m/s and less.
func TestOneWindInThreePackings(t *testing.T) {
	places := []grib2.Point{
		{Lat: 25.77, Lon: -80.05}, {Lat: 35.2, Lon: -75.5}, {Lat: 0.3, Lon: 359.7}, {Lat: -33.9, Lon: 18.4},
		{Lat: 10.5, Lon: 180.5}, {Lat: 10.5, Lon: -179.5}, {Lat: 89.9, Lon: 12}, {Lat: -90, Lon: 0},
	}
	var first []grib2.VectorValue
	for _, packing := range []string{"50_simple", "52_complex", "53_spatialdiff"} {
		f := fieldsOf(t, "real/gfs_1p00_10u10v__drt"+packing+".grib2")
		got, err := grib2.VectorAtPoints(f[0], f[1], places)
		require.NoError(t, err)
		if first == nil {
			first = got
		}
		for i, v := range got {
			want, _ := first[i].Get()
			have, ok := v.Get()
			require.True(t, ok)
			require.Equal(t, grib2.Bilinear, v.How)
			require.InDelta(t, float64(want.East), float64(have.East), 1.0/512, "%v", places[i])
			require.InDelta(t, float64(want.North), float64(have.North), 1.0/512, "%v", places[i])
		}
	}
}

// 25.77 N 80.05 W and 35.2 N 75.5 W on the grid of the high-resolution rapid
// refresh: the angle between its columns and north is n (lon - LoV), with n =
// sin 38.5° (Snyder1987, equation 15-8 for one standard parallel), 10.863 and
// 13.695 degrees. A wind of 10 m/s along the grid's x axis blows from 280.86
// off Miami.
func TestGridWindsAreTurnedToTrue(t *testing.T) {
	g := fieldsOf(t, "real/hrrr_conus_20230722t06z_f01_ugrd10m__lambert_simple_gridwinds.grib2")[0].Grid
	require.True(t, g.GridRelative)
	miami := g.ToEarth(10, 0, -80.05)
	require.InDelta(t, 9.8208, float64(miami.East), 5e-5)
	require.InDelta(t, -1.8846, float64(miami.North), 5e-5)
	from, _ := miami.From()
	require.InDelta(t, 280.86, from.Degrees(), 0.005)
	hatteras := g.ToEarth(10, 0, 284.5) // 75.5 W
	require.InDelta(t, 9.7157, float64(hatteras.East), 5e-5)
	require.InDelta(t, -2.3676, float64(hatteras.North), 5e-5)
}

// The turn of the wind agrees with where the neighbouring columns lie.
func TestTurnAgreesWithTheGrid(t *testing.T) {
	for _, name := range []string{
		"real/hrrr_conus_20230722t06z_f01_ugrd10m__lambert_simple_gridwinds.grib2",
		"real/cmc_reg_ps10km_depr__polarstereo_jpeg2000_empty_section7_bitmap.grib2",
	} {
		g := fieldsOf(t, name)[0].Grid
		require.True(t, g.GridRelative)
		for _, p := range [][2]int{{1, 1}, {g.Ni / 3, g.Nj / 2}, {g.Ni / 2, g.Nj / 3}, {g.Ni - 3, g.Nj - 3}} {
			lat0, lon0 := g.LatLon(p[0]-1, p[1])
			lat1, lon1 := g.LatLon(p[0]+1, p[1])
			lat, lon := g.LatLon(p[0], p[1])
			east := math.Remainder(lon1-lon0, 360) * math.Cos(lat*math.Pi/180)
			along := math.Atan2(east, lat1-lat0) * 180 / math.Pi
			toward, ok := g.ToEarth(1, 0, lon).Toward()
			require.True(t, ok)
			require.InDelta(t, 0, math.Remainder(along-toward.Degrees(), 360), 0.05, "%s at %v", name, p)
		}
	}
}

// Accumulations and averages are told from instants by their window, though
// all else is the same.
func TestInstantsAreToldFromIntervals(t *testing.T) {
	f := fieldsOf(t, "real/gfs_4deg_cfrzr_cprat__instant_vs_average_pdt40_48_960B.grib")
	at := time.Date(2023, 5, 10, 23, 0, 0, 0, time.UTC)
	require.Equal(t, grib2.Instant, f[2].Process)
	require.Equal(t, at, f[2].Start)
	require.Equal(t, at, f[2].End)
	require.Equal(t, grib2.Average, f[3].Process)
	require.Equal(t, at.Add(-5*time.Hour), f[3].Start)
	require.Equal(t, at, f[3].End)
	require.Equal(t, []int{f[2].Category, f[2].Number}, []int{f[3].Category, f[3].Number})

	// Minutes: a quarter of an hour each.
	for i, f := range fieldsOf(t, "real/hrrr_subhourly_dswrf__minutes_timeunit_constant_4msg_852B.grib2") {
		require.Equal(t, time.Date(2023, 10, 17, 9, 15*i, 0, 0, time.UTC), f.Start)
		require.Equal(t, 15*time.Minute, f.End.Sub(f.Start))
	}
	// The forecast time of these daily maxima counts to their end.
	for _, f := range fieldsOf(t, "real/ndfd_conus5km_maxt_2011__lambert_drt52_primary_missing_boustrophedon_4msg.bin") {
		require.Equal(t, grib2.Maximum, f.Process)
		require.Equal(t, 12*time.Hour, f.End.Sub(f.Start))
		require.Zero(t, f.End.Hour())
	}
}

// Every kind of ensemble product in one file.
func TestEnsembleProducts(t *testing.T) {
	kinds := map[int]int{}
	for _, f := range fieldsOf(t, "real/ncep_s2s_constant__pdt49_410_412_2kB.grib2") {
		kinds[f.Template]++
		require.True(t, f.TemplateKnown)
		require.Equal(t, 24*time.Hour, f.End.Sub(f.Start))
		require.Equal(t, f.Template == 9, f.Probability != nil)
		require.Equal(t, f.Template == 10, f.Percentile >= 0)
		require.Equal(t, f.Template == 12, f.Derived != nil)
	}
	require.Len(t, kinds, 3)
	m := fieldsOf(t, "real/gefs_1p00_prmsl__drt50_pdt41.grib")[0].Member
	require.NotNil(t, m)
}
