package config

import (
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Pen is a bait pen or well, with its last count.
type Pen struct {
	Name, Bait string
	Count      int
	Counted    models.Date
	// Seasoned baits have been kept long enough to be hardy.
	Seasoned bool
}

func readBoat(t *table) models.Boat {
	b := t.must("boat", "the boat's own keys below it")
	if b.vals == nil {
		return models.Boat{}
	}
	boat := models.Boat{
		Name:         need(b, "name", text("the boat's name")),
		Kind:         need(b, "kind", word("a kind of boat", models.BoatKinds()...)),
		Length:       need(b, "length", height(15*units.Foot, 120*units.Foot)),
		Tower:        need(b, "tower", height(3*units.Foot, 60*units.Foot)),
		Crew:         need(b, "crew", count(1, 12)),
		HeliumAboard: want(b, "helium", yes(), false),
		SeaAnchor:    want(b, "sea_anchor", yes(), false),
		Cruise:       maybe(b, "cruise", speed(3*units.Knot, 70*units.Knot)),
		FuelPerHour:  maybe(b, "fuel_per_hour", flow(1*litresPerGallon, 500*litresPerGallon)),
		FuelUsable:   maybe(b, "fuel_usable", volume(5*litresPerGallon, 5000*litresPerGallon)),
		Passengers:   maybe(b, "passengers", count(0, 149)),
		Phone:        maybe(b, "phone", code("a telephone number", `\+?[0-9][0-9 ().-]{4,24}`, "digits, blanks and dashes, as +1 555 0100")).Or(""),
		ReplyTo:      maybe(b, "reply_to", email()).Or(""),
	}
	b.done()
	return boat
}

func readKites(t *table) []models.Kite {
	var out []models.Kite
	names := map[string]bool{}
	for _, k := range t.list("kites", "the captain's own kites, one behind each dash", optional) {
		if k.vals == nil {
			continue
		}
		wind := speed(0, 60*units.Knot)
		kite := models.Kite{
			Name:   need(k, "name", text("the captain's own word for the kite")),
			Area:   maybe(k, "area", area(0.2, 10)),
			Aspect: maybe(k, "aspect", ratio(0.2, 8)),
			Mass:   maybe(k, "mass", mass(0.5*units.Ounce, 160*units.Ounce)),
			Min:    maybe(k, "min", wind),
			Max:    maybe(k, "max", wind),
			Line:   maybe(k, "line", force(40, 3000)),
		}
		unique(names, k, "name", kite.Name)
		lo, hasMin := kite.Min.Get()
		hi, hasMax := kite.Max.Get()
		switch {
		case hasMin && hasMax && lo >= hi:
			k.fail("max", "must be above min, %s", wind.show(lo))
		case hasMin != hasMax && k.ok("min", "max"):
			k.fail("name", "has one end of a wind range only: write both min and max")
		case !hasMin && (!kite.Area.Known() || !kite.Mass.Known()) && k.ok("min", "max", "area", "mass"):
			k.fail("name", "says neither how large nor for what wind: write min and max, or area and mass")
		}
		k.done()
		out = append(out, kite)
	}
	return out
}

func readGear(t *table) []models.Gear {
	var out []models.Gear
	for _, g := range t.list("gear", "what goes aboard, one thing behind each dash", optional) {
		if g.vals == nil {
			continue
		}
		out = append(out, models.Gear{
			Kind:     need(g, "kind", word("a kind of gear", models.GearKinds()...)),
			Name:     need(g, "what", text("the captain's own word for it; for a kite, the kite's name")),
			Count:    want(g, "count", count(1, 1000), 1),
			Stow:     need(g, "stow", text("where it lives aboard")),
			Position: maybe(g, "position", word("a position in the spread", positions()...)).Or(""),
		})
		g.done()
	}
	return out
}

// positions are the places in a spread.
func positions() []string {
	return []string{"short", "middle", "long", "flat line", "mid rod", "bottom rod", "pitch"}
}

func readPens(t *table) []Pen {
	var out []Pen
	names := map[string]bool{}
	for _, p := range t.list("pens", "the bait pens, one behind each dash", optional) {
		if p.vals == nil {
			continue
		}
		pen := Pen{
			Name:     need(p, "name", text("the pen's name")),
			Bait:     need(p, "bait", text("the kind of bait in it, as goggle-eye")),
			Count:    need(p, "count", count(0, 100000)),
			Counted:  need(p, "counted", date()),
			Seasoned: want(p, "seasoned", yes(), false),
		}
		unique(names, p, "name", pen.Name)
		p.done()
		out = append(out, pen)
	}
	return out
}
