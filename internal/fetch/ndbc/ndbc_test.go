package ndbc_test

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch/ndbc"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/testdata"
)

func read(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(testdata.Dir(t, "obs"), name))
	require.NoError(t, err)
	return b
}

func when(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.Parse("2006-01-02 15:04", s)
	require.NoError(t, err)
	return at
}

// want is a row as read by eye from a file; NaN is unknown.
type want struct {
	at                          string
	windDir, wind, gust         float64 // degrees, m/s
	sea, period, mean, seaDir   float64 // m, s, s, degrees
	pressure, air, water, sight float64 // hPa, °C, °C, nmi
}

func value[T any](o models.Opt[T], f func(T) float64) float64 {
	v, ok := o.Get()
	if !ok {
		return math.NaN()
	}
	return f(v)
}

func check(t testing.TB, w want, o models.Observation) {
	t.Helper()
	plain := func(v float64) float64 { return v }
	require.Equal(t, when(t, w.at), o.At)
	for name, pair := range map[string][2]float64{
		"wind direction": {w.windDir, value(o.WindFrom, func(f units.From) float64 { return float64(f) })},
		"wind":           {w.wind, value(o.Wind, units.Speed.MetresPerSecond)},
		"gust":           {w.gust, value(o.Gust, units.Speed.MetresPerSecond)},
		"sea":            {w.sea, value(o.Sea, units.Length.Metres)},
		"period":         {w.period, value(o.Period, plain)},
		"mean period":    {w.mean, value(o.MeanPeriod, plain)},
		"sea direction":  {w.seaDir, value(o.SeaFrom, func(f units.From) float64 { return float64(f) })},
		"pressure":       {w.pressure, value(o.Pressure, units.Pressure.Hectopascals)},
		"air":            {w.air, value(o.Air, units.Temperature.Celsius)},
		"water":          {w.water, value(o.Water, units.Temperature.Celsius)},
		"visibility":     {w.sight, value(o.Visibility, units.Length.NauticalMiles)},
	} {
		if math.IsNaN(pair[0]) {
			require.True(t, math.IsNaN(pair[1]), "%s at %s is unknown, got %g", name, w.at, pair[1])
			continue
		}
		require.InDelta(t, pair[0], pair[1], 1e-9, "%s at %s", name, w.at)
	}
}

