package gridded

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Entry is one line of an inventory: a field and where its message stands.
type Entry struct {
	// Start is the first byte; End the last, or -1 for the last message of a
	// file, which goes to its end.
	Start, End int64
	Run        time.Time
	// Name, Level and Window are as the inventory has them; Also is what it
	// says beyond: which member, what chance.
	Name, Level, Window, Also string
}

// maxEntries bounds what an inventory may claim.
const maxEntries = 20000

// ParseInventory reads the short inventory that stands beside a GRIB2 file:
//
//	N:byteStart:d=YYYYMMDDHH:NAME:LEVEL:WINDOW:ALSO
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
		e := Entry{Start: start, End: -1, Run: run, Name: parts[3], Level: parts[4], Window: parts[5]}
		if len(parts) == 7 {
			e.Also = strings.Trim(parts[6], ":")
		}
		list = append(list, e)
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

// ParseIndex reads an index of JSON lines, one a field, with the keys
// _offset, _length, param, levtype, step, date (YYYYMMDD) and time (HHMM).
// Other keys are passed over. An error names the line.
func ParseIndex(b []byte) ([]Entry, error) {
	var list []Entry
	n := 0
	for line := range bytes.Lines(b) {
		n++
		line = bytes.TrimSpace(line)
		if len(line) == 0 {
			continue
		}
		var v struct {
			Offset  *int64          `json:"_offset"`
			Length  *int64          `json:"_length"`
			Param   string          `json:"param"`
			LevType string          `json:"levtype"`
			Step    string          `json:"step"`
			Number  json.RawMessage `json:"number"`
			Date    string          `json:"date"`
			Time    string          `json:"time"`
		}
		if err := json.Unmarshal(line, &v); err != nil {
			return nil, fmt.Errorf("index line %d: %w", n, err)
		}
		const most = 1 << 50 // keeps the end of a message within 64 bits
		if v.Offset == nil || v.Length == nil || *v.Offset < 0 || *v.Offset > most || *v.Length <= 0 || *v.Length > most {
			return nil, fmt.Errorf("index line %d: no message can stand where it says: want _offset from 0 and _length from 1", n)
		}
		run, err := time.Parse("200601021504", v.Date+v.Time)
		if err != nil {
			return nil, fmt.Errorf("index line %d: %q and %q are no run: want a date YYYYMMDD and a time HHMM", n, shorten(v.Date), shorten(v.Time))
		}
		if v.Param == "" {
			return nil, fmt.Errorf("index line %d: it names no param", n)
		}
		if len(list) == maxEntries {
			return nil, fmt.Errorf("index line %d: more than %d entries", n, maxEntries)
		}
		list = append(list, Entry{
			Start: *v.Offset, End: *v.Offset + *v.Length - 1, Run: run,
			Name: v.Param, Level: v.LevType, Window: v.Step + " hour fcst", Also: string(v.Number),
		})
	}
	return list, nil
}

func shorten(s string) string {
	if len(s) > 60 {
		return strings.ToValidUTF8(s[:60], "?") + "…"
	}
	return s
}

// window is the time that a field is for, from the start of the run: one
// instant, or an interval over which How was done ("ave", "acc", "max").
type window struct {
	from, to time.Duration
	how      string
}

// parseWindow reads "anl", "5 hour fcst", "495 min fcst", "2 day fcst",
// "3-4 hour max fcst", "0-1 day acc fcst". What it can't read is not ok.
func parseWindow(s string) (w window, ok bool) {
	if s == "anl" {
		return window{}, true
	}
	parts := strings.Fields(s)
	if n := len(parts); n < 3 || n > 4 || parts[n-1] != "fcst" {
		return window{}, false
	}
	var unit time.Duration
	switch parts[1] {
	case "min":
		unit = time.Minute
	case "hour":
		unit = time.Hour
	case "day":
		unit = 24 * time.Hour
	default:
		return window{}, false
	}
	from, to, interval := strings.Cut(parts[0], "-")
	if !interval {
		to = from
	}
	a, err1 := strconv.ParseUint(from, 10, 17)
	b, err2 := strconv.ParseUint(to, 10, 17)
	if err1 != nil || err2 != nil || b < a || interval != (len(parts) == 4) {
		return window{}, false
	}
	if interval {
		w.how = parts[2]
	}
	w.from, w.to = time.Duration(a)*unit, time.Duration(b)*unit
	return w, true
}

// longestWindow is how long a time may be whose maximum or chance is taken for
// each of its hours: more would call every hour of half a day thundery.
const longestWindow = 6 * time.Hour

// rank tells how well an entry serves for a field at a lead: not at all, or
// the less the better.
func (f Field) rank(e Entry, lead time.Duration) (int, bool) {
	if e.Name != f.Name || e.Level != f.Level {
		return 0, false
	}
	w, ok := parseWindow(e.Window)
	if !ok || w.to != lead {
		return 0, false
	}
	long := w.to - w.from
	switch f.Kind {
	case Sharp:
		return 0, long == 0 && w.how == "" && e.Also == ""
	case Maximum:
		if e.Also != "" || long > longestWindow || w.how != "" && w.how != "max" {
			return 0, false
		}
	case Chance:
		if long > longestWindow || e.Also != "" && !strings.Contains(e.Also, "prob") {
			return 0, false
		}
	}
	// The shortest time tells most; one without a beginning least.
	if long == 0 {
		long = longestWindow + time.Minute
	}
	return int(long / time.Minute), true
}

// choice is an entry and the field that it is wanted for.
type choice struct {
	Entry
	field Field
}

// choose picks an entry for each field at the lead, in order of where they
// stand, and tells which fields have none. The same key can be there twice:
// the first one counts, for both say the same of themselves.
func choose(entries []Entry, fields []Field, start time.Time, lead int) (chosen []choice, lacking []Field) {
	for _, f := range fields {
		best, at := 0, -1
		for i, e := range entries {
			if r, ok := f.rank(e, time.Duration(lead)*time.Hour); ok && e.Run.Equal(start) && (at < 0 || r < best) {
				best, at = r, i
			}
		}
		if at < 0 {
			lacking = append(lacking, f)
			continue
		}
		chosen = append(chosen, choice{entries[at], f})
	}
	sortByStart(chosen)
	return chosen, lacking
}
