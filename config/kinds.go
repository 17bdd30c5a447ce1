package config

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// kind reads one sort of value. What says in words what is to be written;
// errors of read hold the offending text and the cure.
type kind[T any] struct {
	what string
	read func(string) (T, error)
	show func(T) string
}

// unit is one unit that a quantity may be written in.
type unit[T ~float64] struct {
	name string
	size T
}

// quantity reads a number with its unit: "12 kn". The first unit is the one
// that examples and limits are told in.
func quantity[T ~float64](noun, example string, list ...unit[T]) kind[T] {
	names := make([]string, len(list))
	for i, u := range list {
		names[i] = u.name
	}
	return kind[T]{
		what: noun + ", as " + example,
		show: func(v T) string { return number(float64(v/list[0].size)) + " " + list[0].name },
		read: func(s string) (T, error) {
			n, name, ok := split(s)
			switch {
			case !ok:
				return 0, fmt.Errorf("%q is not %s: write it as %s", s, noun, example)
			case name == "":
				return 0, fmt.Errorf("%q has no unit: write %s %s", s, s, list[0].name)
			}
			for _, u := range list {
				if u.name == name {
					return T(n) * u.size, nil
				}
			}
			return 0, fmt.Errorf("%q is not %s: its unit must be %s", s, noun, or(names))
		},
	}
}

// split parts a number from its unit: "12 kn", "12kn", "-3.5 ft".
func split(s string) (n float64, unit string, ok bool) {
	end := 0
	for end < len(s) && strings.ContainsRune("+-.0123456789", rune(s[end])) {
		end++
	}
	n, ok = decimal(s[:end])
	return n, strings.TrimSpace(s[end:]), ok
}

// decimal reads a plain decimal number: no exponent, no infinity.
func decimal(s string) (float64, bool) {
	if strings.Trim(s, "+-.0123456789") != "" || len(s) > 20 {
		return 0, false
	}
	n, err := strconv.ParseFloat(s, 64)
	return n, err == nil
}

func number(f float64) string { return strconv.FormatFloat(math.Round(f*1e6)/1e6, 'f', -1, 64) }

// or lists words: "a, b or c".
func or(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}

// in bounds a kind, both ends allowed.
func in[T ~float64 | ~int | ~int64](k kind[T], lo, hi T) kind[T] {
	read := k.read
	k.what += fmt.Sprintf(" (%s to %s)", k.show(lo), k.show(hi))
	k.read = func(s string) (T, error) {
		v, err := read(s)
		if err == nil && (v < lo || v > hi) {
			return v, fmt.Errorf("%q can't be right: write %s to %s", s, k.show(lo), k.show(hi))
		}
		return v, err
	}
	return k
}

func speed(lo, hi units.Speed) kind[units.Speed] {
	return in(quantity("a speed", "12 kn", unit[units.Speed]{"kn", units.Knot}, unit[units.Speed]{"m/s", units.MetrePerSecond},
		unit[units.Speed]{"km/h", units.KilometrePerHour}, unit[units.Speed]{"mph", units.MilePerHour}), lo, hi)
}

// height is a vertical or short length, told in feet.
func height(lo, hi units.Length) kind[units.Length] {
	return in(quantity("a length", "3 ft", unit[units.Length]{"ft", units.Foot}, unit[units.Length]{"m", units.Metre},
		unit[units.Length]{"in", units.Inch}, unit[units.Length]{"yd", units.Yard}), lo, hi)
}

// farness is a length over the water, told in nautical miles.
func farness(lo, hi units.Length) kind[units.Length] {
	return in(quantity("a distance", "0.5 nmi", unit[units.Length]{"nmi", units.NauticalMile}, unit[units.Length]{"mi", units.StatuteMile},
		unit[units.Length]{"km", units.Kilometre}, unit[units.Length]{"m", units.Metre}, unit[units.Length]{"ft", units.Foot},
		unit[units.Length]{"yd", units.Yard}), lo, hi)
}

func mass(lo, hi units.Mass) kind[units.Mass] {
	return in(quantity("a mass", "12 oz", unit[units.Mass]{"oz", units.Ounce}, unit[units.Mass]{"lb", units.Pound},
		unit[units.Mass]{"g", units.Gram}, unit[units.Mass]{"kg", units.Kilogram}), lo, hi)
}

// area is in square metres.
func area(lo, hi float64) kind[float64] {
	ft := float64(units.Foot)
	return in(quantity("an area", "1.2 m2", unit[float64]{"m2", 1}, unit[float64]{"ft2", ft * ft}), lo, hi)
}

