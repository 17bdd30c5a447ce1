package notify_test

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/notify"
	"forecastd/internal/store"
)

// deskOver is a desk over a real store, with the clock of the test.
func deskOver(t testing.TB, now *time.Time) (notify.Desk, store.Outbox) {
	t.Helper()
	s, err := store.Open(t.Context(), store.Options{Path: filepath.Join(t.TempDir(), "forecastd.db")})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	o, err := notify.NewOutbox(notify.OutboxOptions{
		Ledger: s.Outbox(), Channels: map[string]notify.Channel{"email": &way{}}, Now: func() time.Time { return *now }, Random: func() float64 { return 1 },
	})
	require.NoError(t, err)
	return notify.Desk{Ledger: s.Outbox(), Outbox: o, Domain: "boat.example", Now: func() time.Time { return *now }}, s.Outbox()
}

// product is the draft about an invented product of a number.
func product(t testing.TB, event, phen, sig string, number int, onset time.Time, now time.Time) notify.Draft {
	t.Helper()
	w := models.Warning{
		Event: event, Phenomenon: phen, Significance: sig, Zone: "AMZ997", Office: "NWS Amparo (invented)", Text: "Invented text of number " + fmt.Sprint(number),
		VTEC:   fmt.Sprintf("/O.NEW.KXAM.%s.%s.%04d.%s-%s/", phen, sig, number, onset.UTC().Format("060102T1504Z"), onset.Add(12*time.Hour).UTC().Format("060102T1504Z")),
		Issued: now.UTC(), Onset: onset, Ends: models.Known(onset.Add(12 * time.Hour)),
	}
	p := captain(t)
	p.Quiet = notify.Quiet{Zone: newYork(t)}
	return notify.Warned(p, models.Port{Name: "Port A", Zone: newYork(t)}, notify.WarningChange{Change: notify.Issued, Warning: w}, models.Unknown[time.Time](), false, now)
}

// Six hundred products in one answer are one message, that of the gravest
// first and the count of the rest in it, and are told.
func TestAStormIsOneMessage(t *testing.T) {
	now := time.Date(2027, 1, 18, 15, 0, 0, 0, time.UTC)
	desk, ledger := deskOver(t, &now)
	var drafts []notify.Draft
	for i := range 600 {
		drafts = append(drafts, product(t, "Rip Current Statement", "RP", "S", i+1, now.Add(time.Duration(i)*time.Minute), now))
	}
	drafts[400] = product(t, "Gale Warning", "GL", "W", 9001, now, now)
	_, err := desk.TellTogether(t.Context(), drafts, 4)
	require.NoError(t, err)
	waiting, err := ledger.Waiting(t.Context())
	require.NoError(t, err)
	require.Len(t, waiting, 1)
	m := waiting[0]
	require.True(t, strings.HasPrefix(m.Subject, "GALE WARNING issued"), m.Subject)
	require.Contains(t, m.Subject, "(and 599 more)")
	require.Contains(t, m.Text, "Invented text of number 9001")
	require.Contains(t, m.Text, "and 566 more")
	require.Less(t, len(m.Text), 20_000)
	require.LessOrEqual(t, len(m.Short), 300)
	again, err := desk.TellTogether(t.Context(), drafts, 4)
	require.NoError(t, err)
	for i, d := range again {
		require.Equal(t, models.ReasonNone, d.Reason, "%d is told", i)
	}

	// Nobody took it: none of them counts as told, and all are told anew.
	m.State, m.Done = models.MessageDead, models.Known(now)
	require.NoError(t, ledger.Save(t.Context(), m))
	now = now.Add(notify.UnheardAgain)
	again, err = desk.TellTogether(t.Context(), drafts, 4)
	require.NoError(t, err)
	for i, d := range again {
		require.True(t, d.Send, "%d is told anew", i)
	}
}

// What comes with another number at each look and says the same is no news.
func TestANewNumberIsNoNews(t *testing.T) {
	now := time.Date(2027, 1, 18, 15, 0, 0, 0, time.UTC)
	desk, _ := deskOver(t, &now)
	onset := now.Add(6 * time.Hour)
	sent := 0
	for i := range 18 {
		d, err := desk.TellTogether(t.Context(), []notify.Draft{product(t, "Small Craft Advisory", "SC", "Y", i+1, onset, now)}, 4)
		require.NoError(t, err)
		if d[0].Send {
			sent++
		}
		now = now.Add(10 * time.Minute)
	}
	require.Equal(t, 1, sent)
}

