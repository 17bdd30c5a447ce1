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
