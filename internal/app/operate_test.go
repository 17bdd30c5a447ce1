package app_test

import (
	"bytes"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/prometheus/client_golang/prometheus/testutil/promlint"
	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/models"
	"forecastd/internal/notify"
)

// ask answers a page of the operator's.
func ask(t testing.TB, d *app.Daemon, path string) (int, string) {
	t.Helper()
	w := httptest.NewRecorder()
	d.Handler().ServeHTTP(w, httptest.NewRequest(http.MethodGet, path, nil))
	return w.Code, w.Body.String()
}

// Names and help of all metrics stand in a golden file, and follow the rules
// of the metrics' own linter.
func TestMetricsGolden(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(time.Date(2027, 1, 18, 21, 58, 0, 0, time.UTC))
		d := start(t, serveOptions(t, daemonConfig(t, "daemon: {collect_every: 1 h, check_every: 6 h}\n"), now, invented{now: now}, &mailbag{now: now}))
		defer halt(t, d)
		time.Sleep(5 * time.Minute)
		code, body := ask(t, d, "/readyz")
		require.Equal(t, http.StatusOK, code, body)
		require.Equal(t, "ready\n", body)
		code, _ = ask(t, d, "/healthz")
		require.Equal(t, http.StatusOK, code)

		time.Sleep(30 * time.Hour) // a night, for what is learned in it

		problems, err := testutil.GatherAndLint(d.Metrics())
		require.NoError(t, err)
		problems = slices.DeleteFunc(problems, func(p promlint.Problem) bool { return !strings.HasPrefix(p.Metric, "forecastd_") })
		require.Empty(t, problems)
		families, err := d.Metrics().Gather()
		require.NoError(t, err)
		var list strings.Builder
		theirs := map[string]bool{} // of the language and the system: named by others
		for _, f := range families {
			if !strings.HasPrefix(f.GetName(), "forecastd_") {
				theirs[f.GetName()] = true
				continue
			}
			fmt.Fprintf(&list, "%s (%s)\n    %s\n", f.GetName(), strings.ToLower(f.GetType().String()), f.GetHelp())
		}
		golden(t, "metrics.golden.txt", list.String())
		require.True(t, theirs["go_goroutines"] && theirs["go_memstats_heap_alloc_bytes"])
		if runtime.GOOS == "linux" {
			require.True(t, theirs["process_resident_memory_bytes"] && theirs["process_open_fds"])
		}
		_, body = ask(t, d, "/metrics")
		require.Contains(t, body, `forecastd_calls_total{port="Port Amparo"`)
		require.Contains(t, body, `forecastd_source_age_seconds{port="Port Amparo",source="nws alerts"}`)
	})
}

func TestNotReadyWithoutWarnings(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening())
		coast := invented{now: now}
		d := start(t, serveOptions(t, daemonConfig(t, ""), now, transportFunc(func(r *http.Request) (*http.Response, error) {
			if strings.Contains(r.URL.Path, "alerts") {
				return response(r, http.StatusInternalServerError, "{}"), nil
			}
			return coast.RoundTrip(r)
		}), &mailbag{now: now}))
		defer halt(t, d)
		time.Sleep(5 * time.Minute)
		code, body := ask(t, d, "/readyz")
		require.Equal(t, http.StatusServiceUnavailable, code)
		require.Contains(t, body, "Port Amparo: nws alerts is missing")
	})
}

// A reload takes a sound configuration whole, and leaves the old one at work
// where the new one is not sound or asks for what can't be had.
func TestReload(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening())
		o := serveOptions(t, daemonConfig(t, ""), now, invented{now: now}, &mailbag{now: now})
		text := daemonText
		o.Load = func() (*config.Config, error) { return config.Load("forecastd.yaml", []byte(text)) }
		d := start(t, o)
		defer halt(t, d)
		time.Sleep(time.Minute)
		old := d.Config()

		text = daemonText + "daemon: {evening: 5 o'clock}\n"
		err := d.Reload(t.Context())
		require.ErrorContains(t, err, "daemon.evening")
		require.Same(t, old, d.Config())
		_, body := ask(t, d, "/metrics")
		require.Contains(t, body, "forecastd_config_last_reload_successful 0")

		attempts := `forecastd_fetch_attempts_total{code="200",source="nws gridpoint"}`
		runs := `forecastd_job_runs_total{job="collect Port Amparo",outcome="ok"}`
		asked, collected := sample(t, d, attempts), sample(t, d, runs)
		require.Positive(t, asked)
		require.Positive(t, collected)
		text = daemonText + "daemon: {evening: \"18:00\"}\n"
		require.NoError(t, d.Reload(t.Context()))
		require.Equal(t, models.Clock{Hour: 18}, d.Config().Daemon.Evening)
		_, body = ask(t, d, "/metrics")
		require.Contains(t, body, "forecastd_config_last_reload_successful 1")
		require.GreaterOrEqual(t, sample(t, d, attempts), asked, "counters go on over a reload")
		time.Sleep(11 * time.Minute)
		require.Greater(t, sample(t, d, attempts), asked)
		require.Greater(t, sample(t, d, runs), collected)
		code, body := ask(t, d, "/readyz")
		require.Equal(t, http.StatusOK, code, body)
	})
}

