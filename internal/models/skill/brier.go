package skill

import (
	"cmp"
	"math"
	"slices"
)

// Said is one forecast of a chance, from 0 to 1, and whether it came.
type Said struct {
	Chance float64
	Came   bool
}

func (s Said) outcome() float64 {
	if s.Came {
		return 1
	}
	return 0
}

// BrierParts are the Brier score and its parts: Score = Reliability -
// Resolution + Uncertainty.
type BrierParts struct {
	N                                    int
	Score                                float64
	Reliability, Resolution, Uncertainty float64
	// Skill is 1 - Score/Uncertainty, against always saying how often it
	// comes; 0 where it always or never came.
	Skill float64
}

// Brier returns the score and its decomposition over the distinct chances
// said, which makes the three parts add up exactly.
//
// Reference: Murphy1973.
func Brier(cases []Said) (BrierParts, error) {
	n := float64(len(cases))
	if n == 0 {
		return BrierParts{}, ErrEmpty
	}
	p := BrierParts{N: len(cases)}
	var came float64
	for _, c := range cases {
		came += c.outcome()
		d := c.Chance - c.outcome()
		p.Score += d * d / n
	}
	base := came / n
	// In order of the chance said, so that the sums are always the same.
	sorted := slices.SortedFunc(slices.Values(cases), func(a, b Said) int { return cmp.Compare(a.Chance, b.Chance) })
	for len(sorted) > 0 {
		chance, k, o := sorted[0].Chance, 0, 0.0
		for k < len(sorted) && sorted[k].Chance == chance {
			o += sorted[k].outcome()
			k++
		}
		o /= float64(k)
		p.Reliability += float64(k) / n * (chance - o) * (chance - o)
		p.Resolution += float64(k) / n * (o - base) * (o - base)
		sorted = sorted[k:]
	}
	p.Uncertainty = base * (1 - base)
	if p.Uncertainty > 0 {
		p.Skill = 1 - p.Score/p.Uncertainty
	}
	return p, nil
}

// Bin is one bin of a reliability table.
type Bin struct {
	// From and To bound the chances said; the last bin holds 1 as well.
	From, To float64
	N        int
	// Said is the mean chance said, Came how often it came; both 0 where the
	// bin is empty.
	Said, Came float64
}

// Reliability sorts cases into n bins of equal width over [0, 1]. Chances
// outside are put into the nearest bin.
func Reliability(cases []Said, n int) []Bin {
	if n < 1 {
		return nil
	}
	bins := make([]Bin, n)
	for i := range bins {
		bins[i].From, bins[i].To = float64(i)/float64(n), float64(i+1)/float64(n)
	}
	for _, c := range cases {
		// A hair up, so that 0.3 of 0.1 steps opens its bin and does not
		// close the one below.
		i := min(max(int(math.Floor(c.Chance*float64(n)+1e-9)), 0), n-1)
		bins[i].N++
		bins[i].Said += c.Chance
		bins[i].Came += c.outcome()
	}
	for i, b := range bins {
		if b.N > 0 {
			bins[i].Said /= float64(b.N)
			bins[i].Came /= float64(b.N)
		}
	}
	return bins
}
