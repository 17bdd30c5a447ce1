package store_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/notify"
	"forecastd/internal/sched"
	"forecastd/internal/store"
)

var (
	_ notify.Ledger = store.Outbox{}
	_ sched.Ledger  = (*store.Store)(nil)
)

func message(id, key string) models.Message {
	return models.Message{
		ID: id, Key: key, Digest: "d1", Level: 2, Notice: models.NoticeCall, Reason: models.ReasonFirst, Person: "captain", Port: "Port A",
		Made: evening(), Deadline: evening().Add(8 * time.Hour), Subject: "kite, back by noon", Text: "…", HTML: "<p>…</p>", Short: "kite",
		Attachments: []models.Attachment{{Name: "trip.ics", Type: "text/calendar", Data: []byte{1, 2}}},
		Routes:      []models.Route{{Channel: "email", Address: "captain@example.org"}, {Channel: "webhook", Address: "https://example.org/hook"}},
		State:       models.MessageWaiting,
	}
}

func ids(list []models.Message) (out []string) {
	for _, m := range list {
		out = append(out, m.ID)
	}
	return out
}

func TestOutbox(t *testing.T) {
	s, ctx := open(t), t.Context()
	o := s.Outbox()
	last, err := o.Last(ctx, "call 2027-01-19")
	require.NoError(t, err)
	require.False(t, last.Known())

	urgent := message("3@x", "alert")
	urgent.Urgent = true
	for _, m := range []models.Message{message("1@x", "call 2027-01-19"), message("2@x", "morning"), urgent, message("1@x", "call 2027-01-19")} {
		require.NoError(t, o.Put(ctx, m))
	}
	waiting, err := o.Waiting(ctx)
	require.NoError(t, err)
	require.Equal(t, []string{"3@x", "1@x", "2@x"}, ids(waiting))
	require.Equal(t, message("1@x", "call 2027-01-19"), waiting[1])

	// A newer message of the key while the first is being tried.
	newer := message("4@x", "call 2027-01-19")
	newer.Digest = "d2"
	require.NoError(t, o.Put(ctx, newer))
	tried := waiting[1]
	tried.NextTry, tried.Fault = evening().Add(time.Minute), "email: busy"
	require.NoError(t, o.Save(ctx, tried))
	waiting, err = o.Waiting(ctx)
	require.NoError(t, err)
	require.Equal(t, []string{"3@x", "2@x", "4@x"}, ids(waiting), "a failed try brings no superseded message back")
	tried.State, tried.Done, tried.SentBy = models.MessageSent, models.Known(evening().Add(time.Minute)), "email"
	require.NoError(t, o.Save(ctx, tried), "but what went out went out")
	sent, err := o.Messages(ctx, models.MessageSent, 10)
	require.NoError(t, err)
	require.Equal(t, []models.Message{tried}, sent)

	dead := newer
	dead.State, dead.Done, dead.Fault = models.MessageDead, models.Known(evening().Add(time.Hour)), "every channel refused it"
	require.NoError(t, o.Save(ctx, dead))
	last, err = o.Last(ctx, "call 2027-01-19")
	require.NoError(t, err)
	require.Equal(t, models.Known(dead), last)
	back := dead
	back.State = models.MessageWaiting
	require.NoError(t, o.Save(ctx, back))
	letters, err := o.Messages(ctx, models.MessageDead, 10)
	require.NoError(t, err)
	require.Equal(t, []string{"4@x"}, ids(letters), "the dead stay dead")
}

// Whatever is put and saved in whatever order: the outbox in the file answers
// as the one in memory does.
func TestOutboxKeepsTheLedgersContract(t *testing.T) {
	s := open(t)
	n := 0
	rapid.Check(t, func(r *rapid.T) {
		ctx := t.Context()
		require.NoError(r, s.Exec(ctx, "DELETE FROM messages"))
		file, memory := s.Outbox(), &notify.Memory{}
		n++
		for range rapid.IntRange(1, 10).Draw(r, "steps") {
			key := rapid.SampledFrom([]string{"a", "b"}).Draw(r, "key")
			id := fmt.Sprintf("%d-%s-%d@x", n, key, rapid.IntRange(0, 4).Draw(r, "id"))
			m := message(id, key)
			m.Urgent = rapid.Bool().Draw(r, "urgent")
			if rapid.Bool().Draw(r, "put") {
				require.NoError(r, memory.Put(ctx, m))
				require.NoError(r, file.Put(ctx, m))
			} else if waiting, err := memory.Waiting(ctx); err == nil && len(waiting) > 0 {
				m = rapid.SampledFrom(waiting).Draw(r, "one")
				m.State = rapid.SampledFrom([]models.MessageState{models.MessageWaiting, models.MessageSent, models.MessageDead}).Draw(r, "state")
				m.NextTry = evening().Add(time.Duration(rapid.IntRange(0, 5).Draw(r, "next")) * time.Minute)
				require.NoError(r, memory.Save(ctx, m))
				require.NoError(r, file.Save(ctx, m))
			}
			want, err := memory.Waiting(ctx)
			require.NoError(r, err)
			got, err := file.Waiting(ctx)
			require.NoError(r, err)
			require.Equal(r, want, got)
			for _, key := range []string{"a", "b", "c"} {
				want, err := memory.Last(ctx, key)
				require.NoError(r, err)
				got, err := file.Last(ctx, key)
				require.NoError(r, err)
				require.Equal(r, want, got)
			}
		}
	})
}

