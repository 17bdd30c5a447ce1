package app_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/app"
	"forecastd/internal/models"
)

// oneLine is a text as if no line of it had been broken.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

// held is what a call of tomorrow counts on.
func held(t require.TestingT, ctx context.Context, a *app.App) models.BaitCount {
	list, _, err := a.CallsByHand(ctx, app.CallRequest{})
	require.NoError(t, err)
	plan, ok := list[0].Call.Bait.Get()
	require.True(t, ok)
	n, ok := plan.InPen.Get()
	require.True(t, ok)
	return n
}

// A count is of what was counted: the other lots go on dying from the day on
// which they were.
func TestCountingOneKindBringsNoOtherBack(t *testing.T) {
	now := evening().AddDate(0, 0, -1)
	a, _ := keeping(t, func() time.Time { return now })
	count := func(kind string, n int) {
		_, err := a.Bait(t.Context(), "", models.Tally{Kind: kind, Count: n})
		require.NoError(t, err)
	}
	count("goggle-eye", 0) // the configuration's
	count("herring", 100)
	now = evening()
	before := held(t, t.Context(), a)
	// By hand: hook-caught, 7.5 % a day (common practice, no source) for two days.
	require.Equal(t, models.BaitCount{Hardy: 85}, before)
	count("pilchard", 1)
	require.Equal(t, 85, held(t, t.Context(), a).Hardy)
	count("herring", 80) // counted anew: a day's loss from now
	require.Equal(t, 74, held(t, t.Context(), a).Hardy)
}

func TestTheTradesWordsNameOneKind(t *testing.T) {
	a, st := keeping(t, evening)
	pen := func() models.Pen {
		p, err := st.Pen(t.Context(), demoPort, evening())
		require.NoError(t, err)
		return p.Or(models.Pen{})
	}
	for _, word := range []string{"goggle eye", "gogs", "Goggle-Eyes", "gog", "GOGGLEEYE", "ojón"} {
		told, err := a.Bait(t.Context(), "", models.Tally{Kind: word, Count: 40})
		require.NoError(t, err)
		require.Len(t, pen().Stock, 1, "%s: %s", word, told)
		require.Equal(t, "goggle-eye", pen().Stock[0].Kind)
		require.Equal(t, models.BaitSeasoned, pen().Stock[0].Source, "the configuration's pen is what was counted")
	}
	// A source that differs puts the only lot right; another lot is asked for.
	_, err := a.Bait(t.Context(), "", models.Tally{Kind: "gogs", Count: 40, Source: models.BaitNetted})
	require.NoError(t, err)
	require.Len(t, pen().Stock, 1)
	_, err = a.Bait(t.Context(), "", models.Tally{Kind: "gogs", Count: 25, Source: models.BaitHooked, Another: true})
	require.NoError(t, err)
	require.Len(t, pen().Stock, 2)
	_, err = a.Bait(t.Context(), "", models.Tally{Kind: "gogs", Count: 50})
	require.EqualError(t, err, "there are several lots of goggle-eye (40 netted, 25 hooked): say which was counted, as -source hooked, or -another for one more")
	_, err = a.Bait(t.Context(), "", models.Tally{Kind: "gogs"})
	require.NoError(t, err)
	require.Empty(t, pen().Stock, "none is none of any lot")

	// What nobody knows is told, and counts for no trip.
	told, err := a.Bait(t.Context(), "", models.Tally{Kind: "Sea Monkeys", Count: 500})
	require.NoError(t, err)
	require.Contains(t, told, `"sea monkeys" is a kind that nobody knows: it counts for no trip. Known are goggle-eye, runner, herring`)
	require.Equal(t, models.BaitCount{}, held(t, t.Context(), a))
	c, err := a.CallFor(t.Context(), app.CallRequest{})
	require.NoError(t, err)
	require.Contains(t, oneLine(app.CallsText([]app.Called{c}, false)), "sea monkeys are in the pen, a kind that is not known here")
}