// The numbers are read by eye from the files of the National Data Buoy Center.
func TestDialects(t *testing.T) {
	no := math.NaN()
	tests := []struct {
		file string
		rows int
		odd  []string
		want []want
	}{
		{"ndbc_rt_44013_2022-06.txt", 248, nil, []want{
			{"2022-06-05 13:00", 280, 3, 4, no, no, no, no, 1015.2, no, 13.9, no},
			{"2022-06-05 12:50", 270, 3, 4, 0.5, 7, 3.5, 100, 1015.3, no, 13.8, no},
			{"2022-06-05 12:40", 280, 4, 5, 0.5, no, 3.5, 100, 1015.2, no, 13.8, no},
			{"2022-06-03 19:30", 70, 2, 2, no, no, no, no, 1009.1, no, 13.9, no},
		}},
		{"ndbc_rt_GreatLakes_2025-05_calmMM.txt", 8, nil, []want{
			{"2025-05-23 18:30", 90, 2, 3, 0.3, 5, no, 24, 1020.4, 7.7, 7.7, no},
			{"2025-05-23 17:30", 140, 3, 3, 0.2, no, no, 19, 1020.3, 7.7, 7.7, no},
			{"2025-05-23 05:30", no, 0, 1, 0.5, 5, no, 18, 1018.6, 7.1, 7.2, no}, // calm
		}},
		{"ndbc_hist_46001h1974_excerpt.txt", 4, nil, []want{
			{"1974-06-27 09:00", 34, 3.6, no, no, no, no, no, 1009, 8.1, no, no},
			{"1974-06-27 12:00", 83, 3.5, no, no, no, no, no, no, 8.2, no, no},
			{"1974-12-03 05:00", no, 5.1, no, 1.5, no, no, no, 1000.1, 2.8, no, no},
		}},
		{"ndbc_hist_excerpt_1998_crlf.txt", 1, nil, []want{
			{"1998-01-01 00:00", 172, 8.2, 8.9, no, no, no, no, 1011.4, 8.7, no, no},
		}},
		{"ndbc_hist_excerpt_2004.txt", 1, nil, []want{
			{"2004-01-01 00:00", 16, 2.5, 2.9, 0.64, 10.81, 6.56, no, 1026.9, 23.1, 22.9, no},
		}},
		{"ndbc_hist_excerpt_2005_2006.txt", 2, nil, []want{
			{"2005-12-31 23:30", 11, 1.9, 2.2, no, no, no, no, 987.7, 8.5, 8.6, no},
			{"2006-01-01 00:00", no, no, no, 1.9, 14, no, no, no, no, 15.1, no},
		}},
		{"ndbc_hist_44009h2013_excerpt.txt", 9, []string{"6 × waves of a buoy that seems to be out of the water (first in line 3)"}, []want{
			{"2013-02-01 21:50", 180, 0, 0, no, no, no, no, 1023.5, 6.6, 9, no},
			{"2013-02-04 13:50", 360, 3.4, 4.6, no, no, no, no, 1020.5, 3.4, 5.1, no},
			{"2013-02-08 09:50", 178, 4.3, 6.9, no, no, no, no, 998.6, 16.2, 15.8, no},
		}},
		{"ndbc_hist_TPLM2h2020_head.txt", 298, nil, []want{
			{"2020-01-01 00:00", 188, 6.1, 6.2, no, no, no, no, 1006.1, 9.5, 6.6, no},
		}},
		{"ndbc_monthly_TPLM2_2022-01_head.txt", 118, nil, []want{
			{"2022-01-01 01:00", 105, 3.6, 4.1, no, no, no, no, 1014.2, 9.9, 7.8, no},
		}},
		{"ndbc_rt_TPLM2_2022-06.cwind", 198, nil, nil},
		{"ndbc_rt_41008_2018.cwind", 118, nil, nil},
	}
	for _, tc := range tests {
		t.Run(tc.file, func(t *testing.T) {
			got, odd, err := ndbc.ParseMet(read(t, tc.file))
			require.NoError(t, err)
			require.Len(t, got, tc.rows)
			var said []string
			for _, o := range odd {
				said = append(said, o.String())
			}
			require.Equal(t, tc.odd, said)
			require.True(t, slices.IsSortedFunc(got, func(a, b models.Observation) int { return a.At.Compare(b.At) }))
			for _, w := range tc.want {
				i := slices.IndexFunc(got, func(o models.Observation) bool { return o.At.Equal(when(t, w.at)) })
				require.GreaterOrEqual(t, i, 0, w.at)
				check(t, w, got[i])
			}
		})
	}
}

const head = "#YY  MM DD hh mm WDIR WSPD GST  WVHT   DPD   APD MWD   PRES  ATMP  WTMP  DEWP  VIS PTDY  TIDE\n" +
	"#yr  mo dy hr mn degT m/s  m/s     m   sec   sec degT   hPa  degC  degC  degC  nmi  hPa    ft\n"

