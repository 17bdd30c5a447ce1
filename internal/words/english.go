package words

// english is the catalogue of phrases: keys as the judgement names them,
// texts with {0}, {1} for the values.
func english() map[string]string {
	return map[string]string{
		"kite.fits":           "{0}: {1} above its least wind, {2} below its most",
		"kite.gusts_over":     "{0}: gusts of {1} are over its limit of {2}",
		"kite.lulls_under":    "{0}: lulls of {1} are under the {2} it needs",
		"kite.helium_missing": "{0}: lulls of {1} need helium, and none is aboard",
		"kite.helium_needed":  "{0}: lulls of {1} need a balloon on its back",
		"kite.unknown_range":  "no kite of a known range: give its size and mass, or its least and most wind",
	}
}
