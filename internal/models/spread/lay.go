package spread

import (
	"math"

	"forecastd/internal/models"
	"forecastd/internal/models/kite"
	"forecastd/internal/models/units"
)

// Day is what the spread is laid for.
type Day struct {
	// Kite is the kite chosen, Helium whether a balloon carries it.
	Kite   models.Kite
	Helium bool
	// Lull, Wind and Gust are at the kite, relative to the drifting boat;
	// Deck is the mean wind at 10 m, which the drop lines feel.
	Lull, Wind, Gust, Deck units.Speed
	From                   models.Opt[units.From]
	// DirectionSpread is how far the wind's direction ranges, degrees.
	DirectionSpread models.Opt[float64]
	Depth           models.Opt[units.Length]
	// Crew counts the people working the cockpit; 0 is unknown.
	Crew int
}

// Lay returns the spread card of a day after the captain's table: kites, line
// out, angle and height, and for every bait its distance behind the boat, its
// clip's height, the line let out, and the tackle.
//
// The kite line is solved with its clips, and the clips' pull with the drop
// lines blown back by the wind. Line goes out until the nearest bait stands
// where the table wants it, and comes in again, or a bait off, until the long one
// stands within its farthest. As many baits are flown as the table, the crew and
// the kite in its lulls can carry. With a balloon and next to no air the card
// is laid for what the boat makes by idling ahead. A kite whose size cannot be
// told is stood in for by the ordinary one of kite.DefaultSet, and a note says
// so. Of a kite that does not hold the card gives the tackle but no places.
func Lay(d Day, t Table) models.Spread {
	s := models.Spread{Kite: d.Kite.Name, Helium: d.Helium, Kites: 2}
	k, ok := kite.Sized(d.Kite, kite.DefaultLine()).Get()
	if !ok {
		k = kite.DefaultSet()[1]
		s.Notes = append(s.Notes, models.Say("spread.stand_in_kite"))
	}
	baits := d.baits(t, &s)
	if baits == 0 {
		s.Kites = 0
		s.Notes = append(s.Notes, models.Say("spread.no_marks"))
		s.Positions = d.others(t)
		return s
	}
	l := layout{day: d, table: t, kite: k, baits: baits, near: t.Near}
	if d.Helium {
		l.balloon = models.Known(kite.DefaultBalloon())
		l.day.Lull, l.day.Wind = max(d.Lull, t.Idle), max(d.Wind, t.Idle)
		l.day.Deck = max(d.Deck, t.Idle)
	}
	for l.baits > 1 && !l.carried() {
		l.baits--
	}
	if l.baits < baits {
		s.Notes = append(s.Notes, models.Say("spread.kite_carries", l.baits))
	}
	if l.shorten() {
		s.Notes = append(s.Notes, models.Say("spread.shortened", t.Farthest))
	}
	line, flight, drops := l.solve(l.day.Wind)
	up := flight.Elevation >= kite.LeastElevation
	if up {
		s.KiteLine, s.Angle, s.Height = line.Out, flight.Elevation, flight.Height+t.Tip
	}
	if up {
		s.Notes = append(s.Notes, models.Say("spread.height", s.Height))
	}
	if !flight.Holds {
		s.Notes = append(s.Notes, models.Say("spread.kite_fails"))
	}
	s.Positions = l.positions(s.Kites, up, flight, drops)
	for _, dr := range drops {
		if up && dr.Blown {
			s.Notes = append(s.Notes, models.Say("spread.drop_blown"))
			break
		}
	}
	s.Positions = append(s.Positions, d.others(t)...)
	if from, ok := d.From.Get(); ok && s.Kites == 2 {
		down := from.Toward()
		s.Notes = append(s.Notes, models.Say("spread.split",
			down-units.Toward(t.Split), down+units.Toward(t.Split)))
	}
	return s
}

