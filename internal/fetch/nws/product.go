package nws

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Product is a text product of the weather service, as it comes over the wire
// (SOH, CR CR LF) or from its data service (LF).
type Product struct {
	// Heading is the WMO heading without its time: "FZUS52"; Office the
	// issuing office, "KMFL"; ID the AWIPS identifier, "CWFMFL". They are
	// empty where the product does not give them.
	Heading, Office, ID string
	// Issued is from the heading of the first segment or of the product that
	// gives a date, else from the WMO heading and the reference time.
	Issued   models.Opt[time.Time]
	Segments []Segment
	// Notes tell what could not be read, one plain sentence each.
	Notes []string
}

// Segment is the part of a product for some zones.
type Segment struct {
	Zones []string
	// Purge is when the segment is to be replaced.
	Purge models.Opt[time.Time]
	VTEC  []VTEC
	// Names are the areas' names, as many as the product gives; they pair
	// with Zones only where there are as many.
	Names []string
	// Issued is the segment's own date line.
	Issued models.Opt[time.Time]
	// Text is what follows, verbatim but for its line ends.
	Text string
}

// longestProduct bounds a text product; real ones are under 100 kB.
const longestProduct = 2 << 20

// ParseProduct reads a segmented text product. The reference time, which may
// be zero, is when the product was issued or received, within a fortnight:
// WMO heading and purge times give a day of the month only. It is not needed
// where the text holds a date.
func ParseProduct(text string, ref time.Time) (Product, error) {
	if len(text) > longestProduct {
		return Product{}, fmt.Errorf("read text product: %d bytes are too many", len(text))
	}
	lines := productLines(text)
	var p Product
	next, wmoTime := p.readHeading(lines)
	start, dateLine := ugcStart(), datePattern()
	first := len(lines)
	for i, l := range lines {
		if i >= next && start.MatchString(l) {
			first = i
			break
		}
	}
	if first == len(lines) {
		return Product{}, errors.New("read text product: it has no segment that begins with zone codes")
	}
	for _, l := range lines[:first] {
		if t, _, ok := readDate(dateLine, l); ok {
			p.Issued = models.Known(t)
			break
		}
	}
	if !p.Issued.Known() {
		for _, l := range lines[first:] {
			if t, _, ok := readDate(dateLine, l); ok {
				p.Issued = models.Known(t)
				break
			}
		}
	}
	if t, ok := dayTime(wmoTime, p.Issued.Or(ref)).Get(); ok {
		p.Issued = p.Issued.Else(models.Known(t))
	}
	ref = p.Issued.Or(ref)

	for i := first; i < len(lines); {
		if !start.MatchString(lines[i]) {
			i++
			continue
		}
		end := i + 1
		for end < len(lines) && !start.MatchString(lines[end]) && strings.TrimSpace(lines[end]) != "$$" {
			end++
		}
		if seg, err := readSegment(lines[i:end], dateLine, ref); err != nil {
			p.Notes = append(p.Notes, err.Error())
		} else {
			p.Segments = append(p.Segments, seg)
		}
		i = end
	}
	if len(p.Segments) == 0 {
		return Product{}, fmt.Errorf("read text product: no segment can be read: %s", p.Notes[0])
	}
	return p, nil
}

// productLines cuts a product into lines without the envelope of its wire.
func productLines(text string) []string {
	text = strings.ToValidUTF8(text, "?")
	text = strings.Map(func(r rune) rune {
		if r < ' ' && r != '\n' && r != '\t' || r == 0x7f {
			return -1
		}
		return r
	}, text)
	lines := strings.Split(text, "\n")
	for i, l := range lines {
		lines[i] = strings.TrimRight(l, " \t")
	}
	return lines
}

// readHeading finds the WMO heading and AWIPS identifier near the top. It
// returns the number of the line after them, 0 if there is none, and the day,
// hour and minute of the heading.
func (p *Product) readHeading(lines []string) (next int, dayTime string) {
	heading := regexp.MustCompile(`^([A-Z]{4}\d{2}) ([A-Z]{4}) (\d{6})( [A-Z]{3})?$`)
	for i := 0; i < len(lines) && i < 8; i++ {
		m := heading.FindStringSubmatch(lines[i])
		if m == nil {
			continue
		}
		p.Heading, p.Office = m[1], m[2]
		if i+1 < len(lines) && regexp.MustCompile(`^[A-Z0-9]{4,6}$`).MatchString(lines[i+1]) {
			p.ID = lines[i+1]
			return i + 2, m[3]
		}
		return i + 1, m[3]
	}
	return 0, ""
}

