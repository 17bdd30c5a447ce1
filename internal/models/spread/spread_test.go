package spread

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/kite"
	"forecastd/internal/models/units"
)

const (
	kn = units.Knot
	ft = units.Foot
	oz = units.Ounce
)

func known[T any](v T) models.Opt[T] { return models.Known(v) }

// breeze is a day with a wind at 10 m, gusts of 1.2 and the kite's wind 1.15
// of it, and the kite that fits.
func breeze(deck units.Speed) Day {
	w := deck * 1.15
	c := kite.NewSet(nil, kite.DefaultLine()).Choose(w*0.9, w, w*1.2, kite.GasIfNoneHolds)
	return Day{
		Kite: c.Kite, Helium: c.Helium, Lull: w * 0.9, Wind: w, Gust: w * 1.2, Deck: deck,
		From: known(units.From(90)), Depth: known(150 * ft), Crew: 3,
	}
}

func kiteBaits(s models.Spread, side string) []models.BaitPosition {
	var out []models.BaitPosition
	for _, p := range s.Positions {
		if p.ClipHeight.Known() && p.Side == side {
			out = append(out, p)
		}
	}
	return out
}

func says(s models.Spread, key string) bool {
	for _, n := range s.Notes {
		if n.Key == key {
			return true
		}
	}
	return false
}

// Plain trigonometry: clips 90 ft apart, short bait at 60 ft, long at 195-200
// ft: the line stands near 40 degrees. Common practice, no source.
func TestPlumbAngle(t *testing.T) {
	require.InDelta(t, 40, PlumbAngle(60*ft, 197*ft, 180*ft), 1.5)
	require.InDelta(t, 41.4, PlumbAngle(60*ft, 195*ft, 180*ft), 0.1)
	require.InDelta(t, 38.9, PlumbAngle(60*ft, 200*ft, 180*ft), 0.1)
	require.InDelta(t, 90, PlumbAngle(60*ft, 60*ft, 180*ft), 1e-9)
	require.Zero(t, PlumbAngle(60*ft, 300*ft, 180*ft))
}

// Derived independently beside the trade notes: a drop of 110 ft of line in
// 15 kn blows back about 28 ft with 4 oz on it and about 68 ft with 1 oz.
func TestDropLineBlowsBack(t *testing.T) {
	for load, want := range map[units.Mass]float64{4 * oz: 28, 1 * oz: 68} {
		d := dropOfLength(110*ft, load, 15*kn)
		require.InDelta(t, 110, d.Length.Feet(), 0.5)
		require.InDelta(t, want, d.Back.Feet(), 1)
		require.False(t, d.Blown)
	}
}

// dropOfLength finds the clip height that takes a given length of line.
func dropOfLength(length units.Length, load units.Mass, wind units.Speed) Drop {
	h := root(func(h units.Length) float64 {
		return float64(Hang(h, load, 0.00046, wind).Length - length)
	}, 1, length)
	return Hang(h, load, 0.00046, wind)
}

// For a small angle a hanging line is a parabola: back = drag h²/(2 load),
// closed form, with the line's weight far below the load.
func TestDropMeetsTheParabola(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := rapid.Float64Range(5, 40).Draw(t, "height")
		v := rapid.Float64Range(1, 4).Draw(t, "wind")
		drag := rhoAir / 2 * v * v * normalDrag * 0.0003
		d := Hang(units.Length(h), 5, 0.0003, units.Speed(v)) // 5 kg
		require.InEpsilon(t, drag*h*h/(2*5*gravity), float64(d.Back), 0.01)
	})
}

func TestDropProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := units.Length(rapid.Float64Range(3, 70).Draw(t, "height"))
		load := units.Mass(rapid.Float64Range(0.02, 0.5).Draw(t, "load"))
		v := units.Speed(rapid.Float64Range(0, 12).Draw(t, "wind"))
		a := Hang(h, load, 0.00043, v)
		require.GreaterOrEqual(t, float64(a.Pull), float64(load)*gravity*0.99)
		if a.Blown {
			return
		}
		require.GreaterOrEqual(t, float64(a.Length)+1e-9, math.Hypot(float64(a.Back), float64(h)))
		more := Hang(h, load, 0.00043, v+1)
		heavier := Hang(h, load*2, 0.00043, v)
		if !more.Blown {
			require.GreaterOrEqual(t, more.Back, a.Back, "more wind blows it further")
		}
		require.LessOrEqual(t, heavier.Back, a.Back, "more lead holds it")
	})
	calm := Hang(30, 0.1, 0.00043, 0)
	require.Zero(t, calm.Back)
	require.InDelta(t, 30, float64(calm.Length), 1e-9)
	require.True(t, Hang(30, 0, 0.00043, 5).Blown)
	require.InDelta(t, 0.1*gravity, Hang(-1, 0.1, 0.00043, 5).Pull, 1e-9)
}

// The line is let out until the nearest bait stands where the table wants it.
func TestNearBaitStandsWhereItShould(t *testing.T) {
	for _, w := range []float64{6, 9, 12, 15, 18, 21, 25} {
		s := Lay(breeze(units.Speed(w)*kn), DefaultTable())
		baits := kiteBaits(s, "left")
		require.NotEmpty(t, baits, "%v kn", w)
		near, ok := baits[len(baits)-1].Behind.Get()
		require.True(t, ok)
		if says(s, "spread.shortened") && len(baits) > 1 {
			require.LessOrEqual(t, near.Feet(), 61.0, "%v kn: wound in, never let out", w)
			require.GreaterOrEqual(t, near.Feet(), 29.0, "%v kn", w)
		} else {
			require.InDelta(t, 60, near.Feet(), 1, "%v kn", w)
		}
		require.False(t, says(s, "spread.kite_fails"))
	}
}

// Common practice, no source: three baits in the comfortable middle on two
// kites, the nearest 50-100 ft and the farthest some 200-300 ft from the boat;
// a physical line stands between 35 and 65 degrees; kites stand some 145-335
// ft up.
func TestTheComfortableMiddle(t *testing.T) {
	s := Lay(breeze(14*kn), DefaultTable())
	require.Equal(t, 2, s.Kites)
	left := kiteBaits(s, "left")
	require.Len(t, left, 3)
	require.Equal(t, []string{"long", "middle", "short"}, []string{left[0].Position, left[1].Position, left[2].Position})
	far, _ := left[0].Behind.Get()
	require.GreaterOrEqual(t, far.Feet(), 180.0)
	require.LessOrEqual(t, far.Feet(), 300.0)
	require.GreaterOrEqual(t, s.Angle, 35.0)
	require.LessOrEqual(t, s.Angle, 65.0)
	require.GreaterOrEqual(t, s.Height.Feet(), 145.0)
	require.LessOrEqual(t, s.Height.Feet(), 335.0)
	require.Equal(t, "16-30 lb", left[0].Line)
	require.Equal(t, "12-20 lb", left[2].Line)
	require.NotEqual(t, left[0].Lead, left[2].Lead)
}

func TestLeftAndRightAreAlike(t *testing.T) {
	s := Lay(breeze(14*kn), DefaultTable())
	left, right := kiteBaits(s, "left"), kiteBaits(s, "right")
	require.Len(t, right, len(left))
	for i := range left {
		right[i].Side = "left"
		require.Equal(t, left[i], right[i])
	}
	for _, n := range s.Notes {
		if n.Key == "spread.split" { // wind from east: downwind is west, left of it south
			require.InDelta(t, 255, n.Args[0].(units.Toward).Degrees(), 1e-9)
			require.InDelta(t, 285, n.Args[1].(units.Toward).Degrees(), 1e-9)
		}
	}
	require.True(t, says(s, "spread.split"))
}

