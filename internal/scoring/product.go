package scoring

import (
	"strings"

	"forecastd/internal/models"
)

// product is what an official product does to a charter (design.md 6).
type product int

const (
	// shown: sea and inlet judge, the product is shown.
	shown product = iota
	// fog: the visibility rule judges.
	fog
	// advisory: stays in unless the captain overrides and says why.
	advisory
	// watch: back before its onset, else stay in.
	watch
	// nobody goes.
	nobody
)

// productOf judges a product by its VTEC codes, and by its event name where
// it has none. Codes as in NWS Directive 10-1703 (from memory).
func productOf(w models.Warning) product {
	phen, sig := w.Phenomenon, w.Significance
	if phen == "" {
		phen, sig = codes(w.VTEC)
	}
	if phen == "" {
		return productByName(w.Event)
	}
	switch phen {
	case "GL", "SR": // gale, storm
		if sig == "A" {
			return watch
		}
		return nobody
	case "HF", "HU", "TR", "TY", "TI", "HI", "EW", "TS": // hurricane force wind, hurricane, tropical storm, typhoon, inland tropical and hurricane wind, extreme wind, tsunami
		return nobody
	case "MA": // special marine warning
		return nobody
	case "SE": // hazardous seas
		if sig == "A" {
			return watch
		}
		return advisory
	case "FG", "MF", "ZF": // dense fog, on land, at sea, freezing
		return fog
	case "RP", "SU", "BH", "CF", "LS", "FA", "FF", "FL", "HY", "SS", // rip current, surf, beach, coastal, lakeshore and other floods, surge
		"HT", "EH", "XH", "EC", "WC", "CW", "FR", "FZ", "HZ", // heat and cold
		"AQ", "AS", "FW", "DU", "DS", "AF", // air, fire weather, dust, ash
		"WI", "HW", "LW", // wind over land and lakes on land
		"WS", "WW", "BZ", "IS", "LE", "ZR", "SQ": // winter on land
		return shown
	}
	return advisory
}

// codes reads phenomenon and significance from a P-VTEC string such as
// "/O.NEW.KMFL.SC.Y.0012.270309T1900Z-270310T1100Z/".
func codes(vtec string) (phen, sig string) {
	f := strings.Split(strings.Trim(vtec, "/ \n"), ".")
	if len(f) < 5 {
		return "", ""
	}
	return f[3], f[4]
}

// named gives a product that came without a name the one of its codes.
func named(w models.Warning) models.Warning {
	if strings.TrimSpace(w.Event) != "" {
		return w
	}
	phen, sig := w.Phenomenon, w.Significance
	if phen == "" {
		phen, sig = codes(w.VTEC)
	}
	what, ok := phenomena()[phen]
	kind, okKind := map[string]string{"W": "Warning", "A": "Watch", "Y": "Advisory", "S": "Statement"}[sig]
	switch {
	case ok && okKind:
		w.Event = what + " " + kind
	case phen != "":
		w.Event = "Official product " + phen + "." + sig
	default:
		w.Event = "Official product without a name"
	}
	return w
}

// phenomena names the codes of marine products: NWS Directive 10-1703 (from
// memory).
func phenomena() map[string]string {
	return map[string]string{
		"SC": "Small Craft", "SW": "Small Craft For Hazardous Seas", "SI": "Small Craft For Winds", "RB": "Small Craft For Rough Bar",
		"GL": "Gale", "SR": "Storm", "HF": "Hurricane Force Wind", "HU": "Hurricane", "TR": "Tropical Storm", "TY": "Typhoon",
		"MA": "Special Marine", "SE": "Hazardous Seas", "FG": "Dense Fog", "MF": "Dense Fog", "ZF": "Freezing Fog", "MS": "Dense Smoke",
		"MH": "Ashfall", "BW": "Brisk Wind", "UP": "Freezing Spray", "LO": "Low Water", "TS": "Tsunami", "EW": "Extreme Wind",
		"SU": "High Surf", "RP": "Rip Current", "BH": "Beach Hazards", "CF": "Coastal Flood", "SS": "Storm Surge",
	}
}

// cancelled tells whether the product's VTEC says that it is over.
func cancelled(w models.Warning) bool {
	f := strings.Split(strings.Trim(w.VTEC, "/ \n"), ".")
	return len(f) >= 2 && (f[1] == "CAN" || f[1] == "EXP" || f[1] == "UPG")
}

func productByName(event string) product {
	e := strings.ToLower(event)
	has := func(words ...string) bool {
		for _, w := range words {
			if strings.Contains(e, w) {
				return true
			}
		}
		return false
	}
	switch {
	case has("test message", "required weekly test", "required monthly test"):
		return shown
	case has("special marine", "hurricane", "tropical", "typhoon", "extreme wind", "tsunami warning"):
		return nobody
	case has("gale", "storm warning", "storm watch") && !has("thunderstorm", "winter", "ice storm", "dust", "surge"):
		if has("watch") {
			return watch
		}
		return nobody
	case has("hazardous seas watch"):
		return watch
	case has("dense fog", "freezing fog"):
		return fog
	case has("exercise caution"):
		return shown
	case has("rip current", "high surf", "surf", "beach", "flood", "surge", "heat", "cold", "air quality", "air stagnation",
		"frost", "freeze", "wind chill", "red flag", "fire weather", "dust", "ashfall", "winter", "blizzard", "ice storm", "snow", "lake wind", "hydrologic"):
		return shown
	}
	return advisory
}

func specialMarine(w models.Warning) bool {
	phen := w.Phenomenon
	if phen == "" {
		phen, _ = codes(w.VTEC)
	}
	return phen == "MA" || phen == "" && strings.Contains(strings.ToLower(w.Event), "special marine")
}
