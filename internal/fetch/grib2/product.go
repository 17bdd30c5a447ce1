package grib2

import "time"

// Surface is a fixed surface, code table 4.5: Type 1 is the ground or water
// surface, 103 a height above ground in metres, 101 mean sea level.
type Surface struct {
	Type    int     // 255: none
	Value   float64 // in the unit of the type
	Missing bool    // the surface has no value
}

// Process is a statistical process over a time interval, code table 4.10.
type Process int

// Statistical processes. Instant is no process at all: the field is valid at
// one point in time.
const (
	Instant      Process = -1
	Average      Process = 0
	Accumulation Process = 1
	Maximum      Process = 2
	Minimum      Process = 3
	Sum          Process = 11
)

// Member is one of an ensemble of forecasts, code table 4.6.
type Member struct{ Type, Number, Size int }

// Derived is a statistic of all members, code table 4.7: 0 mean, 4 spread.
type Derived struct{ Type, Size int }

// Probability is the chance of an event, code table 4.9: Type 0 below Lower,
// 1 above Upper, 2 between, 3 above Lower, 4 below Upper.
type Probability struct {
	Type         int
	Lower, Upper Limit
}

// Limit is one end of the range of a Probability.
type Limit struct {
	Value   float64
	Missing bool
}

// Product is what section 4 says about a field.
type Product struct {
	Template         int // product definition template 4.n
	TemplateKnown    bool
	Category, Number int // of the parameter, within the discipline; Number is "parameter number"
	Generating       int // type of generating process, code table 4.3; -1 unknown
	Surface1         Surface
	Surface2         Surface
	Start, End       time.Time // of validity; equal for an instant, zero if unknown
	Process          Process   // Instant or what was done over Start to End
	Member           *Member
	Derived          *Derived
	Probability      *Probability
	Percentile       int // 0 to 100; -1 is none
}

// layout says where a template keeps what lies beyond octet 34. Zero is
// nowhere.
type layout struct {
	known                          bool
	member, derived, prob, percent int
	interval                       int
}

// layoutOf knows the templates that share octets 10 to 34 with template 4.0.
func layoutOf(template int) layout {
	switch template {
	case 0, 15:
		return layout{known: true}
	case 1:
		return layout{known: true, member: 35}
	case 2:
		return layout{known: true, derived: 35}
	case 5:
		return layout{known: true, prob: 35}
	case 6:
		return layout{known: true, percent: 35}
	case 8:
		return layout{known: true, interval: 35}
	case 9:
		return layout{known: true, prob: 35, interval: 48}
	case 10:
		return layout{known: true, percent: 35, interval: 36}
	case 11:
		return layout{known: true, member: 35, interval: 38}
	case 12:
		return layout{known: true, derived: 35, interval: 37}
	}
	return layout{}
}

// parseProduct reads section 4. Of a template it does not know it reads the
// category and number, which stand at the same place in all of them.
func parseProduct(s section, run time.Time) (*Product, *Error) {
	if !s.has(11) {
		return nil, fault(4, 1, "%d octets are too few for a product definition", len(s))
	}
	p := &Product{
		Template: s.u16(8), Generating: -1, Percentile: -1, Process: Instant,
		Surface1: Surface{Type: missing8, Missing: true},
		Surface2: Surface{Type: missing8, Missing: true},
		Category: s.u8(10), Number: s.u8(11),
	}
	l := layoutOf(p.Template)
	if !l.known {
		return p, nil
	}
	p.TemplateKnown = true
	if !s.has(34) {
		return nil, fault(4, 1, "%d octets are too few for product template 4.%d", len(s), p.Template)
	}
	p.Generating = s.u8(12)
	p.Surface1, p.Surface2 = s.surface(23), s.surface(29)
	start, bad := s.after(run, 18, 19, true)
	if bad != nil {
		return p, bad
	}
	p.Start, p.End = start, start
	if bad := p.parseRest(s, l); bad != nil {
		return p, bad
	}
	return p, nil
}

func (p *Product) parseRest(s section, l layout) *Error {
	short := func(need int) *Error {
		if s.has(need) {
			return nil
		}
		return fault(4, len(s), "ends here, but product template 4.%d needs %d octets", p.Template, need)
	}
	if at := l.member; at > 0 {
		if bad := short(at + 2); bad != nil {
			return bad
		}
		p.Member = &Member{Type: s.u8(at), Number: s.u8(at + 1), Size: s.u8(at + 2)}
	}
	if at := l.derived; at > 0 {
		if bad := short(at + 1); bad != nil {
			return bad
		}
		p.Derived = &Derived{Type: s.u8(at), Size: s.u8(at + 1)}
	}
	if at := l.percent; at > 0 {
		if bad := short(at); bad != nil {
			return bad
		}
		p.Percentile = s.u8(at)
	}
	if at := l.prob; at > 0 {
		if bad := short(at + 12); bad != nil {
			return bad
		}
		p.Probability = &Probability{Type: s.u8(at + 2), Lower: s.limit(at + 3), Upper: s.limit(at + 8)}
	}
	if at := l.interval; at > 0 {
		if bad := short(at + 11); bad != nil {
			return bad
		}
		return p.parseInterval(s, at)
	}
	return nil
}

