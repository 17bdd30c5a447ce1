package sched_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/sched"
)

// ledger keeps runs in memory, across restarts of the runner.
type ledger struct {
	mu   sync.Mutex
	runs []models.Run
	down bool
}

var _ sched.Ledger = (*ledger)(nil)

var errDown = errors.New("the ledger is down")

func (l *ledger) LastSuccess(_ context.Context, job string, notAfter time.Time) (models.Opt[time.Time], error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	last := models.Unknown[time.Time]()
	if l.down {
		return last, errDown
	}
	for _, r := range l.runs {
		if due, ok := last.Get(); r.Job == job && r.Outcome == models.RunOK && !r.Due.After(notAfter) && (!ok || r.Due.After(due)) {
			last = models.Known(r.Due)
		}
	}
	return last, nil
}

func (l *ledger) BeginRun(ctx context.Context, r models.Run) (int64, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.down || ctx.Err() != nil {
		return 0, errDown
	}
	r.ID = int64(len(l.runs) + 1)
	l.runs = append(l.runs, r)
	return r.ID, nil
}

func (l *ledger) EndRun(ctx context.Context, r models.Run) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.down || ctx.Err() != nil {
		return errDown
	}
	l.runs[r.ID-1] = r
	return nil
}

// of returns the runs of a job.
func (l *ledger) of(job string) []models.Run {
	l.mu.Lock()
	defer l.mu.Unlock()
	var out []models.Run
	for _, r := range l.runs {
		if r.Job == job {
			out = append(out, r)
		}
	}
	return out
}

func dues(runs []models.Run, outcome models.RunOutcome) []string {
	var out []string
	for _, r := range runs {
		if r.Outcome == outcome {
			out = append(out, r.Due.Format("01-02 15:04"))
		}
	}
	return out
}

func outcomes(runs []models.Run) []models.RunOutcome {
	var out []models.RunOutcome
	for _, r := range runs {
		out = append(out, r.Outcome)
	}
	return out
}

// clock is off the wall clock of the bubble, and may be set.
type clock struct {
	mu     sync.Mutex
	offset time.Duration
}

func startAt(start time.Time) *clock { return &clock{offset: time.Until(start)} }

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return time.Now().Add(c.offset)
}

func (c *clock) jump(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.offset += d
}

func run(t *testing.T, o sched.Options, jobs ...sched.Job) *sched.Runner {
	t.Helper()
	r, err := sched.New(o)
	require.NoError(t, err)
	for _, j := range jobs {
		require.NoError(t, r.Add(j))
	}
	require.NoError(t, r.Start(t.Context()))
	return r
}

func stop(t *testing.T, r *sched.Runner) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	require.NoError(t, r.Stop(ctx))
}

func works(context.Context, *models.Run) error { return nil }

func every(t *testing.T, period, offset time.Duration) sched.Schedule {
	t.Helper()
	e, err := sched.NewEvery(period, offset)
	require.NoError(t, err)
	return e
}

