package draw

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

func feet(v float64) models.Opt[units.Length] {
	return models.Known(units.Length(v) * units.Foot)
}

// card is an invented spread of two kites, two flat lines, a rod at mid depth
// and one kept ready.
func card() models.Spread {
	s := models.Spread{Kites: 2, KiteLine: 391 * units.Foot, Angle: 54, Height: 332 * units.Foot}
	for _, side := range []string{"left", "right"} {
		s.Positions = append(s.Positions,
			models.BaitPosition{Position: "long", Side: side, Behind: feet(258), ClipHeight: feet(207)},
			models.BaitPosition{Position: "middle", Side: side, Behind: feet(152), ClipHeight: feet(133)},
			models.BaitPosition{Position: "short", Side: side, Behind: feet(60), ClipHeight: feet(60)})
	}
	s.Positions = append(s.Positions,
		models.BaitPosition{Position: "flat line", Side: "left", Behind: feet(40), LineOut: feet(40)},
		models.BaitPosition{Position: "flat line", Side: "right", Behind: feet(60), LineOut: feet(60)},
		models.BaitPosition{Position: "mid rod", LineOut: feet(75)},
		models.BaitPosition{Position: "pitch"})
	return s
}

func spreadOf(id string) SpreadSide {
	return SpreadSide{
		ID: id, Title: "The spread", Description: "Two kites with three baits each.", Spread: card(),
		Scale:  Unit{"ft", 0.3048},
		Labels: SpreadLabels{Kite: "all-round kite", LeftKite: "left kite", RightKite: "right kite", Boat: "boat", Wind: "wind S 13 kn"},
	}
}

// above shows the same spread from above.
func (s SpreadSide) above() SpreadTop {
	return SpreadTop{ID: s.ID, Title: s.Title, Description: s.Description, Spread: s.Spread, Tip: s.Tip, Scale: s.Scale, Words: s.Words, Labels: s.Labels, Narrow: s.Narrow}
}

func TestSpreadSaysEachBait(t *testing.T) {
	for _, narrow := range []bool{false, true} {
		s := spreadOf("s")
		s.Narrow = narrow
		fromSide, top := sound(t, s), sound(t, s.above())
		for _, want := range []string{"long", "middle", "short", "258 ft", "152 ft", "207 ft", "133 ft", "left flat line", "right flat line", "40 ft", "mid rod 75 ft", "332 ft", "boat"} {
			require.Equal(t, 1, fromSide.count(want), "%s, narrow %v: %s", want, narrow, fromSide.text())
		}
		require.Equal(t, 3, fromSide.count("60 ft"), "the short bait, its clip, the far flat line")
		for want, n := range map[string]int{
			"long 258 ft": 2, "middle 152 ft": 2, "short 60 ft": 2, "flat line 40 ft": 1, "flat line 60 ft": 1,
			"mid rod 75 ft": 1, "pitch": 1, "left kite": 1, "right kite": 1, "wind S 13 kn": 1,
		} {
			require.Equal(t, n, top.count(want), "%s, narrow %v: %s", want, narrow, top.text())
		}
	}
}

// Distances on the paper stand to one another as on the water.
func TestSpreadIsToScale(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := spreadOf("s")
		s.Narrow = rapid.Bool().Draw(t, "narrow")
		d := &side{SpreadSide: s}
		d.line, d.up = flownBy(s.Spread, 0)
		require.True(t, d.up)
		svg := sound(t, s)
		// Clips are the small circles; their heights are known.
		var ys []float64
		for _, c := range svg.circles {
			ys = append(ys, c[1])
		}
		require.Len(t, ys, 3)
		perFoot := (ys[2] - ys[0]) / (207 - 60)
		require.InDelta(t, (133-60)*perFoot, ys[2]-ys[1], 0.2)
		// The baits are as far apart as their distances.
		var xs []float64
		for _, p := range svg.paths {
			if q := walk(t, p["d"]); p["d"] != "" && len(q) == 5 && q[4] == q[0] && q[1][0] == q[0][0] {
				xs = append(xs, q[0][0]-5)
			}
		}
		require.Len(t, xs, 6)
		long, middle, short, near, out, below := xs[0], xs[1], xs[2], xs[3], xs[4], xs[5]
		require.InDelta(t, (258-152)*perFoot, long-middle, 0.3)
		require.InDelta(t, (152-60)*perFoot, middle-short, 0.3)
		require.InDelta(t, (60+40)*perFoot, short-near, 0.3, "flat lines lie upwind")
		require.InDelta(t, 20*perFoot, near-out, 0.3)
		require.InDelta(t, 60*perFoot, short-below, 0.3, "the mid rod hangs under the boat")
	})
}