// Rows that are wrong in a way seen in the field, or that may come.
func TestOddRows(t *testing.T) {
	good := "2022 06 05 12 50 270  3.0  4.0   0.5     7   3.5 100 1015.3  11.0  13.8   9.0  5.0 +0.5   1.2\n"
	tests := map[string]struct {
		rows string
		n    int
		odd  string
	}{
		"run together":        {good + strings.TrimSpace(good) + " " + good, 1, "broken off or run together"}, // as seen for 46073
		"broken off":          {good + "2022 06 05 13 00 270  3.0\n", 1, "broken off or run together"},
		"tide left out":       {"2022 06 05 12 50 270  3.0  4.0   0.5     7   3.5 100 1015.3  11.0  13.8   9.0  5.0 +0.5\n", 1, ""},
		"no such day":         {good + strings.Replace(good, "06 05", "02 30", 1), 1, "without a readable time"},
		"no such hour":        {good + strings.Replace(good, "12 50", "24 50", 1), 1, "without a readable time"},
		"time missing":        {good + strings.Replace(good, "12 50", "MM 50", 1), 1, "without a readable time"},
		"year of three":       {good + strings.Replace(good, "2022", "202", 1), 1, "without a readable time"},
		"twice, last counts":  {good + strings.Replace(good, "270", "280", 1), 1, ""},
		"impossible wind":     {strings.Replace(good, "  3.0", " 300.0", 1), 1, "impossible WSPD"},
		"impossible bearing":  {strings.Replace(good, "270", "370", 1), 1, "impossible WDIR"},
		"negative height":     {strings.Replace(good, " 0.5 ", "-0.5 ", 1), 1, "impossible WVHT"},
		"not a number":        {strings.Replace(good, " 3.0", " NaN", 1), 1, "unreadable WSPD"},
		"infinite":            {strings.Replace(good, " 3.0", " Inf", 1), 1, "unreadable WSPD"},
		"words":               {strings.Replace(good, " 3.0", " ***", 1), 1, "unreadable WSPD"},
		"comment in between":  {good + "# moved to a new site\n" + strings.Replace(good, "12 50", "13 00", 1), 2, ""},
		"header in between":   {good + head + strings.Replace(good, "12 50", "13 00", 1), 2, ""},
		"no line end":         {strings.TrimSpace(good), 1, ""},
		"carriage returns":    {strings.ReplaceAll(good, "\n", "\r\n"), 1, ""},
		"blank lines":         {"\n\n" + good + "\n", 1, ""},
		"ashore in a breeze":  {strings.Replace(strings.Replace(good, " 3.0", " 8.0", 1), "   0.5     7", "   0.0     7", 1), 1, "out of the water"},
		"unit line misfitted": {"#yr mo dy\n" + good, 1, "unit line that does not fit"},
	}
	for name, tc := range tests {
		t.Run(name, func(t *testing.T) {
			got, odd, err := ndbc.ParseMet([]byte(head + tc.rows))
			require.NoError(t, err)
			require.Len(t, got, tc.n)
			if tc.odd == "" {
				require.Empty(t, odd)
				return
			}
			require.Len(t, odd, 1)
			require.Contains(t, odd[0].What, tc.odd)
			require.Equal(t, 1, odd[0].Count)
			require.Positive(t, odd[0].Line)
		})
	}
	got, _, err := ndbc.ParseMet([]byte(head + good + strings.Replace(good, "270", "280", 1)))
	require.NoError(t, err)
	require.Equal(t, models.Known(units.From(280)), got[0].WindFrom)
}

// Fillers are a matter of the column: 999.0 hPa is a deep low, and 99 a
// bearing just south of east.
func TestFillersAreByColumn(t *testing.T) {
	got, odd, err := ndbc.ParseMet([]byte(head +
		"2022 06 05 12 50  99  9.0 12.0   2.5     9   5.5  99  999.0  99.0  26.0   9.0  5.0 +0.5   1.2\n" +
		"2022 06 05 13 00 999 99.0 99.0 99.00 99.00 99.00 999 9999.0 999.0 999.0 999.0 99.0   MM 99.00\n"))
	require.NoError(t, err)
	require.Len(t, odd, 1, "an air of 99 °C is impossible, not missing")
	require.Equal(t, "impossible ATMP", odd[0].What)
	require.Equal(t, models.Known(999*units.Hectopascal), got[0].Pressure)
	require.Equal(t, models.Known(units.From(99)), got[0].WindFrom)
	require.Equal(t, models.Known(units.From(99)), got[0].SeaFrom)
	require.Equal(t, models.Observation{At: when(t, "2022-06-05 13:00")}, got[1])
}

func TestUnitsFromTheUnitLine(t *testing.T) {
	row := "2020 01 01 00 00 188  6.1  6.2 99.00 99.00 99.00 999 1006.1   9.5   6.6  -0.3  8.0 99.00\n"
	names := "#YY  MM DD hh mm WDIR WSPD GST  WVHT   DPD   APD MWD   PRES  ATMP  WTMP  DEWP  VIS  TIDE\n"
	parse := func(unitLine string) (models.Observation, []ndbc.Oddity) {
		got, odd, err := ndbc.ParseMet([]byte(names + unitLine + row))
		require.NoError(t, err)
		return got[0], odd
	}
	miles, _ := parse("#yr  mo dy hr mn degT m/s  m/s     m   sec   sec degT   hPa  degC  degC  degC   mi    ft\n")
	require.Equal(t, 8*units.StatuteMile, miles.Visibility.Or(0))
	nautical, _ := parse("#yr  mo dy hr mn deg  m/s  m/s     m   sec   sec deg    hPa  degC  degC  degC  nmi    ft\n")
	require.Equal(t, 8*units.NauticalMile, nautical.Visibility.Or(0))
	knots, odd := parse("#yr  mo dy hr mn degT kts  m/s     m   sec   sec degT   hPa  degC  degC  degC   mi    ft\n")
	require.False(t, knots.Wind.Known(), "a unit that is new to us is not metres per second")
	require.Equal(t, "WSPD in a unit that we do not know", odd[0].What)
}

