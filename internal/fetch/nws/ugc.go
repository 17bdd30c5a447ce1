package nws

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
)

// ParseUGC expands a universal geographic code as text products carry it:
// "AMZ630-651-240215-", with ranges ("ANZ050>052") and changes of prefix, and
// perhaps wrapped over lines. The last group is the day, hour and minute, UTC,
// when the segment is to be purged: six digits without a month (NWSI101702).
func ParseUGC(s string) (zones []string, purge string, err error) {
	prefix, pattern := "", ugcGroup()
	for _, group := range strings.Split(strings.Join(strings.Fields(s), ""), "-") {
		if group == "" {
			continue
		}
		if purge != "" {
			return nil, "", fmt.Errorf("read zone code %q: something follows the purge time", s)
		}
		if len(group) == 6 && digits(group) {
			purge = group
			continue
		}
		m := pattern.FindStringSubmatch(group)
		if m == nil {
			return nil, "", fmt.Errorf("read zone code %q: %q is neither zone, range nor time", s, group)
		}
		if m[1] != "" {
			prefix = m[1]
		}
		if prefix == "" {
			return nil, "", fmt.Errorf("read zone code %q: it does not begin with letters", s)
		}
		if m[3] != "" && m[3] != prefix {
			return nil, "", fmt.Errorf("read zone code %q: the range %q changes its letters", s, group)
		}
		expanded, err := expandUGC(prefix, m[2], m[4])
		if err != nil {
			return nil, "", fmt.Errorf("read zone code %q: %w", s, err)
		}
		zones = append(zones, expanded...)
	}
	if len(zones) == 0 {
		return nil, "", fmt.Errorf("read zone code %q: it names no zone", s)
	}
	return zones, purge, nil
}

func expandUGC(prefix, from, to string) ([]string, error) {
	if to == "" || from == "ALL" {
		return []string{prefix + from}, nil
	}
	first, _ := strconv.Atoi(from) // three digits by the pattern
	last, _ := strconv.Atoi(to)
	if last < first {
		return nil, fmt.Errorf("the range %s>%s runs backwards", from, to)
	}
	var out []string
	for n := first; n <= last; n++ {
		out = append(out, fmt.Sprintf("%s%03d", prefix, n))
	}
	return out, nil
}

func ugcGroup() *regexp.Regexp {
	return regexp.MustCompile(`^([A-Z]{2}[CZ])?(\d{3}|ALL)(?:>([A-Z]{2}[CZ])?(\d{3}))?$`)
}

func digits(s string) bool {
	for _, r := range s {
		if r < '0' || r > '9' {
			return false
		}
	}
	return s != ""
}

// IsZone tells whether s is written like a forecast zone, "AMZ651", or a
// county, "FLC086".
func IsZone(s string) bool { return regexp.MustCompile(`^[A-Z]{2}[CZ]\d{3}$`).MatchString(s) }

// dayTime is the instant nearest to ref of a day of the month and a time of
// day in UTC, "DDHHMM": the month is not given and may be the next or the
// last one.
func dayTime(s string, ref time.Time) models.Opt[time.Time] {
	if len(s) != 6 || !digits(s) || ref.IsZero() {
		return models.Unknown[time.Time]()
	}
	day, _ := strconv.Atoi(s[:2])
	hour, _ := strconv.Atoi(s[2:4])
	minute, _ := strconv.Atoi(s[4:])
	if hour > 23 || minute > 59 {
		return models.Unknown[time.Time]()
	}
	ref = ref.UTC()
	var best models.Opt[time.Time]
	for months := -1; months <= 1; months++ {
		t := time.Date(ref.Year(), ref.Month()+time.Month(months), day, hour, minute, 0, 0, time.UTC)
		if t.Day() != day {
			continue // no such day in that month
		}
		if b, ok := best.Get(); !ok || t.Sub(ref).Abs() < b.Sub(ref).Abs() {
			best = models.Known(t)
		}
	}
	return best
}
