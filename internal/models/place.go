package models

import (
	"fmt"
	"math"
	"strings"
	"time"

	"forecastd/internal/models/units"
)

// Position is a place in degrees on WGS 84, north and east positive.
type Position struct {
	Lat, Lon float64
}

// Valid tells whether the position lies on the globe.
func (p Position) Valid() bool {
	return math.Abs(p.Lat) <= 90 && math.Abs(p.Lon) <= 360 && !math.IsNaN(p.Lat) && !math.IsNaN(p.Lon)
}

// String prints the position in degrees to a hundredth of a minute of arc
// or so (four decimals), as the weather service's addresses want it.
func (p Position) String() string { return fmt.Sprintf("%.4f,%.4f", p.Lat, p.Lon) }

// EarthRadius is the mean radius of the Earth in metres (IUGG, GRS 80).
const EarthRadius = 6371008.8

// Apart is the great-circle distance between two positions, by the haversine
// formula on a sphere; within 0.6 % of that on the ellipsoid.
func Apart(a, b Position) units.Length {
	const rad = math.Pi / 180
	sinLat, sinLon := math.Sin((b.Lat-a.Lat)*rad/2), math.Sin((b.Lon-a.Lon)*rad/2)
	h := sinLat*sinLat + math.Cos(a.Lat*rad)*math.Cos(b.Lat*rad)*sinLon*sinLon
	return units.Length(2 * math.Asin(math.Min(1, math.Sqrt(h))) * EarthRadius)
}

// Port is where the boat leaves from and the guests wait.
type Port struct {
	Name string
	At   Position
	// Zone is the port's civil time zone (IANA).
	Zone *time.Location
	// ShoreNormal points from the land to the open sea, square to the coast.
	ShoreNormal units.Toward
	// InletDepth is the depth over the bar or in the mouth; unknown counts
	// as 20 ft (trade.md 8.2).
	InletDepth Opt[units.Length]
	// Airfields are the ones whose traffic may pass low over the grounds.
	Airfields []Airfield
}

// Airfield is a place where aircraft land: an airport, a heliport, a seaplane
// base.
type Airfield struct {
	Name string
	At   Position
}

// Ground is a piece of water that the boat fishes.
type Ground struct {
	Name string
	At   Position
	// Depth is the depth the captain starts in.
	Depth units.Length
	// Run is the time from the dock to the ground in an easy sea.
	Run time.Duration
	// Shallow and Deep bound the depth band that fishes; Slope is how much
	// the bottom falls per length going offshore (0.02 is 2 in 100).
	Shallow, Deep Opt[units.Length]
	Slope         Opt[float64]
}

// BoatKind is the build of the boat, which decides how it drifts and rides.
type BoatKind string

// Kinds of boat.
const (
	CenterConsole BoatKind = "center console"
	Sportfish     BoatKind = "sportfish"
)

// BoatKinds lists the kinds known.
func BoatKinds() []BoatKind { return []BoatKind{CenterConsole, Sportfish} }

// Boat is what goes out.
type Boat struct {
	Name   string
	Kind   BoatKind
	Length units.Length
	// Tower is the height of the eye above the water when looking for fish.
	Tower        units.Length
	HeliumAboard bool
	// Phone and ReplyTo are how guests reach the captain; empty where he does
	// not say.
	Phone, ReplyTo string
	// Crew counts the people working the cockpit, captain included.
	Crew int
	// Cruise is the speed of the run in an easy sea.
	Cruise Opt[units.Speed]
	// FuelPerHour and FuelUsable are in litres an hour and litres.
	FuelPerHour, FuelUsable Opt[float64]
	SeaAnchor               bool
	// Passengers is how many paying guests the boat's papers allow.
	Passengers Opt[int]
}

// Kite is one of the captain's own kites. It is described by size and mass or
// by the captain's own wind range, never by a maker's name.
type Kite struct {
	// Name is the captain's own word for it.
	Name string
	Area Opt[float64] // square metres
	// Aspect is span squared over area.
	Aspect Opt[float64]
	Mass   Opt[units.Mass]
	// Min and Max are the captain's own wind range, at the height of the kite.
	Min, Max Opt[units.Speed]
	// Line is the working load of the kite line in newton.
	Line Opt[float64]
}

