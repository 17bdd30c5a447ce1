package store_test

import (
	"context"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/sched"
	"forecastd/internal/store"
)

// The scheduler over the real file, both stopped and opened again in between,
// in the middle of a run too: each evening once.
func TestTheSchedulerOverTheStore(t *testing.T) {
	path := filepath.Join(t.TempDir(), store.FileName)
	synctest.Test(t, func(t *testing.T) { // the bubble begins on 2000-01-01 00:00 UTC
		ctx := t.Context()
		live := func(d time.Duration) {
			s, err := store.Open(ctx, store.Options{Path: path})
			require.NoError(t, err)
			_, err = s.CloseRuns(ctx)
			require.NoError(t, err)
			r, err := sched.New(sched.Options{Ledger: s})
			require.NoError(t, err)
			require.NoError(t, r.Add(sched.Job{
				Name: "evening", Schedule: sched.Daily{At: models.Clock{Hour: 17}, Zone: time.UTC}, Timeout: time.Hour, Late: 4 * time.Hour,
				Do: func(ctx context.Context, run *models.Run) error {
					run.Account = []byte(`{"sources":2}`)
					select {
					case <-time.After(10 * time.Minute):
						return nil
					case <-ctx.Done():
						return ctx.Err()
					}
				},
			}))
			require.NoError(t, r.Start(ctx))
			time.Sleep(d)
			require.NoError(t, r.Stop(ctx))
			require.NoError(t, s.Close())
		}
		live(17*time.Hour + 5*time.Minute) // ends in the middle of the first evening
		live(20 * time.Minute)             // makes up for it
		live(22 * time.Hour)
		time.Sleep(2 * time.Hour) // down when the second is due
		live(time.Hour)
		live(24 * time.Hour)

		s, err := store.Open(ctx, store.Options{Path: path})
		require.NoError(t, err)
		defer s.Close()
		runs, err := s.Runs(ctx, "evening", 10)
		require.NoError(t, err)
		var got []string
		for _, r := range runs {
			require.JSONEq(t, `{"sources":2}`, string(r.Account))
			got = append(got, r.Due.Format("02 15:04 ")+string(r.Trigger)+" "+string(r.Outcome))
		}
		require.Equal(t, []string{
			"03 17:00 scheduled ok", "02 17:00 late ok", "01 17:00 late ok", "01 17:00 scheduled cancelled",
		}, got)
	})
}
