package scoring

import (
	"slices"
	"strings"

	"forecastd/internal/models"
)

// LoadOfDay is what goes aboard for all trips of a day. Gear serves every trip,
// so it goes aboard once, as many pieces as the trip that takes most; bait,
// leaders, leads and balloons are used up, and each trip needs its own.
func LoadOfDay(trips [][]models.LoadItem) []models.LoadItem {
	var all []models.LoadItem
	for _, list := range trips {
		taken := map[int]bool{} // what this trip has matched already
		for _, item := range list {
			i := -1
			for j, have := range all {
				if !taken[j] && have.What == item.What && have.Stow == item.Stow && have.Position == item.Position {
					i = j
					break
				}
			}
			switch {
			case i < 0:
				i = placeFor(all, item)
				all = slices.Insert(all, i, item)
				taken = shifted(taken, i)
			case usedUp(item):
				all[i].Count += item.Count
			default:
				all[i].Count = max(all[i].Count, item.Count)
			}
			taken[i] = true
		}
	}
	return all
}

// placeFor keeps what belongs to one position together.
func placeFor(all []models.LoadItem, item models.LoadItem) int {
	for j := len(all) - 1; j >= 0 && item.Position != ""; j-- {
		if all[j].Position == item.Position {
			return j + 1
		}
	}
	return len(all)
}

func shifted(taken map[int]bool, at int) map[int]bool {
	out := map[int]bool{}
	for j := range taken {
		if j >= at {
			j++
		}
		out[j] = true
	}
	return out
}

func usedUp(i models.LoadItem) bool {
	return i.Stow == liveWell || i.What == balloon || i.What == hook || i.What == ice || strings.HasPrefix(i.What, leaderPrefix) || strings.HasPrefix(i.What, leadPrefix)
}