// sample is the value of a metric, by its name and labels as /metrics writes
// them.
func sample(t testing.TB, d *app.Daemon, series string) float64 {
	t.Helper()
	_, body := ask(t, d, "/metrics")
	for line := range strings.Lines(body) {
		if rest, ok := strings.CutPrefix(line, series+" "); ok {
			v, err := strconv.ParseFloat(strings.TrimSpace(rest), 64)
			require.NoError(t, err)
			return v
		}
	}
	require.Fail(t, "no such metric", "%s in\n%s", series, body)
	return 0
}

// A job that a configuration no longer has is not told of for ever, for an
// alert on its last success would never end.
func TestAPortTakenOutIsNoLongerTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening())
		o := serveOptions(t, daemonConfig(t, ""), now, invented{now: now}, &mailbag{now: now})
		o.Load = func() (*config.Config, error) {
			return config.Load("forecastd.yaml", []byte(strings.Replace(daemonText, "name: Port Amparo", "name: Port Belen", 1)))
		}
		d := start(t, o)
		defer halt(t, d)
		time.Sleep(5 * time.Minute)
		require.NoError(t, d.Reload(t.Context()))
		time.Sleep(5 * time.Minute)
		_, body := ask(t, d, "/metrics")
		require.Contains(t, body, `forecastd_job_last_success_timestamp_seconds{job="collect Port Belen"}`)
		require.NotContains(t, body, `forecastd_job_last_success_timestamp_seconds{job="collect Port Amparo"}`)
	})
}

// Each night the forecasts kept are held against the station, and the metrics
// tell by how much they were off. The invented weather comes as forecast; only
// the station's 12 m are not the forecast's 10 m.
func TestTheWindsErrorIsMeasured(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(time.Date(2027, 1, 17, 13, 0, 0, 0, time.UTC))
		o := serveOptions(t, daemonConfig(t, "daemon: {collect_every: 1 h, check_every: 6 h}\n"), now, invented{now: now}, &mailbag{now: now})
		d := start(t, o)
		labels := `{ground="the Shelf edge",lead_day="1",port="Port Amparo",source="nws gridpoint"}`
		_, body := ask(t, d, "/metrics")
		require.NotContains(t, body, "forecastd_wind_bias_meters_per_second{")
		time.Sleep(45 * time.Hour)
		check := func() {
			t.Helper()
			// u(10 m) is less than u(12 m): the forecast of 13 kn, 6.7 m/s, is too
			// high by 12 m's share, 2 % by the power law of 0.11 (Hsu1994).
			bias := sample(t, d, "forecastd_wind_bias_meters_per_second"+labels)
			require.InDelta(t, 0.13, bias, 0.1)
			require.InDelta(t, bias, sample(t, d, "forecastd_wind_absolute_error_meters_per_second"+labels), 0.1)
			require.Positive(t, sample(t, d, "forecastd_wind_error_pairs"+labels))
		}
		check()
		halt(t, d)
		d = start(t, o)
		defer halt(t, d)
		check() // from what the store has
	})
}

// With a look every ten minutes each source is asked when something new can be
// there, and no more: the warnings with every look, the grid every half hour,
// the stations three times an hour. The record of a run tells what comes next.
func TestSourcesAreAskedByTheirTimetables(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(time.Date(2027, 1, 18, 4, 5, 0, 0, time.UTC)) // between evening and morning
		coast := invented{now: now}
		var mu sync.Mutex
		asked := map[string]int{}
		o := serveOptions(t, daemonConfig(t, ""), now, transportFunc(func(r *http.Request) (*http.Response, error) {
			mu.Lock()
			asked[strings.Split(r.URL.Path, "/")[1]]++
			mu.Unlock()
			return coast.RoundTrip(r)
		}), &mailbag{now: now})
		d := start(t, o)
		time.Sleep(4*time.Hour + 30*time.Second)
		halt(t, d)
		require.Equal(t, map[string]int{"alerts": 1 + 24, "gridpoints": 1 + 7, "data": 1 + 12}, asked)

		st, err := app.OpenStore(t.Context(), o.State, true, now, nil)
		require.NoError(t, err)
		a, err := app.New(app.Options{Config: o.Config, Transport: offline(), Now: now, Store: st})
		require.NoError(t, err)
		lines, err := a.RunLines(t.Context(), 10)
		require.NoError(t, err)
		i := slices.IndexFunc(lines, func(l string) bool { return strings.Contains(l, "collect") })
		said, err := a.Explain(t.Context(), strings.Fields(lines[i])[0])
		require.NoError(t, err)
		require.Contains(t, said, "source nws gridpoint, state fresh, age s 1200, asked false, next ask 2027-01-18T08:08:00Z")
		require.Contains(t, said, "source nws alerts, state fresh, age s 0, asked true")
		require.NoError(t, a.Stop(t.Context()))
	})
}

