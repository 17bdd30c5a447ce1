package nws

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
)

// longestSpan bounds any duration that a forecast may sensibly have.
const longestSpan = 400 * 24 * time.Hour

// ParseDuration reads an ISO 8601 duration of weeks, days, hours, minutes and
// seconds: "P2DT3H". Days are 24 hours, since the service counts in UTC.
// Years and months have no fixed length and are refused, and so are
// fractions, signs and spans over 400 days (ISO8601).
func ParseDuration(s string) (time.Duration, error) {
	bad := func(why string) (time.Duration, error) {
		return 0, fmt.Errorf("read duration %q: %s", s, why)
	}
	rest, ok := strings.CutPrefix(s, "P")
	if !ok {
		return bad("it does not begin with P")
	}
	var total time.Duration
	order := "WDTHMS"
	seen, inTime := 0, false
	for rest != "" {
		if rest[0] == 'T' {
			if inTime {
				return bad("it has two T")
			}
			inTime, rest = true, rest[1:]
			order = "HMS"
			if rest == "" {
				return bad("nothing follows T")
			}
			continue
		}
		i := 0
		for i < len(rest) && rest[i] >= '0' && rest[i] <= '9' {
			i++
		}
		if i == 0 || i == len(rest) {
			return bad("it wants a number before each letter")
		}
		n, err := strconv.ParseInt(rest[:i], 10, 32)
		if err != nil {
			return bad("a number is too long")
		}
		unit := rest[i]
		rest = rest[i+1:]
		if unit == 'Y' || unit == 'M' && !inTime {
			return bad("years and months have no fixed length")
		}
		at := strings.IndexByte(order, unit)
		if at < 0 {
			return bad(fmt.Sprintf("%q is out of place", unit))
		}
		if !inTime && unit != 'W' && unit != 'D' {
			return bad("hours, minutes and seconds want a T before them")
		}
		order = order[at+1:]
		var one time.Duration
		switch unit {
		case 'W':
			one = 7 * 24 * time.Hour
		case 'D':
			one = 24 * time.Hour
		case 'H':
			one = time.Hour
		case 'M':
			one = time.Minute
		case 'S':
			one = time.Second
		}
		if n > int64(longestSpan/one) || total+time.Duration(n)*one > longestSpan {
			return bad("it is over 400 days")
		}
		total += time.Duration(n) * one
		seen++
	}
	if seen == 0 {
		return bad("it has no numbers")
	}
	return total, nil
}

// ParseInterval reads an ISO 8601 interval: "start/duration", "start/end" or
// "duration/end". Either time may be NOW, which is given. The interval
// answered is in UTC and never empty.
func ParseInterval(s string, now time.Time) (models.Interval, error) {
	bad := func(err error) (models.Interval, error) {
		return models.Interval{}, fmt.Errorf("read interval %q: %w", s, err)
	}
	left, right, ok := strings.Cut(s, "/")
	if !ok {
		return bad(fmt.Errorf("it has no slash"))
	}
	instant := func(part string) (time.Time, error) {
		if part == "NOW" {
			return now.UTC(), nil
		}
		t, err := time.Parse(time.RFC3339, part)
		return t.UTC(), err
	}
	var i models.Interval
	var err error
	switch {
	case strings.HasPrefix(left, "P"):
		var d time.Duration
		if d, err = ParseDuration(left); err != nil {
			return bad(err)
		}
		if i.End, err = instant(right); err != nil {
			return bad(err)
		}
		i.Start = i.End.Add(-d)
	default:
		if i.Start, err = instant(left); err != nil {
			return bad(err)
		}
		if strings.HasPrefix(right, "P") {
			var d time.Duration
			if d, err = ParseDuration(right); err != nil {
				return bad(err)
			}
			i.End = i.Start.Add(d)
		} else if i.End, err = instant(right); err != nil {
			return bad(err)
		}
	}
	if !i.Start.Before(i.End) {
		return bad(fmt.Errorf("it ends before it begins"))
	}
	if i.Start.Year() < 1970 || i.End.Sub(i.Start) > longestSpan {
		return bad(fmt.Errorf("it is not of our time"))
	}
	return i, nil
}
