package app_test

import (
	"context"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/models"
	"forecastd/internal/notify"
)

// mailbag is a channel that takes every message.
type mailbag struct {
	now func() time.Time
	mu  sync.Mutex
	got []delivered
}

type delivered struct {
	at time.Time
	models.Message
}

func (m *mailbag) Send(_ context.Context, msg models.Message, _ string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.got = append(m.got, delivered{m.now(), msg})
	return nil
}

func (m *mailbag) all() []delivered {
	m.mu.Lock()
	defer m.mu.Unlock()
	return append([]delivered(nil), m.got...)
}

// of are the messages of a sort.
func (m *mailbag) of(n models.Notice) []delivered {
	var out []delivered
	for _, d := range m.all() {
		if d.Notice == n {
			out = append(out, d)
		}
	}
	return out
}

// serveOptions are those of a daemon without a network.
func serveOptions(t testing.TB, cfg *config.Config, now func() time.Time, transport http.RoundTripper, bag *mailbag) app.ServeOptions {
	t.Helper()
	return app.ServeOptions{
		Options:  app.Options{Config: cfg, Now: now, Transport: transport, Version: "test", Logger: slog.New(slog.DiscardHandler)},
		State:    t.TempDir(),
		Listen:   app.ListenOff,
		Channels: map[string]notify.Channel{"e-mail": bag},
	}
}

func start(t testing.TB, o app.ServeOptions) *app.Daemon {
	t.Helper()
	d, err := app.StartDaemon(t.Context(), o)
	require.NoError(t, err)
	return d
}

func halt(t testing.TB, d *app.Daemon) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	require.NoError(t, d.Stop(ctx))
}

// shiftedClock runs with the bubble's clock, from another start.
func shiftedClock(start time.Time) func() time.Time {
	began := time.Now()
	return func() time.Time { return start.Add(time.Since(began)).UTC() }
}

// pass lets time go by on the clock of a synctest bubble, which takes none of
// ours, and everything that it set off come to rest.
func pass(d time.Duration) {
	time.Sleep(d)
	synctest.Wait()
}

// Two simulated weeks around each change of the clock, with restarts at any
// time of the day: each evening and each morning message comes exactly once.
// The morning is set at a time of the clock that the change takes away, or
// brings twice.
func TestTwoWeeksAroundTheClockChange(t *testing.T) {
	for _, one := range []struct {
		name, morning string
		start         time.Time
		changes       models.Date
		// at is when the morning of that day comes, on the face of the clock.
		at string
	}{
		// 2027-03-14 02:00 EST becomes 03:00 EDT; 2027-11-07 02:00 EDT becomes
		// 01:00 EST (15 U.S.C. 260a; IANA tz database, America/New_York).
		{"spring", "02:30", time.Date(2027, 3, 7, 13, 0, 0, 0, time.UTC), models.Date{Year: 2027, Month: 3, Day: 14}, "03:00 EDT"},
		{"autumn", "01:30", time.Date(2027, 10, 31, 13, 0, 0, 0, time.UTC), models.Date{Year: 2027, Month: 11, Day: 7}, "01:30 EDT"},
	} {
		t.Run(one.name, func(t *testing.T) {
			t.Parallel()
			synctest.Test(t, func(t *testing.T) {
				const days = 14
				now := shiftedClock(one.start)
				zone, err := time.LoadLocation("America/New_York")
				require.NoError(t, err)
				bag := &mailbag{now: now}
				cfg := daemonConfig(t, fmt.Sprintf("daemon: {morning: %q, collect_every: 1 h, check_every: 6 h}\n", one.morning))
				coast := invented{now: now}
				o := serveOptions(t, cfg, now, coast, bag)
				dice := rand.New(rand.NewPCG(2027, 1))
				end := now().AddDate(0, 0, days)
				restarts := 0
				for now().Before(end) {
					d := start(t, o)
					// The day of the change is left alone, to see the minute.
					up := time.Duration(1+dice.IntN(20*60)) * time.Minute
					if models.DateOf(now().Add(up), zone) == one.changes || models.DateOf(now(), zone) == one.changes {
						up = 30 * time.Hour
					}
					time.Sleep(up)
					halt(t, d)
					time.Sleep(time.Duration(dice.IntN(100)) * time.Minute)
					restarts++
				}
				require.Greater(t, restarts, days)

				last := models.DateOf(now(), zone)
				evenings, mornings := map[string]int{}, map[string]int{}
				for _, m := range bag.all() {
					switch m.Notice {
					case models.NoticeCall:
						evenings[m.Key]++
						require.Equal(t, models.ReasonFirst, m.Reason, m.Key)
					case models.NoticeMorning:
						mornings[m.Key]++
						if m.Key == "morning/Port Amparo/"+one.changes.String()+"/the captain" {
							require.Equal(t, one.at, m.at.In(zone).Format("15:04 MST"))
						}
					}
				}
				first := models.DateOf(one.start, zone).AddDays(1)
				n := 0
				for d := first; d.Before(last); d = d.AddDays(1) {
					require.Equal(t, 1, evenings["call/Port Amparo/"+d.String()+"/the captain"], "evening before %s", d)
					require.Equal(t, 1, mornings["morning/Port Amparo/"+d.String()+"/the captain"], "morning of %s", d)
					n++
				}
				require.GreaterOrEqual(t, n, days-1)
				for key, count := range evenings {
					require.Equal(t, 1, count, key)
				}
				for key, count := range mornings {
					require.Equal(t, 1, count, key)
				}
			})
		})
	}
}