// force is in newton; a pound of line class is the weight of a pound under
// standard gravity, 9.80665 m/s2.
func force(lo, hi float64) kind[float64] {
	const g = 9.80665
	return in(quantity("a load", "50 lb", unit[float64]{"lb", g * float64(units.Pound)}, unit[float64]{"kg", g}, unit[float64]{"N", 1}), lo, hi)
}

// litresPerGallon is the U.S. gallon of 231 cubic inches.
const litresPerGallon = 3.785411784

// volume is in litres.
func volume(lo, hi float64) kind[float64] {
	return in(quantity("a volume", "200 gal", unit[float64]{"gal", litresPerGallon}, unit[float64]{"L", 1}), lo, hi)
}

// flow is in litres an hour.
func flow(lo, hi float64) kind[float64] {
	return in(quantity("a flow", "30 gal/h", unit[float64]{"gal/h", litresPerGallon}, unit[float64]{"L/h", 1}), lo, hi)
}

func degrees(lo, hi float64) kind[float64] {
	return in(quantity("an angle", "60 deg", unit[float64]{"deg", 1}, unit[float64]{"°", 1}), lo, hi)
}

func percent(lo, hi float64) kind[float64] {
	return in(quantity("a share", "30 %", unit[float64]{"%", 1}), lo, hi)
}

// toward is a true bearing.
func toward() kind[units.Toward] {
	return in(quantity("a true bearing", "90 deg", unit[units.Toward]{"deg", 1}, unit[units.Toward]{"°", 1}), 0, 360)
}

// ratio is a plain number without a unit.
func ratio(lo, hi float64) kind[float64] {
	return in(kind[float64]{
		what: "a number without unit",
		show: number,
		read: func(s string) (float64, error) {
			n, ok := decimal(s)
			if !ok {
				return 0, fmt.Errorf("%q is not a plain number: write it without unit, as 0.6", s)
			}
			return n, nil
		},
	}, lo, hi)
}

func count(lo, hi int) kind[int] {
	return in(kind[int]{
		what: "a whole number",
		show: strconv.Itoa,
		read: func(s string) (int, error) {
			n, err := strconv.Atoi(s)
			if err != nil {
				return 0, fmt.Errorf("%q is not a whole number: write it as %d", s, max(lo, 1))
			}
			return n, nil
		},
	}, lo, hi)
}

// span is a duration: "25 min", "1 h 30 min".
func span(lo, hi time.Duration) kind[time.Duration] {
	one := quantity("a time span", "25 min", unit[seconds]{"min", 60}, unit[seconds]{"h", 3600}, unit[seconds]{"s", 1}, unit[seconds]{"d", 86400})
	return in(kind[time.Duration]{
		what: one.what,
		show: func(d time.Duration) string {
			switch {
			case d != 0 && d%(24*time.Hour) == 0:
				return fmt.Sprintf("%d d", d/(24*time.Hour))
			case d != 0 && d%time.Hour == 0:
				return fmt.Sprintf("%d h", d/time.Hour)
			case d%time.Minute == 0:
				return fmt.Sprintf("%d min", d/time.Minute)
			}
			return number(d.Seconds()) + " s"
		},
		read: func(s string) (time.Duration, error) {
			var sum seconds
			parts := spanParts.FindAllString(s, -1)
			if strings.Join(parts, "") != s || len(parts) == 0 {
				parts = []string{s}
			}
			for _, p := range parts {
				v, err := one.read(strings.TrimSpace(p))
				if err != nil {
					return 0, err
				}
				if sum += v; math.Abs(float64(sum)) > 1e9 {
					return 0, fmt.Errorf("%q can't be right: that is over thirty years", s)
				}
			}
			return time.Duration(math.Round(float64(sum))) * time.Second, nil
		},
	}, lo, hi)
}

type seconds float64

// spanParts are the parts of "1 h 30 min".
var spanParts = regexp.MustCompile(`[-+.0-9]+ *[a-z]+ *`)

func clock() kind[models.Clock] {
	return kind[models.Clock]{what: "a time of day, as 07:30", read: models.ParseClock, show: models.Clock.String}
}

func date() kind[models.Date] {
	return kind[models.Date]{what: "a date, as 2027-01-19", read: models.ParseDate, show: models.Date.String}
}

