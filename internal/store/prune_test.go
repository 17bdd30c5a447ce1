package store_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/store"
)

func TestPruneByAge(t *testing.T) {
	s, ctx := open(t), t.Context()
	const days = 24 * time.Hour
	ago := func(n int) time.Time { return evening().Add(-time.Duration(n) * days) }
	for _, n := range []int{1, 40} {
		o := observation(0)
		o.At = ago(n)
		_, err := s.AddObservations(ctx, []models.Observation{o})
		require.NoError(t, err)
		_, err = s.AddSeries(ctx, "Port A", series(ago(n), 3))
		require.NoError(t, err)
		c := call()
		c.Standing.Made = ago(n)
		_, err = s.AddCall(ctx, c)
		require.NoError(t, err)
		for _, outcome := range []models.RunOutcome{models.RunOK, models.RunFailed, ""} {
			id, err := s.BeginRun(ctx, models.Run{Job: "poll", Due: ago(n), Started: ago(n)})
			require.NoError(t, err)
			require.NoError(t, s.EndRun(ctx, models.Run{ID: id, Outcome: outcome}))
		}
		sent, waits := message(fmt.Sprintf("s%d@x", n), "sent"), message(fmt.Sprintf("w%d@x", n), fmt.Sprintf("waits %d", n))
		sent.Made, sent.State, waits.Made = ago(n), models.MessageSent, ago(n)
		require.NoError(t, s.Outbox().Put(ctx, sent))
		require.NoError(t, s.Outbox().Put(ctx, waits))
		_, err = s.SawWarnings(ctx, []string{fmt.Sprint("ended", n)}, answer(ago(n), warning("Gale Warning", "", fmt.Sprint("ended", n), 5)), ago(n))
		require.NoError(t, err)
		for _, later := range []time.Duration{30 * time.Minute, time.Hour} {
			_, err = s.SawWarnings(ctx, []string{fmt.Sprint("ended", n)}, answer(ago(n).Add(later)), ago(n).Add(later))
			require.NoError(t, err)
		}
		_, err = s.SawWarnings(ctx, []string{fmt.Sprint("holds", n)}, answer(ago(n), warning("Gale Warning", "", fmt.Sprint("holds", n), 5)), ago(n))
		require.NoError(t, err)
	}
	keep := store.Retention{Observations: 30 * days, Series: 30 * days, Outlooks: 30 * days, Warnings: 30 * days, Messages: 30 * days, Runs: 30 * days, Failed: 60 * days, Contacts: 365}
	p, err := s.Prune(ctx, evening(), keep)
	require.NoError(t, err)
	require.Equal(t, map[string]int{"observations": 1, "series": 1, "outlooks": 1, "warnings": 1, "messages": 1, "drafts": 0, "used links": 0, "logins": 0, "runs": 1, "failed runs": 0}, p.Rows)
	for query, want := range map[string][]string{
		"SELECT count(*) FROM observations":                                                {"1"},
		"SELECT count(*) FROM series":                                                      {"1"},
		"SELECT count(*) FROM series_hours":                                                {"3"},
		"SELECT count(*) FROM calls":                                                       {"2"},
		"SELECT count(*) FROM outlooks":                                                    {"1"},
		"SELECT id FROM messages ORDER BY id":                                              {"s1@x", "w1@x", "w40@x"},
		"SELECT zone FROM warnings ORDER BY zone":                                          {"ended1", "holds1", "holds40"},
		"SELECT outcome FROM runs ORDER BY id":                                             {"ok", "failed", "", "failed", ""},
		"SELECT count(*) FROM series_hours WHERE series_id NOT IN (SELECT id FROM series)": {"0"},
	} {
		got, err := s.Strings(ctx, query)
		require.NoError(t, err)
		if query == "SELECT outcome FROM runs ORDER BY id" {
			require.ElementsMatch(t, want, got)
			continue
		}
		require.Equal(t, want, got, query)
	}
	p, err = s.Prune(ctx, evening().AddDate(50, 0, 0), store.Retention{Contacts: 365 * 100})
	require.NoError(t, err)
	require.Equal(t, map[string]int{"used links": 0, "logins": 0}, p.Rows, "0 keeps for good, but for links and logins that are too old anyway")
	p, err = s.Prune(ctx, evening().AddDate(50, 0, 0), store.DefaultRetention())
	require.NoError(t, err)
	require.Zero(t, p.Rows["calls"], "no service has said that it is so late")
	answered(t, s, evening().AddDate(50, 0, 0))
	p, err = s.Prune(ctx, evening().AddDate(50, 0, 0), store.DefaultRetention())
	require.NoError(t, err)
	require.Equal(t, 2, p.Rows["calls"])
	waiting, err := s.Outbox().Waiting(ctx)
	require.NoError(t, err)
	require.Len(t, waiting, 2, "what waits is never dropped")
}

