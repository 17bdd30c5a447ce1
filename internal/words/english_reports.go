package words

// englishReports are what people on the water report.
func englishReports() map[string]string {
	return map[string]string{
		"report.fish_on_top":  "fish on top on {0}",
		"report.showering":    "bait showering",
		"report.no_showering": "no bait showering",
		"report.edge_in":      "edge in reach",
		"report.edge_out":     "edge out of reach",
		"report.edge_depth":   "edge in {0}",
		"report.water":        "water {0}",
		"report.inlet":        "inlet dangerous from {0}",
	}
}
