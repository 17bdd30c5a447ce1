package models

import (
	"time"

	"forecastd/internal/models/units"
)

// Grade is how good an hour is for a tactic.
type Grade int

// Grades from worst to best.
const (
	GradeNo Grade = iota
	GradePoor
	GradeFair
	GradeGood
)

// String prints the word people read.
func (g Grade) String() string { return [...]string{"no", "poor", "fair", "good"}[g] }

// Ride is how the sea treats the people aboard.
type Ride int

// Rides from best to worst.
const (
	RideEasy Ride = iota
	RideOK
	RideRough
	RideNo
)

// String prints the word people read.
func (r Ride) String() string { return [...]string{"easy", "ok", "rough", "no"}[r] }

// Fish is whether it is worth being there at all.
type Fish string

// Words for the fish.
const (
	FishGood Fish = "good"
	FishFair Fish = "fair"
	FishSlow Fish = "slow"
)

// Answer is one question answered over the courses.
type Answer struct {
	// Share is how many of the courses say yes, Courses of Of.
	Share       float64
	Courses, Of int
	Word        Confidence
}

// Answers are the three questions of a day, apart: whether the trip will run,
// whether these are the hours, whether this is the tactic. Where the verdict is
// to stay in, Runs still tells whether a trip could run, and the other two in
// how many courses staying in is right.
type Answers struct{ Runs, Hours, Tactic Answer }

// Stop is what ends the trip in some of the courses.
type Stop struct {
	// By is what does it, From when it does in the middle one of them.
	By   Phrase
	From time.Time
	// Courses are their numbers, from 1.
	Courses []int
}

// Do is what the boat does in an hour.
type Do string

// What an hour is spent on.
const (
	DoDock       Do = "dock"
	DoKite       Do = "kite"
	DoHeliumKite Do = "helium kite"
	DoSight      Do = "sight cast"
	DoEither     Do = "either"
	DoInside     Do = "inside"
	DoNoGo       Do = "no-go"
)

// Tactic is how the day is fished.
type Tactic string

// Tactics of a day.
const (
	TacticKite      Tactic = "kite"
	TacticHelium    Tactic = "helium kite"
	TacticSight     Tactic = "sight cast"
	TacticKiteSight Tactic = "kite then sight cast"
	TacticSightKite Tactic = "sight cast then kite"
	TacticEither    Tactic = "either"
	TacticStayIn    Tactic = "stay in"
)

// Timing is how the day's times stand against the booking.
type Timing string

// Timings.
const (
	AsBooked     Timing = "as booked"
	StartEarlier Timing = "start earlier"
	StartLater   Timing = "start later"
	BackEarly    Timing = "come back early"
)

// Confidence is how sure the call is, in words.
type Confidence string

// Words for confidence.
const (
	Sure     Confidence = "sure"
	Likely   Confidence = "likely"
	TossUp   Confidence = "toss-up"
	Doubtful Confidence = "doubtful"
)

// CharterAction is what to do about a booking.
type CharterAction string

// Actions for a charter.
const (
	CharterGo           CharterAction = "go"
	CharterRoughNote    CharterAction = "rough-ride note"
	CharterStartEarlier CharterAction = "start earlier"
	CharterStartLater   CharterAction = "start later"
	CharterShorten      CharterAction = "shorten"
	CharterLee          CharterAction = "fish in the lee"
	CharterMove         CharterAction = "move"
	CharterCancel       CharterAction = "cancel"
)

// Phrase is one thing said, by a stable key and the values in it, so that it
// can be told in the reader's language and units. Args hold units.Speed,
// units.Length, units.From, units.Toward, units.Temperature, time.Time (told
// on the port's clock), time.Duration, float64 (a plain number), Percent, Seconds, int, string
// (told as it is) or Word (told in the reader's language).
type Phrase struct {
	Key  string
	Args []any
}

// Say makes a phrase.
func Say(key string, args ...any) Phrase { return Phrase{Key: key, Args: args} }

// Percent is a share told in percent.
type Percent float64

// Seconds is a wave period, told in whole seconds as the trade says it.
type Seconds float64

// Word is one of our own words (a grade, a tactic, a season) that a reader
// gets in his own language.
type Word string

// Factor is one named part of an hour's judgement.
type Factor struct {
	// Name is the factor: "wind at the kite", "gust spread".
	Name string
	// Input tells what was looked at, with its value.
	Input Phrase
	// Value is the factor's worth from 0 to 1.
	Value float64
	// Phrase says what it means.
	Phrase Phrase
}

// HourCall is the judgement of one hour.
type HourCall struct {
	At          time.Time
	Kite, Sight Grade
	Ride        Ride
	Fish        Fish
	// Closed says why nobody fishes this hour; a zero Phrase means open.
	Closed Phrase
	Do     Do
	// Factors by lane: "kite", "sight", "ride".
	Factors map[string][]Factor
	// Conditions is the middle member's hour that was judged, after physics.
	Conditions Conditions
}