func TestDraftsAreAnsweredOnce(t *testing.T) {
	s, ctx := open(t), t.Context()
	o := s.Outbox()
	draft := func(id string) store.Draft {
		m := message(id+"@x", "guests 2027-01-19")
		m.Notice = models.NoticeGuests
		return store.Draft{ID: id, Key: "guests 2027-01-19", Port: "Port A", Date: day(0), Booking: "b1", Made: evening(), Expires: evening().Add(10 * time.Hour), Message: m}
	}
	for _, id := range []string{"old", "new", "new"} {
		require.NoError(t, o.AddDraft(ctx, draft(id)))
	}
	open, err := o.Drafts(ctx, evening())
	require.NoError(t, err)
	require.Equal(t, []store.Draft{draft("new")}, open)
	open, err = o.Drafts(ctx, evening().Add(11*time.Hour))
	require.NoError(t, err)
	require.Empty(t, open)

	_, err = o.AnswerDraft(ctx, "old", store.DraftApproved, "captain", evening())
	require.ErrorIs(t, err, store.ErrNotFound, "superseded")
	_, err = o.AnswerDraft(ctx, "new", store.DraftApproved, "captain", evening().Add(11*time.Hour))
	require.ErrorIs(t, err, store.ErrNotFound, "too late")
	_, err = o.AnswerDraft(ctx, "new", store.DraftSuperseded, "captain", evening())
	require.ErrorContains(t, err, "is no answer")
	got, err := o.AnswerDraft(ctx, "new", store.DraftApproved, "captain", evening().Add(time.Hour))
	require.NoError(t, err)
	require.Equal(t, "captain", got.By)
	_, err = o.AnswerDraft(ctx, "new", store.DraftApproved, "captain", evening().Add(time.Hour))
	require.ErrorIs(t, err, store.ErrNotFound, "a link works once")
	waiting, err := o.Waiting(ctx)
	require.NoError(t, err)
	require.Equal(t, []string{"new@x"}, ids(waiting))

	require.NoError(t, o.AddDraft(ctx, draft("third")))
	_, err = o.AnswerDraft(ctx, "third", store.DraftRefused, "captain", evening())
	require.NoError(t, err)
	waiting, err = o.Waiting(ctx)
	require.NoError(t, err)
	require.Equal(t, []string{"new@x"}, ids(waiting))
}

func warning(event, vtec, zone string, hours int) models.Warning {
	p, s, _ := models.VTECCodes(vtec)
	return models.Warning{
		Event: event, VTEC: vtec, Phenomenon: p, Significance: s, Zone: zone, Office: "XAM", Issued: evening(), Onset: evening().Add(2 * time.Hour),
		Ends: models.Known(evening().Add(time.Duration(hours) * time.Hour)), Headline: "invented", Area: []models.Position{{Lat: 25, Lon: -80}},
	}
}