// Two weeks around each clock change, with the daemon stopped and started at
// random in between: each civil day has its evening and its morning once, at
// the time that the clock showed, and no later than the daemon could.
func TestTwoWeeksAroundEachClockChange(t *testing.T) {
	// source: IANA time zone database; the changes lie in the middle.
	for _, c := range []struct{ zone, from string }{
		{"America/New_York", "2026-03-01 12:00"},
		{"America/New_York", "2026-10-25 12:00"},
		{"Australia/Lord_Howe", "2026-09-26 12:00"},
		{"Australia/Lord_Howe", "2027-03-27 12:00"},
		{"America/Havana", "2026-03-01 12:00"},
		{"America/Havana", "2026-10-25 12:00"},
	} {
		t.Run(c.zone+" "+c.from, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				z := zone(t, c.zone)
				ck := startAt(at(t, c.from))
				kept := &ledger{}
				random := rand.New(rand.NewPCG(1, 2))
				clocks := map[string]models.Clock{
					"midnight": {}, "night": {Hour: 1, Minute: 45}, "gap": {Hour: 2, Minute: 10}, "evening": {Hour: 17, Minute: 30},
				}
				var jobs []sched.Job
				for name, at := range clocks {
					jobs = append(jobs, sched.Job{
						Name: name, Schedule: sched.Daily{At: at, Zone: z}, Timeout: time.Hour, Late: 6 * time.Hour,
						Do: func(ctx context.Context, _ *models.Run) error {
							select { // long enough to be cut off now and then
							case <-time.After(10 * time.Minute):
								return nil
							case <-ctx.Done():
								return ctx.Err()
							}
						},
					})
				}
				start := ck.now()
				for ck.now().Before(start.Add(14 * 24 * time.Hour)) {
					r := run(t, sched.Options{Ledger: kept, Now: ck.now}, jobs...)
					time.Sleep(time.Duration(random.Int64N(int64(20 * time.Hour))))
					stop(t, r)
					time.Sleep(time.Duration(random.Int64N(int64(5 * time.Hour))))
				}
				for name, at := range clocks {
					days := map[models.Date]int{}
					for _, r := range kept.of(name) {
						if r.Outcome != models.RunOK {
							continue
						}
						day := models.DateOf(r.Due, z)
						days[day]++
						require.Equal(t, at.On(day, z), r.Due)
						require.Less(t, r.Started.Sub(r.Due), 6*time.Hour)
					}
					first := models.DateOf(start, z).AddDays(1)
					for i := range 13 {
						require.Equal(t, 1, days[first.AddDays(i)], "%s on %s", name, first.AddDays(i))
					}
					require.LessOrEqual(t, len(days), 15)
				}
				require.NotEmpty(t, dues(kept.of("evening"), models.RunOK))
			})
		})
	}
}

func TestOnTheWallClock(t *testing.T) {
	synctest.Test(t, func(t *testing.T) { // the bubble begins on 2000-01-01 00:00 UTC
		kept := &ledger{}
		r := run(t, sched.Options{Ledger: kept},
			sched.Job{Name: "poll", Schedule: every(t, time.Hour, 20*time.Minute), Timeout: time.Minute, Do: works},
			sched.Job{Name: "evening", Schedule: sched.Daily{At: models.Clock{Hour: 17}, Zone: time.UTC}, Timeout: time.Minute, Do: works})
		time.Sleep(36 * time.Hour)
		stop(t, r)
		require.Len(t, kept.of("poll"), 36)
		require.Equal(t, []string{"01-01 17:00"}, dues(kept.of("evening"), models.RunOK))
		for _, got := range append(kept.of("poll"), kept.of("evening")...) {
			require.Equal(t, got.Due, got.Started)
			require.Equal(t, models.RunScheduled, got.Trigger)
		}
	})
}

func TestMissedRunsAreMadeUpOnceWhileTheyAreWorthIt(t *testing.T) {
	evening := sched.Job{
		Name: "evening", Schedule: sched.Daily{At: models.Clock{Hour: 17}, Zone: time.UTC},
		Timeout: time.Minute, Late: 4 * time.Hour, Do: works,
	}
	for _, c := range []struct {
		name, last, start string
		want              string // due of what runs within ten minutes
	}{
		{"missed a little ago", "2027-01-17 17:00", "2027-01-18 18:30", "01-18 17:00"},
		{"missed too long ago", "2027-01-17 17:00", "2027-01-18 21:30", ""},
		{"missed several: the last", "2027-01-10 17:00", "2027-01-18 18:30", "01-18 17:00"},
		{"done", "2027-01-18 17:00", "2027-01-18 18:30", ""},
		{"asked for after it was due", "2027-01-18 17:40", "2027-01-18 18:30", ""},
		{"asked for before it was due", "2027-01-18 15:00", "2027-01-18 18:30", "01-18 17:00"},
		{"never ran", "", "2027-01-18 18:30", "01-18 17:00"},
		{"never ran, too long ago", "", "2027-01-18 12:00", ""},
		{"the last success lies in a wrong future", "2036-01-01 17:00", "2027-01-18 18:30", "01-18 17:00"},
		{"the clock stands back by a little", "2027-01-18 17:00", "2027-01-18 16:55", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				kept := &ledger{}
				if c.last != "" {
					kept.runs = []models.Run{{ID: 1, Job: "evening", Due: at(t, c.last), Outcome: models.RunOK}}
				}
				before := len(kept.runs)
				ck := startAt(at(t, c.start))
				for range 2 { // and a restart does not double it
					r := run(t, sched.Options{Ledger: kept, Now: ck.now}, evening)
					time.Sleep(5 * time.Minute)
					stop(t, r)
				}
				var want []string
				if c.want != "" {
					want = []string{c.want}
				}
				require.Equal(t, want, dues(kept.of("evening")[before:], models.RunOK))
				for _, got := range kept.of("evening")[before:] {
					require.Equal(t, models.RunLate, got.Trigger)
				}
			})
		})
	}
}

