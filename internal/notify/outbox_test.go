package notify_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/testutil"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/notify"
)

// way is a channel of our own that answers as told and keeps what it took.
type way struct {
	mu     sync.Mutex
	answer func(n int) error
	tries  []time.Time
	took   []models.Message
}

func (w *way) Send(_ context.Context, m models.Message, _ string) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.tries = append(w.tries, time.Now())
	if w.answer != nil {
		if err := w.answer(len(w.tries)); err != nil {
			return err
		}
	}
	w.took = append(w.took, m)
	return nil
}

func fault(k models.Kind) error {
	return &models.Error{Kind: k, Source: "test", Err: errors.New("as told")}
}

func always(k models.Kind) func(int) error { return func(int) error { return fault(k) } }

func outbox(t testing.TB, l notify.Ledger, ways map[string]*way, change ...func(*notify.OutboxOptions)) *notify.Outbox {
	t.Helper()
	channels := map[string]notify.Channel{}
	for n, w := range ways {
		channels[n] = w
	}
	o := notify.OutboxOptions{Ledger: l, Channels: channels, Random: func() float64 { return 1 }}
	for _, f := range change {
		f(&o)
	}
	b, err := notify.NewOutbox(o)
	require.NoError(t, err)
	return b
}

func letter(id, key string, channels ...string) models.Message {
	m := models.Message{
		ID: id, Key: key, Digest: id, Notice: models.NoticeAlert, Reason: models.ReasonFirst, Person: "the captain",
		Made: time.Now(), Deadline: time.Now().Add(6 * time.Hour), State: models.MessageWaiting,
	}
	for _, c := range channels {
		m.Routes = append(m.Routes, models.Route{Channel: c, Address: c + "@example.com"})
	}
	return m
}

func state(t testing.TB, l *notify.Memory, id string) models.Message {
	t.Helper()
	for _, m := range l.All() {
		if m.ID == id {
			return m
		}
	}
	t.Fatalf("no message %s", id)
	return models.Message{}
}

// run runs the outbox for a span of the bubble's time.
func run(t *testing.T, o *notify.Outbox, d time.Duration) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), d)
	defer cancel()
	require.NoError(t, o.Run(ctx, nil))
}

func TestBackoffThenSent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &notify.Memory{}
		mail := &way{answer: func(n int) error {
			if n < 5 {
				return fault(models.KindServer)
			}
			return nil
		}}
		o := outbox(t, l, map[string]*way{"email": mail})
		begin := time.Now()
		require.NoError(t, o.Add(t.Context(), letter("a", "k", "email")))
		run(t, o, time.Hour)
		var at []time.Duration
		for _, x := range mail.tries {
			at = append(at, x.Sub(begin))
		}
		// 30 s doubled each time, the jitter at its longest.
		require.Equal(t, []time.Duration{0, 30 * time.Second, 90 * time.Second, 210 * time.Second, 450 * time.Second}, at)
		m := state(t, l, "a")
		require.Equal(t, models.MessageSent, m.State)
		require.Equal(t, "email", m.SentBy)
		require.Empty(t, m.Fault)
		require.Len(t, mail.took, 1)
	})
}

func TestJitterShortensByHalfAtMost(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		random := rapid.Float64Range(0, 0.999).Draw(r, "random")
		synctest.Test(t, func(t *testing.T) {
			l := &notify.Memory{}
			mail := &way{answer: always(models.KindTimeout)}
			o := outbox(t, l, map[string]*way{"email": mail}, func(o *notify.OutboxOptions) { o.Random = func() float64 { return random } })
			require.NoError(t, o.Add(t.Context(), letter("a", "k", "email")))
			run(t, o, 5*time.Hour)
			for i := 1; i < len(mail.tries); i++ {
				full := min(30*time.Second<<min(i-1, 10), 15*time.Minute)
				gap := mail.tries[i].Sub(mail.tries[i-1])
				require.GreaterOrEqual(t, gap, full/2)
				require.LessOrEqual(t, gap, full)
			}
			require.Greater(t, len(mail.tries), 15)
		})
	})
}

func TestSecondChannelWhenTheFirstKeepsFailing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &notify.Memory{}
		mail, hook := &way{answer: always(models.KindUnreachable)}, &way{}
		o := outbox(t, l, map[string]*way{"email": mail, "webhook": hook})
		require.NoError(t, o.Add(t.Context(), letter("a", "k", "email", "webhook")))
		run(t, o, time.Hour)
		require.Len(t, mail.tries, notify.KeepsFailing)
		require.Len(t, hook.took, 1)
		require.Equal(t, "webhook", state(t, l, "a").SentBy)
	})
}

