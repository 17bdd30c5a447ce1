package gridded

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Entry is one line of an inventory: a field and where its message stands.
type Entry struct {
	// Start is the first byte; End the last, or -1 for the last message.
	Start, End          int64
	Run                 time.Time
	Name, Level, Window string
}

// maxEntries bounds what an inventory may claim.
const maxEntries = 20000

// ParseInventory reads the short inventory that stands beside a GRIB2 file:
//
//	N:byteStart:d=YYYYMMDDHH:NAME:LEVEL:WINDOW:
//
// Fields of one message share their start (lines N.1, N.2). An error names
// the line.
func ParseInventory(b []byte) ([]Entry, error) {
	var list []Entry
	n := 0
	for line := range strings.Lines(string(b)) {
		n++
		line = strings.TrimRight(line, "\r\n")
		if strings.TrimSpace(line) == "" {
			continue
		}
		parts := strings.SplitN(line, ":", 7)
		if len(parts) < 6 {
			return nil, fmt.Errorf("inventory line %d: %q has %d parts of at least 6", n, shorten(line), len(parts))
		}
		start, err := strconv.ParseInt(parts[1], 10, 64)
		if err != nil || start < 0 {
			return nil, fmt.Errorf("inventory line %d: %q is no byte offset", n, shorten(parts[1]))
		}
		run, err := time.Parse("2006010215", strings.TrimPrefix(parts[2], "d="))
		if err != nil {
			return nil, fmt.Errorf("inventory line %d: %q is no run: want d=YYYYMMDDHH", n, shorten(parts[2]))
		}
		if k := len(list); k > 0 && start < list[k-1].Start {
			return nil, fmt.Errorf("inventory line %d: offset %d is before the line above it", n, start)
		}
		if len(list) == maxEntries {
			return nil, fmt.Errorf("inventory line %d: more than %d entries", n, maxEntries)
		}
		list = append(list, Entry{Start: start, End: -1, Run: run, Name: parts[3], Level: parts[4], Window: parts[5]})
	}
	// A message ends where the next different one starts.
	next := int64(-1)
	for i := len(list) - 1; i >= 0; i-- {
		if i+1 < len(list) && list[i+1].Start != list[i].Start {
			next = list[i+1].Start
		}
		if next >= 0 {
			list[i].End = next - 1
		}
	}
	return list, nil
}

func shorten(s string) string {
	if len(s) > 60 {
		return s[:60] + "…"
	}
	return s
}

// instant tells whether an inventory's window is one point in time, and which
// lead: "anl", "5 hour fcst", "495 min fcst", "2 day fcst".
func instant(window string) (lead time.Duration, ok bool) {
	if window == "anl" {
		return 0, true
	}
	parts := strings.Fields(window)
	if len(parts) != 3 || parts[2] != "fcst" {
		return 0, false
	}
	n, err := strconv.Atoi(parts[0])
	if err != nil || n < 0 || n > 1e5 {
		return 0, false
	}
	switch parts[1] {
	case "min":
		return time.Duration(n) * time.Minute, true
	case "hour":
		return time.Duration(n) * time.Hour, true
	case "day":
		return time.Duration(n) * 24 * time.Hour, true
	}
	return 0, false
}

// block is one byte range that holds the messages of some entries.
type block struct {
	start, end int64 // end -1: to the end of the file
	entries    []Entry
}

// Neighbours closer than this are asked for in one request.
const mergeGap = 64 << 10

// blocks merges entries, in order of their start, into ranges.
func blocks(entries []Entry) []block {
	var list []block
	for _, e := range entries {
		if k := len(list) - 1; k >= 0 {
			last := &list[k]
			if last.end < 0 || e.Start-last.end-1 < mergeGap {
				last.entries = append(last.entries, e)
				if last.end >= 0 {
					last.end = e.End
				}
				continue
			}
		}
		list = append(list, block{start: e.Start, end: e.End, entries: []Entry{e}})
	}
	return list
}
