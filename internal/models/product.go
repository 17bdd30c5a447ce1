package models

import (
	"slices"
	"strings"
)

// ProductRule is what an official product does to a charter (design.md 6).
type ProductRule int

// Rules, the mildest first.
const (
	// ProductShown: sea and inlet judge, the product is shown.
	ProductShown ProductRule = iota
	// ProductFog: the visibility rule judges.
	ProductFog
	// ProductAdvisory: stays in unless the captain overrides and says why.
	ProductAdvisory
	// ProductWatch: back before its onset, else stay in.
	ProductWatch
	// ProductNobody: nobody goes.
	ProductNobody
)

// Codes answers phenomenon and significance of a product: those read by its
// source, or those of its VTEC string; empty where it has neither.
func (w Warning) Codes() (phenomenon, significance string) {
	if w.Phenomenon != "" {
		return w.Phenomenon, w.Significance
	}
	f := strings.Split(strings.Trim(w.VTEC, "/ \n"), ".")
	if len(f) < 5 {
		return "", ""
	}
	return f[3], f[4]
}

// Rule judges a product by its VTEC codes, and by its event name where it has
// none. Codes as in NWS Directive 10-1703 (from memory).
func (w Warning) Rule() ProductRule {
	phen, sig := w.Codes()
	if phen == "" {
		return ruleByName(w.Event)
	}
	switch phen {
	case "GL", "SR": // gale, storm
		if sig == "A" {
			return ProductWatch
		}
		return ProductNobody
	case "HF", "HU", "TR", "TY", "TI", "HI", "EW", "TS": // hurricane force wind, hurricane, tropical storm, typhoon, inland tropical and hurricane wind, extreme wind, tsunami
		return ProductNobody
	case "MA": // special marine warning
		return ProductNobody
	case "SE": // hazardous seas
		if sig == "A" {
			return ProductWatch
		}
		return ProductAdvisory
	case "FG", "MF", "ZF": // dense fog, on land, at sea, freezing
		return ProductFog
	case "RP", "SU", "BH", "CF", "LS", "FA", "FF", "FL", "HY", "SS", // rip current, surf, beach, coastal, lakeshore and other floods, surge
		"HT", "EH", "XH", "EC", "WC", "CW", "FR", "FZ", "HZ", // heat and cold
		"AQ", "AS", "FW", "DU", "DS", "AF", // air, fire weather, dust, ash
		"WI", "HW", "LW", // wind over land and lakes on land
		"WS", "WW", "BZ", "IS", "LE", "ZR", "SQ": // winter on land
		return ProductShown
	}
	return ProductAdvisory
}

func ruleByName(event string) ProductRule {
	e := strings.ToLower(event)
	switch {
	case hasAny(e, "test message", "required weekly test", "required monthly test"):
		return ProductShown
	case hasAny(e, "special marine", "hurricane", "tropical", "typhoon", "extreme wind", "tsunami warning"):
		return ProductNobody
	case hasAny(e, "gale", "storm warning", "storm watch") && !hasAny(e, "thunderstorm", "winter", "ice storm", "dust", "surge"):
		if hasAny(e, "watch") {
			return ProductWatch
		}
		return ProductNobody
	case hasAny(e, "hazardous seas watch"):
		return ProductWatch
	case hasAny(e, "dense fog", "freezing fog"):
		return ProductFog
	case hasAny(e, "exercise caution"):
		return ProductShown
	case hasAny(e, "rip current", "high surf", "surf", "beach", "flood", "surge", "heat", "cold", "air quality", "air stagnation",
		"frost", "freeze", "wind chill", "red flag", "fire weather", "dust", "ashfall", "winter", "blizzard", "ice storm", "snow", "lake wind", "hydrologic"):
		return ProductShown
	}
	return ProductAdvisory
}

func hasAny(s string, words ...string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(s, w) })
}

// Gravity puts official products in order for people, the gravest highest:
// first by what they do to a charter, then warnings before watches, then by
// the wind that they stand for. Products of the land and the beach come after
// all those of the sea. The order within a rule is our own choice.
func (w Warning) Gravity() int {
	const step = 100
	rule := w.Rule()
	grave := int(rule) * step
	if rule == ProductShown && hasAny(strings.ToLower(w.Event), "exercise caution", "marine") {
		return step / 2 // of the sea, though it closes nothing
	}
	if rule != ProductNobody {
		return grave
	}
	phen, sig := w.Codes()
	e := strings.ToLower(w.Event)
	for i, k := range gravest() {
		if phen != "" && slices.Contains(k.codes, phen) || phen == "" && hasAny(e, k.names...) {
			grave += 2 * (len(gravest()) - i)
			break
		}
	}
	if sig == "A" || sig == "" && hasAny(e, "watch") {
		return grave
	}
	return grave + step/2
}

// gravest are the kinds under which nobody goes, by the wind or water they
// stand for: hurricane 64 kn, storm 48 kn, gale 34 kn (NWS Instruction 10-303,
// from memory).
func gravest() []struct{ codes, names []string } {
	return []struct{ codes, names []string }{
		{[]string{"TS"}, []string{"tsunami"}},
		{[]string{"EW"}, []string{"extreme wind"}},
		{[]string{"HF", "HU", "TY", "HI"}, []string{"hurricane", "typhoon"}},
		{[]string{"SR", "TR", "TI"}, []string{"tropical", "storm"}},
		{[]string{"MA"}, []string{"special marine"}},
		{[]string{"GL"}, []string{"gale"}},
	}
}

// OfTheSea tells whether a product speaks of the sea: those of the land and the
// beach are shown, but get nobody out of bed.
func (w Warning) OfTheSea() bool { return w.Gravity() > 0 }

// GravestFirst puts products in order, the gravest first and of equals the one
// that begins first. It changes the list.
func GravestFirst(list []Warning) {
	slices.SortStableFunc(list, CompareGravity)
}

// DuringGravestFirst are the products that hold at any time of an interval, the
// gravest first.
func DuringGravestFirst(list []Warning, i Interval) []Warning {
	kept := slices.DeleteFunc(slices.Clone(list), func(w Warning) bool { return !w.During(i) })
	GravestFirst(kept)
	return kept
}

// CompareGravity is negative where a goes before b.
func CompareGravity(a, b Warning) int {
	if d := b.Gravity() - a.Gravity(); d != 0 {
		return d
	}
	return a.Onset.Compare(b.Onset)
}
