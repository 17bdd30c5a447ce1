package gridded

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
)

// run is one run of a product, and which of its files are wanted.
type run struct {
	start time.Time
	leads []int // ascending
}

func (r run) String() string { return "the run of " + r.start.Format("2 Jan 15:04 UTC") }

// reach is how far into the hours wanted a run goes.
func (r run) reach(want models.Interval) time.Time {
	last := r.start.Add(time.Duration(r.leads[len(r.leads)-1]) * time.Hour)
	if last.After(want.End) {
		return want.End
	}
	return last
}

// leadsFor lists the leads of the files of a run that cover an interval, with
// one before and one behind it, so that the hours between can be joined.
func (p Product) leadsFor(start time.Time, want models.Interval) []int {
	var list []int
	for _, l := range p.Leads {
		if len(l.Cycles) > 0 && !slices.Contains(l.Cycles, start.Hour()) {
			continue
		}
		margin := time.Duration(l.Step) * time.Hour
		if p.HoursInFile > 0 {
			margin = time.Hour
		}
		for h := l.From; h <= l.To; h += l.Step {
			first := start.Add(time.Duration(h-max(p.HoursInFile-1, 0)) * time.Hour)
			last := start.Add(time.Duration(h) * time.Hour)
			if last.After(want.Start.Add(-margin)) && first.Before(want.End.Add(margin)) {
				list = append(list, h)
			}
		}
	}
	slices.Sort(list)
	return slices.Compact(list)
}

// runs are the runs that may serve at a time by the product's cycles, the best
// first.
func (p Product) runs(now time.Time, want models.Interval) []run {
	var starts []time.Time
	for t := now.Truncate(time.Hour); !t.Before(now.Add(-time.Duration(p.LookBack))); t = t.Add(-time.Hour) {
		if slices.Contains(p.Cycles, t.Hour()) {
			starts = append(starts, t)
		}
	}
	return p.rank(starts, now, want)
}

// rank turns starts into runs, furthest reaching first, then newest.
func (p Product) rank(starts []time.Time, now time.Time, want models.Interval) []run {
	var list []run
	for _, t := range starts {
		if t.After(now.Add(-time.Duration(p.ReadyAfter))) || t.Before(now.Add(-time.Duration(p.LookBack))) {
			continue
		}
		if leads := p.leadsFor(t, want); len(leads) > 0 {
			list = append(list, run{start: t, leads: leads})
		}
	}
	slices.SortStableFunc(list, func(a, b run) int {
		if c := b.reach(want).Compare(a.reach(want)); c != 0 {
			return c
		}
		return b.start.Compare(a.start)
	})
	return list
}

// spot says which of a product's files are meant.
type spot struct{ area, region, office string }

// address is where one file stands.
func (p Product) address(s spot, start time.Time, lead int) string {
	return strings.NewReplacer(
		"{date}", start.Format("20060102"), "{hh}", start.Format("15"),
		"{area}", s.area, "{region}", s.region, "{office}", s.office,
		"{lead}", strconv.Itoa(lead), "{lead2}", fmt.Sprintf("%02d", lead), "{lead3}", fmt.Sprintf("%03d", lead),
	).Replace(p.URL)
}

// folder is where the runs of a day are listed.
func (p Product) folder(s spot, day time.Time) string {
	return strings.NewReplacer("{date}", day.Format("20060102"), "{region}", s.region, "{office}", s.office).Replace(p.Listing)
}

// inventoryAt is where a file's inventory stands.
func (p Product) inventoryAt(address string) string {
	if p.Index == LineIndex {
		return strings.TrimSuffix(address, ".grib2") + ".index"
	}
	return address + ".idx"
}
