package models

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Pen is what the captain last counted.
type Pen struct {
	// Counted is when any of it was counted last.
	Counted time.Time
	Stock   []BaitStock
}

// CountedAt is when a lot of the pen was counted last.
func (p Pen) CountedAt(lot BaitStock) time.Time { return lot.Counted.Or(p.Counted) }

// MostBait is how many baits of a lot can be counted.
const MostBait = 100_000

// Tally is a count of one lot of bait in the pen, as somebody says it.
type Tally struct {
	// Kind is any of the trade's words for the kind.
	Kind  string
	Count int
	// Source is how they were come by; empty is as before, else hooked.
	Source BaitSource
	// Another counts a lot beside those of the kind that were come by
	// otherwise. Without it a source that differs corrects the only lot.
	Another bool
}

// Count is the pen after a count of one lot, at an instant of a day on the
// port's clock. The others stay as they were, each from its own count on.
func (p Pen) Count(c Tally, now time.Time, today Date) (Pen, error) {
	kind, _ := BaitKindOf(c.Kind)
	switch {
	case kind.Name == "":
		return Pen{}, errors.New("a count needs a kind of bait, as goggle-eye")
	case c.Count < 0 || c.Count > MostBait:
		return Pen{}, fmt.Errorf("%d can't be right: write a count from 0 to %d", c.Count, MostBait)
	case c.Another && c.Source == "":
		return Pen{}, errors.New("another lot is told by how it was come by: add -source netted, or as it was")
	}
	counted, err := p.counted(c, kind.Name)
	if err != nil {
		return Pen{}, err
	}
	lot := BaitStock{Kind: kind.Name, Count: c.Count, Source: c.Source, Caught: Known(today), Counted: Known(now)}
	if len(counted) > 0 {
		was := p.Stock[counted[0]]
		if lot.Source == "" {
			lot.Source = was.Source
		}
		if c.Count <= was.Count {
			lot.Caught = was.Caught // none was added
		}
	}
	if lot.Source == "" {
		lot.Source = BaitHooked
	}
	after := Pen{Counted: now}
	for i, s := range p.Stock {
		if !slices.Contains(counted, i) {
			s.Counted = Known(p.CountedAt(s))
			after.Stock = append(after.Stock, s)
		}
	}
	if c.Count > 0 {
		after.Stock = append(after.Stock, lot)
	}
	return after, nil
}

// counted picks what was counted among the lots of the pen: the one of the
// kind and source; the only one of the kind where the source is left out or
// put right; all of the kind where none is left; none where it is a new lot.
func (p Pen) counted(c Tally, kind string) ([]int, error) {
	var all, same []int
	var names []string
	for i, s := range p.Stock {
		if k, _ := BaitKindOf(s.Kind); k.Name != kind {
			continue
		}
		all = append(all, i)
		names = append(names, fmt.Sprintf("%d %s", s.Count, s.Source))
		if s.Source == c.Source {
			same = append(same, i)
		}
	}
	switch {
	case len(same) > 0:
		return same, nil
	case c.Another:
		return nil, nil
	case len(all) < 2 || c.Count == 0 && c.Source == "":
		return all, nil
	}
	return nil, fmt.Errorf("there are several lots of %s (%s): say which was counted, as -source hooked, or -another for one more", kind, strings.Join(names, ", "))
}
