package outlook

// Drawn lists what is drawn where it is lacking.
func Drawn() []Lack {
	return []Lack{LackGust, LackSea, LackPeriod, LackCurrent, LackCloud, LackRain, LackThunder, LackVisibility, LackSpread}
}
