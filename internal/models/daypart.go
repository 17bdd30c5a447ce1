package models

import "time"

// DayPart is a part of the day, told in place of a clock time where a forecast
// cannot tell hours apart.
type DayPart string

// Parts of the day by the port's clock. Where they part is our own choice.
const (
	BeforeDawn   DayPart = "before dawn"   // until 05:00
	EarlyMorning DayPart = "early morning" // until 08:00
	Morning      DayPart = "morning"       // until 11:00
	Midday       DayPart = "midday"        // until 13:00
	Afternoon    DayPart = "afternoon"     // until 17:00
	Evening      DayPart = "evening"       // until midnight
)

// DayParts are all parts of the day, in order.
func DayParts() []DayPart {
	return []DayPart{BeforeDawn, EarlyMorning, Morning, Midday, Afternoon, Evening}
}

// DayPartOf is the part of the day that a clock time lies in; where two parts
// meet it is the later one.
func DayPartOf(c Clock) DayPart {
	parts := DayParts()
	for i, until := range [...]int{5, 8, 11, 13, 17} {
		if c.Hour < until {
			return parts[i]
		}
	}
	return Evening
}

// DayPartAt is the part of the day of an instant on the clock of zone.
func DayPartAt(at time.Time, zone *time.Location) DayPart {
	at = at.In(zone)
	return DayPartOf(Clock{at.Hour(), at.Minute()})
}

// HoursReach is how far ahead of a trip's start clock times are told: beyond
// day 3 a front may come half a day early or late. Our own choice.
const HoursReach = 72 * time.Hour

// BeyondHours tells that a trip starts past the reach of clock times of a call
// made at made. Where nobody knows when it was made, it does not.
func BeyondHours(made, start time.Time) bool {
	return !made.IsZero() && start.After(made.Add(HoursReach))
}

// SameAsBooked is by how much a time may differ from the booked one, or a trip
// from its length, and still count as it.
const SameAsBooked = 15 * time.Minute

// Told is what people are told of a planned time past the reach of clock times:
// the booked time where it is that, since what is booked is booked, else the
// part of the day.
func Told(at, booked time.Time, zone *time.Location) any {
	if at.Sub(booked).Abs() < SameAsBooked {
		return booked
	}
	return DayPartAt(at, zone)
}

// BeyondHours tells that the trip starts past the reach of clock times.
func (c Call) BeyondHours() bool { return BeyondHours(c.Made, c.Trip.Start.On(c.Date, c.zone())) }

// Times are Leave and Back as people are told them: instants or, past the
// reach of clock times, parts of the day where they are not as booked. ok is
// false when staying in.
func (c Call) Times() (leave, back any, ok bool) {
	from, out := c.Leave.Get()
	to, in := c.Back.Get()
	switch {
	case !out || !in:
		return nil, nil, false
	case c.BeyondHours():
		return Told(from, c.Trip.Start.On(c.Date, c.zone()), c.zone()), Told(to, c.Trip.End.On(c.Date, c.zone()), c.zone()), true
	}
	return from, to, true
}

func (c Call) zone() *time.Location {
	if c.Port.Zone == nil {
		return time.UTC
	}
	return c.Port.Zone
}
