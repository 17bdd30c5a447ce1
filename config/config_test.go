package config

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// small is the least that loads.
const small = `
ports:
  - name: Port Amparo
    at: 27.2000 N, 79.9000 W
    zone: America/New_York
    shore_normal: 90 deg
    grounds:
      - {name: the Shelf edge, at: "27.2 N, 79.83 W", depth: 150 ft, run: 20 min}
boat: {name: Second Light, kind: sportfish, length: 50 ft, tower: 22 ft, crew: 3}
sources: {contact: captain@example.com}
`

func loadText(t *testing.T, text string) *Config {
	t.Helper()
	c, err := Load("forecastd.yaml", []byte(text))
	require.NoError(t, err)
	return c
}

func TestExampleIsReadAsItSays(t *testing.T) {
	c := loadText(t, string(exampleFile()))
	require.Equal(t, Nautical, c.Units)
	require.Equal(t, models.English, c.Language)

	p := c.Ports[0]
	require.Equal(t, "Port Amparo", p.Name)
	require.Equal(t, models.Position{Lat: 27.2, Lon: -79.9}, p.At)
	require.Equal(t, "America/New_York", p.Zone.String())
	require.Equal(t, units.Toward(90), p.ShoreNormal)
	require.InDelta(t, 18, p.InletDepth.Or(0).Feet(), 1e-9)
	require.Equal(t, models.Known("XAM"), p.TextOffice)
	require.Equal(t, []Zone{{"AMZ997", ZoneTrip, []string{"the Shelf edge", "North Ledge"}}, {"AMZ998", ZoneShown, nil}}, p.Zones)
	require.Equal(t, []Station{
		{"XAMP1", models.Known(12 * units.Metre), []StationUse{StationWind, StationUpwind}},
		{"49997", models.Known(4 * units.Metre), []StationUse{StationWind, StationSea}},
	}, p.Stations)
	require.Equal(t, models.Known(TideStation{
		ID: "8799001", Later: 10 * time.Minute, Mean: 1.5 * units.Foot,
		Constants: []TideConstant{{"M2", 1.25 * units.Foot, 40}, {"S2", 0.23 * units.Foot, 75}},
		Offsets:   models.Known(TideOffsets{High: 12 * time.Minute, Low: 20 * time.Minute, HighRatio: 0.9, LowRatio: 0.9}),
	}), p.Tide)
	require.Equal(t, models.Known(CurrentStation{
		ID: "XAI0901", Bin: 1, Mean: 0.1 * units.Knot, Flood: 275, Ebb: 82,
		Constants: []StreamConstant{{"M2", 2.2 * units.Knot, 310}},
		Offsets: models.Known(StreamOffsets{
			SlackBeforeFlood: -14 * time.Minute, Flood: -time.Minute, SlackBeforeEbb: 28 * time.Minute, Ebb: 52 * time.Minute, FloodRatio: 1.4, EbbRatio: 0.8,
		}),
	}), p.Current)

	edge, ok := p.Ground("the Shelf edge")
	require.True(t, ok)
	require.InDelta(t, 150, edge.Depth.Feet(), 1e-9)
	require.Equal(t, 20*time.Minute, edge.Run)
	require.Equal(t, models.Known(0.02), edge.Slope)
	require.InDelta(t, 100, edge.Shallow.Or(0).Feet(), 1e-9)
	require.InDelta(t, 250, edge.Deep.Or(0).Feet(), 1e-9)
	require.Equal(t, models.Known(Gridpoint{"XAM", 60, 80}), edge.Gridpoint)
	require.Equal(t, models.Position{Lat: 27.25, Lon: -79.75}, edge.ModelPoint(GFSWave))
	require.Equal(t, edge.At, edge.ModelPoint(GFS))

	require.Equal(t, models.Known(Mail{"mail.example.com", 587, STARTTLS, "Second Light <boat@example.com>", "boat@example.com", "/etc/forecastd/mail-password"}), c.Mail)
	require.Equal(t, models.Known(Webhook{"/etc/forecastd/webhook-secret"}), c.Webhook)
	require.Equal(t, "https://example.com/captain", c.People[0].Second)
	require.Equal(t, "guests@example.com", c.Charters.Bookings[0].Contact)

	require.Equal(t, "Second Light", c.Boat.Name)
	require.Equal(t, models.CenterConsole, c.Boat.Kind)
	require.True(t, c.Boat.HeliumAboard)
	require.InDelta(t, 28, c.Boat.Cruise.Or(0).Knots(), 1e-9)
	// 32 and 360 U.S. gallons in litres (NIST Handbook 44, appendix C: 1 gal
	// is 3.785 411 784 L).
	require.InDelta(t, 121.133177, c.Boat.FuelPerHour.Or(0), 1e-6)
	require.InDelta(t, 1362.748242, c.Boat.FuelUsable.Or(0), 1e-6)
	// 50 pound-force in newton (NIST SP 811, appendix B: 1 lbf is 4.448 222 N).
	require.InDelta(t, 50*4.448222, c.Kites[0].Line.Or(0), 1e-4)
	require.False(t, c.Kites[2].Area.Known())

	require.Equal(t, models.Gear{Kind: models.GearBalloon, Name: "balloon, 30 in", Count: 6, Stow: "console locker"}, c.Gear[1])
	require.Equal(t, "pitch", c.Gear[2].Position)
	require.Equal(t, Pen{"dock pen", "goggle-eye", 60, models.Date{Year: 2027, Month: 1, Day: 16}, true}, c.Pens[0])

	event := c.Charters.On(models.Date{Year: 2027, Month: 1, Day: 19}, "Port Amparo")
	require.Len(t, event, 1)
	require.Equal(t, models.Trip{
		Kind: models.Tournament, Party: models.Experienced,
		Start: models.Clock{Hour: 6, Minute: 30}, End: models.Clock{Hour: 16, Minute: 30},
		LinesIn: models.Known(models.Clock{Hour: 8}), LinesOut: models.Known(models.Clock{Hour: 15}),
		ForHire: models.Known(false), Guests: models.Known(0),
	}, event[0].Trip)
	require.Empty(t, c.Charters.On(models.Date{Year: 2027, Month: 1, Day: 20}, "Port Amparo"))

	require.Equal(t, models.Spanish, c.People[1].Language)
	require.Equal(t, []Notice{NoticeFloatPlan}, c.People[1].What)
	require.Equal(t, models.Known(models.Clock{Hour: 21}), c.People[0].QuietFrom)
	require.Contains(t, string(exampleFile()), "INVENTED")
}

