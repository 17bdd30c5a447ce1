package words

// spanishReports are what people on the water report.
func spanishReports() map[string]string {
	return map[string]string{
		"report.fish_on_top":  "peces en la superficie el {0}",
		"report.showering":    "carnada saltando",
		"report.no_showering": "sin carnada saltando",
		"report.edge_in":      "el borde de la corriente está al alcance",
		"report.edge_out":     "el borde de la corriente está fuera de alcance",
		"report.edge_depth":   "el borde de la corriente está en {0}",
		"report.water":        "agua: {0}",
		"report.inlet":        "bocana peligrosa desde las {0}",
	}
}
