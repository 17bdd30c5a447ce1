package config

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// One of each unit in SI: NIST SP 811 (2008), appendix B.8, and for the
// gallon NIST Handbook 44, appendix C.
func TestUnits(t *testing.T) {
	read := func(v float64, err error) float64 {
		require.NoError(t, err)
		return v
	}
	of := func(text string) float64 {
		switch text[2:] {
		case "kn", "m/s", "km/h", "mph":
			v, err := speed(0, 100).read(text)
			return read(float64(v), err)
		case "ft", "in", "yd", "m":
			v, err := height(0, 100).read(text)
			return read(float64(v), err)
		case "nmi", "mi", "km":
			v, err := farness(0, 1e5).read(text)
			return read(float64(v), err)
		case "oz", "lb", "g", "kg":
			v, err := mass(0, 100).read(text)
			return read(float64(v), err)
		case "m2", "ft2":
			return read(area(0, 100).read(text))
		case "gal", "L":
			return read(volume(0, 100).read(text))
		case "gal/h", "L/h":
			return read(flow(0, 100).read(text))
		}
		t.Fatalf("no kind for %s", text)
		return 0
	}
	for unit, si := range map[string]float64{
		"kn": 0.5144444, "m/s": 1, "km/h": 0.2777778, "mph": 0.44704,
		"ft": 0.3048, "in": 0.0254, "yd": 0.9144, "m": 1, "nmi": 1852, "mi": 1609.344, "km": 1000,
		"oz": 0.02834952, "lb": 0.4535924, "g": 0.001, "kg": 1,
		"m2": 1, "ft2": 0.09290304,
		"gal": 3.785412, "L": 1, "gal/h": 3.785412, "L/h": 1,
	} {
		require.InEpsilon(t, si, of("1 "+unit), 1e-6, unit)
	}
	newtons, err := force(0, 100).read("1 lb")
	require.NoError(t, err)
	require.InEpsilon(t, 4.448222, newtons, 1e-6)
	newtons, err = force(0, 100).read("1 kg")
	require.NoError(t, err)
	require.InEpsilon(t, 9.80665, newtons, 1e-12)
}

func TestQuantities(t *testing.T) {
	for _, tt := range []struct {
		text string
		want units.Speed
		err  string
	}{
		{"12 kn", 12 * units.Knot, ""},
		{"12kn", 12 * units.Knot, ""},
		{"+12.50  kn", 12.5 * units.Knot, ""},
		{"0 kn", 0, ""},
		{"100 kn", 100 * units.Knot, ""},
		{"12", 0, `"12" has no unit: write 12 kn`},
		{"kn", 0, `"kn" is not a speed: write it as 12 kn`},
		{"", 0, `"" is not a speed: write it as 12 kn`},
		{"1-2 kn", 0, `"1-2 kn" is not a speed: write it as 12 kn`},
		{"1,5 kn", 0, `"1,5 kn" is not a speed: its unit must be kn, m/s, km/h or mph`},
		{".inf kn", 0, `".inf kn" is not a speed: write it as 12 kn`},
		{"12 knots", 0, `"12 knots" is not a speed: its unit must be kn, m/s, km/h or mph`},
		{"-1 kn", 0, `"-1 kn" can't be right: write 0 kn to 100 kn`},
		{"101 kn", 0, `"101 kn" can't be right: write 0 kn to 100 kn`},
	} {
		got, err := speed(0, 100*units.Knot).read(tt.text)
		if tt.err != "" {
			require.EqualError(t, err, tt.err)
			continue
		}
		require.NoError(t, err, tt.text)
		require.InDelta(t, float64(tt.want), float64(got), 1e-12, tt.text)
	}
}

func TestSpans(t *testing.T) {
	for text, want := range map[string]time.Duration{
		"25 min": 25 * time.Minute, "25min": 25 * time.Minute, "1 h 30 min": 90 * time.Minute, "1h30min": 90 * time.Minute,
		"1.5 h": 90 * time.Minute, "2 d": 48 * time.Hour, "45 s": 45 * time.Second, "-10 min": -10 * time.Minute,
	} {
		got, err := span(-time.Hour, 72*time.Hour).read(text)
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
	}
	for text, message := range map[string]string{
		"25":            `"25" has no unit: write 25 min`,
		"25 m":          `"25 m" is not a time span: its unit must be min, h, s or d`,
		"half an hour":  `"half an hour" is not a time span: write it as 25 min`,
		"1 h 30":        `"1 h 30" is not a time span: its unit must be min, h, s or d`,
		"99999999999 d": `"99999999999 d" can't be right: that is over thirty years`,
	} {
		_, err := span(0, 72*time.Hour).read(text)
		require.EqualError(t, err, message)
	}
}

