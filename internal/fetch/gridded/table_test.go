package gridded

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/fetch/grib2"
	"forecastd/internal/models"
)

func TestTable(t *testing.T) {
	list, err := Products()
	require.NoError(t, err)
	var names, want []string
	for _, p := range config.Products() {
		want = append(want, string(p))
	}
	known := []string{"wind", "wind_u", "wind_v", "wind_from", "gust", "sea", "period", "sea_from", "swell", "swell_period", "swell_from",
		"current_u", "current_v", "cloud", "thunder", "visibility", "air", "water"}
	for _, p := range list {
		t.Run(p.Name, func(t *testing.T) {
			names = append(names, p.Name)
			require.NotEmpty(t, p.About)
			require.Contains(t, []IndexKind{ShortInventory, LineIndex, NoIndex}, p.Index)
			require.Positive(t, p.LookBack)
			require.NotEqual(t, p.Listing == "", len(p.Cycles) == 0, "cycles, or a folder that lists them")
			s := spot{area: "AREA", region: "REGION", office: "OFFICE"}
			at := p.address(s, time.Date(2026, 11, 5, 6, 0, 0, 0, time.UTC), 9)
			require.NotContains(t, at, "{")
			require.Contains(t, at, "20261105")
			require.Equal(t, len(p.Areas) > 0 && p.Name != "rtofs" && p.Name != "hrrr", strings.Contains(at, "AREA"))
			require.True(t, strings.HasPrefix(at, "https://"))
			require.Equal(t, strings.Contains(at, "nomads."), p.Quota)
			require.NotContains(t, p.folder(s, time.Now()), "{")
			seen := map[string]bool{}
			for _, f := range p.Fields {
				require.Contains(t, known, f.As)
				require.False(t, seen[f.As], "%s twice", f.As)
				seen[f.As] = true
				require.Contains(t, []Kind{Sharp, Maximum, Chance}, f.Kind)
				require.NotEmpty(t, f.Name)
			}
			for _, l := range p.Leads {
				require.Positive(t, l.Step)
				require.Zero(t, (l.To-l.From)%l.Step)
			}
		})
	}
	require.ElementsMatch(t, want, names)
	_, err = Lookup("gfs-waves")
	require.ErrorContains(t, err, `no gridded product "gfs-waves": use one of gfs-wave, gfs,`)
}

// The addresses are those of the services' own pages as of 2026.
func TestAddresses(t *testing.T) {
	run := time.Date(2026, 11, 5, 6, 0, 0, 0, time.UTC)
	for name, want := range map[string]string{
		"gfs":        "https://noaa-gfs-bdp-pds.s3.amazonaws.com/gfs.20261105/06/atmos/gfs.t06z.pgrb2.0p25.f009.idx",
		"gfs-wave":   "https://noaa-gfs-bdp-pds.s3.amazonaws.com/gfs.20261105/06/wave/gridded/gfswave.t06z.atlocn.0p16.f009.grib2.idx",
		"hrrr":       "https://noaa-hrrr-bdp-pds.s3.amazonaws.com/hrrr.20261105/conus/hrrr.t06z.wrfsfcf09.grib2.idx",
		"nbm":        "https://noaa-nbm-grib2-pds.s3.amazonaws.com/blend.20261105/06/core/blend.t06z.core.f009.co.grib2.idx",
		"ecmwf":      "https://data.ecmwf.int/forecasts/20261105/06z/ifs/0p25/oper/20261105060000-9h-oper-fc.index",
		"ecmwf-wave": "https://data.ecmwf.int/forecasts/20261105/06z/ifs/0p25/wave/20261105060000-9h-wave-fc.index",
	} {
		p := product(t, name)
		area, err := p.area([]Place{{At: offshore()}})
		require.NoError(t, err)
		require.Equal(t, want, p.inventoryAt(p.address(spot{area: area}, run, 9)))
	}
	require.Equal(t, "https://nomads.ncep.noaa.gov/pub/data/nccf/com/rtofs/prod/rtofs.20261105/rtofs_glo.t00z.f024_west_atl_std.grb2",
		product(t, "rtofs").address(spot{}, run.Add(-6*time.Hour), 24))
	nwps := product(t, "nwps")
	region, office, err := nwps.region("MFL")
	require.NoError(t, err)
	require.Equal(t, "https://nomads.ncep.noaa.gov/pub/data/nccf/com/nwps/prod/sr.20261105/mfl/06/CG1/mfl_nwps_CG1_20261105_0600.grib2",
		nwps.address(spot{region: region, office: office}, run, 144))
	require.Equal(t, "https://nomads.ncep.noaa.gov/pub/data/nccf/com/nwps/prod/sr.20261105/mfl/", nwps.folder(spot{region: region, office: office}, run))
	region, _, err = nwps.region("AKQ")
	require.NoError(t, err)
	require.Equal(t, "er", region)
	_, _, err = nwps.region("XAM")
	require.ErrorContains(t, err, "no office XAM is known to make nwps")
	_, _, err = nwps.region("")
	require.ErrorContains(t, err, "set the port's text_office")
}