func TestReloadKeepsTheOldWhereASecretIsMissing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening())
		o := serveOptions(t, daemonConfig(t, ""), now, invented{now: now}, nil)
		o.Channels = nil
		o.Load = func() (*config.Config, error) {
			return config.Load("forecastd.yaml", []byte(daemonText+"mail: {host: mail.example.com, from: boat@example.com, user: boat, password_file: /no/such/file}\n"))
		}
		d := start(t, o)
		defer halt(t, d)
		old := d.Config()
		require.ErrorContains(t, d.Reload(t.Context()), "mail.password_file")
		require.Same(t, old, d.Config())
	})
}

// Without people or without a way to them nothing is sent, and that is said.
func TestNobodyToTellIsSaid(t *testing.T) {
	for _, one := range []struct{ text, says string }{
		{strings.Replace(daemonText, "people:\n  - name: the captain\n    role: captain\n    address: captain@example.com\n    what: [evening call, morning, alerts, drafts, trouble]\n", "", 1), "names no people"},
		{daemonText, "no mail and no webhook"},
	} {
		var log bytes.Buffer
		synctest.Test(t, func(t *testing.T) {
			now := shiftedClock(evening())
			cfg, err := config.Load("forecastd.yaml", []byte(one.text))
			require.NoError(t, err)
			o := serveOptions(t, cfg, now, invented{now: now}, nil)
			o.Channels, o.Logger = nil, slog.New(slog.NewTextHandler(&log, nil))
			d := start(t, o)
			time.Sleep(time.Minute)
			halt(t, d)
		})
		require.Contains(t, log.String(), one.says)
		require.Contains(t, log.String(), `msg="call made"`)
		require.NotContains(t, log.String(), "message sent")
	}
}

func TestDryRunShowsAndKeepsNothing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening())
		var shown bytes.Buffer
		o := serveOptions(t, daemonConfig(t, ""), now, invented{now: now}, nil)
		var log bytes.Buffer
		o.Channels, o.DryRun, o.Logger = nil, &shown, slog.New(slog.NewTextHandler(&log, nil))
		d := start(t, o)
		time.Sleep(time.Minute)
		halt(t, d)
		require.NotContains(t, log.String(), "message sent")
		require.Contains(t, log.String(), "message shown, not sent")
		require.Contains(t, shown.String(), "would send by e-mail to the captain <captain@example.com>: evening call (first)")

		bag := &mailbag{now: now} // what was shown does not count as told
		o.Channels, o.DryRun = map[string]notify.Channel{"e-mail": bag}, nil
		d = start(t, o)
		time.Sleep(time.Minute)
		halt(t, d)
		require.Len(t, bag.of(models.NoticeCall), 1)
	})
}

func TestWhatKeepsItFromStartingIsTold(t *testing.T) {
	now := evening
	options := func() app.ServeOptions {
		return serveOptions(t, daemonConfig(t, ""), now, invented{now: now}, &mailbag{now: now})
	}
	t.Run("port in use", func(t *testing.T) {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		require.NoError(t, err)
		defer l.Close()
		o := options()
		o.Listen = l.Addr().String()
		_, err = app.StartDaemon(t.Context(), o)
		require.ErrorContains(t, err, "listen on "+o.Listen)
		require.ErrorContains(t, err, "name another with -listen")
	})
	t.Run("folder in the way", func(t *testing.T) {
		o := options()
		file := filepath.Join(o.State, "file")
		require.NoError(t, os.WriteFile(file, nil, 0o600))
		o.State = filepath.Join(file, "state")
		_, err := app.StartDaemon(t.Context(), o)
		require.ErrorContains(t, err, "open the store")
	})
	t.Run("read-only folder", func(t *testing.T) {
		o := options()
		require.NoError(t, os.Chmod(o.State, 0o555))
		defer os.Chmod(o.State, 0o700)
		var err error
		asNobody(t, func() { _, err = app.StartDaemon(t.Context(), o) })
		require.ErrorContains(t, err, "can't be written: check the owner and the rights")
	})
	t.Run("password missing", func(t *testing.T) {
		o := options()
		o.Channels = nil
		o.Config = daemonConfig(t, "mail: {host: mail.example.com, from: boat@example.com, user: boat}\n")
		_, err := app.StartDaemon(t.Context(), o)
		require.ErrorContains(t, err, "$FORECASTD_MAIL_PASSWORD is empty")
	})
}

