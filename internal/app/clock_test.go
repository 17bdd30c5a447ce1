package app_test

import (
	"fmt"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/store"
)

// jumpingClock is the bubble's time with an error that a test sets.
type jumpingClock struct {
	right func() time.Time
	off   atomic.Int64
}

func (c *jumpingClock) now() time.Time          { return c.right().Add(time.Duration(c.off.Load())) }
func (c *jumpingClock) wrongBy(d time.Duration) { c.off.Store(int64(d)) }

const year = 365 * 24 * time.Hour

// The clock of the machine is wrong over an evening, from seven years behind to
// twenty ahead, jumping while the daemon runs or found wrong at its start. It
// is told, once; no call is made and nothing sent for a wrong day; nothing is
// erased; and it is told to be over once it is, with the next call for the
// right day.
func TestTheClockIsWrong(t *testing.T) {
	for i, off := range []time.Duration{-7 * year, -26 * time.Hour, 26 * time.Hour, 40 * 24 * time.Hour, 20 * year, 26 * time.Hour} {
		restart := i%2 == 1
		t.Run(fmt.Sprintf("%v restart %v", off, restart), func(t *testing.T) {
			t.Parallel()
			synctest.Test(t, func(t *testing.T) { wrongOverAnEvening(t, off, restart) })
		})
	}
}

func wrongOverAnEvening(t *testing.T, off time.Duration, restart bool) {
	right := shiftedClock(time.Date(2027, 1, 18, 13, 0, 0, 0, time.UTC))
	c := &jumpingClock{right: right}
	bag := &mailbag{now: right}
	cfg := daemonConfig(t, `daemon: {collect_every: 1 h, check_every: 12 h}
charters:
  bookings:
    - {name: the Lindqvists, date: 2027-01-20, start: "07:00", end: "15:00", guests: 4, contact: guests@example.com}
`)
	o := serveOptions(t, cfg, c.now, invented{now: right}, bag)
	d := start(t, o)
	defer func() { halt(t, d) }()
	jump := func(to time.Duration) {
		if restart {
			halt(t, d)
		}
		c.wrongBy(to)
		if restart {
			d = start(t, o)
		}
	}
	about := func() (list []string) {
		for _, m := range bag.of(models.NoticeTrouble) {
			for line := range strings.Lines(m.Text) { // others may stand in the same message
				if strings.Contains(strings.ToLower(line), "the clock of this machine is wrong") {
					list = append(list, line)
				}
			}
		}
		return list
	}
	pass(time.Hour) // 09:00 EST
	require.Empty(t, about())
	kept := keptOf(t, o.State)

	jump(off)
	pass(9*time.Hour + 30*time.Minute) // past the evening, 18:30 EST
	require.Len(t, about(), 1, "%q", about())
	require.Empty(t, bag.of(models.NoticeCall), "none for a wrong day")
	require.Empty(t, bag.of(models.NoticeMorning))
	_, page := ask(t, d, "/readyz")
	require.Contains(t, page, "clock")

	jump(0)
	pass(90 * time.Minute)
	require.Len(t, about(), 2, "%q", about())
	require.Contains(t, strings.ToLower(about()[1]), "over:")
	calls := bag.of(models.NoticeCall)
	require.Len(t, calls, 1)
	require.Equal(t, "call/Port Amparo/2027-01-19/the captain", calls[0].Key)
	after := keptOf(t, o.State)
	require.Equal(t, "the Lindqvists", after.guests)
	require.GreaterOrEqual(t, after.observations, kept.observations)
	require.GreaterOrEqual(t, after.sent, kept.sent)
}

// inStore is what a store holds of some things that could be erased.
type inStore struct {
	guests             string
	observations, sent int
}

func keptOf(t *testing.T, state string) (k inStore) {
	t.Helper()
	st, err := store.Open(t.Context(), store.Options{Path: filepath.Join(state, store.FileName), SkipCheck: true})
	require.NoError(t, err)
	defer st.Close()
	held, err := st.Bookings(t.Context(), "Port Amparo", models.Date{Year: 2027, Month: 1, Day: 20}, models.Date{Year: 2027, Month: 1, Day: 20})
	require.NoError(t, err)
	require.Len(t, held, 1)
	k.guests = held[0].Name
	o, err := st.Observations(t.Context(), "XAMP1", models.Interval{Start: time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC), End: time.Date(2027, 2, 1, 0, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	m, err := st.Outbox().Messages(t.Context(), models.MessageSent, 1000)
	require.NoError(t, err)
	k.observations, k.sent = len(o), len(m)
	return k
}