// The leads of the blend by the hour of its cycle, as its readers found them
// in its folders.
func TestLeadsOfTheBlend(t *testing.T) {
	p := product(t, "nbm")
	all := func(hour int) []int {
		start := time.Date(2026, 11, 5, hour, 0, 0, 0, time.UTC)
		return p.leadsFor(start, models.Interval{Start: start, End: start.Add(300 * time.Hour)})
	}
	for hour, want := range map[int]struct{ hourly, first3, last3, first6, last6 int }{
		0: {35, 36, 189, 192, 264}, 1: {36, 38, 188, 191, 263}, 2: {36, 37, 187, 190, 262},
		9: {35, 36, 186, 189, 261}, 16: {36, 38, 185, 188, 260}, 23: {36, 37, 184, 187, 259},
	} {
		leads := all(hour)
		require.Equal(t, 1, leads[0], "there is no hour 0")
		require.Equal(t, want.last6, leads[len(leads)-1])
		require.True(t, slices.IsSorted(leads))
		for _, l := range []int{want.hourly, want.first3, want.first3 + 3, want.last3, want.first6, want.first6 + 6} {
			require.Contains(t, leads, l)
		}
		require.NotContains(t, leads, want.first3+1)
		require.NotContains(t, leads, want.first6+3)
	}
}

func TestWhichRun(t *testing.T) {
	at := func(s string) time.Time {
		x, err := time.Parse("2 15:04", s)
		require.NoError(t, err)
		return time.Date(2026, 11, x.Day(), x.Hour(), x.Minute(), 0, 0, time.UTC)
	}
	tests := []struct {
		product, now string
		horizon      time.Duration
		want         []string // the first ones
	}{
		{"gfs-wave", "5 22:00", 264 * time.Hour, []string{"5 12:00", "5 06:00", "5 00:00", "4 18:00"}},
		{"gfs-wave", "5 23:44", 264 * time.Hour, []string{"5 12:00"}},
		{"gfs-wave", "5 23:45", 264 * time.Hour, []string{"5 18:00"}},
		// Of the hourly runs only every sixth reaches tomorrow night.
		{"hrrr", "5 22:00", 48 * time.Hour, []string{"5 18:00", "5 12:00", "5 20:00", "5 19:00"}},
		{"hrrr", "5 22:00", 12 * time.Hour, []string{"5 20:00", "5 19:00", "5 18:00", "5 17:00"}},
		{"nbm", "5 22:30", 264 * time.Hour, []string{"5 21:00", "5 20:00", "5 19:00", "5 18:00"}},
		{"nbm", "6 01:30", 264 * time.Hour, []string{"6 00:00", "5 23:00"}},
		{"rtofs", "5 07:00", 264 * time.Hour, []string{"4 00:00"}},
		{"ecmwf", "5 19:00", 264 * time.Hour, []string{"5 00:00", "4 12:00"}},
	}
	for _, tt := range tests {
		t.Run(tt.product+" at "+tt.now, func(t *testing.T) {
			now := at(tt.now)
			var got []string
			for _, r := range product(t, tt.product).runs(now, models.Interval{Start: now.Add(-time.Hour), End: now.Add(tt.horizon)}) {
				got = append(got, r.start.Format("2 15:04"))
			}
			require.GreaterOrEqual(t, len(got), len(tt.want), "%v", got)
			require.Equal(t, tt.want, got[:len(tt.want)])
		})
	}
}