func TestListensAndStops(t *testing.T) {
	o := serveOptions(t, daemonConfig(t, ""), evening, invented{now: evening}, &mailbag{now: evening})
	o.Listen = "127.0.0.1:0"
	d := start(t, o)
	resp, err := http.Get("http://" + d.Addr() + "/healthz")
	require.NoError(t, err)
	require.NoError(t, resp.Body.Close())
	require.Equal(t, http.StatusOK, resp.StatusCode)
	began := time.Now()
	halt(t, d)
	require.Less(t, time.Since(began), 10*time.Second)
	http.DefaultClient.CloseIdleConnections()
	_, err = http.Get("http://" + d.Addr() + "/healthz")
	require.Error(t, err)
}

// A week of services that fail in every way: calls keep coming wherever there
// is any wind left to call by, what is missing and what it costs is told, and
// nothing piles up.
func TestAWeekOfFaults(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(time.Date(2027, 1, 10, 13, 0, 0, 0, time.UTC))
		coast := invented{now: now}
		stale := invented{now: func() time.Time { return now().Add(-9 * time.Hour) }}
		n := 0
		var turn = make(chan struct{}, 1)
		faulty := transportFunc(func(r *http.Request) (*http.Response, error) {
			turn <- struct{}{}
			n++
			kind := n % 11
			<-turn
			switch kind {
			case 0:
				<-r.Context().Done() // no answer at all
				return nil, r.Context().Err()
			case 1:
				return response(r, http.StatusServiceUnavailable, "busy"), nil
			case 2:
				resp := response(r, http.StatusTooManyRequests, "")
				resp.Header.Set("Retry-After", "600")
				return resp, nil
			case 3:
				resp := response(r, http.StatusOK, "<!doctype html><title>maintenance</title>")
				resp.Header.Set("Content-Type", "text/html")
				return resp, nil
			case 4:
				resp := response(r, http.StatusOK, `{"type":"FeatureCollection","features":[{"pro`)
				return resp, nil
			case 5:
				return nil, errors.New("connection reset by peer")
			case 6:
				return stale.RoundTrip(r)
			}
			return coast.RoundTrip(r)
		})
		bag := &mailbag{now: now}
		o := serveOptions(t, daemonConfig(t, "daemon: {collect_every: 30 min, check_every: 6 h}\n"), now, faulty, bag)
		d := start(t, o)
		pass(24 * time.Hour)
		before, files := runtime.NumGoroutine(), descriptors()
		pass(6 * 24 * time.Hour)
		require.LessOrEqual(t, runtime.NumGoroutine(), before+5, "goroutines pile up")
		require.LessOrEqual(t, descriptors(), files+2, "open files pile up")
		// Nothing answers any more: the doubt is told.
		halt(t, d)
		require.Len(t, bag.of(models.NoticeCall), 7)
		require.Len(t, bag.of(models.NoticeMorning), 6+1)

		o.Transport = offline()
		d = start(t, o)
		time.Sleep(30 * time.Hour)
		halt(t, d)
		var told []string
		for _, m := range bag.of(models.NoticeTrouble) {
			told = append(told, m.Subject)
		}
		require.Contains(t, strings.Join(told, "\n"), "official warnings can't be read")
		require.Contains(t, strings.Join(told, "\n"), "no call could be made")
	})
}

// descriptors is how many files this process has open; 0 where the system does
// not tell.
func descriptors() int {
	list, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		return 0
	}
	return len(list)
}

// A clock that is behind is found by the documents that lie ahead of it, and
// told as over when it has been set.
func TestAClockThatIsBehindIsTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening())
		var mu sync.Mutex
		ahead := 7 * time.Hour
		services := invented{now: func() time.Time { mu.Lock(); defer mu.Unlock(); return now().Add(ahead) }}
		bag := &mailbag{now: now}
		d := start(t, serveOptions(t, daemonConfig(t, ""), now, services, bag))
		defer halt(t, d)
		about := func() (list []string) {
			for _, m := range bag.of(models.NoticeTrouble) {
				if strings.Contains(strings.ToLower(m.Text), "the clock of this machine is wrong") { // others may be told in the same message
					list = append(list, m.Subject)
				}
			}
			return list
		}
		time.Sleep(time.Hour)
		require.Len(t, about(), 1)
		mu.Lock()
		ahead = 0
		mu.Unlock()
		time.Sleep(time.Hour)
		require.Len(t, about(), 2, "and that it is over")
	})
}
