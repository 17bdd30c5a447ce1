package models

import (
	"time"

	"forecastd/internal/models/units"
)

// WarningsReach is how far ahead official warnings for the sea are issued at
// most: a day or two (common practice, no source). Past it none is no promise.
const WarningsReach = 48 * time.Hour

// PastWarnings tells that what ends at end lies past the reach of the warnings
// that were read at made.
func PastWarnings(made, end time.Time) bool { return end.After(made.Add(WarningsReach)) }

// DayOutlook is one of the days ahead in short.
type DayOutlook struct {
	Date       Date
	Tactic     Tactic
	Timing     []Timing
	Confidence Confidence
	Agreement  float64
	// Trip is what the day was judged for: the booked trip, or the usual one.
	Trip Trip
	// BeyondHours tells that it lies past the reach of clock times.
	BeyondHours bool
	// Out is when the boat would be out; unknown when it stays in.
	Out Opt[Interval]
	// KiteWindows are the spans of daylight in which a spread flies well, and
	// KiteFlown those that a kite is called for, however well.
	KiteWindows, KiteFlown []Interval
	// BestRide and WorstRide are while the boat is out, or in the booked
	// hours when it stays in.
	BestRide, WorstRide Ride
	Sea                 Opt[units.Length] // highest in those hours
	Wind                Opt[units.Speed]  // mean in those hours
	WindFrom            Opt[units.From]   // mean in those hours
	Gust                Opt[units.Speed]  // highest in those hours
	// Fishing is the mean worth of the fishing, 0 to 1 and a little over.
	Fishing float64
	// Front names where the day lies against a front.
	Front Phrase
	// Closed says why the boat stays in.
	Closed Phrase
	// Rides is what the day would be to each kind of party.
	Rides map[Party]Ride
	// Free tells that nothing is booked; unknown where nobody said.
	Free Opt[bool]
	// Bookings are those of the day. Their guests' names are not for everybody.
	Bookings []Booking
	// Warnings are the official products that hold at any time of the day,
	// gravest first; unknown where nobody could read them.
	Warnings Opt[[]Warning]
	// PastWarnings tells that the day lies past the reach of warnings.
	PastWarnings bool
}

// Offered tells whether the day may be offered to guests in place of another:
// the boat goes, in wind that somebody forecasts, nobody has it, and it is not
// doubtful. Where nobody said whether it is free, it may.
func (d DayOutlook) Offered() bool {
	return d.Out.Known() && d.Wind.Known() && d.Free.Or(true) && d.Confidence != Doubtful
}