// ugcStart matches a line that begins a segment.
func ugcStart() *regexp.Regexp {
	return regexp.MustCompile(`^[A-Z]{2}[CZ](\d{3}|ALL)(>([A-Z]{2}[CZ])?\d{3})?-`)
}

// readSegment reads a segment that begins with its zone codes.
func readSegment(lines []string, dateLine *regexp.Regexp, ref time.Time) (Segment, error) {
	purge := regexp.MustCompile(`-\d{6}-$`)
	code, i := "", 0
	for ; i < len(lines) && i < 40; i++ {
		code += strings.TrimSpace(lines[i])
		if purge.MatchString(code) || strings.TrimSpace(lines[i]) == "" {
			break
		}
	}
	zones, at, err := ParseUGC(code)
	if err != nil {
		return Segment{}, fmt.Errorf("a segment is skipped: %w", err)
	}
	seg := Segment{Zones: zones}
	rest := lines[min(i+1, len(lines)):]
	for len(rest) > 0 {
		found := ParseVTEC(rest[0])
		if len(found) == 0 {
			break
		}
		seg.VTEC = append(seg.VTEC, found...)
		rest = rest[1:]
	}
	// Names end with a hyphen and may be wrapped; the date ends them. A
	// product for one segment has its title there instead.
	name := ""
	for n, l := range rest {
		t, tail, ok := readDate(dateLine, l)
		if ok {
			seg.Issued = models.Known(t)
			rest = rest[n+1:]
			if tail != "" {
				rest = append([]string{tail}, rest...)
			}
			break
		}
		if l == "" || strings.HasPrefix(l, ".") || n > 60 {
			break
		}
		name = strings.TrimSpace(name + " " + l)
		if strings.HasSuffix(l, "-") {
			seg.Names = append(seg.Names, strings.TrimSuffix(name, "-"))
			name = ""
		}
	}
	if !seg.Issued.Known() && len(seg.Names) > 0 {
		for len(rest) > 0 && rest[0] != "" && !strings.HasPrefix(rest[0], ".") {
			rest = rest[1:]
		}
	}
	seg.Purge = dayTime(at, seg.Issued.Or(ref))
	seg.Text = strings.Trim(strings.Join(rest, "\n"), "\n")
	return seg, nil
}

// datePattern matches a date line: "309 PM PST Fri Dec 20 2024", perhaps with
// the same time in a second zone between slashes, and what runs on after it.
func datePattern() *regexp.Regexp {
	return regexp.MustCompile(`(?i)^\s*(\d{1,2}?)(\d{2}) ?(AM|PM) ([a-z]{2,5})(?: */[^/]*/)? +(?:SUN|MON|TUE|WED|THU|FRI|SAT)[a-z]* +(JAN|FEB|MAR|APR|MAY|JUN|JUL|AUG|SEP|OCT|NOV|DEC)[a-z]* +(\d{1,2}),? +(\d{4})`)
}

// readDate reads a date line and returns what follows it on the line.
func readDate(pattern *regexp.Regexp, line string) (t time.Time, tail string, ok bool) {
	m := pattern.FindStringSubmatch(line)
	if m == nil {
		return t, "", false
	}
	offset, ok := zoneOffset(strings.ToUpper(m[4]))
	if !ok {
		return t, "", false
	}
	month := strings.ToUpper(m[5][:1]) + strings.ToLower(m[5][1:3])
	t, err := time.Parse("3:04 PM Jan 2 2006", fmt.Sprintf("%s:%s %s %s %s %s", m[1], m[2], strings.ToUpper(m[3]), month, m[6], m[7]))
	if err != nil {
		return t, "", false
	}
	return t.Add(-offset), strings.TrimSpace(line[len(m[0]):]), true
}

// zoneOffset is the offset from UTC of the abbreviations that the service's
// offices use.
func zoneOffset(abbreviation string) (time.Duration, bool) {
	h, ok := map[string]int{
		"UTC": 0, "GMT": 0, "AST": -4, "ADT": -3, "EST": -5, "EDT": -4,
		"CST": -6, "CDT": -5, "MST": -7, "MDT": -6, "PST": -8, "PDT": -7,
		"AKST": -9, "AKDT": -8, "HST": -10, "SST": -11, "CHST": 10,
	}[abbreviation]
	return time.Duration(h) * time.Hour, ok
}
