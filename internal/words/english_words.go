package words

// englishWords are the words of our own: most are told in English as the
// model has them.
func englishWords() map[string]string {
	all := map[string]string{}
	for _, w := range ownWords() {
		all["word."+w] = w
	}
	all["word.jumpers"] = "free jumpers"
	all["word.tailing"] = "tailing fish"
	all["word.showering"] = "showering bait"
	return all
}

// ownWords are the words that the model and the judgement use for what they
// find, and the plain names of gear and bait.
func ownWords() []string {
	return []string{
		"unknown",
		// Grades and rides.
		"no", "poor", "fair", "good", "easy", "ok", "rough",
		// What the boat does, and tactics.
		"dock", "kite", "helium kite", "sight cast", "either", "inside", "no-go", "kite then sight cast", "sight cast then kite", "stay in",
		"as booked", "start earlier", "start later", "come back early",
		"sure", "likely", "toss-up", "doubtful",
		"go", "rough-ride note", "shorten", "fish in the lee", "move", "cancel",
		// The trip and the boat.
		"charter", "tournament", "own", "experienced", "mixed", "family", "center console", "sportfish",
		// Reports.
		"peak", "spring run", "tail end", "off", "clear", "clean green", "blue edge", "dirty", "today", "yesterday",
		"jumpers", "tailing", "showering",
		// Light, fronts and how the wind is carried up.
		"in the eyes", "to the side", "behind", "first", "second", "third",
		"stability", "neutral log law", "power law 0.11",
		// The spread.
		"left", "right", "long", "middle", "short", "flat line", "mid rod", "bottom rod", "pitch",
		// Gear and bait.
		"light", "ordinary", "all-round", "heavy", "rod", "kite rod", "pitch rod", "leader", "lead", "release clip", "float", "balloon", "helium bottle", "sea anchor",
		"live well", "life jackets, flares, radio and first aid",
		"goggle-eye", "runner", "herring", "small herring", "sardine", "ballyhoo", "pilchard", "pinfish",
		"goggle-eye, runner or herring", "ballyhoo or pilchard",
		// Factors.
		"wind", "gust spread", "gust", "direction spread", "rain", "thunder", "drift through the water", "sea", "crew", "own kites",
		"tailing wind", "wind against current", "current", "faces", "edge in reach", "water", "season", "fish on top", "showering bait",
		"sun", "cloud", "glare", "cast", "weather", "sight", "period", "ride",
		// Inputs that may be missing, and why.
		"gusts", "seas", "wave period", "inlet stream", "visibility",
		"no source gives wind for every hour of the trip", "no source gives gusts for every hour of the trip", "no source gives seas for every hour of the trip",
		"the seas come without a period", "no source gives the current on the ground", "no tidal stream for the inlet",
		"no source gives the chance of thunder", "no source gives cloud", "no source gives visibility",
	}
}
