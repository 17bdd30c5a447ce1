package ndbc

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Oddity is something in a file that could not be used as it stands.
type Oddity struct {
	What  string
	Count int
	// Line is where it was first seen, from 1.
	Line int
}

// String tells the oddity in one line.
func (o Oddity) String() string {
	return fmt.Sprintf("%d × %s (first in line %d)", o.Count, o.What, o.Line)
}

// tally counts oddities in the order of their first appearance.
type tally []Oddity

func (t *tally) add(what string, line int) {
	for i := range *t {
		if (*t)[i].What == what {
			(*t)[i].Count++
			return
		}
	}
	*t = append(*t, Oddity{What: what, Count: 1, Line: line})
}

// table is a file of columns under a header line, in any of the dialects
// since 1970.
type table struct {
	rows []row
	odd  tally
}

// row is one line of values with the header that it stands under.
type row struct {
	line   int
	at     time.Time
	head   *header
	fields []string
}

// header names the columns and says how to read each.
type header struct {
	names   []string
	index   map[string]int
	columns []column
}

// parseTable reads the lines under their headers. Lines that can't be read
// are counted and left out; a file without a header is an error.
func parseTable(data []byte) (*table, error) {
	t := &table{}
	var head *header
	n := 0
	for raw := range bytes.Lines(data) {
		n++
		fields := strings.Fields(strings.TrimPrefix(string(raw), "\ufeff"))
		switch {
		case len(fields) == 0:
		case isHeader(fields):
			head = newHeader(fields)
		case head != nil && isUnitLine(fields):
			if len(fields) != len(head.names) {
				t.odd.add("unit line that does not fit its header", n)
				continue
			}
			for i, unit := range fields {
				head.columns[i].factor = factor(head.names[i], unit)
			}
		case strings.HasPrefix(fields[0], "#"): // a comment, wherever it stands
		case head == nil:
			t.odd.add("row before any header", n)
		default:
			t.addRow(n, head, fields)
		}
	}
	if head == nil {
		return nil, errors.New("find the header line: none of the lines is one")
	}
	slices.SortStableFunc(t.rows, func(a, b row) int { return a.at.Compare(b.at) })
	return t, nil
}

func (t *table) addRow(n int, head *header, fields []string) {
	short := len(fields) == len(head.names)-1 && head.names[len(head.names)-1] == "TIDE"
	if len(fields) > len(head.names) || len(fields) < len(head.names) && !short {
		t.odd.add("row broken off or run together", n)
		return
	}
	at, err := head.time(fields)
	if err != nil {
		t.odd.add("row without a readable time", n)
		return
	}
	t.rows = append(t.rows, row{n, at, head, fields})
}

func isHeader(fields []string) bool {
	first := strings.ToUpper(strings.TrimPrefix(fields[0], "#"))
	switch first {
	case "YY", "YYYY":
		return len(fields) > 4 && fields[1] == "MM" && fields[2] == "DD"
	case "STN":
		return slices.Contains(fields, "YYYY") && slices.Contains(fields, "LAT")
	}
	return false
}

func isUnitLine(fields []string) bool {
	return fields[0] == "#yr" || fields[0] == "#text"
}

func newHeader(fields []string) *header {
	h := &header{index: map[string]int{}}
	for i, f := range fields {
		name := canonicalName(strings.TrimPrefix(f, "#"))
		// The month and the minute differ only in case.
		h.names = append(h.names, name)
		h.columns = append(h.columns, columnOf(name))
		if _, twice := h.index[name]; !twice {
			h.index[name] = i
		}
	}
	return h
}

// canonicalName joins the names that a column has had over the years.
func canonicalName(s string) string {
	switch s {
	case "WD", "DIR":
		return "WDIR"
	case "SPD":
		return "WSPD"
	case "BAR", "BARO":
		return "PRES"
	case "GSP":
		return "GST"
	case "YY":
		return "YYYY"
	}
	return s
}

