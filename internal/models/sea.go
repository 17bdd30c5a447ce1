package models

import (
	"time"

	"forecastd/internal/models/units"
)

// Hour is what is expected, or was forecast, at one instant and holds until
// the next hour of its series. A field that is unknown is just that.
type Hour struct {
	At time.Time
	// Wind is the sustained wind at 10 m, Gust the peak at 10 m.
	Wind     Opt[units.Speed]
	WindFrom Opt[units.From]
	Gust     Opt[units.Speed]
	// DirectionSpread is how far the wind's direction ranges within the
	// hour, in degrees.
	DirectionSpread Opt[float64]
	// Sea is the significant height of the combined sea; Period its peak
	// period in seconds.
	Sea     Opt[units.Length]
	Period  Opt[float64]
	SeaFrom Opt[units.From]
	// SeaIncludesCurrent says that Sea already holds what the current does
	// to it; unknown counts as not.
	SeaIncludesCurrent Opt[bool]
	Swell              Opt[units.Length]
	SwellPeriod        Opt[float64] // seconds
	SwellFrom          Opt[units.From]
	// InletCurrent is the tidal stream in the inlet, flood positive.
	InletCurrent  Opt[units.Speed]
	Current       Opt[units.Speed]
	CurrentToward Opt[units.Toward]
	// Cloud is the sky cover; Rain and Thunder are chances. All in percent.
	Cloud, Rain, Thunder Opt[float64]
	Visibility           Opt[units.Length]
	Air, Water           Opt[units.Temperature]
}

// Provenance says where a value came from and how old it is.
type Provenance struct {
	// Source is the short name of the source: "ndbc", "nws alerts".
	Source string
	// Detail tells the station, zone, product or run.
	Detail string
	// Issued is when the source made it; Fetched when we got it.
	Issued, Fetched time.Time
}

// Observation is what one station reported at one time, as measured: winds
// are at the anemometer's height.
type Observation struct {
	Station  string
	At       time.Time
	Wind     Opt[units.Speed]
	WindFrom Opt[units.From]
	Gust     Opt[units.Speed]
	// Averaging is how long the wind was averaged.
	Averaging   Opt[time.Duration]
	Sea         Opt[units.Length]
	Period      Opt[float64] // seconds, peak
	MeanPeriod  Opt[float64] // seconds
	SeaFrom     Opt[units.From]
	Swell       Opt[units.Length]
	SwellPeriod Opt[float64] // seconds
	SwellFrom   Opt[units.From]
	WindSea     Opt[units.Length]
	// SteepnessLabel is the station's own word for the sea's steepness.
	SteepnessLabel string
	Pressure       Opt[units.Pressure]
	Air, Water     Opt[units.Temperature]
	Visibility     Opt[units.Length]
	From           Provenance
}

// Series is one forecast for one ground as a source gave it, in order of
// time, UTC.
type Series struct {
	// Source is the short name: "nws gridpoint", "gfs-wave".
	Source string
	Ground string
	Run    time.Time
	// Fetched is when we got it.
	Fetched time.Time
	Hours   []Hour
	// Official marks the weather service's own forecast, which bias
	// correction never undercuts.
	Official bool
	// Notes tell what had to be skipped or rejected.
	Notes []string
}

// TideKind is high or low water.
type TideKind string

// Kinds of tide event.
const (
	HighWater TideKind = "high"
	LowWater  TideKind = "low"
)

// TideEvent is one high or low water.
type TideEvent struct {
	At     time.Time
	Kind   TideKind
	Height units.Length
	Datum  string
	From   Provenance
}

// StreamKind is a phase of the tidal stream.
type StreamKind string

// Phases of the tidal stream.
const (
	Slack StreamKind = "slack"
	Flood StreamKind = "flood"
	Ebb   StreamKind = "ebb"
)

// StreamEvent is slack water or a strongest flood or ebb. Speed is signed
// along the stream's axis, flood positive. Flood and ebb run on their own
// axes, which need not be opposite.
type StreamEvent struct {
	At     time.Time
	Kind   StreamKind
	Speed  units.Speed
	Toward Opt[units.Toward]
	From   Provenance
}

// OfficialText is the weather service's coastal waters forecast for one zone,
// kept verbatim.
type OfficialText struct {
	Zone, Name, Office string
	Issued             time.Time
	Expires            Opt[time.Time]
	// Headlines are the "...X..." lines, unwrapped.
	Headlines []string
	// Body is the zone's forecast as issued.
	Body string
	// StreamEdge is the sentence about the stream's edge, where the office
	// gives it.
	StreamEdge string
	From       Provenance
}

// Warning is an official product in force or coming for a zone.
type Warning struct {
	// Event is the official event name: "Small Craft Advisory".
	Event string
	// VTEC is the P-VTEC string; empty where the product has none.
	VTEC string
	// Life names the event by the office, codes and number of its first issue
	// ("KMFL.SC.Y.0035") where the office goes on with it under another number;
	// empty where the VTEC tells.
	Life string
	// Phenomenon and Significance are the VTEC codes: "SC", "Y".
	Phenomenon, Significance string
	Zone, ZoneName           string
	Office                   string
	Issued                   time.Time
	Onset                    time.Time
	// Ends is unknown where the product holds until further notice.
	Ends Opt[time.Time]
	// Headline, Text and Instruction are foreign text, verbatim.
	Headline, Text, Instruction string
	URL                         string
	// Area is the product's polygon, if it has one.
	Area []Position
	From Provenance
}

// InForce tells whether the product holds at t.
func (w Warning) InForce(t time.Time) bool {
	if t.Before(w.Onset) {
		return false
	}
	end, ok := w.Ends.Get()
	return !ok || t.Before(end)
}

// During tells whether the product holds at any time of the interval.
func (w Warning) During(i Interval) bool {
	end, ok := w.Ends.Get()
	return w.Onset.Before(i.End) && (!ok || i.Start.Before(end))
}

// WarningEnd is how a product came to its end.
type WarningEnd string

// Ends of a product.
const (
	EndCancelled WarningEnd = "cancelled" // a product said so
	EndReplaced  WarningEnd = "replaced"  // a product said that another takes its place
	EndExpired   WarningEnd = "expired"   // its time was over
	EndUnlisted  WarningEnd = "unlisted"  // nobody said so: the feed lacks it
)

// A product that nobody ended is no longer listed when this many good answers
// in a row lacked it, the last made so long after the first: feeds are served
// from stale copies, and the same state may be asked for twice.
const (
	WarningGoneAfter = 2
	WarningGoneApart = 2 * time.Minute
)

// WarningOver is a product that another product ended.
type WarningOver struct {
	Warning
	End WarningEnd
}

// WarningsSeen is one good answer of a feed of warnings to our own question,
// word for word: what it lists, and what it says has ended.
type WarningsSeen struct {
	// Made is when the service made the answer, by its own word.
	Made   time.Time
	Listed []Warning
	Over   []WarningOver
	// Whole tells that the answer is the whole list, and not from the future,
	// so that what it lacks is no longer listed.
	Whole bool
}

// WarningsKept is what is remembered of a feed of warnings, for going on
// after a restart.
type WarningsKept struct {
	// Made is when the last good answer was made; zero: there was none.
	Made  time.Time
	Alive []WarningKept
}

// WarningKept is a product that has not ended. Missed is how many good answers
// in a row lacked it, the last that counted made at MissedAt.
type WarningKept struct {
	Warning
	Missed   int
	MissedAt time.Time
}