func TestAPanicEndsTheRunAndNotTheDaemon(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		kept, reg, log := &ledger{}, prometheus.NewRegistry(), &bytes.Buffer{}
		calls := 0
		r := run(t, sched.Options{Ledger: kept, Registerer: reg, Logger: slog.New(slog.NewTextHandler(log, nil))}, sched.Job{
			Name: "poll", Schedule: every(t, time.Hour, 0), Timeout: time.Minute,
			Do: func(_ context.Context, run *models.Run) error {
				calls++
				if calls%2 == 1 {
					run.Account = []byte(`{"step":1}`)
					panic("spoiled")
				}
				return nil
			},
		})
		time.Sleep(4*time.Hour + time.Minute)
		stop(t, r)
		got := kept.of("poll")
		require.Equal(t, []models.RunOutcome{models.RunPanicked, models.RunOK, models.RunPanicked, models.RunOK, models.RunPanicked}, outcomes(got))
		require.Equal(t, "panic: spoiled", got[0].Error)
		require.JSONEq(t, `{"step":1}`, string(got[0].Account))
		require.Contains(t, log.String(), "runner_test.go", "the log holds the stack")
		expect(t, reg, "forecastd_job_panics_total", `forecastd_job_panics_total{job="poll"} 3`)
	})
}

func TestNoOverlap(t *testing.T) {
	for _, c := range []struct {
		name    string
		late    time.Duration
		want    []string
		skipped int
	}{
		// Each run takes 25 minutes of a period of ten, ignoring its limit.
		{"missed is missed", 0, []string{"01-01 00:00", "01-01 00:30", "01-01 01:00", "01-01 01:30"}, 8},
		{"made up when it ends", 10 * time.Minute, []string{"01-01 00:00", "01-01 00:20", "01-01 00:50", "01-01 01:10", "01-01 01:40"}, 12},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				kept, reg := &ledger{}, prometheus.NewRegistry()
				running := 0 // unguarded: the race detector sees overlaps, and runs that nothing orders
				r := run(t, sched.Options{Ledger: kept, Registerer: reg}, sched.Job{
					Name: "poll", Schedule: every(t, 10*time.Minute, 0), Timeout: 9 * time.Minute, Late: c.late,
					Do: func(context.Context, *models.Run) error {
						running++
						require.Equal(t, 1, running)
						time.Sleep(25*time.Minute + 30*time.Second)
						running--
						return nil
					},
				})
				time.Sleep(2*time.Hour + time.Minute)
				ctx, cancel := context.WithTimeout(context.Background(), time.Hour)
				defer cancel()
				require.NoError(t, r.Stop(ctx))
				require.Equal(t, c.want, dues(kept.of("poll"), models.RunOK)[:len(c.want)])
				expect(t, reg, "forecastd_job_skipped_total", fmt.Sprintf(`forecastd_job_skipped_total{job="poll"} %d`, c.skipped))
			})
		})
	}
}