func TestWhenToFlyLess(t *testing.T) {
	for _, tt := range []struct {
		name         string
		change       func(*Day)
		kites, baits int
		note         string
	}{
		{"as it is", func(*Day) {}, 2, 3, "spread.split"},
		{"light air", func(d *Day) { *d = breeze(7 * kn) }, 2, 2, "spread.two_light"},
		{"heavy air", func(d *Day) { *d = breeze(24 * kn) }, 2, 2, "spread.two_heavy"},
		{"gusts", func(d *Day) { d.Gust = d.Wind + 9*kn }, 2, 2, "spread.fewer_gusts"},
		{"the wind swings", func(d *Day) { d.DirectionSpread = known(45.0) }, 1, 3, "spread.one_wind_swings"},
		{"captain and mate", func(d *Day) { d.Crew = 2 }, 2, 2, "spread.two_crew"},
		{"captain alone", func(d *Day) { d.Crew = 1 }, 1, 3, "spread.one_crew"},
		{"calm", func(d *Day) { *d = breeze(3 * kn) }, 1, 2, "spread.one_helium"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			d := breeze(14 * kn)
			tt.change(&d)
			s := Lay(d, DefaultTable())
			side := "left"
			if tt.kites == 1 {
				side = ""
			}
			require.Equal(t, tt.kites, s.Kites)
			require.LessOrEqual(t, len(kiteBaits(s, side)), tt.baits)
			require.NotEmpty(t, kiteBaits(s, side))
			require.True(t, says(s, tt.note), "%v", s.Notes)
		})
	}
}

// In a lull that just holds the kite with fewer baits, fewer are flown.
func TestTheKiteDropsBaitsInALull(t *testing.T) {
	d := breeze(12 * kn)
	d.Kite = kite.DefaultSet()[2] // heavy for the day
	var before int
	for i, lull := range []units.Speed{12 * kn, 10 * kn, 9 * kn, 8.5 * kn} {
		d.Lull = lull
		n := len(kiteBaits(Lay(d, DefaultTable()), "left"))
		if i > 0 {
			require.LessOrEqual(t, n, before)
		}
		before = n
	}
	require.Equal(t, 1, before)
	require.True(t, says(Lay(d, DefaultTable()), "spread.kite_carries"))
}

func TestHeavierLeadAsTheWindRises(t *testing.T) {
	table := DefaultTable()
	rapid.Check(t, func(t *rapid.T) {
		w := units.Speed(rapid.Float64Range(0, 30).Draw(t, "wind")) * kn
		m := table.lead(table.Long, w)
		require.GreaterOrEqual(t, table.lead(table.Long, w+kn), m)
		require.GreaterOrEqual(t, m, table.Long.LeadLight)
		require.LessOrEqual(t, m, table.Long.LeadHeavy)
	})
	require.Equal(t, "1/2 oz", leadName(table.lead(table.Long, 5*kn)))
	require.Equal(t, "1 oz", leadName(table.lead(table.Long, 25*kn)))
	require.Empty(t, leadName(0))
}

func TestLinesWithoutAKite(t *testing.T) {
	names := func(s models.Spread) (out []string) {
		for _, p := range s.Positions {
			if !p.ClipHeight.Known() {
				out = append(out, p.Position)
			}
		}
		return out
	}
	d := breeze(14 * kn)
	require.Equal(t, []string{"flat line", "flat line", "pitch"}, names(Lay(d, DefaultTable())))
	d.Crew = 4
	s := Lay(d, DefaultTable())
	require.Equal(t, []string{"flat line", "flat line", "mid rod", "bottom rod", "pitch"}, names(s))
	for _, p := range s.Positions { // common practice: the mid rod at a quarter to half the depth
		out, _ := p.LineOut.Get()
		switch p.Position {
		case "mid rod":
			require.InDelta(t, 50, out.Feet(), 1e-9)
		case "bottom rod":
			require.InDelta(t, 150, out.Feet(), 1e-9)
		}
	}
	d.Depth = models.Unknown[units.Length]()
	require.Equal(t, []string{"flat line", "flat line", "pitch"}, names(Lay(d, DefaultTable())))
}

