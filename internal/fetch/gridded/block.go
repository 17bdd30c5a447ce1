package gridded

import (
	"cmp"
	"slices"
)

// block is one byte range that holds the messages of some entries.
type block struct {
	start, end int64 // end -1: to the end of the file
	entries    []choice
}

// Neighbours closer than this are asked for in one request: a request costs
// about as much as so many bytes.
const mergeGap = 64 << 10

func sortByStart(list []choice) {
	slices.SortStableFunc(list, func(a, b choice) int { return cmp.Compare(a.Start, b.Start) })
}

// blocks merges entries, in order of their start, into ranges.
func blocks(entries []choice) []block {
	var list []block
	for _, e := range entries {
		k := len(list) - 1
		if k < 0 || list[k].end >= 0 && e.Start-list[k].end-1 >= mergeGap {
			list = append(list, block{start: e.Start, end: e.End, entries: []choice{e}})
			continue
		}
		last := &list[k]
		last.entries = append(last.entries, e)
		switch {
		case e.End < 0:
			last.end = -1
		case last.end >= 0:
			last.end = max(last.end, e.End)
		}
	}
	return list
}