func TestTimeLimitRetryAndCancel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		kept := &ledger{}
		tries := 0
		r := run(t, sched.Options{Ledger: kept},
			sched.Job{
				Name: "hangs", Schedule: every(t, 24*time.Hour, time.Hour), Timeout: 5 * time.Minute,
				Do: func(ctx context.Context, _ *models.Run) error { <-ctx.Done(); return ctx.Err() },
			},
			sched.Job{
				Name: "mends", Schedule: every(t, 24*time.Hour, time.Hour), Timeout: 5 * time.Minute, Late: 2 * time.Hour, Retry: 15 * time.Minute,
				Do: func(context.Context, *models.Run) error {
					if tries++; tries < 4 {
						return errors.New("no source answers")
					}
					return nil
				},
			},
			sched.Job{
				Name: "never mends", Schedule: every(t, 24*time.Hour, time.Hour), Timeout: 5 * time.Minute, Late: 31 * time.Minute, Retry: 15 * time.Minute,
				Do: func(context.Context, *models.Run) error { return errors.New("no source answers") },
			},
			sched.Job{
				Name: "under way", Schedule: every(t, 24*time.Hour, 11*time.Hour), Timeout: 5 * time.Hour,
				Do: func(ctx context.Context, _ *models.Run) error { <-ctx.Done(); return ctx.Err() },
			})
		time.Sleep(12 * time.Hour)
		states := r.States()
		require.Equal(t, sched.State{Name: "mends", Next: at(t, "2000-01-02 01:00"), Success: models.Known(at(t, "2000-01-01 01:00"))}, states[1])
		require.Equal(t, "no source answers", states[2].Fault)
		require.True(t, states[3].Running)
		stop(t, r)

		require.Equal(t, []models.RunOutcome{models.RunTimedOut}, outcomes(kept.of("hangs")))
		require.Equal(t, []models.RunOutcome{models.RunFailed, models.RunFailed, models.RunFailed, models.RunOK}, outcomes(kept.of("mends")))
		require.Equal(t, []models.RunOutcome{models.RunFailed, models.RunFailed, models.RunFailed}, outcomes(kept.of("never mends")))
		require.Equal(t, []models.RunOutcome{models.RunCancelled}, outcomes(kept.of("under way")))
		for i, got := range kept.of("mends") {
			require.Equal(t, at(t, "2000-01-01 01:00"), got.Due)
			require.Equal(t, time.Duration(i)*15*time.Minute, got.Started.Sub(got.Due))
		}
	})
}

// The clock is set on by hours, as after a sleep of the host or when a small
// computer without its own clock first learns the time; and back again.
func TestTheClockJumps(t *testing.T) {
	jobs := func(t *testing.T) []sched.Job {
		return []sched.Job{
			{Name: "evening", Schedule: sched.Daily{At: models.Clock{Hour: 17}, Zone: time.UTC}, Timeout: time.Minute, Late: 4 * time.Hour, Do: works},
			{Name: "poll", Schedule: every(t, 10*time.Minute, 0), Timeout: time.Minute, Late: 10 * time.Minute, Do: works},
		}
	}
	t.Run("on past the evening", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			kept, ck := &ledger{}, startAt(at(t, "2027-01-18 12:00"))
			r := run(t, sched.Options{Ledger: kept, Now: ck.now}, jobs(t)...)
			time.Sleep(5 * time.Minute)
			ck.jump(6 * time.Hour)
			time.Sleep(time.Minute + time.Second) // the heartbeat finds it
			require.Equal(t, []string{"01-18 17:00"}, dues(kept.of("evening"), models.RunOK))
			require.Equal(t, models.RunLate, kept.of("evening")[0].Trigger)
			time.Sleep(24 * time.Hour)
			stop(t, r)
			require.Equal(t, []string{"01-18 17:00", "01-19 17:00"}, dues(kept.of("evening"), models.RunOK))
		})
	})
	t.Run("back by an hour after the evening", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			kept, ck := &ledger{}, startAt(at(t, "2027-01-18 16:00"))
			r := run(t, sched.Options{Ledger: kept, Now: ck.now}, jobs(t)...)
			time.Sleep(90 * time.Minute) // 17:30
			ck.jump(-time.Hour)          // 16:30
			polls := len(kept.of("poll"))
			time.Sleep(11 * time.Minute)
			require.Greater(t, len(kept.of("poll")), polls, "polling goes on")
			time.Sleep(24 * time.Hour) // 16:41 the next day
			require.Equal(t, []string{"01-18 17:00"}, dues(kept.of("evening"), models.RunOK))
			time.Sleep(time.Hour)
			stop(t, r)
			require.Equal(t, []string{"01-18 17:00", "01-19 17:00"}, dues(kept.of("evening"), models.RunOK))
		})
	})
	t.Run("a year on by mistake, and back", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			kept, ck := &ledger{}, startAt(at(t, "2027-01-18 16:00"))
			r := run(t, sched.Options{Ledger: kept, Now: ck.now}, jobs(t)...)
			ck.jump(365*24*time.Hour + 2*time.Hour)
			time.Sleep(2 * time.Minute)
			ck.jump(-365*24*time.Hour - 2*time.Hour)
			time.Sleep(26 * time.Hour)
			stop(t, r)
			require.Equal(t, []string{"01-18 17:00", "01-18 17:00", "01-19 17:00"}, dues(kept.of("evening"), models.RunOK))
			require.Equal(t, 2028, kept.of("evening")[0].Due.Year())
			require.Greater(t, len(kept.of("poll")), 150)
		})
	})
}