func TestAreas(t *testing.T) {
	p := product(t, "gfs-wave")
	for _, tt := range []struct {
		at   models.Position
		want string
	}{
		{models.Position{Lat: 27, Lon: -79.7}, "atlocn.0p16"},
		{models.Position{Lat: 27, Lon: 280.3}, "atlocn.0p16"},
		{models.Position{Lat: 33, Lon: -118}, "wcoast.0p16"},
		{models.Position{Lat: -33, Lon: 151}, "global.0p25"},
	} {
		got, err := p.area([]Place{{At: tt.at}})
		require.NoError(t, err)
		require.Equal(t, tt.want, got)
	}
	got, err := p.area([]Place{{At: offshore()}, {At: models.Position{Lat: 33, Lon: -118}}})
	require.NoError(t, err)
	require.Equal(t, "global.0p25", got, "the one that holds all")
	_, err = product(t, "rtofs").area([]Place{{At: offshore()}, {At: models.Position{Lat: 33, Lon: -118}}})
	require.ErrorContains(t, err, "rtofs does not cover 33")
}

// Which fields are taken, where one key is there for an instant, a mean, a
// member, a percentile or a chance.
func TestFieldIs(t *testing.T) {
	ten := 10.0
	surface := 103
	gust := Field{As: "gust", Numbers: [3]int{0, 2, 22}, Surface: &surface, SurfaceValue: &ten}
	field := func(template int, alter func(*grib2.Field)) *grib2.Field {
		f := &grib2.Field{Product: grib2.Product{Template: template, TemplateKnown: true, Category: 2, Number: 22, Process: grib2.Instant, Percentile: -1,
			Surface1: grib2.Surface{Type: 103, Value: 10}}}
		if alter != nil {
			alter(f)
		}
		return f
	}
	chance := Field{As: "thunder", Numbers: [3]int{0, 2, 22}, Surface: &surface, Kind: Chance}
	maximum := Field{As: "gust", Numbers: [3]int{0, 2, 22}, Surface: &surface, Kind: Maximum}
	probability := func(kind int) func(*grib2.Field) {
		return func(f *grib2.Field) { f.Probability = &grib2.Probability{Type: kind} }
	}
	process := func(p grib2.Process) func(*grib2.Field) { return func(f *grib2.Field) { f.Process = p } }
	for _, tt := range []struct {
		name string
		want Field
		f    *grib2.Field
		is   bool
	}{
		{"the forecast", gust, field(0, nil), true},
		{"a member", gust, field(1, nil), false},
		{"a spread of members", gust, field(2, nil), false},
		{"a percentile", gust, field(6, nil), false},
		{"a chance", gust, field(5, probability(1)), false},
		{"a mean over time", gust, field(8, process(grib2.Average)), false},
		{"another height", gust, field(0, func(f *grib2.Field) { f.Surface1.Value = 80 }), false},
		{"another surface", gust, field(0, func(f *grib2.Field) { f.Surface1.Type = 1 }), false},
		{"another parameter", gust, field(0, func(f *grib2.Field) { f.Number = 1 }), false},
		{"an unknown template", gust, field(103, nil), false},
		{"a maximum", maximum, field(8, process(grib2.Maximum)), true},
		{"a mean for a maximum", maximum, field(8, process(grib2.Average)), false},
		{"an instant for a maximum", maximum, field(0, nil), false},
		{"a chance over a time", chance, field(9, probability(1)), true},
		{"a chance of being below", chance, field(9, probability(0)), false},
		{"a parameter in percent", chance, field(8, process(grib2.Accumulation)), true},
		{"a percentile for a chance", chance, field(10, nil), false},
	} {
		t.Run(tt.name, func(t *testing.T) { require.Equal(t, tt.is, tt.want.is(tt.f)) })
	}
}