// What the example shows as the starting values is what a file without them
// gets.
func TestExampleShowsTheDefaults(t *testing.T) {
	shown, silent := loadText(t, string(exampleFile())), loadText(t, small)
	require.Equal(t, models.DefaultLimits(), silent.Limits)
	require.InDelta(t, 4, shown.Limits.RideTalk.Or(0).Feet(), 1e-9)
	l := shown.Limits
	l.RideEasy, l.RideTalk, l.RideOff = silent.Limits.RideEasy, silent.Limits.RideTalk, silent.Limits.RideOff
	requireNear(t, reflect.ValueOf(silent.Limits), reflect.ValueOf(l), "limits")

	require.Equal(t, DefaultCalendar(), silent.Season)
	require.Equal(t, silent.Season, shown.Season)
	s := shown.Sources
	s.Contact = ""
	require.Equal(t, DefaultSources(), s)
	require.Equal(t, DefaultDaemon(), silent.Daemon)
	d := shown.Daemon
	d.Heartbeat = "" // nobody is asked by default
	require.Equal(t, DefaultDaemon(), d)
	require.False(t, silent.Mail.Known())
	require.False(t, silent.Webhook.Known())
	require.Equal(t, silent.Charters.Terms, shown.Charters.Terms)
}

// requireNear compares the numbers of two structs to a billionth: 4 knots
// read from a file may differ from 4 * units.Knot in the last bit.
func requireNear(t *testing.T, a, b reflect.Value, path string) {
	t.Helper()
	switch a.Kind() {
	case reflect.Struct:
		for i := range a.NumField() {
			requireNear(t, a.Field(i), b.Field(i), path+"."+a.Type().Field(i).Name)
		}
	case reflect.Float64:
		require.InDelta(t, a.Float(), b.Float(), 1e-9, path)
	case reflect.Int, reflect.Int64:
		require.Equal(t, a.Int(), b.Int(), path)
	case reflect.Bool:
		require.Equal(t, a.Bool(), b.Bool(), path)
	default:
		t.Fatalf("%s: kind %s", path, a.Kind())
	}
}

