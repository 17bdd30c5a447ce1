package models_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
)

// byGravity are products in the order of design.md 6, with their codes and by
// their names alone.
func byGravity() [][]models.Warning {
	one := func(event, phen, sig string) []models.Warning {
		return []models.Warning{{Event: event, Phenomenon: phen, Significance: sig}, {Event: event}}
	}
	return [][]models.Warning{
		one("Tsunami Warning", "TS", "W"),
		append(one("Hurricane Force Wind Warning", "HF", "W"), one("Hurricane Warning", "HU", "W")...),
		append(one("Storm Warning", "SR", "W"), one("Tropical Storm Warning", "TR", "W")...),
		one("Special Marine Warning", "MA", "W"),
		one("Gale Warning", "GL", "W"),
		one("Hurricane Watch", "HU", "A"),
		one("Tropical Storm Watch", "TR", "A"),
		append(one("Gale Watch", "GL", "A"), one("Hazardous Seas Watch", "SE", "A")...),
		append(one("Small Craft Advisory", "SC", "Y"), append(one("Hazardous Seas Warning", "SE", "W"), one("Unreadable Alert", "", "")...)...),
		one("Dense Fog Advisory", "MF", "Y"),
		{{Event: "Small Craft Exercise Caution"}},
		append(one("Rip Current Statement", "RP", "S"), append(one("High Surf Advisory", "SU", "Y"), append(one("Coastal Flood Statement", "CF", "S"), append(one("Heat Advisory", "HT", "Y"), one("Air Quality Alert", "AQ", "Y")...)...)...)...),
	}
}

func TestGravity(t *testing.T) {
	list := byGravity()
	for i, same := range list {
		for _, w := range same {
			require.Equal(t, same[0].Gravity(), w.Gravity(), "%s %s like %s", w.Event, w.Phenomenon, same[0].Event)
			require.Equal(t, i < len(list)-1, w.OfTheSea(), w.Event)
			for _, lighter := range list[i+1:] {
				for _, l := range lighter {
					require.Greater(t, w.Gravity(), l.Gravity(), "%s before %s", w.Event, l.Event)
				}
			}
		}
	}
}

// Gravity never contradicts what a product does to a charter, and the order
// does not depend on the order they came in.
func TestGravestFirst(t *testing.T) {
	all := slices.Concat(byGravity()...)
	noon := time.Date(2027, 1, 18, 12, 0, 0, 0, time.UTC)
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(rapid.SampledFrom(all), 0, 12).Draw(t, "products")
		for i := range list {
			list[i].Onset = noon.Add(time.Duration(rapid.IntRange(0, 48).Draw(t, "hours")) * time.Hour)
		}
		models.GravestFirst(list)
		for i := range list[:max(len(list)-1, 0)] {
			a, b := list[i], list[i+1]
			if a.Rule() < b.Rule() || a.Gravity() == b.Gravity() && a.Onset.After(b.Onset) {
				t.Fatalf("%s stands before %s", a.Event, b.Event)
			}
		}
	})
}
