package scoring_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/scoring"
)

// Common practice, no source: rods and kites serve both trips of a day, bait
// and leaders do not come back.
func TestLoadOfDay(t *testing.T) {
	item := func(what string, n int, stow, position string) models.LoadItem {
		return models.LoadItem{What: what, Count: n, Stow: stow, Position: position}
	}
	morning := []models.LoadItem{
		item("kite: light", 2, "bow", ""), item("rod, 16 lb", 1, "", "left long"), item("leader, 30 lb", 2, "", "left long"),
		item("pitch rod", 2, "", "pitch"), item("balloon", 3, "", ""), item("goggle-eye, runner or herring", 18, "live well", ""),
	}
	afternoon := []models.LoadItem{
		item("kite: light", 1, "bow", ""), item("kite: all-round", 2, "bow", ""), item("rod, 20 lb", 1, "", "left long"), item("leader, 30 lb", 2, "", "left long"),
		item("pitch rod", 4, "", "pitch"), item("goggle-eye, runner or herring", 30, "live well", ""),
	}
	require.Equal(t, morning, scoring.LoadOfDay([][]models.LoadItem{morning}), "one trip is as it is")
	require.Equal(t, morning, scoring.LoadOfDay([][]models.LoadItem{morning, nil}), "what stays in loads nothing")
	require.Empty(t, scoring.LoadOfDay([][]models.LoadItem{nil, nil}))
	require.Equal(t, []models.LoadItem{
		item("kite: light", 2, "bow", ""), item("rod, 16 lb", 1, "", "left long"), item("leader, 30 lb", 4, "", "left long"), item("rod, 20 lb", 1, "", "left long"),
		item("pitch rod", 4, "", "pitch"), item("balloon", 3, "", ""), item("goggle-eye, runner or herring", 48, "live well", ""), item("kite: all-round", 2, "bow", ""),
	}, scoring.LoadOfDay([][]models.LoadItem{morning, afternoon}))
	twice := []models.LoadItem{item("spare rod", 1, "", ""), item("spare rod", 1, "", "")}
	require.Equal(t, twice, scoring.LoadOfDay([][]models.LoadItem{twice, twice}), "two of the captain's own of one name stay two")
}