func TestWarningsHaveALife(t *testing.T) {
	s, ctx := open(t), t.Context()
	const vtec = "/X.%s.XAMX.SC.Y.0035.270119T0000Z-270119T2300Z/"
	isNew, extended := fmt.Sprintf(vtec, "NEW"), fmt.Sprintf(vtec, "EXT")
	zones := []string{"AMZ610", "AMZ650"}
	look := func(after time.Duration, seen ...models.Warning) (got []string) {
		t.Helper()
		news, err := s.SawWarnings(ctx, zones, answer(evening().Add(after), seen...), evening().Add(after))
		require.NoError(t, err)
		for _, n := range news {
			got = append(got, fmt.Sprintf("%s %s %s", n.Now.Event, n.Now.Zone, n.News))
		}
		return got
	}
	sca := warning("Small Craft Exercise Caution", isNew, "AMZ650", 20)
	fog := warning("Dense Fog Advisory", "", "AMZ610", 6)
	require.Equal(t, []string{"Small Craft Exercise Caution AMZ650 issued", "Dense Fog Advisory AMZ610 issued"}, look(0, sca, fog))
	require.Empty(t, look(10*time.Minute, fog, sca))

	longer := warning("Small Craft Exercise Caution", extended, "AMZ650", 30)
	longer.Issued = evening().Add(time.Hour)
	require.Equal(t, []string{"Small Craft Exercise Caution AMZ650 changed"}, look(time.Hour, longer, sca, fog), "the feed still holds the old one too")
	alive, err := s.Warnings(ctx, []string{"AMZ650"}, always())
	require.NoError(t, err)
	require.Equal(t, models.Known(evening().Add(time.Hour)), alive[0].Changed)
	was := alive[0].Was.Or(models.Warning{})
	require.Equal(t, sca.Ends, was.Ends, "as it stood before it was extended")
	require.Equal(t, sca.Onset, was.Onset)
	require.Equal(t, []string{"Dense Fog Advisory AMZ610 expired"}, look(6*time.Hour, longer))
	require.Empty(t, look(6*time.Hour+50*time.Minute), "missing once")
	require.Equal(t, []string{"Small Craft Exercise Caution AMZ650 unlisted"}, look(7*time.Hour))
	require.Empty(t, look(8*time.Hour))
	require.Equal(t, []string{"Small Craft Exercise Caution AMZ650 issued"}, look(9*time.Hour, longer), "a second life")

	// An answer for other zones says nothing about these.
	news, err := s.SawWarnings(ctx, []string{"AMZ700"}, answer(evening().Add(10*time.Hour)), evening().Add(10*time.Hour))
	require.NoError(t, err)
	require.Empty(t, news)
	_, err = s.SawWarnings(ctx, []string{"AMZ700"}, answer(evening().Add(11*time.Hour), sca), evening())
	require.ErrorContains(t, err, `zone "AMZ650", which was not asked for`)

	lives, err := s.Warnings(ctx, zones, always())
	require.NoError(t, err)
	require.Len(t, lives, 3)
	first := lives[0]
	require.Equal(t, longer, first.Warning)
	require.Equal(t, evening(), first.FirstSeen)
	require.Equal(t, evening().Add(6*time.Hour), first.LastSeen)
	require.Equal(t, models.Known(evening().Add(7*time.Hour)), first.Ended)
	require.Equal(t, models.EndUnlisted, first.How)
	require.False(t, lives[2].Ended.Known())
}

// answer is a whole answer of the feed.
func answer(made time.Time, listed ...models.Warning) models.WarningsSeen {
	return models.WarningsSeen{Made: made, Listed: listed, Whole: true}
}

// A product is cancelled only when a product says so. What answers merely lack
// is no longer listed after two of them, made some minutes apart; old answers
// and those that are not the whole list are none of them.
func TestOnlyAProductCancels(t *testing.T) {
	zones := []string{"AMZ650"}
	gale := warning("Gale Warning", "/O.NEW.XAMX.GL.W.0001.270119T0000Z-270121T0000Z/", "AMZ650", 48)
	type step struct {
		after time.Duration // when the answer was made
		seen  models.WarningsSeen
		want  string
	}
	over := func(end models.WarningEnd) models.WarningsSeen {
		return models.WarningsSeen{Whole: true, Over: []models.WarningOver{{Warning: gale, End: end}}}
	}
	listed, empty, part := answer(time.Time{}, gale), answer(time.Time{}), models.WarningsSeen{}
	for name, steps := range map[string][]step{
		"said so":                        {{5 * time.Minute, over(models.EndCancelled), "cancelled"}},
		"said so by half an answer":      {{5 * time.Minute, models.WarningsSeen{Over: over(models.EndCancelled).Over}, "cancelled"}},
		"another took its place":         {{5 * time.Minute, over(models.EndReplaced), "replaced"}},
		"two answers lack it":            {{5 * time.Minute, empty, ""}, {10 * time.Minute, empty, "unlisted"}},
		"the same state twice":           {{5 * time.Minute, empty, ""}, {5 * time.Minute, empty, ""}, {6 * time.Minute, empty, ""}, {7 * time.Minute, empty, "unlisted"}},
		"it comes back in between":       {{5 * time.Minute, empty, ""}, {10 * time.Minute, listed, ""}, {15 * time.Minute, empty, ""}, {20 * time.Minute, listed, ""}},
		"old answers say nothing":        {{-5 * time.Minute, empty, ""}, {-time.Minute, empty, ""}, {5 * time.Minute, empty, ""}, {time.Minute, empty, ""}},
		"half answers say nothing":       {{5 * time.Minute, part, ""}, {10 * time.Minute, part, ""}, {15 * time.Minute, part, ""}},
		"an old cancel says nothing":     {{-5 * time.Minute, over(models.EndCancelled), ""}},
		"its time is over, missing once": {{49 * time.Hour, empty, "expired"}},
	} {
		t.Run(name, func(t *testing.T) {
			s := open(t)
			first := answer(evening(), gale)
			_, err := s.SawWarnings(t.Context(), zones, first, evening())
			require.NoError(t, err)
			for i, st := range steps {
				st.seen.Made = evening().Add(st.after)
				news, err := s.SawWarnings(t.Context(), zones, st.seen, st.seen.Made)
				require.NoError(t, err)
				if st.want == "" {
					require.Empty(t, news, "step %d", i)
					continue
				}
				require.Len(t, news, 1, "step %d", i)
				require.Equal(t, st.want, string(news[0].News))
			}
			kept, err := s.WarningsKept(t.Context(), zones)
			require.NoError(t, err)
			require.False(t, kept.Made.Before(evening()))
			require.Equal(t, steps[len(steps)-1].want == "", len(kept.Alive) == 1)
		})
	}
}