// baits tells how many baits each kite carries by table and crew, and sets the
// number of kites.
func (d Day) baits(t Table, s *models.Spread) int {
	n := min(3, len(t.Marks))
	if d.Deck < t.LightAir {
		n = min(n, 2)
		s.Notes = append(s.Notes, models.Say("spread.two_light"))
	} else if d.Deck > t.HeavyAir {
		n = min(n, 2)
		s.Notes = append(s.Notes, models.Say("spread.two_heavy"))
	}
	if d.Gust-d.Wind > t.Gusty {
		n--
		s.Notes = append(s.Notes, models.Say("spread.fewer_gusts"))
	}
	switch spread, known := d.DirectionSpread.Get(); {
	case d.Helium:
		s.Kites = 1
		s.Notes = append(s.Notes, models.Say("spread.one_helium"))
	case known && spread >= t.OneKite:
		s.Kites = 1
		s.Notes = append(s.Notes, models.Say("spread.one_wind_swings"))
	case d.Crew == 1:
		s.Kites = 1
		s.Notes = append(s.Notes, models.Say("spread.one_crew"))
	case d.Crew == 2 && n > 2:
		n = 2
		s.Notes = append(s.Notes, models.Say("spread.two_crew"))
	}
	return max(n, min(1, len(t.Marks)))
}

// layout is one kite with its baits.
type layout struct {
	day     Day
	table   Table
	kite    models.Kite
	balloon models.Opt[kite.Balloon]
	baits   int
	near    units.Length // where the nearest bait shall stand
}

// tackle names and equips the baits from the kite inwards.
func (l layout) tackle() []models.BaitPosition {
	name := [][]string{{}, {"middle"}, {"long", "short"}, {"long", "middle", "short"}}[l.baits]
	out := make([]models.BaitPosition, len(name))
	for i, n := range name {
		k := l.table.of(n)
		out[i] = models.BaitPosition{
			Position: n, Line: k.Line, Leader: k.Leader, LeaderLength: k.LeaderLength, Bait: k.Bait,
			Lead: leadName(l.table.lead(k, l.day.Deck)),
		}
	}
	return out
}

func (t Table) of(position string) Tackle {
	switch position {
	case "long":
		return t.Long
	case "short":
		return t.Short
	}
	return t.Middle
}

// carried tells whether the kite holds its baits in the lulls.
func (l layout) carried() bool {
	_, f, _ := l.solve(l.day.Lull)
	return f.Elevation >= kite.LeastElevation
}

// shorten winds the kite in until the long bait stands within the table's
// farthest, and takes a bait off where the nearest one would come too near; it
// tells whether it did. A kite that is down, and a lone bait, stay as they are.
func (l *layout) shorten() bool {
	if l.table.Farthest <= 0 {
		return false
	}
	changed := false
	for l.over() && l.baits > 1 {
		changed = true
		l.near = l.table.Nearest
		if l.over() {
			l.baits--
			l.near = l.table.Near
			continue
		}
		in, out := l.table.Nearest, l.table.Near
		for out-in > 0.1 {
			if l.near = (in + out) / 2; l.over() {
				out = l.near
			} else {
				in = l.near
			}
		}
		l.near = in
	}
	return changed
}

// over tells whether the long bait stands further out than the table allows.
func (l *layout) over() bool {
	_, f, drops := l.solve(l.day.Wind)
	if f.Elevation < kite.LeastElevation {
		return false
	}
	return drops[0].Blown || f.Clips[0].Behind+drops[0].Back > l.table.Farthest
}

// solve finds the line to let out so that the nearest bait stands where the
// table wants it, in a wind at the kite. The pull at the clips follows from
// their heights and the heights from the pull: both are solved in turn until
// the angle of the line changes by less than settled.
func (l layout) solve(wind units.Speed) (kite.Line, kite.Flight, []Drop) {
	line := kite.DefaultLine()
	line.Clips = make([]kite.Clip, l.baits)
	for i := range line.Clips {
		line.Clips[i].FromKite = l.table.Marks[i]
		if i > 0 {
			line.Clips[i].FromKite += line.Clips[i-1].FromKite
		}
	}
	deck := l.day.Deck
	if l.day.Wind > 0 { // the wind on deck goes with the wind at the kite
		deck *= wind / l.day.Wind
	}
	tackle := l.tackle()
	drop := func(i int, f kite.Flight) Drop {
		k := l.table.of(tackle[i].Position)
		load := l.table.lead(k, l.day.Deck) + carried*k.Body
		return Hang(f.Clips[i].Height+l.table.Tip, load, k.Diameter, deck)
	}
	drops := make([]Drop, l.baits)
	var f kite.Flight
	last := l.baits - 1
	for range 20 {
		before := f.Elevation
		short := func(out units.Length) float64 {
			line.Out = out
			f = kite.FlyHelium(l.kite, l.balloon, wind, line)
			return float64(f.Clips[last].Behind + drop(last, f).Back - l.near)
		}
		mark := line.Clips[last].FromKite
		line.Out = root(short, mark, max(l.table.Most-mark, 0))
		f = kite.FlyHelium(l.kite, l.balloon, wind, line)
		for i := range drops {
			drops[i] = drop(i, f)
			line.Clips[i] = pull(line.Clips[i].FromKite, f.Clips[i], drops[i])
		}
		if math.Abs(f.Elevation-before) < settled {
			break
		}
	}
	return line, f, drops
}