func TestTheCaptainsOwnMarks(t *testing.T) {
	table := DefaultTable()
	table.Marks = []units.Length{100 * ft, 75 * ft, 75 * ft}
	table.Near = 80 * ft
	s := Lay(breeze(14*kn), table)
	left := kiteBaits(s, "left")
	near, _ := left[2].Behind.Get()
	require.InDelta(t, 80, near.Feet(), 1)
	require.Less(t, s.KiteLine, Lay(breeze(14*kn), DefaultTable()).KiteLine)
	table.Marks = table.Marks[:1]
	require.Len(t, kiteBaits(Lay(breeze(14*kn), table), "left"), 1)
	table.Marks = nil
	s = Lay(breeze(14*kn), table)
	require.Zero(t, s.Kites)
	require.True(t, says(s, "spread.no_marks"))
}

func TestKitesKnownByTheirRangeOnly(t *testing.T) {
	d := breeze(14 * kn)
	d.Kite = models.Kite{Name: "red", Min: known(8 * kn), Max: known(25 * kn)}
	s := Lay(d, DefaultTable())
	require.Equal(t, "red", s.Kite)
	require.False(t, says(s, "spread.stand_in_kite"))
	d.Kite = models.Kite{Name: "red"}
	s = Lay(d, DefaultTable())
	require.True(t, says(s, "spread.stand_in_kite"))
	require.NotEmpty(t, kiteBaits(s, "left"))
}

// The line and its clips have settled: flown again with the pulls of the drops
// as they came out, the kite stands where the card says.
func TestLineAndClipsSettle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := breeze(units.Speed(rapid.Float64Range(6, 25).Draw(t, "wind")) * kn)
		l := layout{day: d, table: DefaultTable(), kite: d.Kite, baits: rapid.IntRange(1, 3).Draw(t, "baits")}
		line, f, drops := l.solve(d.Wind)
		for i := range drops {
			line.Clips[i] = pull(line.Clips[i].FromKite, f.Clips[i], drops[i])
		}
		again := kite.FlyHelium(l.kite, l.balloon, d.Wind, line)
		require.InDelta(t, float64(f.Height), float64(again.Height), 0.15)
		require.InDelta(t, f.Elevation, again.Elevation, 0.15)
	})
}

// Common practice, no source: in a calm the boat idles ahead under a ballooned
// kite, with one or two baits, and never lets out line without end.
func TestACalmIsIdledThrough(t *testing.T) {
	for _, w := range []float64{0, 0.5, 1, 2, 3, 5} {
		s := Lay(breeze(units.Speed(w)*kn), DefaultTable())
		require.True(t, s.Helium)
		require.Equal(t, 1, s.Kites)
		baits := kiteBaits(s, "")
		require.NotEmpty(t, baits, "%v kn", w)
		require.LessOrEqual(t, len(baits), 2)
		near, ok := baits[len(baits)-1].Behind.Get()
		require.True(t, ok)
		if says(s, "spread.shortened") && len(baits) > 1 {
			require.LessOrEqual(t, near.Feet(), 61.0, "%v kn: wound in, never let out", w)
			require.GreaterOrEqual(t, near.Feet(), 29.0, "%v kn", w)
		} else {
			require.InDelta(t, 60, near.Feet(), 1, "%v kn", w)
		}
		require.False(t, says(s, "spread.kite_fails"))
	}
}

// Without a balloon there is nothing to lay out in a calm: tackle, no places.
func TestADownedKiteHasNoPlaces(t *testing.T) {
	d := breeze(1 * kn)
	d.Helium = false
	s := Lay(d, DefaultTable())
	require.True(t, says(s, "spread.kite_fails"))
	require.Zero(t, s.KiteLine)
	require.Zero(t, s.Height)
	require.NotEmpty(t, s.Positions)
	require.Empty(t, kiteBaits(s, "left"))
}