// By hand: a straight line of 391 ft to a kite 322 ft over the tip reaches
// sqrt(391² - 322²) = 221.8 ft; at 54° at the boat it leaves at 1:1.376.
func TestTheLineBendsToTheKite(t *testing.T) {
	f, ok := flownBy(card(), 0)
	require.True(t, ok)
	require.InDelta(t, 221.8, f.behind(f.height)/0.3048, 0.1)
	require.InDelta(t, 0, f.behind(f.tip), 1e-9)
	low := f.tip + 0.01
	require.InDelta(t, math.Tan(54*math.Pi/180), 0.01/f.behind(low), 1e-3)
}

// A line that leaves lower than its length lets it reach the kite ends upright
// under the kite; the first cases once ran off the paper.
func TestALineNeverRunsPastItsKite(t *testing.T) {
	for _, c := range []struct{ tip, line, angle, height float64 }{
		{0.5, 1.5, 0.5, 1.5}, {3, 120, 5, 110}, {3, 100, 30, 95}, {1, 12, 1e-306, 9},
	} {
		s := spreadOf("s")
		s.Tip = units.Length(c.tip)
		s.Spread = models.Spread{KiteLine: units.Length(c.line), Angle: c.angle, Height: units.Length(c.height)}
		f, ok := flownBy(s.Spread, s.Tip)
		require.True(t, ok)
		last := 0.0
		for i := range 101 {
			at := f.behind(f.tip + (f.height-f.tip)*float64(i)/100)
			require.GreaterOrEqual(t, at, last-1e-9, "%v at %d %% of the height", c, i)
			last = at
		}
		require.InDelta(t, math.Sqrt(c.line*c.line-(c.height-c.tip)*(c.height-c.tip)), last, 1e-6)
		sound(t, s)
		sound(t, s.above())
	}
}

func TestSpreadOfAKiteThatIsDown(t *testing.T) {
	s := spreadOf("s")
	s.Spread.Height, s.Spread.Angle = 0, 0
	for i := range s.Spread.Positions[:6] {
		s.Spread.Positions[i].Behind, s.Spread.Positions[i].ClipHeight = models.Unknown[units.Length](), models.Unknown[units.Length]()
	}
	svg := sound(t, s)
	require.NotContains(t, svg.text(), "long")
	require.NotContains(t, svg.text(), "kite")
	require.Contains(t, svg.text(), "left flat line")
	sound(t, s.above())
}

func TestSpreadInMetresAndInTheReadersWords(t *testing.T) {
	s := spreadOf("s")
	s.Scale = Unit{"m", 1}
	s.Words = func(w string) string { return map[string]string{"long": "larga", "left": "babor"}[w] }
	require.Contains(t, sound(t, s).text(), "79 m") // 258 ft is 78.6 m
	require.Equal(t, 2, sound(t, s.above()).count("larga 79 m"))
}

func TestSpreadHoldsAgainstAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		word := func(name string) string { return hostile().Draw(t, name) }
		s := SpreadSide{
			ID: word("id"), Title: word("title"), Description: word("description"), Narrow: rapid.Bool().Draw(t, "narrow"),
			Tip:    lengths(5).Draw(t, "tip"),
			Scale:  Unit{word("unit"), rapid.OneOf(rapid.Float64(), rapid.Just(0.3048)).Draw(t, "metres")},
			Labels: SpreadLabels{word("l1"), word("l2"), word("l3"), word("l4"), word("l5")},
			Spread: models.Spread{
				Kites: rapid.IntRange(-1, 3).Draw(t, "kites"), KiteLine: lengths(200).Draw(t, "line"),
				Angle: rapid.OneOf(rapid.Float64Range(-10, 100), rapid.Float64()).Draw(t, "angle"), Height: lengths(150).Draw(t, "height"),
			},
		}
		for range rapid.IntRange(0, 12).Draw(t, "positions") {
			s.Spread.Positions = append(s.Spread.Positions, models.BaitPosition{
				Position: word("position"), Side: rapid.SampledFrom([]string{"left", "right", "", "else"}).Draw(t, "side"),
				Behind: opt(lengths(100)).Draw(t, "behind"), ClipHeight: opt(lengths(100)).Draw(t, "clip"), LineOut: opt(lengths(100)).Draw(t, "out"),
			})
		}
		top := s.above()
		top.Split = rapid.OneOf(rapid.Float64Range(-10, 100), rapid.Float64()).Draw(t, "split")
		for _, f := range []figure{s, top} {
			if _, err := f.SVG(); err != nil {
				require.ErrorIs(t, err, ErrNothing)
				continue
			}
			sound(t, f)
		}
	})
}