func TestNotATable(t *testing.T) {
	for name, text := range map[string]string{
		"error in the body": "Unable to access data file\n",
		"no rows":           head,
		"only broken rows":  head + "2022 06 05\n",
		"other table":       string([]byte("STATION SITE AIR_TEMP\n41001 0 4\n")),
		"nothing":           "",
	} {
		_, _, err := ndbc.ParseMet([]byte(text))
		require.Error(t, err, name)
		_, _, err = ndbc.ParseSpec([]byte(text))
		require.Error(t, err, name)
	}
	_, _, err := ndbc.ParseSpec(read(t, "ndbc_rt_44013_2022-06.txt"))
	require.ErrorContains(t, err, "SwH")
	for _, other := range []string{"ndbc_rt_44013_2022-06.data_spec", "ndbc_rt_44029_2022-06.adcp"} {
		_, odd, err := ndbc.ParseMet(read(t, other))
		require.Error(t, err)
		require.NotEmpty(t, odd)
	}
}

func TestSpec(t *testing.T) {
	got, odd, err := ndbc.ParseSpec(read(t, "ndbc_rt_41002_2018.spec"))
	require.NoError(t, err)
	require.Empty(t, odd)
	require.Len(t, got, 198)
	// The first row of the file, read by eye.
	require.Equal(t, ndbc.Spectrum{
		At: when(t, "2018-08-01 14:40"), Sea: models.Known(1.2 * units.Metre),
		Swell: models.Known(0.6 * units.Metre), SwellPeriod: models.Known(8.3), SwellFrom: models.Known(units.From(135)),
		WindSea: models.Known(1.0 * units.Metre), WindSeaPeriod: models.Known(5.9), WindSeaFrom: models.Known(units.From(202.5)),
		MeanPeriod: models.Known(4.5), SeaFrom: models.Known(units.From(209)), Steepness: "STEEP",
	}, got[len(got)-1])

	for _, file := range []string{"ndbc_rt_41002_2018.spec", "ndbc_rt_44013_2022-06.spec"} {
		rows, _, err := ndbc.ParseSpec(read(t, file))
		require.NoError(t, err)
		for _, r := range rows {
			// The energies of the parts add up to the whole (NDBCWaves); the
			// heights are rounded to 0.1 m.
			whole, parts := r.Sea.Or(0).Metres(), math.Hypot(r.Swell.Or(0).Metres(), r.WindSea.Or(0).Metres())
			require.InDelta(t, whole, parts, 0.13, "%s %s", file, r.At)
		}
	}
}

func TestSpecOddities(t *testing.T) {
	const spec = "#YY  MM DD hh mm WVHT  SwH  SwP  WWH  WWP SwD WWD  STEEPNESS  APD MWD\n" +
		"#yr  mo dy hr mn    m    m  sec    m  sec  -  degT     -      sec degT\n"
	got, odd, err := ndbc.ParseSpec([]byte(spec +
		"2022 06 05 12 40  0.5   NO   NO  0.5  3.0  NO  XX       BUMPY  3.5 100\n" +
		"2022 06 05 11 40  0.5  -99  -99  0.5  3.0 -99 WNW        N/A  3.5 -99\n"))
	require.NoError(t, err)
	require.Len(t, got, 2)
	require.Equal(t, []ndbc.Oddity{
		{What: "impossible MWD", Count: 1, Line: 4}, // rows are read in order of time
		{What: "unreadable WWD", Count: 1, Line: 3},
		{What: "unknown word for the steepness", Count: 1, Line: 3},
	}, odd)
	require.False(t, got[0].Swell.Known() || got[1].Swell.Known() || got[0].SwellFrom.Known() || got[1].SwellFrom.Known())
	require.Empty(t, got[0].Steepness+got[1].Steepness)
	require.Equal(t, models.Known(units.From(292.5)), got[0].WindSeaFrom)
}