func TestGuestsAreErased(t *testing.T) {
	s, ctx := open(t), t.Context()
	_, err := s.SyncBookings(ctx, "calendar", "Port A", day(-30), []models.Booking{booking("past", day(0)), booking("coming", day(3))}, evening())
	require.NoError(t, err)
	id, err := s.AddCall(ctx, call())
	require.NoError(t, err)
	m := message("1@x", "guests")
	m.Notice, m.Person, m.Routes[0].Address, m.State = models.NoticeGuests, "the Example party", "guests@example.org", models.MessageSent
	m.Text = "Dear Example party"
	require.NoError(t, s.Outbox().Put(ctx, m))
	about := message("2@x", "call")
	about.State = models.MessageSent
	require.NoError(t, s.Outbox().Put(ctx, about))
	require.NoError(t, s.Outbox().AddDraft(ctx, store.Draft{ID: "d", Key: "guests", Date: day(0), Made: evening(), Expires: evening().Add(time.Hour), Message: m}))

	prune := func(now time.Time) store.Pruned {
		p, err := s.Prune(ctx, now, store.Retention{Contacts: 2})
		require.NoError(t, err)
		return p
	}
	// The trip is on the 19th. Two days after is the 21st, which ends on the
	// last island of the world at 12:00 UTC on the 22nd.
	require.Zero(t, prune(time.Date(2027, 1, 22, 11, 59, 0, 0, time.UTC)).Erased)
	held, err := s.Bookings(ctx, "Port A", day(0), day(0))
	require.NoError(t, err)
	require.Equal(t, "guests@example.org", held[0].Contact)

	now := time.Date(2027, 1, 22, 12, 0, 0, 0, time.UTC)
	require.Equal(t, 1, prune(now).Erased)
	require.Zero(t, prune(now).Erased)
	held, err = s.Bookings(ctx, "Port A", day(0), day(3))
	require.NoError(t, err)
	require.Empty(t, held[0].Name+held[0].Contact)
	require.Equal(t, models.Known(now), held[0].Erased)
	require.Equal(t, day(0), held[0].Date)
	require.Equal(t, "guests@example.org", held[1].Contact)
	_, err = s.SyncBookings(ctx, "calendar", "Port A", day(-30), []models.Booking{booking("past", day(0)), booking("coming", day(3))}, now)
	require.NoError(t, err)
	held, err = s.Bookings(ctx, "Port A", day(0), day(0))
	require.NoError(t, err)
	require.Empty(t, held[0].Contact, "a calendar that still holds them does not bring them back")

	got, err := s.Call(ctx, id)
	require.NoError(t, err)
	require.JSONEq(t, `{"schema":"forecastd.call.v1","charter":{"message":""}}`, string(got.Document))
	last, err := s.Outbox().Last(ctx, "guests")
	require.NoError(t, err)
	erased := last.Or(models.Message{})
	require.Equal(t, m.Digest, erased.Digest, "what is needed to decide stays")
	require.Empty(t, erased.Person+erased.Text+erased.Subject+erased.HTML+erased.Short)
	require.Empty(t, erased.Routes)
	last, err = s.Outbox().Last(ctx, "call")
	require.NoError(t, err)
	told := message("2@x", "call")
	told.State, told.Subject, told.Text, told.HTML, told.Short, told.Attachments = models.MessageSent, "", "", "", "", []models.Attachment{}
	require.Equal(t, models.Known(told), last, "a message to others may name the guests: it loses its words, and no more")

	// Nor is it left in the free pages of the file or its journal.
	_, err = s.CancelBooking(ctx, "calendar", "coming", "", now)
	require.NoError(t, err)
	prune(now.AddDate(0, 0, 10))
	for _, name := range []string{s.Path(), s.Path() + "-wal"} {
		b, err := os.ReadFile(name)
		require.NoError(t, err)
		require.False(t, bytes.Contains(b, []byte("guests@example.org")), filepath.Base(name))
	}
}

