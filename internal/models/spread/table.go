// Package spread lays out the baits: how much kite line to let out, where
// along it the clips ride and how high, how far behind the boat each bait
// stands once the wind has blown its drop line back, and with what tackle,
// after the captain's own table.
package spread

import (
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Table is the captain's own spread: marks on the kite line, tackle by
// position, and when to fly less.
type Table struct {
	// Marks are the clips' stops on the kite line: from the kite to the
	// first clip, then from clip to clip.
	Marks []units.Length
	// Near is how far behind the boat the nearest bait shall stand.
	Near units.Length
	// Nearest is how near the boat it may come, and Farthest how far behind it
	// any bait may stand: a wind that blows the drop lines out further has the
	// kite wound in, and then a bait taken off. 0 is no limit.
	Nearest, Farthest units.Length
	// Most is the most kite line let out, even where the nearest bait then
	// stands closer than Near.
	Most units.Length
	// Idle is the wind at a ballooned kite that the boat makes by idling ahead
	// where the air gives less.
	Idle units.Speed
	// Tip is the height of rod tips and kite reel above the water.
	Tip units.Length
	// Split is how far, in degrees, each of two kites is led off the wind.
	Split float64
	// LightAir and HeavyAir are mean winds at 10 m below and above which a
	// kite carries two baits.
	LightAir, HeavyAir units.Speed
	// Gusty is the gust minus mean from which one bait comes off each kite.
	Gusty units.Speed
	// OneKite is the spread of the wind's direction, in degrees, from which
	// two kites cross their lines.
	OneKite float64
	// Long, Middle, Short are the tackle of the kite baits.
	Long, Middle, Short Tackle
	// Others are the lines that do not hang from a kite.
	Others []Other
}

// Tackle is what a bait is fished on.
type Tackle struct {
	Line, Leader, Bait string
	// LeaderLength is how long the leader is; unknown is as the crew ties it.
	LeaderLength models.Opt[units.Length]
	// Diameter is that of the line.
	Diameter units.Length
	// LeadLight and LeadHeavy bound the lead: the first in light air, the
	// second from 20 kn on.
	LeadLight, LeadHeavy units.Mass
	// Body is the mass of the bait.
	Body units.Mass
}

// Other is a line that does not hang from a kite.
type Other struct {
	Position     string
	Side         string
	Tackle       Tackle
	Behind       units.Length
	DepthShare   float64 // share of the water depth; 0 is at the surface
	CrewAtLeast  int
	OnlyWithDeep bool // needs the depth of the water
}

// DefaultTable returns the usual spread: common practice, no source. Lines are
// by position (short and middle 12-20 lb, long 16-30 lb), leaders about 15 ft.
func DefaultTable() Table {
	const ft, oz, mm = units.Foot, units.Ounce, units.Length(0.001)
	flat := Tackle{
		Line: "15-20 lb", Leader: "30-40 lb", Bait: "ballyhoo, pilchard, herring",
		Diameter: 0.43 * mm, LeadHeavy: 0.5 * oz, Body: 0.06,
	}
	return Table{
		Marks: []units.Length{150 * ft, 90 * ft, 90 * ft},
		Near:  60 * ft, Nearest: 30 * ft, Farthest: 300 * ft, Most: 450 * ft, Idle: 3 * units.Knot, Tip: 10 * ft, Split: 15,
		LightAir: 8 * units.Knot, HeavyAir: 22 * units.Knot,
		Gusty: 8 * units.Knot, OneKite: 40,
		Long: Tackle{
			Line: "16-30 lb", Leader: "30-50 lb", LeaderLength: models.Known(15 * ft), Bait: "goggle-eye, runner",
			Diameter: 0.50 * mm, LeadLight: 0.5 * oz, LeadHeavy: 1 * oz, Body: 0.15,
		},
		Middle: Tackle{
			Line: "12-20 lb", Leader: "30-50 lb", LeaderLength: models.Known(15 * ft), Bait: "herring, goggle-eye",
			Diameter: 0.43 * mm, LeadLight: 0.25 * oz, LeadHeavy: 0.75 * oz, Body: 0.10,
		},
		Short: Tackle{
			Line: "12-20 lb", Leader: "30-40 lb", LeaderLength: models.Known(15 * ft), Bait: "sardine, small herring",
			Diameter: 0.43 * mm, LeadLight: 0.125 * oz, LeadHeavy: 0.5 * oz, Body: 0.05,
		},
		Others: []Other{
			{Position: "flat line", Side: "left", Tackle: flat, Behind: 40 * ft},
			{Position: "flat line", Side: "right", Tackle: flat, Behind: 60 * ft},
			{Position: "mid rod", CrewAtLeast: 4, OnlyWithDeep: true, DepthShare: 1.0 / 3, Tackle: Tackle{
				Line: "20-30 lb", Leader: "40-50 lb", Bait: "runner, herring",
				LeadLight: 3 * oz, LeadHeavy: 8 * oz,
			}},
			{Position: "bottom rod", CrewAtLeast: 4, OnlyWithDeep: true, DepthShare: 1, Tackle: Tackle{
				Line: "30-50 lb", Leader: "50-80 lb", Bait: "runner, pinfish",
				LeadLight: 8 * oz, LeadHeavy: 16 * oz,
			}},
			{Position: "pitch", Tackle: Tackle{
				Line: "15-20 lb", Leader: "30-40 lb", Bait: "ballyhoo, goggle-eye",
			}},
		},
	}
}

// lead is the weight for a wind at the drop lines: LeadLight up to LightAir,
// LeadHeavy from 20 kn on, straight between.
func (t Table) lead(k Tackle, wind units.Speed) units.Mass {
	const full = 20 * units.Knot
	x := 1.0
	if full > t.LightAir {
		x = float64((wind - t.LightAir) / (full - t.LightAir))
	}
	x = min(max(x, 0), 1)
	return k.LeadLight + units.Mass(x)*(k.LeadHeavy-k.LeadLight)
}

// leadName writes a lead as the nearest size on sale, in ounces; empty for
// none.
func leadName(m units.Mass) string {
	names := [...]struct {
		oz   float64
		name string
	}{
		{0, ""}, {0.125, "1/8 oz"}, {0.25, "1/4 oz"}, {0.375, "3/8 oz"}, {0.5, "1/2 oz"}, {0.75, "3/4 oz"},
		{1, "1 oz"}, {1.5, "1 1/2 oz"}, {2, "2 oz"}, {3, "3 oz"}, {4, "4 oz"}, {5, "5 oz"}, {6, "6 oz"},
		{8, "8 oz"}, {10, "10 oz"}, {12, "12 oz"}, {16, "16 oz"},
	}
	best := names[0]
	for _, n := range names {
		if d := n.oz - m.Ounces(); d*d < (best.oz-m.Ounces())*(best.oz-m.Ounces()) {
			best = n
		}
	}
	return best.name
}
