package scoring

import (
	"strings"

	"forecastd/internal/models"
)

// named gives a product that came without a name the one of its codes.
func named(w models.Warning) models.Warning {
	if strings.TrimSpace(w.Event) != "" {
		return w
	}
	phen, sig := w.Codes()
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

func specialMarine(w models.Warning) bool {
	phen, _ := w.Codes()
	return phen == "MA" || phen == "" && strings.Contains(strings.ToLower(w.Event), "special marine")
}
