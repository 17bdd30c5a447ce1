package app_test

import (
	"net/http"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
)

// A round in which no source answered is no success: not in the log, not in
// the records, not in the metrics.
func TestACollectThatNobodyAnsweredFailed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening())
		d := start(t, serveOptions(t, daemonConfig(t, ""), now, transportFunc(func(r *http.Request) (*http.Response, error) {
			return response(r, http.StatusInternalServerError, "{}"), nil
		}), &mailbag{now: now}))
		defer halt(t, d)
		time.Sleep(21 * time.Minute)
		require.Positive(t, sample(t, d, `forecastd_job_runs_total{job="collect Port Amparo",outcome="failed"}`))
		require.Zero(t, sample(t, d, `forecastd_job_runs_total{job="collect Port Amparo",outcome="ok"}`))
		require.ErrorContains(t, d.RunNow(t.Context(), "collect Port Amparo"), "none of the 3 sources for the Shelf edge answered; the first says: nws alerts: ")
	})
}
