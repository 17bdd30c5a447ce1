package scoring

import (
	"fmt"
	"slices"
	"strings"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// balloonsSpare is how many balloons go aboard for each one that flies.
const balloonsSpare = 3

// spares is how many clips and floats go aboard beside those that fly, and
// hooksEach how many hooks for each line: common practice, no source.
const (
	spares    = 2
	hooksEach = 3
)

// hooksFor is how many hooks a day takes: for the lines of the card and for the
// rods that are kept ready.
func hooksFor(card models.Spread, t models.Tactic) int {
	lines := pitchRods(t)
	for _, p := range card.Positions {
		if p.Position != "pitch" {
			lines++
		}
	}
	return hooksEach * lines
}

// lifesaving is the captain's own safety kit, and without one of his list a life
// jacket for everybody aboard with what else the law asks for by its plain name.
func (s *site) lifesaving(l *loading) {
	before := len(l.list)
	l.all(models.GearSafety)
	if len(l.list) > before {
		return
	}
	aboard := s.o.Boat.Crew + s.o.Trip.Guests.Or(s.o.Boat.Passengers.Or(0))
	l.add(models.LoadItem{What: "life jacket", Count: max(aboard, 1)}, true)
	l.add(models.LoadItem{What: "flares, radio and first aid", Count: 1}, true)
}

// Words of the list for what is used up.
const (
	liveWell     = "live well"
	balloon      = "balloon"
	hook         = "circle hook"
	ice          = "ice"
	leaderPrefix = "leader, "
	leadPrefix   = "lead, "
)

// load picks from the captain's gear what the day needs, by position. Without
// gear of his own it names the things, without a place.
func (s *site) load(v *view, c *models.Call, with With) []models.LoadItem {
	if !v.plan.going {
		return nil
	}
	l := loading{gear: slices.Clone(with.Gear)}
	for i := range l.gear {
		l.gear[i].Count = max(l.gear[i].Count, 1)
	}
	card, flies := c.Spread.Get()
	if flies {
		l.kites(s, v, card)
	}
	l.take(models.GearSightRod, "pitch rod", "pitch", pitchRods(c.Tactic))
	helium := s.usesHelium(v) || s.mayNeedHelium(v)
	if helium && s.o.Boat.HeliumAboard && flies {
		l.take(models.GearBalloon, balloon, "", balloonsSpare*max(card.Kites, 1))
		l.take(models.GearHelium, "helium bottle", "", 1)
	}
	if s.o.Boat.SeaAnchor {
		l.take(models.GearSeaAnchor, "sea anchor", "", 1)
	}
	if b, ok := c.Bait.Get(); ok && b.Needed.Known() {
		w := s.wanted(c)
		l.add(models.LoadItem{What: "goggle-eye, runner or herring", Count: w.Hardy, Stow: liveWell}, w.Hardy > 0)
		l.add(models.LoadItem{What: "ballyhoo or pilchard", Count: w.Delicate, Stow: liveWell}, w.Delicate > 0)
	}
	l.take(models.GearHook, hook, "", hooksFor(card, c.Tactic))
	l.all(models.GearRigging, "bridle bands and needle", "swivels", "wire for short traces", "spare kite line")
	l.all(models.GearTool, "dehooker", "pliers and cutters")
	l.add(models.LoadItem{What: ice, Count: 1}, !slices.ContainsFunc(l.gear, func(g models.Gear) bool { return strings.EqualFold(g.Name, ice) }))
	s.lifesaving(&l)
	l.all(models.GearOther)
	return l.list
}

func pitchRods(t models.Tactic) int {
	switch t {
	case models.TacticSight, models.TacticKiteSight, models.TacticSightKite, models.TacticEither:
		return 4
	case models.TacticKite, models.TacticHelium, models.TacticStayIn:
		return 2
	}
	panic(fmt.Sprintf("scoring: nobody has said which rods the tactic %q takes", t))
}

// mayNeedHelium tells whether any hour out has little wind.
func (s *site) mayNeedHelium(v *view) bool {
	for _, h := range s.fished(v) {
		if w, ok := h.c.Wind.Get(); ok && w < s.lim.HeliumSuggest+2*units.Knot {
			return true
		}
	}
	return false
}

type loading struct {
	gear []models.Gear // with the counts that are not yet taken
	list []models.LoadItem
}

func (l *loading) add(i models.LoadItem, want bool) {
	if want {
		l.list = append(l.list, i)
	}
}

// take puts count pieces of a kind for a position aboard: from the captain's
// own gear what there is, telling what is short; by its plain name where his
// list has nothing of the kind for it.
func (l *loading) take(kind models.GearKind, plain, position string, count int) {
	l.pick(models.LoadItem{What: plain, Count: count, Position: position}, func(g models.Gear) bool {
		return g.Kind == kind && (g.Position == "" || position == "" || strings.EqualFold(g.Position, position))
	})
}

// pick takes what is wanted from the gear that fits.
func (l *loading) pick(want models.LoadItem, fits func(models.Gear) bool) {
	if want.Count <= 0 {
		return
	}
	listed, left := false, want.Count
	for i := range l.gear {
		g := &l.gear[i]
		if !fits(*g) {
			continue
		}
		listed = true
		n := min(left, g.Count)
		if n == 0 {
			continue
		}
		g.Count -= n
		left -= n
		item := models.LoadItem{What: g.Name, Count: n, Stow: g.Stow, Position: want.Position}
		if g.Kind == models.GearKite {
			item.What = want.What
		}
		l.list = append(l.list, item)
	}
	switch {
	case left == 0:
	case !listed:
		l.list = append(l.list, want)
	case left == want.Count: // all of it is in use elsewhere
		want.Count, want.Short = 0, left
		l.list = append(l.list, want)
	default:
		l.list[len(l.list)-1].Short = left
	}
}

// all takes every piece of a kind, or the plain names where there is none.
func (l *loading) all(kind models.GearKind, plain ...string) {
	found := false
	for _, g := range l.gear {
		if g.Kind == kind {
			found = true
			l.list = append(l.list, models.LoadItem{What: g.Name, Count: max(g.Count, 1), Stow: g.Stow, Position: g.Position})
		}
	}
	for _, p := range plain {
		l.add(models.LoadItem{What: p, Count: 1}, !found)
	}
}

// kites takes the kites with rods, clips and the tackle of each position.
func (l *loading) kites(s *site, v *view, card models.Spread) {
	names := []string{}
	for _, h := range s.fished(v, modeKite, modeHelium, modeEither) {
		if n := h.ch.Kite.Name; n != "" && !slices.Contains(names, n) {
			names = append(names, n)
		}
	}
	if len(names) == 0 {
		names = []string{card.Kite}
	}
	for i, n := range names {
		// The one that flies longest first; one of each more is the spare.
		count := max(card.Kites, 1)
		if i > 0 {
			count = 1
		}
		l.pick(models.LoadItem{What: "kite: " + n, Count: count + boolCount(i == 0)}, func(g models.Gear) bool {
			return g.Kind == models.GearKite && strings.EqualFold(g.Name, n)
		})
	}
	l.take(models.GearKiteRod, "kite rod", "", max(card.Kites, 1))
	clips := 0
	for _, p := range card.Positions {
		where := strings.TrimSpace(p.Side + " " + p.Position)
		if p.Position == "pitch" {
			continue
		}
		if p.ClipHeight.Known() {
			clips++
		}
		rod := len(l.list)
		l.take(models.GearRod, "rod, "+p.Line, p.Position, 1)
		for i := rod; i < len(l.list); i++ {
			l.list[i].Position = where
		}
		l.add(models.LoadItem{What: leaderPrefix + p.Leader, Length: p.LeaderLength, Count: 2, Position: where}, p.Leader != "")
		l.add(models.LoadItem{What: leadPrefix + p.Lead, Count: 2, Position: where}, p.Lead != "")
	}
	l.take(models.GearClip, "release clip", "", clips+spares)
	l.take(models.GearFloat, "float", "", clips+spares)
}

func boolCount(b bool) int {
	if b {
		return 1
	}
	return 0
}