func TestRunNow(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		kept := &ledger{}
		fail := errors.New("no source answers")
		r, err := sched.New(sched.Options{Ledger: kept})
		require.NoError(t, err)
		require.ErrorIs(t, r.RunNow(t.Context(), "evening"), sched.ErrUnknownJob)
		require.NoError(t, r.Add(sched.Job{
			Name: "evening", Schedule: sched.Daily{At: models.Clock{Hour: 17}, Zone: time.UTC}, Timeout: time.Hour,
			Do: func(ctx context.Context, run *models.Run) error {
				if run.Trigger == models.RunAsked && run.Due.Hour() == 1 {
					return fail
				}
				select {
				case <-ctx.Done():
					return ctx.Err()
				case <-time.After(time.Minute):
					return nil
				}
			},
		}))
		require.ErrorIs(t, r.RunNow(t.Context(), "evening"), sched.ErrStopped, "not started yet")
		require.NoError(t, r.Start(t.Context()))
		require.Error(t, r.Start(t.Context()))
		require.Error(t, r.Add(sched.Job{}))

		require.NoError(t, r.RunNow(t.Context(), "evening"))
		time.Sleep(time.Hour)
		require.ErrorIs(t, r.RunNow(t.Context(), "evening"), fail)
		time.Sleep(time.Hour)
		impatient, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		require.ErrorIs(t, r.RunNow(impatient, "evening"), context.Canceled)
		time.Sleep(15 * time.Hour)
		synctest.Wait()
		require.ErrorIs(t, r.RunNow(t.Context(), "unknown"), sched.ErrUnknownJob)
		stop(t, r)
		require.ErrorIs(t, r.RunNow(t.Context(), "evening"), sched.ErrStopped)
		require.Equal(t, []models.RunOutcome{models.RunOK, models.RunFailed, models.RunCancelled, models.RunOK}, outcomes(kept.of("evening")))
		require.Equal(t, at(t, "2000-01-01 17:00"), kept.of("evening")[3].Due)
	})
}

func TestRunNowDuringARun(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		kept := &ledger{}
		r := run(t, sched.Options{Ledger: kept}, sched.Job{
			Name: "evening", Schedule: sched.Daily{At: models.Clock{Hour: 17}, Zone: time.UTC}, Timeout: time.Hour, Late: time.Hour,
			Do: func(context.Context, *models.Run) error { time.Sleep(10 * time.Minute); return nil },
		})
		time.Sleep(16*time.Hour + 55*time.Minute)
		asked := make(chan error, 1)
		go func() { asked <- r.RunNow(t.Context(), "evening") }()
		synctest.Wait()
		require.ErrorIs(t, r.RunNow(t.Context(), "evening"), sched.ErrRunning)
		require.NoError(t, <-asked)
		time.Sleep(15 * time.Minute)
		stop(t, r)
		// What somebody asked for at 16:55 was under way at 17:00: the
		// evening's own run follows it.
		require.Equal(t, []string{"01-01 16:55", "01-01 17:00"}, dues(kept.of("evening"), models.RunOK))
	})
}

func TestStopIsBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := run(t, sched.Options{Ledger: &ledger{}}, sched.Job{
			Name: "stubborn", Schedule: every(t, time.Hour, 0), Timeout: time.Minute,
			Do: func(context.Context, *models.Run) error { time.Sleep(30 * time.Minute); return nil },
		})
		time.Sleep(time.Minute)
		ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
		defer cancel()
		began := time.Now()
		err := r.Stop(ctx)
		require.ErrorIs(t, err, context.DeadlineExceeded)
		require.ErrorContains(t, err, "stubborn")
		require.Equal(t, 10*time.Second, time.Since(began))
		require.NoError(t, r.Stop(ctx), "twice does no harm")
		time.Sleep(time.Hour)
	})
}

func TestALedgerThatFailsStopsNoJob(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		log := &bytes.Buffer{}
		ran := 0
		r := run(t, sched.Options{Ledger: &ledger{down: true}, Logger: slog.New(slog.NewTextHandler(log, nil))}, sched.Job{
			Name: "poll", Schedule: every(t, time.Hour, 30*time.Minute), Timeout: time.Minute, Do: func(context.Context, *models.Run) error { ran++; return nil },
		})
		time.Sleep(3 * time.Hour)
		stop(t, r)
		require.Equal(t, 3, ran)
		require.Contains(t, log.String(), "can't record that a run begins")
	})
}