// Where nobody gives a booking an ID, its source makes one of day and name:
// that goes as well, and the booking is known again by its mark.
func TestIDsMadeOfNamesAreErased(t *testing.T) {
	s, ctx := open(t), t.Context()
	named := func(on models.Date) models.Booking {
		b := booking("2027-01-19 the quillfeathers", on)
		b.Name, b.Contact = "the Quillfeathers", "quill@example.org"
		return b
	}
	sync := func(when time.Time, list ...models.Booking) []store.BookingChange {
		t.Helper()
		changes, err := s.SyncBookings(ctx, "bookings_csv", "Port A", day(-60), list, when)
		require.NoError(t, err)
		return changes
	}
	held := func() []store.Booking {
		t.Helper()
		list, err := s.Bookings(ctx, "Port A", day(-60), day(60))
		require.NoError(t, err)
		return list
	}
	sync(evening(), named(day(0)))
	before := held()[0]
	_, err := s.MoveBooking(ctx, "bookings_csv", before.ID, day(0), before.Trip.Start, before.Trip.End, "Mrs Quillfeather asked", evening())
	require.NoError(t, err)
	prune := func(now time.Time) store.Pruned {
		t.Helper()
		p, err := s.Prune(ctx, now, store.Retention{Contacts: 2})
		require.NoError(t, err)
		return p
	}
	now := evening().AddDate(0, 0, 10)
	require.Equal(t, 1, prune(now).Erased)
	clean := func() {
		t.Helper()
		for _, name := range []string{s.Path(), s.Path() + "-wal"} {
			b, err := os.ReadFile(name)
			require.NoError(t, err)
			for _, word := range []string{"uillfeather", "quill@example.org"} {
				require.False(t, bytes.Contains(b, []byte(word)), "%s in %s", word, filepath.Base(name))
			}
		}
	}
	clean()
	erased := held()
	require.Len(t, erased, 1)
	require.Equal(t, before.Mark(), erased[0].ID)
	require.Equal(t, before.Mark(), erased[0].Mark(), "calls and float plans still find it")

	// The file still holds the row, first as it was, then with a slip mended.
	require.Empty(t, sync(now, named(day(0))))
	mended := named(day(0))
	mended.Trip.Party = models.Family
	require.Empty(t, sync(now, mended))
	require.Equal(t, 0, prune(now).Erased)
	clean()
	require.Len(t, held(), 1, "seen again it is neither doubled nor brought back")
	require.Equal(t, store.Moved, held()[0].State, "nor taken for gone")

	// The same ID on a day to come is a trip again.
	require.Len(t, sync(now, named(day(40))), 1)
	require.Len(t, held(), 1)
	require.Equal(t, "the Quillfeathers", held()[0].Name)
	require.Equal(t, before.ID, held()[0].ID)
	require.Equal(t, before.Mark(), held()[0].Mark())
}

