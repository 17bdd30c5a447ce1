package scoring

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/testdata"
	"forecastd/internal/words"
)

// BenchmarkJudgingGivenPhysics grades, closes, plans and counts 10 days of 31
// members whose physics is worked out: the budget is 20 ms (design.md 10).
func BenchmarkJudgingGivenPhysics(b *testing.B) {
	raw, err := os.ReadFile(filepath.Join(testdata.Cases(b), "outlooks", "day-08.json"))
	require.NoError(b, err)
	o, err := words.ReadOutlook(raw)
	require.NoError(b, err)
	for len(o.Middle.Hours) < 24 {
		h := o.Middle.Hours[len(o.Middle.Hours)-1]
		h.At = h.At.Add(time.Hour)
		o.Middle.Hours = append(o.Middle.Hours, h)
	}
	s := newSite(o, models.DefaultLimits())
	v := s.view(false)
	require.Len(b, v.members, courses)
	require.True(b, v.plan.going)
	for b.Loop() {
		for range 10 {
			for _, m := range v.members {
				for i := range m {
					s.judge(&m[i])
				}
			}
			s.close(v)
			c := models.Call{}
			c.Agreement = s.agreement(&v.plan, v.trip, v.members, 1)
			c.Hours = s.hourCalls(v, false)
		}
	}
}