// Every limit is the captain's to change: a file that changes all of them
// leaves no field of models.Limits at its default.
func TestEveryLimitCanBeChanged(t *testing.T) {
	c := loadText(t, small+`
limits:
  kite_wind: {from: 3 kn, full_from: 8 kn, full_to: 17 kn, to: 29 kn}
  helium: {suggest_under: 9 kn, need_under: 6 kn}
  gust_spread: {fine: 4 kn, marginal: 7 kn, poor: 11 kn}
  gust: {fine: 24 kn, none: 31 kn}
  direction_spread: {fine: 25 deg, poor: 55 deg}
  rain: {lowers: 25 %, stops: 55 %}
  thunder: {warn: 15 %, stop: 35 %}
  own: {wind: 19 kn, gust: 27 kn, sea: 6 ft}
  never: {wind: 24 kn, gust: 33 kn, sea: 7.5 ft, members: 15 %, clear_members: 75 %}
  tailing_wind: {from: 9 kn, full_from: 13 kn, full_to: 19 kn, to: 24 kn}
  opposition: {useful: 0.5, strong: 0.8}
  tail_current: {useful: 1 kn, strong: 1.8 kn}
  sun: {start: 20 deg, full: 30 deg}
  cloud: {full_under: 25 %, nil_over: 65 %}
  glare: {within: 40 deg, under: 40 deg}
  ride: {easy_under: 1 m, talk_from: 1.3 m, off_from: 2 m}
  visibility: {wait_under: 2 nmi, stay_under: 1000 m, clear_for: 20 min}
  inlet: {sector: 50 deg, wait: 4 ft, stay: 6 ft, unknown_ebb: 4 ft, steepness: 0.05, steep_from: 2 ft}
  back_inside: {official: 2 h, own: 1 h 10 min}
  scenarios: {count: 32, close: 40 %, go: 50 %, tell_doubt_under: 80 %}
  drift: {slow: 0.2 kn, good_from: 0.4 kn, good_to: 1.4 kn, usable: 1.9 kn, too_fast: 2.4 kn}
  times: {set_up: 30 min, turnaround: 50 min, earlier: 45 min, later: 2 h, shortest: 150 min}
  grades: {poor: 0.15, fair: 0.4, good: 0.7}
  weights:
    wind_in_kites: 10 min
    set_kites: 40 min
    change: 0.05
    cut: 0.2
    earlier: 0.2
    later: 0.3
    rough_hour: 0.2
    worth_leaving: 0.2
    agree: 0.8
    one_tactic: 0.75
`)
	require.Equal(t, 70*time.Minute, c.Limits.OwnMargin)
	require.InDelta(t, 0.15, c.Limits.NeverMembers, 1e-12)
	require.InDelta(t, 1000, c.Limits.FogStay.Metres(), 1e-9)
	requireChanged(t, reflect.ValueOf(models.DefaultLimits()), reflect.ValueOf(c.Limits), "limits")
}

// requireChanged finds the fields that are still equal, down to single
// values.
func requireChanged(t *testing.T, a, b reflect.Value, path string) {
	t.Helper()
	if a.Kind() == reflect.Struct && a.Type() != reflect.TypeFor[models.Opt[units.Length]]() {
		for i := range a.NumField() {
			requireChanged(t, a.Field(i), b.Field(i), path+"."+a.Type().Field(i).Name)
		}
		return
	}
	require.NotEqual(t, a.Interface(), b.Interface(), path)
}

// The example shows every key that the reader knows.
func TestExampleShowsEveryKey(t *testing.T) {
	_, r := load("example.yaml", exampleFile())
	require.Empty(t, r.problems)
	require.Greater(t, len(r.keys), 150)
	for _, k := range r.keys {
		require.True(t, r.seen[k.form], "%s is not in the example", k.form)
	}
}

// The reference page is written from the keys that the reader asks for.
// FORECASTD_UPDATE=1 writes it anew.
func TestReferencePageIsCurrent(t *testing.T) {
	_, r := load("example.yaml", exampleFile())
	var b strings.Builder
	b.WriteString("# Configuration, key by key\n\n" +
		"Written by `FORECASTD_UPDATE=1 go test ./config`; `config/example.yaml` shows each key in use.\n" +
		"`[]` stands for each entry of a list. A key that is neither required nor optional has the default given.\n\n" +
		"| key | what | default |\n|---|---|---|\n")
	for _, k := range r.keys {
		b.WriteString("| `" + k.form + "` | " + strings.ReplaceAll(k.what, "|", "\\|") + " | " + k.must + " |\n")
	}
	page := filepath.Join("..", "docs", "configuration.md")
	if os.Getenv("FORECASTD_UPDATE") == "1" {
		require.NoError(t, os.WriteFile(page, []byte(b.String()), 0o644))
	}
	have, err := os.ReadFile(page)
	require.NoError(t, err)
	require.Equal(t, b.String(), string(have), "run FORECASTD_UPDATE=1 go test ./config")
}

func TestZonesBindByGround(t *testing.T) {
	p := Port{Zones: []Zone{
		{ID: "AMZ997", Use: ZoneTrip},
		{ID: "AMZ996", Use: ZoneTrip, Grounds: []string{"North Ledge"}},
		{ID: "AMZ998", Use: ZoneShown},
	}}
	require.Equal(t, []string{"AMZ997"}, p.ZonesFor("the Shelf edge"))
	require.Equal(t, []string{"AMZ997", "AMZ996"}, p.ZonesFor("North Ledge"))
}

