package models

import "forecastd/internal/models/units"

// DayOutlook is one of the days ahead in short.
type DayOutlook struct {
	Date       Date
	Tactic     Tactic
	Timing     []Timing
	Confidence Confidence
	Agreement  float64
	// Out is when the boat would be out; unknown when it stays in.
	Out Opt[Interval]
	// KiteWindows are the spans of daylight in which a spread flies well.
	KiteWindows []Interval
	// BestRide and WorstRide are while the boat is out, or in the booked
	// hours when it stays in.
	BestRide, WorstRide Ride
	Sea                 Opt[units.Length] // highest in those hours
	Wind                Opt[units.Speed]  // mean in those hours
	// Fishing is the mean worth of the fishing, 0 to 1 and a little over.
	Fishing float64
	// Front names where the day lies against a front.
	Front Phrase
	// Closed says why the boat stays in.
	Closed Phrase
	// Rides is what the day would be to each kind of party.
	Rides map[Party]Ride
	// Free tells whether the day can be offered; unknown where nobody said.
	Free Opt[bool]
}