// settled is how closely the angle of the line is sought, degrees.
const settled = 0.05

// root returns where a rising function is zero between start and start+span,
// to a centimetre, by regula falsi (Illinois); the nearer end where it is
// nowhere.
func root(f func(units.Length) float64, start, span units.Length) units.Length {
	a, b := float64(start), float64(start+span)
	fa, fb := f(start), f(start+span)
	if fa >= 0 {
		return start
	}
	if fb <= 0 {
		return start + span
	}
	for range 40 {
		m := (a*fb - b*fa) / (fb - fa)
		fm := f(units.Length(m))
		if math.Abs(fm) < 0.01 {
			return units.Length(m)
		}
		if (fm > 0) == (fb > 0) {
			b, fb = m, fm
			fa /= 2
		} else {
			a, fa = b, fb
			b, fb = m, fm
		}
	}
	return units.Length(b)
}

// pull is what a fishing line does to its clip: it hangs from it on one side
// and is held from the rod on the other, with the same tension in both parts.
func pull(mark units.Length, clip kite.Place, d Drop) kite.Clip {
	r := math.Hypot(float64(clip.Behind), float64(clip.Height))
	c := kite.Clip{FromKite: mark, Down: d.Down, Back: -d.Away}
	if r > 0 {
		c.Down += d.Pull * float64(clip.Height) / r
		c.Back += d.Pull * float64(clip.Behind) / r
	}
	return c
}

// positions writes the kite baits of all kites, with their places where the
// kite is up.
func (l layout) positions(kites int, up bool, f kite.Flight, drops []Drop) []models.BaitPosition {
	var out []models.BaitPosition
	for n := range kites {
		side := ""
		if kites == 2 {
			side = [...]string{"left", "right"}[n]
		}
		for i, p := range l.tackle() {
			clip, d := f.Clips[i], drops[i]
			p.Side = side
			if up {
				p.ClipHeight = models.Known(clip.Height + l.table.Tip)
			}
			if up && !d.Blown {
				p.Behind = models.Known(clip.Behind + d.Back)
				toClip := units.Length(math.Hypot(float64(clip.Behind), float64(clip.Height)))
				p.LineOut = models.Known(toClip + d.Length)
			}
			out = append(out, p)
		}
	}
	return out
}

// others writes the lines that hang from no kite.
func (d Day) others(t Table) []models.BaitPosition {
	var out []models.BaitPosition
	for _, o := range t.Others {
		depth, known := d.Depth.Get()
		if d.Crew < o.CrewAtLeast || (o.OnlyWithDeep && !known) {
			continue
		}
		p := models.BaitPosition{
			Position: o.Position, Side: o.Side,
			Line: o.Tackle.Line, Leader: o.Tackle.Leader, LeaderLength: o.Tackle.LeaderLength, Bait: o.Tackle.Bait,
			Lead: leadName(t.lead(o.Tackle, d.Deck)),
		}
		switch {
		case o.DepthShare > 0:
			p.LineOut = models.Known(units.Length(o.DepthShare) * depth)
		case o.Behind > 0:
			p.Behind = models.Known(o.Behind)
			p.LineOut = models.Known(o.Behind)
		}
		out = append(out, p)
	}
	return out
}