func (h *header) text(fields []string, name string) string {
	if i, ok := h.index[name]; ok && i < len(fields) {
		return fields[i]
	}
	return ""
}

func (h *header) time(fields []string) (time.Time, error) {
	part := func(name string) int {
		v, err := strconv.ParseUint(h.text(fields, name), 10, 16)
		if err != nil {
			return -1
		}
		return int(v)
	}
	year, month, day, hour, minute := part("YYYY"), part("MM"), part("DD"), part("hh"), 0
	if _, ok := h.index["mm"]; ok {
		minute = part("mm")
	}
	switch {
	case year < 0 || month < 0 || day < 0 || hour < 0 || minute < 0:
		return time.Time{}, errors.New("not a number")
	case len(h.text(fields, "YYYY")) <= 2 && year < 70:
		year += 2000
	case len(h.text(fields, "YYYY")) <= 2:
		year += 1900
	}
	at := time.Date(year, time.Month(month), day, hour, minute, 0, 0, time.UTC)
	if year < 1900 || year > 2200 || at.Month() != time.Month(month) || at.Day() != day || at.Hour() != hour || at.Minute() != minute {
		return time.Time{}, errors.New("no such time")
	}
	return at, nil
}

// column tells how to read one column.
type column struct {
	// missing are the fillers for "no value", which differ by column: 999.0
	// is a pressure, 99 a direction.
	missing []float64
	// low and high bound what is possible.
	low, high float64
	// factor leads from the file's unit to ours, 0 where we do not know it.
	factor float64
}

// columnOf is how to read a column in its usual unit: degrees, m/s, m, s,
// hPa, °C, nautical miles. Fillers and units: Reference: NDBCMeasurements.
// The bounds lie beyond the records.
func columnOf(name string) column {
	switch name {
	case "WDIR", "MWD":
		return column{[]float64{999}, 0, 360, 1}
	case "WSPD":
		return column{[]float64{99}, 0, 110, 1}
	case "GST":
		return column{[]float64{99}, 0, 130, 1}
	case "WVHT", "SwH", "WWH":
		return column{[]float64{99, -99}, 0, 30, 1}
	case "DPD", "APD", "SwP", "WWP":
		return column{[]float64{99, -99}, 0, 40, 1}
	case "PRES":
		return column{[]float64{9999}, 850, 1100, 1}
	case "ATMP":
		return column{[]float64{999}, -70, 60, 1}
	case "WTMP":
		return column{[]float64{999}, -5, 45, 1}
	case "VIS":
		return column{[]float64{99}, 0, 100, 1}
	case "LAT":
		return column{nil, -90, 90, 1}
	case "LON":
		return column{nil, -180, 360, 1}
	}
	return column{}
}

// factor is what a value in the unit of the unit line has to be multiplied
// by, 0 where the unit is new to us. A file that says statute miles is taken
// at its word: if it means nautical ones we see too little, not too much.
func factor(name, unit string) float64 {
	switch unit {
	case "degT", "deg", "m/s", "m", "sec", "hPa", "degC", "nmi":
		return 1
	case "mi":
		if name == "VIS" {
			return 1609.344 / 1852
		}
	}
	return 0
}

// number reads one value of a row; unknown where it is missing, and also,
// counted as an oddity, where it can't be right.
func (t *table) number(r row, name string) models.Opt[float64] {
	unknown := models.Unknown[float64]()
	i, ok := r.head.index[name]
	if !ok || i >= len(r.fields) {
		return unknown
	}
	s, c := r.fields[i], r.head.columns[i]
	if s == "MM" || s == "NO" { // NO: no swell, in older pages
		return unknown
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		t.odd.add("unreadable "+name, r.line)
		return unknown
	}
	if slices.Contains(c.missing, v) {
		return unknown
	}
	if c.factor == 0 {
		t.odd.add(name+" in a unit that we do not know", r.line)
		return unknown
	}
	v *= c.factor
	if v < c.low || v > c.high {
		t.odd.add("impossible "+name, r.line)
		return unknown
	}
	return models.Known(v)
}
