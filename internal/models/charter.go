package models

import (
	"time"

	"forecastd/internal/models/units"
)

// Terms are the captain's own for a booking.
type Terms struct {
	// TellBefore is how long before the booked start guests must be told.
	TellBefore Opt[time.Duration]
}

// Booking is a trip that guests have booked.
type Booking struct {
	ID   string
	Date Date
	Trip Trip
	// Name is how the guests are addressed.
	Name  string
	Terms Terms
}

// Standing is where a day's call stands, as far as people are told: what is
// kept of each run to tell whether news is new.
type Standing struct {
	Made    time.Time
	Date    Date
	Going   bool
	Tactic  Tactic
	Timing  []Timing
	Leave   Opt[time.Time]
	Back    Opt[time.Time]
	Actions []CharterAction
	// Safety tells that what keeps the boat in or brings it back is a matter
	// of safety: ride no, a limit, inlet, thunder, visibility, an official
	// product.
	Safety bool
	// WorstRide is the worst ride while the boat is out.
	WorstRide Ride
	// Sea is the highest sea while the boat is out.
	Sea Opt[units.Length]
}