func TestAddRefuses(t *testing.T) {
	r, err := sched.New(sched.Options{Ledger: &ledger{}})
	require.NoError(t, err)
	good := sched.Job{Name: "poll", Schedule: every(t, time.Hour, 0), Timeout: time.Minute, Do: works}
	require.NoError(t, r.Add(good))
	for want, spoil := range map[string]func(*sched.Job){
		"there is one of that name":  func(j *sched.Job) { j.Name = "poll" },
		"needs a name":               func(j *sched.Job) { j.Do = nil },
		"needs a time limit":         func(j *sched.Job) { j.Timeout = 0 },
		"no shorter than the 1h0m0s": func(j *sched.Job) { j.Timeout = time.Hour },
		"a wait can't be negative":   func(j *sched.Job) { j.Retry = -1 },
		"it is never due":            func(j *sched.Job) { j.Schedule = never{} },
	} {
		j := good
		j.Name = "other"
		spoil(&j)
		require.ErrorContains(t, r.Add(j), want)
	}
	_, err = sched.New(sched.Options{})
	require.ErrorContains(t, err, "a ledger is needed")
}

type never struct{}

func (never) Next(time.Time) time.Time { return time.Time{} }

func TestMetrics(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		reg := prometheus.NewRegistry()
		kept := &ledger{runs: []models.Run{{ID: 1, Job: "evening", Due: at(t, "1999-12-31 17:00"), Outcome: models.RunOK}}}
		r := run(t, sched.Options{Ledger: kept, Registerer: reg},
			sched.Job{Name: "poll", Schedule: every(t, time.Hour, 0), Timeout: time.Minute, Do: works},
			sched.Job{Name: "evening", Schedule: sched.Daily{At: models.Clock{Hour: 17}, Zone: time.UTC}, Timeout: time.Minute, Do: works})
		time.Sleep(3*time.Hour - time.Minute)
		stop(t, r)
		expect(t, reg, "forecastd_job_runs_total", `forecastd_job_runs_total{job="evening",outcome="ok"} 0
forecastd_job_runs_total{job="poll",outcome="ok"} 3`)
		expect(t, reg, "forecastd_job_last_success_timestamp_seconds", fmt.Sprintf(`forecastd_job_last_success_timestamp_seconds{job="evening"} %g
forecastd_job_last_success_timestamp_seconds{job="poll"} %g`, float64(at(t, "1999-12-31 17:00").Unix()), float64(at(t, "2000-01-01 02:00").Unix())))
		problems, err := testutil.GatherAndLint(reg)
		require.NoError(t, err)
		require.Empty(t, problems)

		// After a reload another Runner takes its place and goes on counting.
		r = run(t, sched.Options{Ledger: kept, Registerer: reg}, sched.Job{Name: "poll", Schedule: every(t, time.Hour, 0), Timeout: time.Minute, Do: works})
		time.Sleep(2 * time.Minute)
		stop(t, r)
		expect(t, reg, "forecastd_job_runs_total", `forecastd_job_runs_total{job="evening",outcome="ok"} 0
forecastd_job_runs_total{job="poll",outcome="ok"} 4`)
		taken := prometheus.NewRegistry()
		taken.MustRegister(prometheus.NewCounterVec(prometheus.CounterOpts{Name: "forecastd_job_runs_total", Help: "Something else."}, []string{"job"}))
		_, err = sched.New(sched.Options{Ledger: kept, Registerer: taken})
		require.ErrorContains(t, err, "register metrics")
	})
}

// expect compares the samples of one metric.
func expect(t *testing.T, reg *prometheus.Registry, name, want string) {
	t.Helper()
	families, err := reg.Gather()
	require.NoError(t, err)
	for _, f := range families {
		if f.GetName() == name {
			header := fmt.Sprintf("# HELP %s %s\n# TYPE %s %s\n", name, f.GetHelp(), name, map[string]string{"COUNTER": "counter", "GAUGE": "gauge"}[f.GetType().String()])
			require.NoError(t, testutil.GatherAndCompare(reg, bytes.NewBufferString(header+want+"\n"), name))
			return
		}
	}
	t.Fatalf("there is no metric %s", name)
}