// An event that its office renumbers is one event.
func TestRenumberedWarningIsOneLife(t *testing.T) {
	s, zones := open(t), []string{"AMZ650"}
	for i := range 4 {
		gale := warning("Gale Warning", fmt.Sprintf("/O.NEW.XAMX.GL.W.%04d.270119T0000Z-270121T0000Z/", i+1), "AMZ650", 48)
		if i > 0 {
			gale.Life = "XAMX.GL.W.0001"
		}
		made := evening().Add(time.Duration(i) * 5 * time.Minute)
		news, err := s.SawWarnings(t.Context(), zones, answer(made, gale), made)
		require.NoError(t, err)
		require.Equal(t, i == 0, len(news) == 1)
	}
	lives, err := s.Warnings(t.Context(), zones, always())
	require.NoError(t, err)
	require.Len(t, lives, 1)
	require.Equal(t, "XAMX.GL.W.0001", lives[0].Life)
}

func booking(id string, date models.Date) models.Booking {
	return models.Booking{
		ID: id, Date: date, Name: "the Example party", Contact: "guests@example.org", Ground: "the edge", TellBy: models.Known(evening()),
		Trip: models.Trip{Kind: models.Charter, Party: models.Family, Start: models.Clock{Hour: 7}, End: models.Clock{Hour: 15, Minute: 30}, LinesIn: models.Known(models.Clock{Hour: 8}), Guests: models.Known(4), ForHire: models.Known(true)},
	}
}

