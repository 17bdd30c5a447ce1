package drift

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/models/wind"
)

func known[T any](v T) models.Opt[T] { return models.Known(v) }

func console() Craft { return CraftFor(models.CenterConsole, 28*units.Foot) }

// The coefficients are those of Allen & Plourde 1999 (USCG-CG-D-08-99), sport
// fisher with center console (page B5.6-1) and sport boat with cuddy cabin.
func TestCoefficientsArePublished(t *testing.T) {
	c := console()
	require.Equal(t, []float64{0.0555, 0.0227, 0.0330, 0.0300},
		[]float64{c.DownSlope, c.CrossSlope, float64(c.DownScatter), float64(c.CrossScatter)})
	s := CraftFor(models.Sportfish, 28*units.Foot)
	require.Equal(t, []float64{0.0654, 0.0219, 0.0300, 0.0280},
		[]float64{s.DownSlope, s.CrossSlope, float64(s.DownScatter), float64(s.CrossScatter)})
}

// Computed by hand from the published slopes for the sport fisher.
func TestLeewayOfTheSportFisher(t *testing.T) {
	for _, tt := range []struct{ wind, down, cross, slip, knots float64 }{
		{5, 0.2775, 0.1135, 0.300, 0.583},
		{7.5, 0.4163, 0.1703, 0.450, 0.874},
		{10, 0.555, 0.227, 0.600, 1.166},
	} {
		m := Leeway(console(), units.Speed(tt.wind), 90, false)
		require.InDelta(t, tt.down, float64(m.Down), 1e-4)
		require.InDelta(t, tt.cross, float64(m.Cross), 1e-4)
		require.InDelta(t, tt.slip, float64(m.Slip), 5e-4) // given to 1 mm/s
		require.InDelta(t, tt.knots, m.Slip.Knots(), 1e-3)
		off := math.Atan2(float64(m.Cross), float64(m.Down)) * 180 / math.Pi
		require.InDelta(t, 22.25, off, 0.01, "divergence off the wind")
		require.Empty(t, m.Outside)
	}
}

// Worked by hand: wind 7.5 m/s from the east, current 1.5 m/s to the north.
// The sign of every component is pinned: a wind from the east drives west.
func TestVectorsOfWindAndCurrent(t *testing.T) {
	m := Leeway(console(), 7.5, 90, false)
	ground := Ground(m.Mean, units.FlowVector(1.5, 0))
	require.InDelta(t, -0.416, float64(ground.East), 5e-4)
	require.InDelta(t, 1.5, float64(ground.North), 1e-9)
	a := wind.RelativeToBoat(units.WindVector(7.5, 90), ground)
	require.InDelta(t, -7.084, float64(a.East), 5e-4)
	require.InDelta(t, -1.5, float64(a.North), 1e-9)
	require.InDelta(t, 7.24, float64(a.Speed()), 5e-3)
	from, ok := a.From()
	require.True(t, ok)
	require.InDelta(t, 78, from.Degrees(), 0.1)
}

func TestCoursesLieLeftAndRightOfTheWind(t *testing.T) {
	m := Leeway(console(), 10, 0, false) // from the north: drifts south
	require.Positive(t, float64(m.Left.East), "left of south is east")
	require.Negative(t, float64(m.Right.East))
	require.InDelta(t, float64(m.Left.North), float64(m.Right.North), 1e-12)
	require.InDelta(t, float64(m.Slip), float64(m.Left.Speed()), 1e-12)
}

func TestOutsideTheTrialsIsSaid(t *testing.T) {
	require.Contains(t, Leeway(console(), 25, 0, false).Outside, "wind")
	long := CraftFor(models.Sportfish, 55*units.Foot)
	require.Contains(t, Leeway(long, 5, 0, false).Outside, "boat")
	require.Greater(t, long.DownScatter, CraftFor(models.Sportfish, 30*units.Foot).DownScatter)
	require.Zero(t, Leeway(console(), -1, 0, false).Slip)
	require.Contains(t, Run(console(), steady(2, 25, 0, 1, 0), false).Outside, "wind")
	require.Empty(t, Run(console(), steady(2, 10, 0, 1, 0), false).Outside)
}

// The balance of drags, by hand: free slope 5.55 %, windage 10 m², anchor of
// 5.3 m² with coefficient 1.33 gives 3.27 % (0.59 of the free leeway). The
// published range of ratios, from the rafts of Allen & Plourde 1999, with
// drogue over without, is 0.36 to 0.78.
func TestSeaAnchorLiesWithinThePublishedRange(t *testing.T) {
	require.InDelta(t, 0.0327, AnchorSlope(0.0555, 5.3*1.33/10), 2e-4) // air and water density rounded
	for _, free := range []float64{0.0555, 0.0654} {
		k := Anchored(free) / free
		require.Greater(t, k, 0.36)
		require.Less(t, k, 0.78)
	}
}

func TestAnchorSlopeLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		free := rapid.Float64Range(0.01, 0.2).Draw(t, "free slope")
		r := rapid.Float64Range(0, 10).Draw(t, "ratio")
		more := r + rapid.Float64Range(0.01, 5).Draw(t, "more")
		require.InDelta(t, free, AnchorSlope(free, 0), 1e-12, "no anchor changes nothing")
		require.LessOrEqual(t, AnchorSlope(free, r), free+1e-12)
		require.Less(t, AnchorSlope(free, more), AnchorSlope(free, r), "a larger anchor holds better")
	})
}

func TestLeewayGrowsWithTheWindAndTurnsWithIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := units.Speed(rapid.Float64Range(0, 25).Draw(t, "wind"))
		more := w + units.Speed(rapid.Float64Range(0.01, 5).Draw(t, "more"))
		from := units.From(rapid.Float64Range(0, 360).Draw(t, "from"))
		turn := rapid.Float64Range(-360, 360).Draw(t, "turn")
		anchor := rapid.Bool().Draw(t, "anchor")
		a := Leeway(console(), w, from, anchor)
		require.Less(t, a.Slip, Leeway(console(), more, from, anchor).Slip)
		require.LessOrEqual(t, Leeway(console(), w, from, true).Slip, Leeway(console(), w, from, false).Slip)
		b := Leeway(console(), w, from+units.From(turn), anchor)
		sin, cos := math.Sincos(turn * math.Pi / 180) // clockwise
		require.InDelta(t, float64(a.Left.East)*cos+float64(a.Left.North)*sin, float64(b.Left.East), 1e-9)
		require.InDelta(t, float64(a.Left.North)*cos-float64(a.Left.East)*sin, float64(b.Left.North), 1e-9)
	})
}

var start = time.Date(2027, 1, 19, 12, 0, 0, 0, time.UTC)

func steady(n int, wind units.Speed, from units.From, current units.Speed, to units.Toward) []Input {
	in := make([]Input, n)
	for i := range in {
		in[i] = Input{
			At: start.Add(time.Duration(i) * time.Hour), Wind: known(wind), From: known(from),
			Current: known(current), Toward: known(to),
		}
	}
	return in
}

// By hand: the vectors above for four hours: 4 h * (-0.41625, 1.5) m/s.
func TestRunOverFourHours(t *testing.T) {
	tr := Run(console(), steady(4, 7.5, 90, 1.5, 0), false)
	require.Empty(t, tr.Why)
	require.Len(t, tr.Points, 5)
	end := tr.Points[4]
	require.Equal(t, start.Add(4*time.Hour), end.At)
	require.InDelta(t, -0.41625*4*3600, float64(end.East), 1e-6)
	require.InDelta(t, 1.5*4*3600, float64(end.North), 1e-6)
	require.InDelta(t, math.Hypot(0.41625, 1.5)*4*3600, float64(tr.Distance), 1e-6)
	require.InDelta(t, float64(tr.Distance), float64(tr.Path), 1e-6)
	b, ok := tr.Bearing.Get()
	require.True(t, ok)
	require.InDelta(t, 344.5, b.Degrees(), 0.05)
}

func TestRunStopsAtWhatIsUnknown(t *testing.T) {
	for _, tt := range []struct {
		why   string
		spoil func(*Input)
	}{
		{"wind is unknown", func(in *Input) { in.Wind = models.Unknown[units.Speed]() }},
		{"wind direction", func(in *Input) { in.From = models.Unknown[units.From]() }},
		{"current is unknown", func(in *Input) { in.Current = models.Unknown[units.Speed]() }},
		{"current direction", func(in *Input) { in.Toward = models.Unknown[units.Toward]() }},
		{"order of time", func(in *Input) { in.At = start }},
	} {
		in := steady(4, 7.5, 90, 1.5, 0)
		tt.spoil(&in[2])
		tr := Run(console(), in, false)
		require.Contains(t, tr.Why, tt.why)
		require.LessOrEqual(t, len(tr.Points), 3)
	}
	require.NotEmpty(t, Run(console(), nil, false).Why)
}

func TestACalmNeedsNoDirection(t *testing.T) {
	tr := Run(console(), []Input{{At: start, Wind: known(units.Speed(0)), Current: known(units.Speed(0))}}, false)
	require.Empty(t, tr.Why)
	require.Zero(t, tr.Distance)
	require.False(t, tr.Bearing.Known(), "a boat that lies still has no course")
}

// With no current doubt left out, one hour at 10 m/s spreads by the trials'
// own scatter down the wind (Syx 3.3 cm/s, weight 1/2+10/20) and by the
// choice of side across it; the current's assumed doubt joins both in squares.
func TestEllipseByHand(t *testing.T) {
	tr := Run(console(), steady(1, 10, 270, 0, 0), false)
	e := tr.Points[1].Spread
	cur := float64(currentDoubt) * 3600
	down := math.Hypot(0.033*3600, cur)
	across := math.Sqrt(0.227*0.227*3600*3600 + 0.03*0.03*3600*3600 + cur*cur)
	require.InDelta(t, across, float64(e.Major), 1e-6)
	require.InDelta(t, down, float64(e.Minor), 1e-6)
	require.InDelta(t, 0, math.Mod(float64(e.Axis), 180), 1e-6, "across a westerly lies north and south")
	require.InDelta(t, math.Sqrt((down*down+across*across)/2), float64(e.Radius()), 1e-6)
}

func TestTrackProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := units.Speed(rapid.Float64Range(0, 20).Draw(t, "wind"))
		from := units.From(rapid.Float64Range(0, 360).Draw(t, "from"))
		c := units.Speed(rapid.Float64Range(0, 2.5).Draw(t, "current"))
		to := units.Toward(rapid.Float64Range(0, 360).Draw(t, "toward"))
		n := rapid.IntRange(1, 8).Draw(t, "hours")
		turn := rapid.Float64Range(0, 360).Draw(t, "turn")
		a := Run(console(), steady(n, w, from, c, to), false)
		b := Run(console(), steady(n, w, from+units.From(turn), c, to+units.Toward(turn)), false)
		require.InDelta(t, float64(a.Distance), float64(b.Distance), 1e-6, "rotation keeps distances")
		ea, eb := a.Points[n].Spread, b.Points[n].Spread
		require.InDelta(t, float64(ea.Major), float64(eb.Major), 1e-5)
		require.InDelta(t, float64(ea.Minor), float64(eb.Minor), 1e-5)
		require.GreaterOrEqual(t, float64(a.Path)+1e-6, float64(a.Distance))
		for i := 1; i <= n; i++ {
			require.Greater(t, a.Points[i].Spread.Radius(), a.Points[i-1].Spread.Radius(), "doubt only grows")
		}
		require.Equal(t, a.Points, Run(console(), steady(n, w, from, c, to), false).Points)
	})
}

// One course mirrored about north: east and west change places, no more.
func TestTrackMirrors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w := units.Speed(rapid.Float64Range(0, 20).Draw(t, "wind"))
		from := rapid.Float64Range(0, 360).Draw(t, "from")
		to := rapid.Float64Range(0, 360).Draw(t, "toward")
		a := Run(console(), steady(3, w, units.From(from), 1, units.Toward(to)), false).Points[3]
		b := Run(console(), steady(3, w, units.From(-from), 1, units.Toward(-to)), false).Points[3]
		require.InDelta(t, float64(a.East), -float64(b.East), 1e-6)
		require.InDelta(t, float64(a.North), float64(b.North), 1e-6)
		require.InDelta(t, float64(a.Spread.Major), float64(b.Spread.Major), 1e-5)
	})
}

func atlantic() Band {
	return Band{Shallow: 100 * units.Foot, Deep: 250 * units.Foot, Slope: 0.02, Offshore: 90}
}

// By hand: 150 ft of depth at 2 in 100 is 2286 m; at 0.5 m/s 4572 s.
func TestCrossBand(t *testing.T) {
	for _, tt := range []struct {
		name  string
		drift units.Vector
		start units.Length
		knows bool
	}{
		{"onshore starts deep", units.Vector{East: -0.5, North: 1}, 250 * units.Foot, true},
		{"offshore starts shallow", units.Vector{East: 0.5, North: 1}, 100 * units.Foot, true},
		{"along the band starts in the middle", units.Vector{North: 1}, 175 * units.Foot, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := CrossBand(tt.drift, atlantic())
			require.InDelta(t, float64(tt.start), float64(c.Start), 1e-9)
			d, ok := c.Across.Get()
			require.Equal(t, tt.knows, ok)
			if ok {
				require.Equal(t, 4572*time.Second, d)
				require.Empty(t, c.Why)
			} else {
				require.NotEmpty(t, c.Why)
			}
		})
	}
	require.NotEmpty(t, CrossBand(units.Vector{East: 1}, Band{}).Why)
}

func TestSteeperBottomIsCrossedSooner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := units.Vector{East: units.Speed(rapid.Float64Range(0.03, 2).Draw(t, "speed"))}
		b := atlantic()
		b.Slope = rapid.Float64Range(0.001, 0.1).Draw(t, "slope")
		one, _ := CrossBand(v, b).Across.Get()
		b.Slope *= 2
		two, _ := CrossBand(v, b).Across.Get()
		require.InDelta(t, one.Seconds()/2, two.Seconds(), 1.5) // whole seconds
	})
}

func TestRunBack(t *testing.T) {
	d, ok := RunBack(10*units.NauticalMile, 20*units.Knot).Get()
	require.True(t, ok)
	require.Equal(t, 30*time.Minute, d)
	require.False(t, RunBack(1, 0).Known())
}

func TestInputOf(t *testing.T) {
	h := models.Hour{At: start, Wind: known(units.Speed(5)), WindFrom: known(units.From(90)), Current: known(units.Speed(1)), CurrentToward: known(units.Toward(0))}
	require.Equal(t, steady(1, 5, 90, 1, 0)[0], InputOf(h))
}

func BenchmarkLeeway(b *testing.B) {
	c := console()
	for b.Loop() {
		_ = Leeway(c, 7.5, 90, false)
	}
}

func BenchmarkRunEightHours(b *testing.B) {
	c, in := console(), steady(8, 7.5, 90, 1.5, 0)
	for b.Loop() {
		_ = Run(c, in, false)
	}
}
