package models

import (
	"time"

	"forecastd/internal/models/units"
)

// TripKind says whose day it is.
type TripKind string

// Kinds of trip.
const (
	Charter    TripKind = "charter"
	Tournament TripKind = "tournament"
	OwnTrip    TripKind = "own"
)

// Party is how much sea the guests have seen.
type Party string

// Kinds of party.
const (
	Experienced Party = "experienced"
	Mixed       Party = "mixed"
	Family      Party = "family"
)

// Trip is the trip that the call is for.
type Trip struct {
	Kind       TripKind
	Party      Party
	Start, End Clock
	// LinesIn and LinesOut bound the fishing of an event.
	LinesIn, LinesOut Opt[Clock]
	// ForHire tells whether passengers for hire are aboard; unknown counts
	// as yes.
	ForHire Opt[bool]
	Guests  Opt[int]
}

// Season is how good the time of year is for tailing fish.
type Season string

// Words for the season.
const (
	SeasonPeak      Season = "peak"
	SeasonSpringRun Season = "spring run"
	SeasonGood      Season = "good"
	SeasonTailEnd   Season = "tail end"
	SeasonOff       Season = "off"
)

// Water is how the water on the ground looks.
type Water string

// Words for the water.
const (
	WaterClear      Water = "clear"
	WaterCleanGreen Water = "clean green"
	WaterBlueEdge   Water = "blue edge"
	WaterDirty      Water = "dirty"
)

// Seen is when fish were last seen on top.
type Seen string

// Words for when.
const (
	SeenToday     Seen = "today"
	SeenYesterday Seen = "yesterday"
)

// Reports is what people on the water have said.
type Reports struct {
	EdgeInReach   Opt[bool]
	EdgeDepth     Opt[units.Length]
	Water         Opt[Water]
	FishOnTop     Opt[Seen]
	BaitShowering Opt[bool]
	Season        Opt[Season]
	// InletHazardFrom is the time of day from which the captain expects the
	// inlet to be dangerous; "00:00" is all day.
	InletHazardFrom Opt[Clock]
}

// Override is the captain's word against a limit, with the reason.
type Override struct{ What, Why string }

// Member is one whole consistent course that the hours ahead could take.
type Member struct {
	Hours []Hour
}

// Outlook is the hours ahead at one ground, as a set of members, with all
// else that the judgement looks at.
type Outlook struct {
	// Made is when the data was put together: "now" for the judgement.
	Made time.Time
	// Date is the civil day called.
	Date      Date
	Port      Port
	Ground    Ground
	Boat      Boat
	Kites     []Kite
	Trip      Trip
	Reports   Reports
	Overrides []Override
	// Middle is the member that the tactic is planned on.
	Middle Member
	// Members are what could happen. Empty means that only the middle one
	// is known, and doubt comes from perturbing it.
	Members []Member
	// Warnings is unknown when the feed failed; a known empty list means
	// that nothing is in force.
	Warnings Opt[[]Warning]
	// Stood are the products that were in force or coming when the feed was
	// last read, and that nothing has ended, while it can't be read now: they
	// bind as if they were listed, and what else there may be is unknown.
	Stood    []Warning
	Texts    []OfficialText
	Tides    []TideEvent
	Streams  []StreamEvent
	Observed []Observation
	// Sources tells the age of everything that went in.
	Sources []Provenance
	// Missing names the inputs that could not be had, in plain words.
	Missing []Gap
	// HistoryDays is how many days of forecast against buoy the error
	// sizes were learned from; 0 means that they are assumed.
	HistoryDays int
	// Demo marks invented data.
	Demo bool
}

// Gap is an input that could not be had.
type Gap struct {
	// What is the input: "seas", "warnings", "current".
	What string
	// Why tells the reason in plain words.
	Why string
}