func TestRefusalAndFaultOfConfigurationTakeTheSecondChannelAtOnce(t *testing.T) {
	for _, k := range []models.Kind{models.KindRefused, models.KindTooLarge, models.KindBadConfig} {
		synctest.Test(t, func(t *testing.T) {
			l := &notify.Memory{}
			mail, hook := &way{answer: always(k)}, &way{}
			o := outbox(t, l, map[string]*way{"email": mail, "webhook": hook})
			require.NoError(t, o.Add(t.Context(), letter("a", "k", "email", "webhook")))
			begin := time.Now()
			run(t, o, time.Minute)
			require.Len(t, mail.tries, 1, k)
			require.Len(t, hook.tries, 1, k)
			require.Zero(t, hook.tries[0].Sub(begin))
		})
	}
}

func TestAWrongPasswordThatIsMendedStillSends(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &notify.Memory{}
		mail := &way{answer: func(n int) error {
			if n < 4 {
				return fault(models.KindBadConfig)
			}
			return nil
		}}
		o := outbox(t, l, map[string]*way{"email": mail})
		require.NoError(t, o.Add(t.Context(), letter("a", "k", "email")))
		run(t, o, 2*time.Hour)
		require.Equal(t, models.MessageSent, state(t, l, "a").State)
	})
}

func TestDeadLettersAreSeen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var log bytes.Buffer
		reg := prometheus.NewRegistry()
		l := &notify.Memory{}
		ways := map[string]*way{"email": {answer: always(models.KindRefused)}, "webhook": {answer: always(models.KindServer)}}
		o := outbox(t, l, ways, func(o *notify.OutboxOptions) {
			o.Registerer, o.Logger = reg, slog.New(slog.NewTextHandler(&log, nil))
		})
		require.NoError(t, o.Add(t.Context(), letter("refused", "k1", "email")))
		require.NoError(t, o.Add(t.Context(), letter("late", "k2", "webhook")))
		require.NoError(t, o.Add(t.Context(), letter("nowhere", "k3", "pigeon")))
		run(t, o, 7*time.Hour)
		require.Equal(t, models.MessageDead, state(t, l, "refused").State)
		require.Equal(t, "every channel refused it; last, email: test: refused: as told", state(t, l, "refused").Fault)
		late := state(t, l, "late")
		require.Equal(t, models.MessageDead, late.State)
		require.Contains(t, late.Fault, "deadline")
		require.Contains(t, state(t, l, "nowhere").Fault, `no channel "pigeon"`)
		require.Equal(t, 3, strings.Count(log.String(), "nobody was told"))
		// The same fault is told once, however often it comes back.
		require.Equal(t, 1, strings.Count(log.String(), "message not sent\" id=late"))

		problems, err := testutil.GatherAndLint(reg)
		require.NoError(t, err)
		require.Empty(t, problems)
		require.NoError(t, testutil.GatherAndCompare(reg, strings.NewReader(`
# HELP forecastd_messages_dead_total Messages given up, so that nobody was told, by sort.
# TYPE forecastd_messages_dead_total counter
forecastd_messages_dead_total{notice="alerts"} 3
# HELP forecastd_messages_total Messages written down to be sent, by sort and by the reason for sending.
# TYPE forecastd_messages_total counter
forecastd_messages_total{notice="alerts",reason="first"} 3
# HELP forecastd_outbox_messages Messages that wait in the outbox after its last round.
# TYPE forecastd_outbox_messages gauge
forecastd_outbox_messages 0
`), "forecastd_messages_dead_total", "forecastd_messages_total", "forecastd_outbox_messages"))
	})
}

func TestUrgentFirstAndNewerSupersedes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &notify.Memory{}
		mail := &way{}
		o := outbox(t, l, map[string]*way{"email": mail})
		require.NoError(t, o.Add(t.Context(), letter("old", "call", "email")))
		require.NoError(t, o.Add(t.Context(), letter("plain", "other", "email")))
		gale := letter("gale", "warning", "email")
		gale.Urgent = true
		require.NoError(t, o.Add(t.Context(), gale))
		require.NoError(t, o.Add(t.Context(), letter("new", "call", "email")))
		require.NoError(t, o.Add(t.Context(), letter("new", "call", "email")), "the same message again is no second one")
		run(t, o, time.Minute)
		var ids []string
		for _, m := range mail.took {
			ids = append(ids, m.ID)
		}
		require.Equal(t, []string{"gale", "plain", "new"}, ids)
		require.Equal(t, models.MessageSuperseded, state(t, l, "old").State)
		last, err := l.Last(t.Context(), "call")
		require.NoError(t, err)
		require.Equal(t, "new", last.Or(models.Message{}).ID)
	})
}