// Date is a civil day in some port's zone.
type Date struct {
	Year  int
	Month time.Month
	Day   int
}

// DateOf returns the civil day of t in zone.
func DateOf(t time.Time, zone *time.Location) Date {
	y, m, d := t.In(zone).Date()
	return Date{y, m, d}
}

// ParseDate reads "2006-01-02".
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return Date{}, fmt.Errorf("%q is no date: write it as 2027-01-19", s)
	}
	return DateOf(t, time.UTC), nil
}

// Start returns the first instant of the day in zone.
func (d Date) Start(zone *time.Location) time.Time {
	return Clock{}.On(d, zone)
}

// Interval returns the whole civil day, which may last 23 or 25 hours.
func (d Date) Interval(zone *time.Location) Interval {
	return Interval{Start: d.Start(zone), End: d.AddDays(1).Start(zone)}
}

// AddDays returns the day n days later.
func (d Date) AddDays(n int) Date {
	return DateOf(time.Date(d.Year, d.Month, d.Day+n, 12, 0, 0, 0, time.UTC), time.UTC)
}

// Before tells whether d is earlier than e.
func (d Date) Before(e Date) bool { return d.String() < e.String() }

// Weekday returns the day of the week.
func (d Date) Weekday() time.Weekday {
	return time.Date(d.Year, d.Month, d.Day, 12, 0, 0, 0, time.UTC).Weekday()
}

// String prints "2006-01-02".
func (d Date) String() string { return fmt.Sprintf("%04d-%02d-%02d", d.Year, d.Month, d.Day) }

// MarshalText writes "2006-01-02".
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads "2006-01-02".
func (d *Date) UnmarshalText(b []byte) (err error) {
	*d, err = ParseDate(string(b))
	return err
}

// Clock is a time of day on the port's clock.
type Clock struct{ Hour, Minute int }

// ParseClock reads "07:30".
func ParseClock(s string) (Clock, error) {
	t, err := time.Parse("15:04", strings.TrimSpace(s))
	if err != nil || len(s) != 5 {
		return Clock{}, fmt.Errorf("%q is no time of day: write it as 07:30", s)
	}
	return Clock{t.Hour(), t.Minute()}, nil
}

// On returns the instant of the clock time on a day. In the hour that a
// spring change skips it answers the end of the gap; of an hour that comes
// twice it answers the first.
func (c Clock) On(d Date, zone *time.Location) time.Time {
	t := time.Date(d.Year, d.Month, d.Day, c.Hour, c.Minute, 0, 0, zone)
	wanted := time.Date(d.Year, d.Month, d.Day, c.Hour, c.Minute, 0, 0, time.UTC)
	l := t.In(zone)
	shown := time.Date(l.Year(), l.Month(), l.Day(), l.Hour(), l.Minute(), 0, 0, time.UTC)
	switch start, end := t.ZoneBounds(); {
	case shown.Before(wanted): // normalised backwards: the gap ends where this zone period does
		return end.UTC()
	case shown.After(wanted):
		return start.UTC()
	case !start.IsZero():
		// time.Date may answer the second of two: the clock showed the same
		// before this zone period began if it was set back by more than has
		// passed since.
		_, offset := t.Zone()
		_, before := start.Add(-time.Nanosecond).Zone()
		if first := t.Add(time.Duration(offset-before) * time.Second); first.Before(start) && before > offset {
			return first.UTC()
		}
	}
	return t.UTC()
}

// String prints "07:30".
func (c Clock) String() string { return fmt.Sprintf("%02d:%02d", c.Hour, c.Minute) }

// MarshalText writes "07:30".
func (c Clock) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads "07:30".
func (c *Clock) UnmarshalText(b []byte) (err error) {
	*c, err = ParseClock(string(b))
	return err
}

// Interval is the half-open span of time from Start up to End.
type Interval struct{ Start, End time.Time }

// Contains tells whether t lies in the interval.
func (i Interval) Contains(t time.Time) bool { return !t.Before(i.Start) && t.Before(i.End) }

// Overlaps tells whether the two intervals share any time.
func (i Interval) Overlaps(j Interval) bool { return i.Start.Before(j.End) && j.Start.Before(i.End) }

// Duration returns how long the interval lasts.
func (i Interval) Duration() time.Duration { return i.End.Sub(i.Start) }