// At 44013 the rows of hh:40 and hh:50 and the summary of hh:40 are one
// sample of waves.
func TestFuse(t *testing.T) {
	met, _, err := ndbc.ParseMet(read(t, "ndbc_rt_44013_2022-06.txt"))
	require.NoError(t, err)
	spec, _, err := ndbc.ParseSpec(read(t, "ndbc_rt_44013_2022-06.spec"))
	require.NoError(t, err)
	// Only the summaries of the time that the other file covers.
	spec = slices.DeleteFunc(spec, func(s ndbc.Spectrum) bool { return s.At.Before(met[0].At) })
	got := ndbc.Fuse(met, spec)
	require.Len(t, got, len(met), "every summary finds its row")
	waves := 0
	for _, o := range got {
		if !o.Sea.Known() {
			require.False(t, o.MeanPeriod.Known() || o.Swell.Known(), "%s", o.At)
			continue
		}
		waves++
		require.True(t, o.Period.Known() && o.Swell.Known() && o.WindSea.Known(), "%s", o.At)
		require.Equal(t, 50, o.At.Minute(), "%+v", o)
	}
	require.Equal(t, 42, waves, "rows with both WVHT and DPD, counted with a text tool")
	at := func(s string) models.Observation {
		i := slices.IndexFunc(got, func(o models.Observation) bool { return o.At.Equal(when(t, s)) })
		require.GreaterOrEqual(t, i, 0)
		return got[i]
	}
	swell, chop := at("2022-06-05 12:50"), at("2022-06-05 11:50")
	require.Equal(t, models.Known(6.7), swell.Period, "7 s is the swell's 6.7")
	require.Equal(t, models.Known(units.From(90)), swell.SwellFrom)
	require.Equal(t, models.Known(0.4*units.Metre), swell.WindSea)
	require.Equal(t, models.Known(2.9), chop.Period, "3 s is the wind sea's 2.9")
	require.Equal(t, models.Known(3*units.MetrePerSecond), swell.Wind, "the wind stays")
	// Here the row of hh:40 has the peak period and that of hh:50 the rest.
	spread := at("2022-06-04 12:50")
	require.Equal(t, models.Known(5.3), spread.Period)
	require.Equal(t, models.Known(4.1), spread.MeanPeriod)
	require.Equal(t, models.Known(units.From(101)), spread.SeaFrom)
	require.False(t, at("2022-06-04 12:40").Sea.Known())

	alone := ndbc.Fuse(nil, spec)
	require.Len(t, alone, len(spec))
	last := alone[len(alone)-1]
	require.Equal(t, models.Known(0.5*units.Metre), last.Sea)
	require.False(t, last.Period.Known(), "the summary alone does not say which part has the peak")
}

func TestFuseOddCases(t *testing.T) {
	early := models.Observation{At: when(t, "2022-06-05 12:40"), Sea: models.Known(0.5 * units.Metre), MeanPeriod: models.Known(3.5)}
	got := ndbc.Fuse([]models.Observation{early}, nil)
	require.Equal(t, []models.Observation{early}, got, "the full row has not come yet")
	// A summary of a flat sea that no row confirms is a buoy ashore.
	flat := ndbc.Spectrum{At: early.At, Sea: models.Known(0 * units.Metre)}
	require.Empty(t, ndbc.Fuse(nil, []ndbc.Spectrum{flat}))
	// A summary joins the row of its own time that has only wind.
	wind := models.Observation{At: early.At, Wind: models.Known(5 * units.MetrePerSecond)}
	s := ndbc.Spectrum{At: early.At, Sea: models.Known(0.6 * units.Metre), Swell: models.Known(0.3 * units.Metre), Steepness: "SWELL"}
	got = ndbc.Fuse([]models.Observation{wind}, []ndbc.Spectrum{s})
	require.Len(t, got, 1)
	require.Equal(t, wind.Wind, got[0].Wind)
	require.Equal(t, s.Sea, got[0].Sea)
	require.Equal(t, "SWELL", got[0].SteepnessLabel)
}

func TestStations(t *testing.T) {
	got, odd, err := ndbc.ParseStations(read(t, "ndbc_activestations_2024-08-27.xml"))
	require.NoError(t, err)
	require.Empty(t, odd)
	require.Len(t, got, 1348, "the list's own count")
	met := map[models.Opt[bool]]int{}
	for _, s := range got {
		met[s.Met]++
	}
	// Counted with a text tool.
	require.Equal(t, map[models.Opt[bool]]int{models.Known(true): 911, models.Known(false): 389, models.Unknown[bool](): 48}, met)

	near := ndbc.Nearest(got, models.Position{Lat: 25.8, Lon: -80.1}, 3)
	require.Len(t, near, 3)
	require.Equal(t, "VAKF1", near[0].ID)
	require.InDelta(t, 5.3, near[0].Distance.NauticalMiles(), 0.3) // 4.1' of latitude, 3.7' of longitude
	require.Empty(t, ndbc.Nearest(got, models.Position{}, -1))
	require.Len(t, ndbc.Nearest(got, models.Position{}, 1e6), 1348)
}

