package notify_test

import (
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/notify"
	"forecastd/internal/store"
)

var (
	_ notify.Ledger = (*notify.Memory)(nil)
	_ notify.Ledger = store.Outbox{}
)

// What a Ledger promises, asked of the one in memory and of the real one.
func TestLedgers(t *testing.T) {
	for name, open := range map[string]func(t *testing.T) notify.Ledger{
		"memory": func(*testing.T) notify.Ledger { return &notify.Memory{} },
		"store": func(t *testing.T) notify.Ledger {
			s, err := store.Open(t.Context(), store.Options{Path: filepath.Join(t.TempDir(), "forecastd.db")})
			require.NoError(t, err)
			t.Cleanup(func() { require.NoError(t, s.Close()) })
			return s.Outbox()
		},
	} {
		t.Run(name, func(t *testing.T) {
			l, ctx := open(t), t.Context()
			none, err := l.Last(ctx, "call")
			require.NoError(t, err)
			require.False(t, none.Known())

			c, told := demoDay(t)
			first := notify.Evening(captain(t), one(c, told), c.Made).Message(models.ReasonFirst, c.Made, "boat.example")
			first.Key = "call"
			require.NoError(t, l.Put(ctx, first))
			back, err := l.Last(ctx, "call")
			require.NoError(t, err)
			got := back.Or(models.Message{})
			require.True(t, first.Made.Equal(got.Made) && first.Deadline.Equal(got.Deadline))
			_, want := first.Made.Zone()
			_, offset := got.Made.Zone()
			require.Equal(t, want, offset, "the Date of a repeat must not change")
			got.Made, got.Deadline = first.Made, first.Deadline
			require.Equal(t, first, got)

			second, urgent := letter("second", "call", "email"), letter("urgent", "other", "email")
			urgent.Urgent = true
			require.NoError(t, l.Put(ctx, second))
			require.NoError(t, l.Put(ctx, urgent))
			again := second
			again.Subject = "not this"
			require.NoError(t, l.Put(ctx, again))
			ids := func() (out []string) {
				list, err := l.Waiting(ctx)
				require.NoError(t, err)
				for _, m := range list {
					require.NotEqual(t, "not this", m.Subject)
					out = append(out, m.ID)
				}
				return out
			}
			require.Equal(t, []string{"urgent", "second"}, ids())

			// The first was under way while it was superseded: a failure does
			// not bring it back, and that it arrived counts.
			first.Routes[0].Failures = 1
			require.NoError(t, l.Save(ctx, first))
			require.Equal(t, []string{"urgent", "second"}, ids())
			first.State, first.Done, first.SentBy = models.MessageSent, models.Known(time.Now()), "email"
			require.NoError(t, l.Save(ctx, first))
			require.Equal(t, []string{"urgent", "second"}, ids())

			second.State, second.Fault = models.MessageDead, "nobody there"
			require.NoError(t, l.Save(ctx, second))
			require.Equal(t, []string{"urgent"}, ids())
			back, err = l.Last(ctx, "call")
			require.NoError(t, err)
			require.Equal(t, "second nobody there", back.Or(models.Message{}).ID+" "+back.Or(models.Message{}).Fault)
		})
	}
}
