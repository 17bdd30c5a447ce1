package nws

import (
	"regexp"
	"strconv"
	"time"

	"forecastd/internal/models"
)

// Action is what a P-VTEC string says has become of its event.
type Action string

// Actions (NWSI101703).
const (
	ActionNew      Action = "NEW"
	ActionContinue Action = "CON"
	ActionExtend   Action = "EXT" // the time changed, also to an earlier one
	ActionArea     Action = "EXA" // the zones are added
	ActionBoth     Action = "EXB" // zones added and time changed
	ActionUpgrade  Action = "UPG" // replaced by another event
	ActionCancel   Action = "CAN"
	ActionExpire   Action = "EXP" // will not be prolonged; holds until its end
	ActionCorrect  Action = "COR"
	ActionRoutine  Action = "ROU"
)

// VTEC is one primary valid time event code (NWSI101703).
type VTEC struct {
	// Raw is the string as issued, with its slashes.
	Raw string
	// Class is O for operational, T for test, E and X for experimental.
	Class        string
	Action       Action
	Office       string // "KMFL"
	Phenomenon   string // "SC"
	Significance string // "Y"
	// Number is the event tracking number, unique for office, phenomenon,
	// significance and the year in which the event was first issued.
	Number int
	// Begin is unknown where the event is already under way, and where the
	// time given can't be.
	Begin models.Opt[time.Time]
	// End is unknown where the event holds until further notice (OpenEnd),
	// and where the time given can't be.
	End     models.Opt[time.Time]
	OpenEnd bool
}

// Operational tells whether the string is meant for the public.
func (v VTEC) Operational() bool { return v.Class == "O" }

// terminal tells whether the string ends its event for the zones named.
func (v VTEC) terminal() bool { return v.Action == ActionCancel || v.Action == ActionUpgrade }

// Event is the official name of the event; empty if the codes are not known.
func (v VTEC) Event() string { return EventName(v.Phenomenon, v.Significance) }

// ParseVTEC finds all P-VTEC strings in a text, in their order. Times are UTC
// whatever the text around them says. A time that no calendar has, or that
// lies before the code was invented (1969 and 1970 have been seen), is
// unknown (NWSI101703).
func ParseVTEC(text string) []VTEC {
	var out []VTEC
	for _, m := range vtecPattern.FindAllStringSubmatch(text, -1) {
		number, err := strconv.Atoi(m[6])
		if err != nil {
			continue // four digits: cannot happen
		}
		v := VTEC{
			Raw: m[0], Class: m[1], Action: Action(m[2]), Office: m[3],
			Phenomenon: m[4], Significance: m[5], Number: number,
		}
		v.Begin, _ = vtecTime(m[7])
		v.End, v.OpenEnd = vtecTime(m[8])
		out = append(out, v)
	}
	return out
}

var vtecPattern = regexp.MustCompile(`/([OTEX])\.(NEW|CON|EXT|EXA|EXB|UPG|CAN|EXP|COR|ROU)\.([A-Z]{4})\.([A-Z]{2})\.([WAYSFON])\.(\d{4})\.(\d{6}T\d{4}Z)-(\d{6}T\d{4}Z)/`)

// vtecTime reads yymmddThhmmZ. All zeros are no time but a statement.
func vtecTime(s string) (t models.Opt[time.Time], zeros bool) {
	if s == "000000T0000Z" {
		return t, true
	}
	at, err := time.Parse("060102T1504Z", s)
	if err != nil || at.Year() < 2000 {
		return t, false
	}
	return models.Known(at.UTC()), false
}

// EventName is the official name of a VTEC phenomenon and significance, for
// the sea and the coast (NWSI101703); empty for others.
func EventName(phenomenon, significance string) string {
	return map[string]string{
		"SC.Y": "Small Craft Advisory",
		"RB.Y": "Small Craft Advisory for Rough Bar",
		"SI.Y": "Small Craft Advisory for Winds",
		"SW.Y": "Small Craft Advisory for Hazardous Seas",
		"GL.A": "Gale Watch", "GL.W": "Gale Warning",
		"SR.A": "Storm Watch", "SR.W": "Storm Warning",
		"HF.A": "Hurricane Force Wind Watch", "HF.W": "Hurricane Force Wind Warning",
		"SE.A": "Hazardous Seas Watch", "SE.W": "Hazardous Seas Warning",
		"UP.Y": "Freezing Spray Advisory",
		"UP.A": "Heavy Freezing Spray Watch", "UP.W": "Heavy Freezing Spray Warning",
		"TR.A": "Tropical Storm Watch", "TR.W": "Tropical Storm Warning",
		"HU.A": "Hurricane Watch", "HU.W": "Hurricane Warning",
		"TY.A": "Typhoon Watch", "TY.W": "Typhoon Warning",
		"SS.A": "Storm Surge Watch", "SS.W": "Storm Surge Warning",
		"TS.A": "Tsunami Watch", "TS.W": "Tsunami Warning", "TS.Y": "Tsunami Advisory",
		"SU.Y": "High Surf Advisory", "SU.W": "High Surf Warning",
		"CF.S": "Coastal Flood Statement", "CF.Y": "Coastal Flood Advisory",
		"CF.A": "Coastal Flood Watch", "CF.W": "Coastal Flood Warning",
		"MA.W": "Special Marine Warning",
		"MF.Y": "Dense Fog Advisory", "MS.Y": "Dense Smoke Advisory",
		"MH.W": "Ashfall Warning", "MH.Y": "Ashfall Advisory",
		"LO.Y": "Low Water Advisory", "BW.Y": "Brisk Wind Advisory",
		"LW.Y": "Lake Wind Advisory",
		"RP.S": "Rip Current Statement", "BH.S": "Beach Hazards Statement",
	}[phenomenon+"."+significance]
}