func TestStationsThatMakeNoSense(t *testing.T) {
	list := func(inner string) []byte {
		return []byte(`<?xml version="1.0" encoding="UTF-8"?><stations count="2">` + inner + "</stations>")
	}
	const good = `<station id="fwyf1" lat="25.591" lon="-80.097" name="Fowey &amp; Rocks" met="n"/>`
	for _, bad := range []string{
		`<station id="../x" lat="1" lon="2"/>`, `<station lat="1" lon="2"/>`, `<station id="abc1" lat="one" lon="2"/>`,
		`<station id="abc1" lat="91" lon="2"/>`, `<station id="abc1" lat="NaN" lon="2"/>`,
	} {
		got, odd, err := ndbc.ParseStations(list(good + bad))
		require.NoError(t, err)
		require.Len(t, got, 1)
		require.Equal(t, "Fowey & Rocks", got[0].Name)
		require.Len(t, odd, 1, bad)
	}
	for _, bad := range [][]byte{nil, list(""), list(good)[:80], []byte("<stations><station"), bytes.Repeat([]byte("<a>"), 100)} {
		_, _, err := ndbc.ParseStations(bad)
		require.Error(t, err)
	}
}

func TestIDs(t *testing.T) {
	for id, ok := range map[string]bool{"41009": true, "FWYF1": true, "0y2w3": true, "": false, "a b": false, "../../x": false, "toolongid": false} {
		require.Equal(t, ok, ndbc.ValidID(id), id)
	}
}

func FuzzParseMet(f *testing.F) {
	f.Add([]byte(head + "2022 06 05 12 50 270  3.0  4.0   0.5     7   3.5 100 1015.3  11.0  13.8   9.0  5.0 +0.5   1.2\n"))
	f.Add([]byte("YY MM DD hh WD   WSPD GST  WVHT  DPD   APD  MWD  BAR    ATMP  WTMP  DEWP  VIS\r\n98 01 01 00 172  8.2  8.9 99.00 99.00 99.00 999 1011.4   8.7 999.0   6.9 99.0\r\n"))
	f.Add([]byte("#YY MM DD hh\n#yr\nYYYY MM DD\n1 2 3 4\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, odd, err := ndbc.ParseMet(data)
		if err != nil {
			return
		}
		require.NotEmpty(t, got)
		for i, o := range got {
			require.True(t, i == 0 || got[i-1].At.Before(o.At))
			require.LessOrEqual(t, o.Wind.Or(0), 110*units.MetrePerSecond)
			require.False(t, math.IsNaN(float64(o.Sea.Or(0))))
		}
		for _, o := range odd {
			require.Positive(t, o.Count)
		}
		ndbc.Fuse(got, nil)
	})
}

func FuzzParseSpec(f *testing.F) {
	f.Add([]byte("#YY  MM DD hh mm WVHT  SwH  SwP  WWH  WWP SwD WWD  STEEPNESS  APD MWD\n2022 06 05 12 40  0.5  0.3  6.7  0.4  3.0   E WNW        N/A  3.5 100\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, _, err := ndbc.ParseSpec(data)
		if err == nil {
			require.NotEmpty(t, got)
			ndbc.Fuse(nil, got)
		}
	})
}

func FuzzParseStations(f *testing.F) {
	f.Add([]byte(`<stations count="1"><station id="fwyf1" lat="25.591" lon="-80.097" met="n"/></stations>`))
	f.Fuzz(func(t *testing.T, data []byte) {
		got, _, err := ndbc.ParseStations(data)
		if err == nil {
			require.NotEmpty(t, got)
			ndbc.Nearest(got, models.Position{Lat: 25, Lon: -80}, 2)
		}
	})
}

// A realtime file as long as they get: 45 days of ten-minute rows.
func BenchmarkParseMet(b *testing.B) {
	var file strings.Builder
	file.WriteString(head)
	for at := when(b, "2027-01-18 22:00"); at.After(when(b, "2026-12-04 22:00")); at = at.Add(-10 * time.Minute) {
		file.WriteString(at.Format("2006 01 02 15 04") + " 270  3.0  4.0   0.5     7   3.5 100 1015.3  11.0  13.8   9.0   MM +0.5    MM\n")
	}
	data := []byte(file.String())
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := ndbc.ParseMet(data); err != nil {
			b.Fatal(err)
		}
	}
}