func TestRetryAfterIsHonoured(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		hook := &way{answer: func(n int) error {
			if n == 1 {
				return &models.Error{Kind: models.KindRateLimited, RetryAfter: 10 * time.Minute}
			}
			return nil
		}}
		o := outbox(t, &notify.Memory{}, map[string]*way{"webhook": hook})
		require.NoError(t, o.Add(t.Context(), letter("a", "k", "webhook")))
		run(t, o, time.Hour)
		require.Equal(t, 10*time.Minute, hook.tries[1].Sub(hook.tries[0]))
	})
}

// stubborn is a ledger whose disk is full for a while.
type stubborn struct {
	notify.Memory
	failing bool
}

func (s *stubborn) Save(ctx context.Context, m models.Message) error {
	if s.failing {
		return errors.New("disk full")
	}
	return s.Memory.Save(ctx, m)
}

// What was sent while it could not be marked is not sent again by the same
// process; after a crash it is, under the same ID: that is the one message in
// flight which may be repeated.
func TestCrashBetweenSendingAndMarking(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &stubborn{failing: true}
		mail := &way{}
		o := outbox(t, l, map[string]*way{"email": mail})
		require.NoError(t, o.Add(t.Context(), letter("a", "k", "email")))
		_, err := o.Flush(t.Context())
		require.ErrorContains(t, err, "disk full")
		_, err = o.Flush(t.Context())
		require.ErrorContains(t, err, "disk full")
		require.Len(t, mail.took, 1)

		after := outbox(t, l, map[string]*way{"email": mail}) // a new process
		l.failing = false
		_, err = after.Flush(t.Context())
		require.NoError(t, err)
		require.Len(t, mail.took, 2)
		require.Equal(t, mail.took[0].ID, mail.took[1].ID)
		_, err = after.Flush(t.Context())
		require.NoError(t, err)
		require.Len(t, mail.took, 2)
	})
}

func TestStoppingCountsNothingAgainstAMessage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &notify.Memory{}
		ctx, cancel := context.WithCancel(t.Context())
		mail := &way{answer: func(int) error { cancel(); return fault(models.KindCancelled) }}
		o := outbox(t, l, map[string]*way{"email": mail})
		require.NoError(t, o.Add(ctx, letter("a", "k", "email")))
		require.NoError(t, o.Run(ctx, nil))
		m := state(t, l, "a")
		require.Equal(t, models.MessageWaiting, m.State)
		require.Zero(t, m.Routes[0].Failures)
	})
}

func TestWakeSendsAtOnce(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		l := &notify.Memory{}
		mail := &way{}
		o := outbox(t, l, map[string]*way{"email": mail})
		wake := make(chan struct{}, 1)
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- o.Run(ctx, wake) }()
		synctest.Wait()
		require.NoError(t, o.Add(ctx, letter("a", "k", "email")))
		wake <- struct{}{}
		synctest.Wait()
		require.Len(t, mail.took, 1)
		cancel()
		require.NoError(t, <-done)
	})
}

// However the channels behave, each message ends as sent, dead or waiting,
// is taken over at most once, and is never tried after its deadline.
func TestNothingIsLost(t *testing.T) {
	kinds := []models.Kind{"", models.KindServer, models.KindTimeout, models.KindUnreachable, models.KindRefused, models.KindBadConfig, models.KindTooLarge}
	rapid.Check(t, func(r *rapid.T) {
		script := rapid.SliceOfN(rapid.SampledFrom(kinds), 1, 12).Draw(r, "script")
		n := rapid.IntRange(1, 4).Draw(r, "messages")
		synctest.Test(t, func(t *testing.T) {
			l := &notify.Memory{}
			answer := func(i int) error {
				if k := script[i%len(script)]; k != "" {
					return fault(k)
				}
				return nil
			}
			ways := map[string]*way{"email": {answer: answer}, "webhook": {answer: answer}}
			o := outbox(t, l, ways)
			deadline := time.Now().Add(6 * time.Hour)
			for i := range n {
				require.NoError(t, o.Add(t.Context(), letter(fmt.Sprint(i), fmt.Sprint(i), "email", "webhook")))
			}
			run(t, o, 7*time.Hour)
			took := slices.Concat(ways["email"].took, ways["webhook"].took)
			for _, m := range l.All() {
				times := 0
				for _, x := range took {
					if x.ID == m.ID {
						times++
					}
				}
				switch m.State {
				case models.MessageSent:
					require.Equal(t, 1, times)
				case models.MessageDead:
					require.Zero(t, times)
					require.NotEmpty(t, m.Fault)
				default:
					t.Fatalf("message %s is %s after its deadline", m.ID, m.State)
				}
			}
			for _, at := range slices.Concat(ways["email"].tries, ways["webhook"].tries) {
				require.True(t, at.Before(deadline))
			}
		})
	})
}
