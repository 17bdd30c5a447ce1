package scoring

import (
	"math"

	"forecastd/internal/models"
)

// fishOf is whether it is worth being there at all, from nought to a little
// over one: the season, the edge, the water, what was seen, the days behind a
// front, wind against current. Kites and sight casting share it; ride and
// safety never look at it. Common practice, no source.
func (s *site) fishOf(c *models.Conditions) float64 {
	r := &s.o.Reports
	there := math.Cbrt(seasonWorth(r.Season) * edgeWorth(r.EdgeInReach) * waterWorth(r.Water))
	there *= reportWorth(r.FishOnTop)
	if r.BaitShowering.Or(false) {
		there = max(there, showering)
	}
	there *= s.opposedWorth(c)
	if s.behind > 0 {
		there *= [...]float64{1, firstBehind, secondBehind, 1}[min(s.behind, 3)]
	}
	return there
}

// opposedWorth is what wind against current does for the fish.
func (s *site) opposedWorth(c *models.Conditions) float64 {
	o, ok := c.Opposition.Get()
	if !ok {
		return 1
	}
	return curve{{-0.5, runsWith}, {s.lim.OppositionUseful, 1}, {s.lim.OppositionStrong, runsAgainst}}.at(o)
}

// fishLack is what speaks most against the fish.
func (s *site) fishLack() models.Phrase {
	r := &s.o.Reports
	worst, key := 0.5, "lack.fish"
	for _, x := range []struct {
		worth float64
		key   string
	}{{edgeWorth(r.EdgeInReach), "lack.edge"}, {seasonWorth(r.Season), "lack.season"}, {waterWorth(r.Water), "lack.water"}} {
		if x.worth < worst {
			worst, key = x.worth, x.key
		}
	}
	return models.Say(key)
}

// slowFish says that kites fly where the fishing will be slow.
func (s *site) slowFish(kites []*hour) []models.Phrase {
	if len(kites) == 0 {
		return nil
	}
	h := middleHour(kites)
	if s.grade(meanKite(kites)) < models.GradeFair || fishGrade(h.fish) != models.FishSlow {
		return nil
	}
	return []models.Phrase{models.Say("reason.slow", s.fishLack())}
}

// Parts of the fish that are not known elsewhere: common practice, no source.
const (
	showering    = 0.75 // bait in the air is fish under it
	runsWith     = 0.9  // wind and current the same way: slow sailfish
	runsAgainst  = 1.1
	firstBehind  = 1.15 // the first day behind a front
	secondBehind = 1.05
	// nothingThere is the fish under which an unbooked day is not worth the
	// fuel: season, edge and water all against it.
	nothingThere = 0.32
	fishGood     = 0.72
	fishFair     = 0.42
	// blindKites is the share of a kite hour's worth that is there whatever
	// the fish: guests are fished with all the same.
	blindKites = 0.7
)

func reportWorth(seen models.Opt[models.Seen]) float64 {
	switch v, _ := seen.Get(); v {
	case models.SeenToday:
		return seenToday
	case models.SeenYesterday:
		return seenYesterday
	}
	return noReport
}

// fishGrade is the word for the fish.
func fishGrade(fish float64) models.Fish {
	switch {
	case atLeast(fish, fishGood):
		return models.FishGood
	case atLeast(fish, fishFair):
		return models.FishFair
	}
	return models.FishSlow
}

// withFish is what a kite hour gives with these fish about.
func withFish(kite, fish float64) float64 {
	return kite * (blindKites + (1-blindKites)*min(fish, 1))
}

// nothing tells whether an unbooked day has kites to fly and nothing to fish
// for in any of the booked hours.
func (s *site) nothing(v *view) bool {
	if !s.unbooked || len(v.hours) == 0 {
		return false
	}
	for i := range v.hours {
		h := &v.hours[i]
		if h.to > v.trip.start && h.from < v.trip.end && h.fish >= nothingThere {
			return false
		}
	}
	return true
}