// What a kind shows, it reads back: defaults and limits in messages can be
// copied into the file.
func TestShownValuesAreReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tenths := rapid.IntRange(0, 999).Draw(t, "tenths")
		v := units.Speed(float64(tenths) / 10 * float64(units.Knot))
		k := speed(0, 100*units.Knot)
		got, err := k.read(k.show(v))
		require.NoError(t, err)
		require.InDelta(t, float64(v), float64(got), 1e-9)

		d := time.Duration(rapid.IntRange(0, 100_000).Draw(t, "seconds")) * time.Second
		s := span(0, 48*time.Hour)
		back, err := s.read(s.show(d))
		require.NoError(t, err)
		require.Equal(t, d, back)
	})
}

func TestPositions(t *testing.T) {
	want := models.Position{Lat: 27.2, Lon: -79.83}
	for _, text := range []string{
		"27.2 N, 79.83 W", "27.2N,79.83W", "27.2, -79.83", "+27.2, -79.83", "27.2000° N, 79.8300° W",
		"27 12.000 N, 79 49.800 W", "27°12.000'N, 79°49.800'W", "27° 12.0′ N, 79° 49.8′ W",
	} {
		got, err := spot().read(text)
		require.NoError(t, err, text)
		require.InDelta(t, want.Lat, got.Lat, 1e-9, text)
		require.InDelta(t, want.Lon, got.Lon, 1e-9, text)
	}
	const cure = ": write latitude and longitude, as 27.2000 N, 79.8300 W"
	for text, message := range map[string]string{
		"27.2 S, 181 E":       `longitude "181 E" lies off the globe, past 180 degrees` + cure,
		"91, 0":               `latitude "91" lies off the globe, past 90 degrees` + cure,
		"27.2 E, 79.83 W":     `"27.2 E" is no latitude: it ends in N or S` + cure,
		"27 12.0, -79 49.8":   `"27 12.0" has minutes and no N or S` + cure,
		"27.5 12.0 N, 79 W":   `"27.5 12.0 N" has minutes after a broken degree` + cure,
		"27 12 30 N, 79.83 W": `"27 12 30 N" is no latitude` + cure,
		"north, west":         `"north" is no latitude` + cure,
		"":                    `"" is no position` + cure,
	} {
		_, err := spot().read(text)
		require.EqualError(t, err, message)
	}
}

// Four decimals are a tenth of a second of arc: what plot writes differs by
// at most half of the last one.
func TestPlottedPositionsAreReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := models.Position{Lat: rapid.Float64Range(-90, 90).Draw(t, "lat"), Lon: rapid.Float64Range(-180, 180).Draw(t, "lon")}
		got, err := spot().read(plot(p))
		require.NoError(t, err, plot(p))
		require.InDelta(t, p.Lat, got.Lat, 0.5001e-4)
		require.InDelta(t, p.Lon, got.Lon, 0.5001e-4)
	})
}

func FuzzPosition(f *testing.F) {
	for _, s := range []string{"27.2 N, 79.83 W", "27 12.000 N, 79 49.800 W", "27.2, -79.83", "°,′"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := spot().read(s)
		if err == nil {
			require.True(t, p.Valid(), "%q: %s", s, p)
		}
	})
}

// The great circle from Los Angeles to New York airports, 0.623585 radians
// (Williams, Aviation Formulary, worked example; from memory), and a quarter
// of the sphere, pi/2 of its radius.
func TestApart(t *testing.T) {
	lax := models.Position{Lat: 33 + 57.0/60, Lon: -(118 + 24.0/60)}
	jfk := models.Position{Lat: 40 + 38.0/60, Lon: -(73 + 47.0/60)}
	require.InDelta(t, 0.623585*models.EarthRadius, models.Apart(lax, jfk).Metres(), 1e-6*models.EarthRadius)
	require.InDelta(t, 1.5707963267948966*models.EarthRadius, models.Apart(models.Position{}, models.Position{Lat: 90}).Metres(), 1e-3)
	require.Zero(t, models.Apart(lax, lax))
}

func TestNearest(t *testing.T) {
	known := []string{"depth", "run", "name", "helium kite"}
	for word, want := range map[string]string{
		"dpeth": "depth", "dept": "depth", "Depth": "depth", "helium kites": "helium kite", "runn": "run",
		"colour": "", "x": "", "": "",
	} {
		require.Equal(t, want, nearest(word, known), fmt.Sprintf("%q", word))
	}
}