func TestBookings(t *testing.T) {
	s, ctx := open(t), t.Context()
	sync := func(list ...models.Booking) (got []string) {
		t.Helper()
		changes, err := s.SyncBookings(ctx, "calendar", "Port A", day(0), list, evening())
		require.NoError(t, err)
		for _, c := range changes {
			got = append(got, fmt.Sprintf("%s %s %s", c.Now.ID, c.Now.Date, c.Now.State))
		}
		return got
	}
	held := func() (got []string) {
		t.Helper()
		list, err := s.Bookings(ctx, "Port A", day(-30), day(30))
		require.NoError(t, err)
		for _, b := range list {
			got = append(got, fmt.Sprintf("%s %s %s", b.ID, b.Date, b.State))
		}
		return got
	}
	a, b := booking("a", day(1)), booking("b", day(2))
	require.Equal(t, []string{"a 2027-01-20 booked", "b 2027-01-21 booked"}, sync(a, b))
	require.Empty(t, sync(b, a), "seen again")
	list, err := s.Bookings(ctx, "Port A", day(1), day(1))
	require.NoError(t, err)
	require.Equal(t, a, list[0].Booking)

	// The captain's word stands while the calendar tells the same.
	change, err := s.MoveBooking(ctx, "calendar", "a", day(4), models.Clock{Hour: 8}, models.Clock{Hour: 14}, "too rough", evening())
	require.NoError(t, err)
	require.Equal(t, day(1), change.Before.Or(store.Booking{}).Date)
	require.Equal(t, models.Clock{Hour: 8}, change.Now.Trip.Start)
	_, err = s.CancelBooking(ctx, "calendar", "b", "gale", evening())
	require.NoError(t, err)
	require.Empty(t, sync(a, b))
	require.Equal(t, []string{"b 2027-01-21 cancelled", "a 2027-01-23 moved"}, held())

	// Then the guests change theirs.
	b.Date = day(6)
	require.Equal(t, []string{"b 2027-01-25 booked"}, sync(a, b))
	// One is taken out of the calendar, the other called off in it.
	b.Cancelled = true
	require.Equal(t, []string{"b 2027-01-25 cancelled", "a 2027-01-23 gone"}, sync(b))
	require.Empty(t, sync(b))
	require.Equal(t, []string{"a 2027-01-20 booked"}, sync(a, b), "and back in")
	require.Equal(t, []string{"a 2027-01-20 booked", "b 2027-01-25 cancelled"}, held())

	// Past trips do not go because a calendar forgets them; other sources and
	// ports are left alone.
	_, err = s.AddBooking(ctx, "command", "Port A", booking("c", day(3)), evening())
	require.NoError(t, err)
	_, err = s.AddBooking(ctx, "calendar", "Port A", booking("past", day(-3)), evening())
	require.NoError(t, err)
	_, err = s.AddBooking(ctx, "calendar", "Port B", booking("other port", day(3)), evening())
	require.NoError(t, err)
	require.Equal(t, []string{"a 2027-01-20 gone"}, sync(b))

	_, err = s.SyncBookings(ctx, "calendar", "Port A", day(0), []models.Booking{a, a}, evening())
	require.ErrorContains(t, err, "comes twice")
	require.Equal(t, []string{"past 2027-01-16 booked", "a 2027-01-20 gone", "c 2027-01-22 booked", "b 2027-01-25 cancelled"}, held(), "a refused list changes nothing")
	_, err = s.MoveBooking(ctx, "calendar", "none", day(4), models.Clock{}, models.Clock{}, "", evening())
	require.ErrorIs(t, err, store.ErrNotFound)
}

// However often and in whatever order a calendar is read: as many bookings as
// it holds, and the second reading changes nothing.
func TestSyncingTwiceIsSyncingOnce(t *testing.T) {
	s := open(t)
	rapid.Check(t, func(r *rapid.T) {
		ctx := t.Context()
		require.NoError(r, s.Exec(ctx, "DELETE FROM bookings"))
		reading := rapid.SliceOfNDistinct(rapid.Custom(func(r *rapid.T) models.Booking {
			b := booking(rapid.StringMatching("[a-f]").Draw(r, "id"), day(rapid.IntRange(0, 5).Draw(r, "day")))
			b.Cancelled = rapid.Bool().Draw(r, "cancelled")
			return b
		}), 0, 6, func(b models.Booking) string { return b.ID })
		for range 2 {
			list := reading.Draw(r, "calendar")
			for again := range 2 {
				changes, err := s.SyncBookings(ctx, "calendar", "Port A", day(0), list, evening())
				require.NoError(r, err)
				if again == 1 {
					require.Empty(r, changes)
				}
				slices.Reverse(list)
			}
			held, err := s.Bookings(ctx, "Port A", day(0), day(10))
			require.NoError(r, err)
			var alive, want []string
			for _, b := range held {
				if !b.Cancelled {
					alive = append(alive, b.ID)
				}
			}
			for _, b := range list {
				if !b.Cancelled {
					want = append(want, b.ID)
				}
			}
			require.ElementsMatch(r, want, alive)
		}
	})
}

func TestObservationsTwiceAreObservationsOnce(t *testing.T) {
	s := open(t)
	rapid.Check(t, func(r *rapid.T) {
		ctx := t.Context()
		require.NoError(r, s.Exec(ctx, "DELETE FROM observations"))
		numbers := rapid.SliceOfN(rapid.IntRange(0, 9), 1, 15).Draw(r, "which")
		var batch []models.Observation
		distinct := map[int]bool{}
		for _, n := range numbers {
			batch, distinct[n] = append(batch, observation(n)), true
		}
		n, err := s.AddObservations(ctx, batch)
		require.NoError(r, err)
		require.Equal(r, len(distinct), n)
		before, err := s.Observations(ctx, "XAMP1", always())
		require.NoError(r, err)
		require.Len(r, before, len(distinct))
		n, err = s.AddObservations(ctx, rapid.Permutation(batch).Draw(r, "again"))
		require.NoError(r, err)
		require.Zero(r, n)
		after, err := s.Observations(ctx, "XAMP1", always())
		require.NoError(r, err)
		require.Equal(r, before, after)
	})
}
