package models

// GearKind is what a piece of gear is for, so that the load list can pick it.
type GearKind string

// Kinds of gear.
const (
	GearKite      GearKind = "kite"
	GearKiteRod   GearKind = "kite rod"
	GearRod       GearKind = "rod"
	GearSightRod  GearKind = "sight rod"
	GearLeader    GearKind = "leader"
	GearLead      GearKind = "lead"
	GearClip      GearKind = "clip"
	GearHook      GearKind = "hook"
	GearRigging   GearKind = "rigging" // bands and needle, swivels, wire, kite line
	GearTool      GearKind = "tool"    // dehookers, pliers, cutters
	GearFloat     GearKind = "float"
	GearBalloon   GearKind = "balloon"
	GearHelium    GearKind = "helium"
	GearSeaAnchor GearKind = "sea anchor"
	GearSafety    GearKind = "safety"
	GearOther     GearKind = "other"
)

// GearKinds lists the kinds.
func GearKinds() []GearKind {
	return []GearKind{GearKite, GearKiteRod, GearRod, GearSightRod, GearLeader, GearLead, GearClip, GearHook, GearRigging, GearTool, GearFloat,
		GearBalloon, GearHelium, GearSeaAnchor, GearSafety, GearOther}
}

// Gear is a piece of the captain's own gear with its place.
type Gear struct {
	Kind GearKind
	// Name is the captain's word; for a kite it is the kite's name.
	Name  string
	Count int
	Stow  string
	// Position is where in the spread it is used: "short", "middle", "long",
	// "left", "right", "flat line", "mid rod", "bottom rod", "pitch".
	Position string
}