// Conditions is one hour after physics: what the kite, the baits, the boat
// and the eyes meet.
type Conditions struct {
	Hour
	// KiteWind, KiteLull and KiteGust are at the kite's height, relative to
	// the drifting boat.
	KiteWind, KiteLull, KiteGust Opt[units.Speed]
	// ProfileMethod tells how the wind was carried up: "stability",
	// "neutral log law", "power law".
	ProfileMethod string
	// LocalSea is the sea on the ground after the current has worked on it.
	LocalSea  Opt[units.Length]
	Steepness Opt[float64]
	// InletSea is the onshore sea in the mouth after the ebb has worked on it.
	InletSea       Opt[units.Length]
	InletSteepness Opt[float64]
	// SeaFromElsewhere tells that a sea whose direction nobody gives is higher
	// or longer than the wind on hand can raise.
	SeaFromElsewhere bool
	// Opposition is cos(wind-from minus current-toward): 1 dead against,
	// -1 with.
	Opposition Opt[float64]
	// Slip is the drift through the water, which is what the baits feel.
	Slip Opt[units.Speed]
	// DriftSpeed and DriftToward are over the ground.
	DriftSpeed                    Opt[units.Speed]
	DriftToward                   Opt[units.Toward]
	SunElevation, SunAzimuth      float64 // degrees
	Glare                         Opt[float64]
	SightDistance                 Opt[units.Length]
	Unwell                        Opt[Percent]
	KiteName                      string
	KiteHelium                    bool
	KiteMarginLow, KiteMarginHigh Opt[units.Speed]
}

// Call is tomorrow, settled.
type Call struct {
	Made   time.Time
	Date   Date
	Port   Port
	Ground Ground
	Boat   Boat
	Trip   Trip

	Tactic Tactic
	Timing []Timing
	// Leave and Back are unknown when staying in.
	Leave, Back Opt[time.Time]
	Confidence  Confidence
	// Answers are over the courses, Members of them. Agreement is the share of
	// the least of those that the verdict rests on, Agreeing its count,
	// Confidence its word.
	Answers   Answers
	Agreeing  int
	Agreement float64
	Members   int
	// Stops are what ends the trip in the courses in which it does not run to
	// its end, the commonest first.
	Stops []Stop
	// CaptainDecides marks trips where the closed hours bind the captain's
	// guests only: worded "captain decides".
	CaptainDecides bool
	// Unbooked marks the usual trip of a day that nobody has booked.
	Unbooked bool

	Hours       []HourCall
	Reasons     []Phrase
	WouldChange []Phrase
	// Missing tells what is missing or old and what it costs.
	Missing  []Phrase
	Changed  []Phrase // against the last call
	Cautions []Phrase

	Warnings  Opt[[]Warning]
	Stood     []Warning // see Outlook.Stood
	Texts     []OfficialText
	Overrides []Override

	Spread  Opt[Spread]
	Drift   Opt[Drift]
	Load    []LoadItem
	Charter Opt[CharterCall]
	Bait    Opt[BaitPlan]
	Tides   []TideEvent
	Streams []StreamEvent
	// Observed is the newest report of each station.
	Observed []Observation
	Sun      SunTimes
	Sources  []Provenance
	Demo     bool
}

// SunTimes are the instants of the sun over a day; unknown where it does not
// rise or set.
type SunTimes struct {
	CivilDawn, Rise, Noon, Set, CivilDusk Opt[time.Time]
}

// BaitPosition is one line of the spread card.
type BaitPosition struct {
	// Position is the trade's word: "short", "middle", "long", "flat line",
	// "mid rod", "bottom rod", "pitch".
	Position string
	// Side is "left", "right" or empty.
	Side string
	// Behind is the distance of the bait from the boat; LineOut from rod tip
	// through the clip to the bait.
	Behind, ClipHeight, LineOut Opt[units.Length]
	Line, Leader, Lead, Bait    string
	// LeaderLength is how long the leader is, where the table says.
	LeaderLength Opt[units.Length]
}

// Spread is the spread card: what is flown, and where the baits stand.
type Spread struct {
	Kite      string
	Helium    bool
	Kites     int
	KiteLine  units.Length // line out to the kite
	Angle     float64      // degrees above the horizon at the boat
	Height    units.Length
	Positions []BaitPosition
	Notes     []Phrase
}

// DriftPoint is the boat's place, from the start of the first set.
type DriftPoint struct {
	At          time.Time
	East, North units.Length
	// SpreadRadius is one standard deviation of the place.
	SpreadRadius units.Length
}

// Drift is the first set and where it takes the boat.
type Drift struct {
	StartDepth units.Length
	Speed      units.Speed
	Toward     units.Toward
	Slip       units.Speed
	Track      []DriftPoint
	Distance   units.Length
	AcrossBand Opt[time.Duration]
	ResetEvery Opt[time.Duration]
	RunBack    Opt[time.Duration]
	SeaAnchor  bool
	Notes      []Phrase
}

// LoadItem is one thing to take aboard tonight.
type LoadItem struct {
	What string
	// Length is how long it is, where that matters.
	Length Opt[units.Length]
	Count  int
	// Short is how many more the day asks for than the captain's gear holds.
	Short    int
	Stow     string
	Position string
}

// DayOffer is a day to offer instead.
type DayOffer struct {
	Date Date
	Why  Phrase
	// Guests says the same without the trade's words.
	Guests Phrase
}

// CharterCall is what to do about the day's booking.
type CharterCall struct {
	Actions    []CharterAction
	Start, End Opt[time.Time]
	Offer      []DayOffer
	// Subject and Message are the draft for the guests, told only after the
	// captain approves it: the subject says what happens to their trip.
	Subject Phrase
	Message []Phrase
	// TellBy is the captain's own deadline for telling the guests.
	TellBy Opt[time.Time]
}

// BaitPlan is what is wanted against what the pen holds.
type BaitPlan struct {
	// Needed and Short tell hardy baits from delicate ones: neither stands in
	// for the other. InPen leaves out kinds that nobody knows.
	Needed, InPen, Short Opt[BaitCount]
	Nights               []Date
	LastGood             Opt[Date]
	Notes                []Phrase
}
