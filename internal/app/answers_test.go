package app_test

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/app"
	"forecastd/internal/models"
)

// A draft that the captain refuses, and one that nobody answers until it is
// too late, reach no guest.
func TestDraftsRefusedOrTooLateGoToNobody(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening().Add(-time.Hour))
		bag := &mailbag{now: now}
		o := serveOptions(t, daemonConfig(t, twoTrips), now, closedFrom(t, now, 10), bag)
		d := start(t, o)
		defer halt(t, d)
		time.Sleep(3 * time.Hour)
		drafts := openDrafts(t, o.State, now)
		require.Len(t, drafts, 2, "both trips are changed")
		with(t, o.State, now, func(a *app.App) {
			told, err := a.AnswerDraft(t.Context(), drafts[0].ID, false, "test")
			require.NoError(t, err)
			require.Contains(t, told, "refused")
			_, err = a.AnswerDraft(t.Context(), drafts[0].ID, true, "test")
			require.ErrorContains(t, err, "no open draft", "it is answered")
		})
		time.Sleep(time.Until(until(now, drafts[1].Expires.Add(time.Hour))))
		for _, left := range openDrafts(t, o.State, now) {
			require.NotEqual(t, drafts[1].ID, left.ID, "too old")
		}
		with(t, o.State, now, func(a *app.App) {
			_, err := a.AnswerDraft(t.Context(), drafts[1].ID, true, "test")
			require.ErrorContains(t, err, "out of date")
		})
		require.Empty(t, bag.of(models.NoticeGuests))
	})
}

// A clock that jumps ahead by a day and back again, as of a computer without a
// battery before it hears the time: whoever was told once is not told again,
// and once the clock is right each day has its evening.
func TestAClockThatJumps(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		right := shiftedClock(evening().Add(-3 * time.Hour))
		var jump time.Duration
		now := func() time.Time { return right().Add(jump) }
		bag := &mailbag{now: now}
		o := serveOptions(t, daemonConfig(t, ""), now, invented{now: right}, bag)
		d := start(t, o)
		time.Sleep(30 * time.Minute)
		halt(t, d)
		jump = 26 * time.Hour // wrong at the start
		d = start(t, o)
		time.Sleep(time.Hour)
		halt(t, d)
		jump = 0 // right again
		d = start(t, o)
		defer halt(t, d)
		time.Sleep(3 * 24 * time.Hour)
		evenings := map[string]int{}
		for _, m := range bag.of(models.NoticeCall) {
			if m.Reason == models.ReasonFirst {
				evenings[m.Key]++
			}
		}
		for key, n := range evenings {
			require.Equal(t, 1, n, key)
		}
		days := 0
		for key := range evenings {
			for _, day := range []string{"2027-01-19", "2027-01-20", "2027-01-21"} {
				if strings.Contains(key, day) {
					days++
				}
			}
		}
		require.Equal(t, 3, days, "%v", evenings)
	})
}
