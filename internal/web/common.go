package web

// commonTexts are those of the frame and of what went wrong.
func commonTexts() map[string]text {
	return map[string]text{
		"nav.tomorrow":    {"Tomorrow", "Mañana"},
		"nav.days":        {"Days", "Días"},
		"nav.drift":       {"Drift", "Deriva"},
		"nav.spread":      {"Spread", "Líneas"},
		"nav.charters":    {"Charters", "Salidas"},
		"nav.bait":        {"Bait", "Carnada"},
		"nav.reports":     {"Reports", "Avisos de a bordo"},
		"nav.log":         {"Log", "Bitácora"},
		"nav.sources":     {"Sources", "Fuentes"},
		"nav.score":       {"How we did", "Cómo acertamos"},
		"skip":            {"To the call", "Ir al contenido"},
		"title.error":     {"That did not work", "No se pudo"},
		"error.inside":    {"Something broke on our side. Try again; the daemon's log tells more.", "Algo falló de nuestro lado. Intente otra vez; el registro del servicio dice más."},
		"error.not found": {"There is no such page or day.", "No existe esa página o ese día."},
		"error.link":      {"This link was used before, is too old, or is not one of ours. Log in instead.", "Este enlace ya se usó, está vencido o no es nuestro. Inicie sesión."},
		"caution.rule":    {"Official warnings rule: listen to the weather radio. The decision is the licensed captain's.", "Los avisos oficiales mandan: escuche la radio meteorológica. La decisión es del capitán con licencia."},
	}
}
