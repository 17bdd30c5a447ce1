package draw

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// driftChart is an invented drift of two hours in a north-going current.
func driftChart() DriftChart {
	d := DriftChart{
		ID: "drift", Title: "First set", Description: "North along the edge at 2.5 kn.", Zone: local(0, 0).Location(),
		StartDepth: feet(175),
		Band: DepthBand{
			Shallow: Contour{feet(100), "100 ft"}, Deep: Contour{feet(250), "250 ft"}, Edge: Contour{feet(140), "the edge 140 ft"},
			Slope: models.Known(0.02), Offshore: 90,
		},
		Wind:    WindArrow{models.Known(units.From(180)), "wind S 13 kn"},
		Current: CurrentArrow{models.Known(units.Toward(0)), "current N 2 kn"},
		Resets:  []time.Time{local(8, 30)},
		Scale:   Unit{"nmi", 1852},
		Labels:  DriftLabels{"start", "end", "reset", "N"},
	}
	for i := range 5 {
		d.Track = append(d.Track, models.DriftPoint{
			At: local(6, 50+30*i), East: units.Length(i*i) * 40, North: units.Length(i) * 2280, SpreadRadius: units.Length(i) * 490,
		})
	}
	return d
}

func TestDriftChartSaysTheDrift(t *testing.T) {
	d := driftChart()
	for _, narrow := range []bool{false, true} {
		d.Narrow = narrow
		s := sound(t, d)
		for _, want := range []string{"start 06:50", "end 08:50", "07:00", "08:00", "reset 08:30", "100 ft", "250 ft", "the edge 140 ft", "N", "wind S 13 kn", "current N 2 kn"} {
			require.Equal(t, 1, s.count(want), "%s, narrow %v: %s", want, narrow, s.text())
		}
		require.Contains(t, s.text(), " nmi")
	}
}

// One scale both ways: a leg of the track has its length and its bearing, and
// a contour lies as far off as the slope says. By hand: 75 ft deeper on 2 in
// 100 is 3750 ft, 1143 m, offshore.
func TestDriftChartIsToScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := &chart{DriftChart: driftChart(), paper: newPaper("x", "x", 640, 420), room: box{1, 1, 500, 419}}
		for i := range d.Track {
			d.Track[i].East = units.Length(rapid.Float64Range(-2e4, 2e4).Draw(t, "east"))
			d.Track[i].North = units.Length(rapid.Float64Range(-2e4, 2e4).Draw(t, "north"))
		}
		d.fit()
		for i := 1; i < len(d.Track); i++ {
			a, b := d.Track[i-1], d.Track[i]
			require.InDelta(t, float64(b.East-a.East)*d.scale, d.px(float64(b.East))-d.px(float64(a.East)), 1e-6)
			require.InDelta(t, float64(b.North-a.North)*d.scale, d.py(float64(a.North))-d.py(float64(b.North)), 1e-6)
		}
	})
	d := &chart{DriftChart: driftChart(), room: box{1, 1, 500, 419}}
	off, ok := d.off(d.Band.Deep)
	require.True(t, ok)
	require.InDelta(t, 1143, off, 0.1)
	d.fit()
	for bearing := units.Toward(0); bearing < 360; bearing += 15 {
		d.Band.Offshore = bearing
		ends := d.ends(off)
		require.Len(t, ends, 2, "bearing %v", bearing)
		for _, p := range ends { // both ends lie on the contour
			s, c := math.Sincos(float64(bearing) * math.Pi / 180)
			require.InDelta(t, off, p[0]*s+p[1]*c, 1e-3)
		}
	}
}

// Without a depth at the start, or without a slope, no contour is guessed.
func TestDriftChartGuessesNoContour(t *testing.T) {
	for _, spoil := range []func(*DriftChart){
		func(d *DriftChart) { d.StartDepth = models.Unknown[units.Length]() },
		func(d *DriftChart) { d.Band.Slope = models.Unknown[float64]() },
		func(d *DriftChart) { d.Band.Slope = models.Known(0.0) },
	} {
		d := driftChart()
		spoil(&d)
		require.NotContains(t, sound(t, d).text(), "ft")
	}
}

func TestDriftChartHoldsAgainstAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := func(name string) string { return hostile().Draw(t, name) }
		contour := func() Contour { return Contour{opt(lengths(200)).Draw(t, "depth"), word("contour")} }
		angle := rapid.OneOf(rapid.Float64Range(-10, 400), rapid.Float64())
		d := DriftChart{
			ID: word("id"), Title: word("title"), Description: word("description"), Zone: zones().Draw(t, "zone"),
			Narrow: rapid.Bool().Draw(t, "narrow"), StartDepth: opt(lengths(200)).Draw(t, "start"),
			Band: DepthBand{
				contour(), contour(), contour(),
				opt(rapid.OneOf(rapid.Float64Range(0.001, 0.2), rapid.Float64())).Draw(t, "slope"), units.Toward(angle.Draw(t, "offshore")),
			},
			Resets:  rapid.SliceOfN(instants(), 0, 3).Draw(t, "resets"),
			Wind:    WindArrow{models.Known(units.From(angle.Draw(t, "wind"))), word("wind")},
			Current: CurrentArrow{models.Known(units.Toward(angle.Draw(t, "current"))), word("current")},
			Scale:   Unit{word("unit"), rapid.OneOf(rapid.Float64(), rapid.Just(1852.0)).Draw(t, "metres")},
			Labels:  DriftLabels{word("l1"), word("l2"), word("l3"), word("l4")},
		}
		for range rapid.IntRange(0, 8).Draw(t, "points") {
			d.Track = append(d.Track, models.DriftPoint{
				At: instants().Draw(t, "at"), East: lengths(1e4).Draw(t, "east"), North: lengths(1e4).Draw(t, "north"), SpreadRadius: lengths(2e3).Draw(t, "radius"),
			})
		}
		if _, err := d.SVG(); err != nil {
			require.ErrorIs(t, err, ErrNothing)
			return
		}
		sound(t, d)
	})
}

// compare is an invented wind of three days with holes in what was observed.
func compare() Compare {
	c := Compare{
		ID: "wind", Title: "Wind", Description: "Forecast and observed.", Zone: local(0, 0).Location(),
		ForecastName: "forecast", ObservedName: "observed", Value: "wind (kn)",
	}
	for i := range 60 {
		v := 12 + 5*math.Sin(float64(i)/9)
		c.Forecast = append(c.Forecast, Sample{local(i, 0), models.Known(v)})
		switch {
		case i >= 45, i > 20 && i < 26: // no report
		case i == 30, i == 32:
			c.Observed = append(c.Observed, Sample{At: local(i, 0)})
		default:
			c.Observed = append(c.Observed, Sample{local(i, 0), models.Known(v + float64(i%5) - 2)})
		}
	}
	return c
}

func TestCompareTellsTheStrokesApart(t *testing.T) {
	s := sound(t, compare())
	for _, want := range []string{"forecast", "observed", "wind (kn)", "01-20", "12"} {
		require.Contains(t, s.text(), want)
	}
	var solid, dashed string
	for _, p := range s.paths {
		if p["stroke-linejoin"] == "" {
			continue
		}
		if p["stroke-dasharray"] == "" {
			solid = p["d"]
		} else {
			dashed = p["d"]
		}
	}
	pens := func(d string) (n int) {
		for _, c := range d {
			if c == 'M' {
				n++
			}
		}
		return n
	}
	require.Equal(t, 1, pens(dashed))
	require.Equal(t, 4, pens(solid), "unknown and missing values are gaps")
	require.Len(t, s.circles, 1, "a value between two gaps is a dot")
}

func TestCompareTellsDays(t *testing.T) {
	c := compare()
	c.Day = func(d time.Time) string { return "<" + d.In(c.Zone).Format("Mon 2") + ">" }
	require.Equal(t, 1, sound(t, c).count("<Wed 20>"))
}

func TestCompareHoldsAgainstAnything(t *testing.T) {
	samples := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Sample {
		return Sample{instants().Draw(t, "at"), opt(rapid.OneOf(rapid.Float64Range(0, 40), rapid.Float64())).Draw(t, "value")}
	}), 0, 40)
	rapid.Check(t, func(t *rapid.T) {
		word := func(name string) string { return hostile().Draw(t, name) }
		c := Compare{
			ID: word("id"), Title: word("title"), Description: word("description"), Zone: zones().Draw(t, "zone"),
			Forecast: samples.Draw(t, "forecast"), Observed: samples.Draw(t, "observed"),
			ForecastName: word("f"), ObservedName: word("o"), Value: word("value"), Narrow: rapid.Bool().Draw(t, "narrow"),
		}
		if _, err := c.SVG(); err != nil {
			require.ErrorIs(t, err, ErrNothing)
			return
		}
		sound(t, c)
	})
}
