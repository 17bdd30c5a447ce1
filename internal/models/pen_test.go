package models_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
)

// Over any counts on any days: counting a lot leaves the others as they are,
// each from its own count on, and there is one lot of a kind and source.
func TestCountingALotLeavesTheOthersAsTheyAre(t *testing.T) {
	kinds := models.BaitKinds()
	rapid.Check(t, func(t *rapid.T) {
		now := time.Date(2027, 1, 8, 22, 0, 0, 0, time.UTC)
		pen := models.Pen{Counted: now}
		for i := range rapid.IntRange(0, 4).Draw(t, "lots") {
			pen.Stock = append(pen.Stock, models.BaitStock{Kind: kinds[i].Name, Source: models.BaitHooked, Count: rapid.IntRange(1, 200).Draw(t, "count")})
		}
		for range rapid.IntRange(1, 5).Draw(t, "counts") {
			now = now.Add(time.Duration(rapid.IntRange(1, 48).Draw(t, "hours later")) * time.Hour)
			kind := rapid.SampledFrom(kinds[:4]).Draw(t, "kind")
			said := models.Tally{
				Kind: rapid.SampledFrom(append(kind.Also, kind.Name)).Draw(t, "word"), Count: rapid.IntRange(0, 200).Draw(t, "new count"),
				Source:  rapid.SampledFrom([]models.BaitSource{"", models.BaitHooked, models.BaitNetted}).Draw(t, "source"),
				Another: rapid.Bool().Draw(t, "another"),
			}
			after, err := pen.Count(said, now, models.DateOf(now, time.UTC))
			if err != nil {
				require.Regexp(t, "several lots|how it was come by", err.Error())
				continue
			}
			find := func(p models.Pen, kind string, source models.BaitSource) int {
				return slices.IndexFunc(p.Stock, func(s models.BaitStock) bool { return s.Kind == kind && s.Source == source })
			}
			for _, lot := range pen.Stock {
				if lot.Kind == kind.Name {
					continue
				}
				i := find(after, lot.Kind, lot.Source)
				require.GreaterOrEqual(t, i, 0)
				require.Equal(t, lot.Count, after.Stock[i].Count)
				require.Equal(t, pen.CountedAt(lot), after.CountedAt(after.Stock[i]))
			}
			seen := map[[2]string]bool{}
			for _, lot := range after.Stock {
				key := [2]string{lot.Kind, string(lot.Source)}
				require.False(t, seen[key], "two lots of one kind and source")
				seen[key] = true
			}
			pen = after
		}
	})
}

func TestNoWordNamesTwoKinds(t *testing.T) {
	for _, k := range models.BaitKinds() {
		for _, word := range append(k.Also, k.Name, k.Name+"s") {
			found, known := models.BaitKindOf(word)
			require.True(t, known, word)
			require.Equal(t, k.Name, found.Name, word)
		}
	}
}