func TestSizeIsBounded(t *testing.T) {
	s, ctx := open(t), t.Context()
	outlook := func(seed int) []byte { // hard to pack, as numbers are
		var b bytes.Buffer
		b.WriteString(`{"x":[`)
		for i := range 12000 {
			fmt.Fprintf(&b, "%d,", (i*7919+seed*104729)%1000003)
		}
		b.WriteString("0]}")
		return b.Bytes()
	}
	for i := range 24 {
		c := call()
		c.Standing.Made = evening().Add(-time.Duration(i) * 6 * time.Hour)
		c.Outlook = outlook(i)
		_, err := s.AddCall(ctx, c)
		require.NoError(t, err)
		_, err = s.AddSeries(ctx, "Port A", series(c.Standing.Made, 40))
		require.NoError(t, err)
	}
	full, err := s.Size(ctx)
	require.NoError(t, err)
	p, err := s.Prune(ctx, evening(), store.Retention{Contacts: 30, MaxBytes: full * 2 / 3})
	require.NoError(t, err)
	require.False(t, p.Over)
	require.LessOrEqual(t, p.Bytes, full*2/3)
	require.Positive(t, p.Rows["outlooks"])
	require.Zero(t, p.Rows["series"], "outlooks go first")
	info, err := os.Stat(s.Path())
	require.NoError(t, err)
	require.LessOrEqual(t, info.Size(), full*2/3+1<<16, "the disk has the room back")
	newest, err := s.Calls(ctx, "Port A", day(0), 1)
	require.NoError(t, err)
	got, err := s.Call(ctx, newest[0].ID)
	require.NoError(t, err)
	require.Equal(t, outlook(0), got.Outlook)

	p, err = s.Prune(ctx, evening(), store.Retention{Contacts: 30, MaxBytes: 1})
	require.NoError(t, err)
	require.True(t, p.Over, "and it says so when it can't")
	got, err = s.Call(ctx, newest[0].ID)
	require.NoError(t, err)
	require.NotEmpty(t, got.Outlook, "the newest two days stay")
	list, err := s.SeriesFor(ctx, "Port A", "the edge", time.Unix(0, 0), evening())
	require.NoError(t, err)
	require.Equal(t, []models.Series{series(evening(), 40)}, list)
}

// answered keeps a report of another station: what lets ages count up to then.
func answered(t *testing.T, s *store.Store, when time.Time) {
	t.Helper()
	o := observation(0)
	o.Station, o.At = "ANSWERED", when
	_, err := s.AddObservations(t.Context(), []models.Observation{o})
	require.NoError(t, err)
}

// A clock that is ahead, by days or by years, erases no guest that is still to
// come and nothing else; the same ages count as soon as the services say that
// it is so late. What such a clock had erased before comes back with its
// source.
func TestAClockAheadErasesNothing(t *testing.T) {
	ctx := t.Context()
	for _, ahead := range []int{17, 40, 400, 7305} {
		s := open(t)
		answered(t, s, evening())
		b := booking("a", day(1))
		_, err := s.SyncBookings(ctx, "configuration", "Port A", day(-1), []models.Booking{b}, evening())
		require.NoError(t, err)
		sent := message("s@x", "sent")
		sent.Made, sent.State = evening(), models.MessageSent
		require.NoError(t, s.Outbox().Put(ctx, sent))
		later := evening().AddDate(0, 0, ahead)
		p, err := s.Prune(ctx, later, store.DefaultRetention())
		require.NoError(t, err)
		require.Zero(t, p.Erased, "%d days ahead", ahead)
		for kind, n := range p.Rows {
			require.Zero(t, n, "%d days ahead: %s", ahead, kind)
		}
		answered(t, s, later)
		p, err = s.Prune(ctx, later, store.DefaultRetention())
		require.NoError(t, err)
		require.Equal(t, 1, p.Erased)
		changes, err := s.SyncBookings(ctx, "configuration", "Port A", day(-1), []models.Booking{b}, evening())
		require.NoError(t, err)
		require.Len(t, changes, 1)
		require.Equal(t, b.Name, changes[0].Now.Name, "erased in what is still to come")
	}
}