func yes() kind[bool] {
	return kind[bool]{
		what: "yes or no",
		show: func(b bool) string {
			if b {
				return "yes"
			}
			return "no"
		},
		read: func(s string) (bool, error) {
			switch strings.ToLower(s) {
			case "yes", "true":
				return true, nil
			case "no", "false":
				return false, nil
			}
			return false, fmt.Errorf("%q is neither yes nor no: write one of them", s)
		},
	}
}

// text is a name or a short phrase.
func text(what string) kind[string] {
	return kind[string]{
		what: what,
		show: func(s string) string { return s },
		read: func(s string) (string, error) {
			switch {
			case s == "":
				return "", fmt.Errorf("is empty: write %s", what)
			case len([]rune(s)) > 200:
				return "", fmt.Errorf("is longer than 200 characters: shorten it")
			case strings.ContainsFunc(s, unicode.IsControl), models.PlainLine(s) != strings.Join(strings.Fields(s), " "):
				return "", fmt.Errorf("%q holds a line break, a control character or one that is not seen: write it in one line", s)
			}
			return s, nil
		},
	}
}

// code is an official identifier of a fixed form.
func code(noun, form, cure string) kind[string] {
	re := regexp.MustCompile("^(?:" + form + ")$")
	return kind[string]{
		what: noun + ", " + cure,
		show: func(s string) string { return s },
		read: func(s string) (string, error) {
			if re.MatchString(s) {
				return s, nil
			}
			if up := strings.ToUpper(s); re.MatchString(up) {
				return "", fmt.Errorf("%q must be in capitals: write %s", s, up)
			}
			return "", fmt.Errorf("%q is not %s: write %s", s, noun, cure)
		},
	}
}

// word is one of a few fixed words.
func word[T ~string](noun string, list ...T) kind[T] {
	words := make([]string, len(list))
	for i, w := range list {
		words[i] = string(w)
	}
	return kind[T]{
		what: noun + ": " + or(words),
		show: func(w T) string { return string(w) },
		read: func(s string) (T, error) {
			for _, w := range list {
				if string(w) == s {
					return w, nil
				}
			}
			cure := "write " + or(words)
			if near := nearest(s, words); near != "" {
				cure = "did you mean " + near
			}
			return "", fmt.Errorf("%q is not %s: %s", s, noun, cure)
		},
	}
}

// zone is a civil time zone of the IANA database.
func zone() kind[*time.Location] {
	return kind[*time.Location]{
		what: "an IANA time zone, as America/New_York",
		show: (*time.Location).String,
		read: func(s string) (*time.Location, error) {
			if !strings.Contains(s, "/") && s != "UTC" {
				// "EST" and its like load, but never change their clocks.
				return nil, fmt.Errorf("%q is no IANA time zone of a place: write one, as America/New_York", s)
			}
			loc, err := time.LoadLocation(s)
			if err != nil {
				cure := "write one, as America/New_York"
				if near := nearest(s, coastZones()); near != "" {
					cure = "did you mean " + near
				}
				return nil, fmt.Errorf("%q is no IANA time zone: %s", s, cure)
			}
			return loc, nil
		},
	}
}

// coastZones are the zones that a mistyped one is compared with.
func coastZones() []string {
	return []string{
		"America/New_York", "America/Chicago", "America/Los_Angeles", "America/Anchorage", "America/Puerto_Rico",
		"America/St_Thomas", "America/Nassau", "America/Havana", "America/Jamaica", "America/Cancun", "America/Mexico_City",
		"America/Mazatlan", "America/Tijuana", "America/Costa_Rica", "America/Guatemala", "America/Panama", "America/Halifax",
		"America/Detroit", "America/Vancouver", "America/Bermuda", "Atlantic/Bermuda", "Atlantic/Azores", "Atlantic/Canary",
		"Pacific/Honolulu", "Pacific/Guam", "Pacific/Auckland", "Australia/Sydney", "Australia/Brisbane", "Australia/Perth",
		"Europe/Lisbon", "Europe/London", "Europe/Madrid", "Africa/Johannesburg", "Indian/Mauritius",
	}
}

// ParseSpeed reads a wind as the file does: "14 kn".
func ParseSpeed(s string) (units.Speed, error) { return speed(0, 100*units.Knot).read(s) }

// ParseHeight reads the height of a sea as the file does: "4 ft".
func ParseHeight(s string) (units.Length, error) { return height(0, 60*units.Foot).read(s) }

// ParseDepth reads a depth as the file does: "140 ft".
func ParseDepth(s string) (units.Length, error) {
	return height(3*units.Foot, 12000*units.Foot).read(s)
}
