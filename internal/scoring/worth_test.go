package scoring

import (
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
)

// Against every stretch of whole minutes: a day is worth leaving where one of
// them is, and by the minute that is answered one has been.
func TestWorthLeavingIsThatOfTheBestStretch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := &site{lim: models.DefaultLimits()}
		d := &day{n: 96}
		for i := 0; i < d.n; {
			worth := rapid.SampledFrom([]float64{-0.2, 0, 0, 0.03, 0.05, 0.07, 0.4}).Draw(t, "worth")
			for range rapid.IntRange(1, 12).Draw(t, "steps") {
				if i < d.n {
					d.fish[i+1] = d.fish[i] + worth*step/60
					i++
				}
			}
		}
		least := rapid.IntRange(step, 200).Draw(t, "least")
		start := rapid.IntRange(0, 1000).Draw(t, "start")
		end := rapid.IntRange(start, 1440).Draw(t, "end")
		worth := func(from, to int) bool {
			return d.fishUntil(float64(to))-d.fishUntil(float64(from)) >= s.lim.Weights.WorthLeaving*float64(to-from)/60-1e-9
		}
		first := farFuture
		for from := start; from+least <= end; from++ {
			for to := from + least; to <= end && to < first; to++ {
				if worth(from, to) {
					first = to
				}
			}
		}
		got := s.worthBy(d, trip{least: float64(least)}, float64(start), float64(end))
		if first == farFuture {
			require.Equal(t, float64(farFuture), got)
			return
		}
		require.LessOrEqual(t, got, float64(end))
		require.GreaterOrEqual(t, got, float64(first)-1, "no stretch was worth it so early")

		// A later start or an earlier end never makes a day worth leaving.
		inner := s.worthBy(d, trip{least: float64(least)}, float64(start+rapid.IntRange(0, 30).Draw(t, "later")), float64(end-rapid.IntRange(0, 30).Draw(t, "sooner")))
		require.True(t, inner == farFuture || got <= float64(end))
	})
}
