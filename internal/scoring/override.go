package scoring

import (
	"fmt"
	"strings"

	"forecastd/internal/models"
)

// CheckOverride tells why an override of this wording would lift nothing;
// listed are the official products in force or coming, which may be named
// besides our own limits.
func CheckOverride(what string, listed []models.Warning) error {
	text := strings.ToLower(strings.Join(strings.Fields(what), " "))
	if strings.Contains(text, "thunder") || strings.Contains(text, "lightning") {
		return fmt.Errorf("%q can't be overridden: under thunder kites come down and nobody goes", what)
	}
	rule, known := ruleNamed(text, listed)
	if byName := (models.Warning{Event: text}).Rule(); byName != models.ProductAdvisory && byName > rule {
		rule, known = byName, true
	}
	switch {
	case known && rule == models.ProductNobody:
		return fmt.Errorf("%q can't be overridden: under it nobody goes", what)
	case known && rule == models.ProductWatch, strings.Contains(text, "watch"):
		return fmt.Errorf("%q can't be overridden: a watch is answered by being back before its onset, or by staying in", what)
	case len(overridden(text)) > 0, known && rule == models.ProductAdvisory:
		return nil
	case known:
		return fmt.Errorf("%q closes nothing by itself: there is nothing to override", what)
	}
	if (models.Warning{Event: text}).Rule() == models.ProductShown {
		return fmt.Errorf("%q closes nothing by itself: there is nothing to override", what)
	}
	return fmt.Errorf("%q is neither a limit of ours nor an official product that is known by that name", what)
}

// ruleNamed is the gravest rule of the products that a text names: those
// listed, and those of the sea by their official names.
func ruleNamed(text string, listed []models.Warning) (rule models.ProductRule, known bool) {
	take := func(w models.Warning) {
		if !known || w.Rule() > rule {
			rule, known = w.Rule(), true
		}
	}
	for _, w := range listed {
		if names(text, named(w)) {
			take(w)
		}
	}
	for code, name := range phenomena() {
		for sig, word := range map[string]string{"W": "warning", "A": "watch", "Y": "advisory"} {
			if strings.Contains(text, strings.ToLower(name)+" "+word) {
				take(models.Warning{Phenomenon: code, Significance: sig})
			}
		}
	}
	return rule, known
}