// parseInterval reads the block that begins with the end of the interval.
func (p *Product) parseInterval(s section, at int) *Error {
	p.Process = Average // until the first range says otherwise
	if s.u8(at+7) == 0 {
		// No range at all: written for the analysis hour, when nothing has been
		// gathered yet. The end octets may then hold anything.
		return nil
	}
	if !s.has(at + 23) {
		return fault(4, len(s), "ends here, but %d time ranges need %d octets", s.u8(at+7), at+11+12*s.u8(at+7))
	}
	p.Process = Process(s.u8(at + 12))
	end, bad := s.instant(4, at)
	if bad != nil {
		return bad
	}
	if end.Before(p.Start) {
		return fault(4, at, "the interval ends at %s, before its start at %s", stamp(end), stamp(p.Start))
	}
	began := p.Start
	p.End = end
	if s.u8(at+7) > 1 {
		return nil
	}
	byLength, bad := s.after(began, at+14, at+15, false)
	if bad != nil {
		return bad
	}
	if end.Equal(began) {
		// The forecast time counts to the end, as in the files of the National
		// Digital Forecast Database: the interval lies before it.
		p.Start = began.Add(-byLength.Sub(began))
		return nil
	}
	if !byLength.Equal(end) {
		return fault(4, at+15, "the interval ends at %s by its length, at %s by its end", stamp(byLength), stamp(end))
	}
	return nil
}

func (s section) surface(at int) Surface {
	v, ok := s.scaled(at+1, at+2)
	return Surface{Type: s.u8(at), Value: v, Missing: !ok || s.u8(at) == missing8}
}

func (s section) limit(at int) Limit {
	v, ok := s.scaled(at, at+1)
	return Limit{Value: v, Missing: !ok}
}

// instant reads a date and time of seven octets. Second 60 is a leap second
// and reads as the next minute.
func (s section) instant(number, at int) (time.Time, *Error) {
	y, mo, d := s.u16(at), s.u8(at+2), s.u8(at+3)
	h, mi, sec := s.u8(at+4), s.u8(at+5), s.u8(at+6)
	t := time.Date(y, time.Month(mo), d, h, mi, sec, 0, time.UTC)
	day := time.Date(y, time.Month(mo), d, 0, 0, 0, 0, time.UTC)
	if y == 0 || y > 9999 || mo < 1 || mo > 12 || day.Day() != d || h > 24 || mi > 59 || sec > 60 {
		return time.Time{}, fault(number, at, "%04d-%02d-%02d %02d:%02d:%02d is no date and time", y, mo, d, h, mi, sec)
	}
	return t, nil
}

// after adds a time in a coded unit (code table 4.4) to t. Forecast times may
// be negative, lengths may not.
func (s section) after(t time.Time, unitOctet, valueOctet int, signed bool) (time.Time, *Error) {
	n := s.u32(valueOctet)
	if n == missing32 {
		return time.Time{}, fault(4, valueOctet, "the time is missing")
	}
	if signed {
		n = s.s32(valueOctet)
	}
	var end time.Time
	switch unit := s.u8(unitOctet); unit {
	case 0:
		end = addSeconds(t, n, 60)
	case 1:
		end = addSeconds(t, n, 3600)
	case 2:
		end = addSeconds(t, n, 86400)
	case 3:
		end = t.AddDate(0, min(n, 12e4), 0)
	case 4:
		end = t.AddDate(min(n, 1e4), 0, 0)
	case 10:
		end = addSeconds(t, n, 3*3600)
	case 11:
		end = addSeconds(t, n, 6*3600)
	case 12:
		end = addSeconds(t, n, 12*3600)
	case 13:
		end = addSeconds(t, n, 1)
	default:
		return time.Time{}, unsupported(4, unitOctet, "unit of time %d", unit)
	}
	if y := end.Year(); y < 1 || y > 9999 {
		return time.Time{}, fault(4, valueOctet, "a time of %d units leads to the year %d", n, y)
	}
	return end, nil
}

func addSeconds(t time.Time, n, seconds int) time.Time {
	return time.Unix(t.Unix()+int64(n)*int64(seconds), 0).UTC()
}

func stamp(t time.Time) string { return t.Format(time.RFC3339) }
