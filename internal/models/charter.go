package models

import (
	"time"

	"forecastd/internal/models/units"
)

// Booking is a trip that guests have booked.
type Booking struct {
	ID   string
	Date Date
	Trip Trip
	// Name is how the guests are addressed.
	Name string
	// TellBy is when the guests must be told of a change, by the captain's
	// own terms.
	TellBy Opt[time.Time]
	// Ground is the name of the ground, empty where nobody said.
	Ground string
	// Contact is where the guests are written to; empty where nobody said.
	Contact string
	// Cancelled tells that the booking was called off. It stays known, so
	// that seeing it again does not bring it back.
	Cancelled bool
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
