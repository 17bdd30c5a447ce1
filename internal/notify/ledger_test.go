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

			// What was given up is not told; what another tells along is, where
			// that one is.
			id := func(m models.Opt[models.Message], err error) string {
				require.NoError(t, err)
				return m.Or(models.Message{ID: "none"}).ID
			}
			those := func(list []models.Message, err error) (out []string) {
				require.NoError(t, err)
				for _, m := range list {
					out = append(out, m.ID)
				}
				return out
			}
			require.Equal(t, first.ID, id(l.Told(ctx, "call")), "the first arrived, the second did not")
			require.Equal(t, []string{"second"}, those(l.Unheard(ctx, time.Now().Add(-time.Hour))))
			require.Empty(t, those(l.Unheard(ctx, time.Now().Add(time.Hour))))
			lead, along := letter("lead", "call", "email"), letter("along", "third", "email")
			along.State, along.With = models.MessageSuperseded, lead.ID
			require.NoError(t, l.Put(ctx, lead, along))
			require.Equal(t, "along", id(l.Told(ctx, "third")))
			require.Equal(t, []string{first.ID, "urgent", "lead", "along"}, those(l.Recent(ctx, "the captain", time.Now().Add(-time.Hour))))
			require.Equal(t, []string{"urgent", "lead"}, ids(), "it has no words of its own")
			require.Equal(t, []string{"second"}, those(l.Unheard(ctx, time.Now().Add(-time.Hour))), "it is only on its way")
			lead.State, lead.Done = models.MessageDead, models.Known(time.Now())
			require.NoError(t, l.Save(ctx, lead))
			require.Equal(t, "none", id(l.Told(ctx, "third")))
			require.Equal(t, []string{"lead"}, those(l.Unheard(ctx, time.Now().Add(-time.Hour))))
		})
	}
}