func TestLineOutHasAnEnd(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := breeze(units.Speed(rapid.Float64Range(0, 35).Draw(t, "wind")) * kn)
		d.Helium = rapid.Bool().Draw(t, "helium")
		s := Lay(d, DefaultTable())
		require.LessOrEqual(t, s.KiteLine, DefaultTable().Most)
		require.GreaterOrEqual(t, s.KiteLine, units.Length(0))
		require.GreaterOrEqual(t, s.Height, units.Length(0))
		for _, p := range s.Positions {
			require.GreaterOrEqual(t, p.ClipHeight.Or(0), units.Length(0))
			require.GreaterOrEqual(t, p.Behind.Or(0), units.Length(0))
		}
	})
}

// Every line of a card is in order: clips from high to low, baits from far to
// near, line out at least as long as the way from rod to clip to bait.
func TestCardIsInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := breeze(units.Speed(rapid.Float64Range(0, 28).Draw(t, "wind")) * kn)
		d.Crew = rapid.IntRange(0, 5).Draw(t, "crew")
		s := Lay(d, DefaultTable())
		side := "left"
		if s.Kites == 1 {
			side = ""
		}
		baits := kiteBaits(s, side)
		for i, p := range baits {
			h, _ := p.ClipHeight.Get()
			behind, ok := p.Behind.Get()
			out, _ := p.LineOut.Get()
			if ok {
				require.Greater(t, out, h-DefaultTable().Tip)
			}
			if i > 0 {
				before, _ := baits[i-1].ClipHeight.Get()
				require.Less(t, h, before)
				if far, known := baits[i-1].Behind.Get(); known && ok {
					require.Less(t, behind, far)
				}
			}
		}
	})
}

func BenchmarkLay(b *testing.B) {
	d, table := breeze(14*kn), DefaultTable()
	for b.Loop() {
		_ = Lay(d, table)
	}
}

// Crews bring the kite in as the wind rises: the long bait is fished about 200
// ft out and 300 at most (common practice, no source).
func TestTheSpreadShortensAsTheWindRises(t *testing.T) {
	table := DefaultTable()
	shortened := false
	for deck := 4.0; deck <= 30; deck += 0.5 {
		s := Lay(breeze(units.Speed(deck)*kn), table)
		baits := kiteBaits(s, "left")
		if s.Kites == 1 {
			baits = kiteBaits(s, "")
		}
		require.NotEmpty(t, baits, "%v kn", deck)
		for _, b := range baits {
			behind, ok := b.Behind.Get()
			require.True(t, ok, "%v kn: %s is blown out", deck, b.Position)
			require.LessOrEqual(t, behind.Feet(), 300.1, "%v kn: %s", deck, b.Position)
			require.GreaterOrEqual(t, behind.Feet(), 29.9, "%v kn: %s", deck, b.Position)
		}
		require.True(t, says(s, "spread.height"), "the height is told with the rule on kites")
		shortened = shortened || says(s, "spread.shortened")
	}
	require.True(t, shortened)
	fresh, fair := Lay(breeze(20*kn), table), Lay(breeze(12*kn), table)
	require.Less(t, fresh.KiteLine, fair.KiteLine)
}

func TestNoWindKeepsEveryBaitWithinTheFarthest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := breeze(units.Speed(rapid.Float64Range(1, 32).Draw(t, "deck")) * kn)
		d.Gust = d.Wind + units.Speed(rapid.Float64Range(0, 12).Draw(t, "gust"))*kn
		d.Crew = rapid.IntRange(0, 4).Draw(t, "crew")
		s := Lay(d, DefaultTable())
		for _, b := range append(kiteBaits(s, "left"), kiteBaits(s, "")...) {
			behind, _ := b.Behind.Get()
			require.LessOrEqual(t, behind.Feet(), 300.1)
		}
	})
}