// The evening before the trip on the port's clock, also across the change to
// daylight saving time of 2027-03-14 in New York (IANA time zone database).
func TestTellBy(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	terms := Terms{TellAt: models.Clock{Hour: 19}, TellDays: 1}
	require.Equal(t, "2027-03-14T00:00:00Z", terms.TellBy(models.Date{Year: 2027, Month: 3, Day: 14}, zone).Format(time.RFC3339))
	require.Equal(t, "2027-03-14T23:00:00Z", terms.TellBy(models.Date{Year: 2027, Month: 3, Day: 15}, zone).Format(time.RFC3339))
}

func TestSeasonOfADay(t *testing.T) {
	c := DefaultCalendar()
	require.Equal(t, models.SeasonPeak, c.On(models.Date{Year: 2027, Month: 1, Day: 31}))
	require.Equal(t, models.SeasonOff, c.On(models.Date{Year: 2027, Month: 8, Day: 1}))
	require.Equal(t, models.SeasonPeak, c.On(models.Date{Year: 2027, Month: 12, Day: 31}))
}

func TestBookingsStandInOrderOfTime(t *testing.T) {
	c := loadText(t, small+`
charters:
  usual_trip: {party: family, guests: 4, for_hire: yes}
  bookings:
    - {name: c, date: 2027-01-20}
    - {name: b, date: 2027-01-19, start: 13:00, end: 17:00}
    - {name: a, date: 2027-01-19, start: 07:00, end: 12:00}
`)
	day := c.Charters.On(models.Date{Year: 2027, Month: 1, Day: 19}, "Port Amparo")
	require.Len(t, day, 2)
	require.Equal(t, "a", day[0].Name)
	require.Equal(t, "b", day[1].Name)
	require.Equal(t, "the Shelf edge", day[0].Ground)
	require.Equal(t, models.Family, day[0].Trip.Party)
	require.False(t, day[0].Trip.Guests.Known(), "the head count of a booking is its own")
}

func TestSeveralPorts(t *testing.T) {
	c := loadText(t, small+"")
	require.Len(t, c.Ports, 1)
	two := strings.Replace(small, "boat:", `  - name: Cove
    at: 27.9000 N, 80.2000 W
    zone: America/New_York
    shore_normal: 80 deg
    grounds:
      - {name: the Shelf edge, at: "27.9 N, 80.0 W", depth: 40 m, run: 30 min}
boat:`, 1)
	c = loadText(t, two+`
charters:
  bookings:
    - {name: a, date: 2027-01-19, port: Cove}
`)
	require.Len(t, c.Ports, 2)
	require.Equal(t, "Cove", c.Charters.Bookings[0].Port)
	require.Len(t, c.Charters.On(models.Date{Year: 2027, Month: 1, Day: 19}, "Cove"), 1)
	require.Empty(t, c.Charters.On(models.Date{Year: 2027, Month: 1, Day: 19}, "Port Amparo"))
}

func TestLineEndsAndMark(t *testing.T) {
	want := loadText(t, small)
	require.Equal(t, want, loadText(t, strings.ReplaceAll(small, "\n", "\r\n")))
	require.Equal(t, want, loadText(t, "\ufeff"+small))
}

func TestTooLargeFile(t *testing.T) {
	_, err := Load("forecastd.yaml", make([]byte, maxFile+1))
	require.EqualError(t, err, "forecastd.yaml:1:1: is larger than 1 MiB: this is no configuration file")
}

// The example handed out is a copy.
func TestExampleIsNotShared(t *testing.T) {
	b := exampleFile()
	b[0] = 'x'
	require.NotEqual(t, b[0], exampleFile()[0])
}

func FuzzLoad(f *testing.F) {
	f.Add(exampleFile())
	f.Add([]byte(small))
	files, err := filepath.Glob("testdata/bad-*.yaml")
	require.NoError(f, err)
	for _, name := range files {
		b, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		c, err := Load("forecastd.yaml", b)
		require.Equal(t, err == nil, c != nil)
		if c == nil {
			return
		}
		require.NotEmpty(t, c.Ports)
		for _, p := range c.Ports {
			require.True(t, p.At.Valid())
			require.NotNil(t, p.Zone)
			require.NotEmpty(t, p.Grounds)
			for _, g := range p.Grounds {
				require.Positive(t, float64(g.Depth))
				require.Positive(t, g.Run)
			}
		}
	})
}

func BenchmarkLoad(b *testing.B) {
	example := exampleFile()
	b.ReportAllocs()
	for b.Loop() {
		_, err := Load("example.yaml", example)
		require.NoError(b, err)
	}
}