// Whatever the feed does, nobody gets more messages in an hour than the
// configuration says and one for each step in gravity; and what is held comes.
func TestNoMoreMessagesThanAllowed(t *testing.T) {
	kinds := [][3]string{{"Rip Current Statement", "RP", "S"}, {"Small Craft Advisory", "SC", "Y"}, {"Gale Watch", "GL", "A"}, {"Gale Warning", "GL", "W"}, {"Storm Warning", "SR", "W"}}
	start := time.Date(2027, 1, 18, 15, 0, 0, 0, time.UTC)
	rapid.Check(t, func(r *rapid.T) {
		now := start
		desk := notify.Desk{Ledger: &notify.Memory{}, Domain: "boat.example", Now: func() time.Time { return now }}
		var err error
		desk.Outbox, err = notify.NewOutbox(notify.OutboxOptions{Ledger: desk.Ledger, Channels: map[string]notify.Channel{"email": &way{}}, Now: desk.Now, Random: func() float64 { return 1 }})
		require.NoError(t, err)
		perHour := rapid.IntRange(1, 5).Draw(r, "per hour")
		var sent []time.Time
		var drafts []notify.Draft
		look := func(add int) {
			for range add {
				k := rapid.SampledFrom(kinds).Draw(r, "kind")
				drafts = append(drafts, product(t, k[0], k[1], k[2], len(drafts)+1, now.Add(time.Duration(len(drafts)+1)*time.Hour), now))
			}
			d, err := desk.TellTogether(t.Context(), drafts, perHour)
			require.NoError(t, err)
			for _, one := range d {
				if one.Send {
					sent = append(sent, now)
					break
				}
			}
			_, err = desk.Outbox.Flush(t.Context())
			require.NoError(t, err)
		}
		for range rapid.IntRange(1, 30).Draw(r, "looks") {
			look(rapid.IntRange(0, 4).Draw(r, "products"))
			now = now.Add(10 * time.Minute)
		}
		for i, at := range sent {
			n := 0
			for _, o := range sent[i:] {
				if o.Sub(at) < time.Hour {
					n++
				}
			}
			if n > perHour+len(kinds) {
				r.Fatalf("%d messages in the hour from %s", n, at)
			}
		}
		now = now.Add(time.Hour)
		look(0)
		for _, d := range drafts {
			told, err := desk.Ledger.Told(t.Context(), d.Key)
			require.NoError(t, err)
			if !told.Known() {
				r.Fatalf("%s was never told", d.Subject)
			}
		}
	})
}

// held is a channel that has the message and answers only when it is let go.
type held struct {
	way
	came, answer chan struct{}
}

func (h *held) Send(ctx context.Context, m models.Message, address string) error {
	h.came <- struct{}{}
	select {
	case <-h.answer:
		return h.way.Send(ctx, m, address)
	case <-ctx.Done():
		return fault(models.KindCancelled)
	}
}

// Told to end while the other side has a message, the outbox waits for its
// answer: it would go out again after the start, and come twice. It does not
// wait for ever.
func TestToldToEndWithAMessageUnderWay(t *testing.T) {
	for name, one := range map[string]struct {
		answers time.Duration
		want    models.MessageState
		ends    time.Duration
	}{
		"answered in time": {3 * time.Second, models.MessageSent, 3 * time.Second},
		"never answered":   {time.Hour, models.MessageWaiting, notify.LastMoments},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				l := &notify.Memory{}
				c := &held{came: make(chan struct{}), answer: make(chan struct{})}
				o, err := notify.NewOutbox(notify.OutboxOptions{Ledger: l, Channels: map[string]notify.Channel{"email": c}, Random: func() float64 { return 1 }})
				require.NoError(t, err)
				require.NoError(t, o.Add(t.Context(), letter("a", "k", "email")))
				ctx, cancel := context.WithCancel(t.Context())
				done := make(chan struct{})
				go func() { defer close(done); _ = o.Run(ctx, nil) }()
				<-c.came
				cancel()
				ended := time.Now()
				timer := time.AfterFunc(one.answers, func() { close(c.answer) })
				<-done
				timer.Stop()
				require.Equal(t, one.ends, time.Since(ended))
				require.Equal(t, one.want, state(t, l, "a").State)
			})
		})
	}
}
