package notify_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/notify"
)

func newYork(t testing.TB) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	return zone
}

func clock(h, m int) models.Opt[models.Clock] {
	return models.Known(models.Clock{Hour: h, Minute: m})
}

// past is what Decide goes by after one message: given up, it was not told.
func past(last models.Opt[models.Message]) notify.Past {
	p := notify.Past{Last: last, Told: last}
	if last.Or(models.Message{}).State == models.MessageDead {
		p.Told = models.Unknown[models.Message]()
	}
	return p
}

func TestDecide(t *testing.T) {
	zone := newYork(t)
	at := func(h, m int) time.Time { return time.Date(2027, 1, 18, h, m, 0, 0, zone) }
	night := notify.Quiet{From: clock(21, 0), To: clock(4, 0), Zone: zone}
	told := func(digest string, level int, state models.MessageState) models.Opt[models.Message] {
		m := models.Message{Digest: digest, Level: level, Made: at(12, 0), State: state}
		if state == models.MessageSent {
			m.Done = models.Known(at(12, 5))
		}
		return models.Known(m)
	}
	none := models.Unknown[models.Message]()
	const sent, waiting, dead = models.MessageSent, models.MessageWaiting, models.MessageDead

	cases := []struct {
		name string
		last models.Opt[models.Message]
		next notify.Content
		now  time.Time
		want notify.Decision
	}{
		{"never told", none, notify.Content{Digest: "a", Level: 1}, at(17, 0), notify.Decision{Send: true, Reason: models.ReasonFirst}},
		{"nothing wrong and nothing told before", none, notify.Content{Digest: "a"}, at(17, 0), notify.Decision{Reason: models.ReasonNone}},
		{"told even when nothing is wrong", none, notify.Content{Digest: "a", Always: true}, at(17, 0), notify.Decision{Send: true, Reason: models.ReasonFirst}},
		{"the same again", told("a", 1, sent), notify.Content{Digest: "a", Level: 1}, at(17, 0), notify.Decision{Reason: models.ReasonNone}},
		{"the same is still on its way", told("a", 1, waiting), notify.Content{Digest: "a", Level: 1, Again: time.Minute}, at(17, 0), notify.Decision{Reason: models.ReasonNone}},
		{"other, as grave", told("a", 1, sent), notify.Content{Digest: "b", Level: 1}, at(17, 0), notify.Decision{Send: true, Reason: models.ReasonChanged}},
		{"other, less grave but not clear", told("a", 2, sent), notify.Content{Digest: "b", Level: 1}, at(17, 0), notify.Decision{Send: true, Reason: models.ReasonChanged}},
		{"graver", told("a", 1, sent), notify.Content{Digest: "b", Level: 2}, at(17, 0), notify.Decision{Send: true, Reason: models.ReasonEscalated}},
		{"graver than what still waits", told("a", 1, waiting), notify.Content{Digest: "b", Level: 2}, at(17, 0), notify.Decision{Send: true, Reason: models.ReasonEscalated}},
		{"over", told("a", 1, sent), notify.Content{Digest: "b"}, at(17, 0), notify.Decision{Send: true, Reason: models.ReasonCleared}},
		{"over, but nobody had heard of it", told("a", 1, dead), notify.Content{Digest: "b"}, at(17, 0), notify.Decision{Reason: models.ReasonNone}},
		{"changed, and the last never arrived", told("a", 1, dead), notify.Content{Digest: "b", Level: 1}, at(17, 0), notify.Decision{Send: true, Reason: models.ReasonFirst}},
		{"the same, and the last never arrived", told("a", 1, dead), notify.Content{Digest: "a", Level: 1}, at(17, 0), notify.Decision{Send: true, Reason: models.ReasonFirst}},
		{"the same, given up a moment ago", told("a", 1, dead), notify.Content{Digest: "a", Level: 1}, at(12, 14), notify.Decision{Reason: models.ReasonNone}},
		{"the same, told by a clock that was a year ahead", told("a", 1, sent), notify.Content{Digest: "a", Level: 1, Again: time.Hour}, at(17, 0).AddDate(-1, 0, 0), notify.Decision{Send: true, Reason: models.ReasonReminder}},
		{"from clear to clear", told("a", 0, sent), notify.Content{Digest: "b", Always: true}, at(17, 0), notify.Decision{Send: true, Reason: models.ReasonChanged}},
		{"a minute before the reminder", told("a", 1, sent), notify.Content{Digest: "a", Level: 1, Again: 5 * time.Hour}, at(17, 4), notify.Decision{Reason: models.ReasonNone}},
		{"reminder", told("a", 1, sent), notify.Content{Digest: "a", Level: 1, Again: 5 * time.Hour}, at(17, 5), notify.Decision{Send: true, Reason: models.ReasonReminder}},
		{"no reminder that all is well", told("a", 0, sent), notify.Content{Digest: "a", Again: time.Hour}, at(17, 5), notify.Decision{Reason: models.ReasonNone}},
		{"held by quiet hours", none, notify.Content{Digest: "a", Level: 1}, at(22, 0), notify.Decision{Reason: models.ReasonHeld, Held: models.ReasonFirst, At: at(28, 0)}},
		{"held after midnight", none, notify.Content{Digest: "a", Level: 1}, at(3, 59), notify.Decision{Reason: models.ReasonHeld, Held: models.ReasonFirst, At: at(4, 0)}},
		{"the quiet hours are over", none, notify.Content{Digest: "a", Level: 1}, at(4, 0), notify.Decision{Send: true, Reason: models.ReasonFirst}},
		{"must be known in the quiet hours", none, notify.Content{Digest: "a", Level: 1, KnowBy: models.Known(at(27, 30))}, at(22, 0), notify.Decision{Send: true, Reason: models.ReasonFirst}},
		{"need be known only after them", none, notify.Content{Digest: "a", Level: 1, KnowBy: models.Known(at(28, 0))}, at(22, 0), notify.Decision{Reason: models.ReasonHeld, Held: models.ReasonFirst, At: at(28, 0)}},
		{"nothing to hold", told("a", 1, sent), notify.Content{Digest: "a", Level: 1}, at(22, 0), notify.Decision{Reason: models.ReasonNone}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			got := notify.Decide(past(c.last), c.next, night, c.now)
			require.True(t, c.want.At.Equal(got.At), "at %s, want %s", got.At, c.want.At)
			got.At, c.want.At = time.Time{}, time.Time{}
			require.Equal(t, c.want, got)
		})
	}
}

// The night of 2027-03-14 is an hour short on the United States' east coast
// and that of 2027-11-07 an hour long (second Sunday of March, first of
// November: 15 U.S.C. 260a).
func TestQuietHoursOverChangesOfTheClock(t *testing.T) {
	zone := newYork(t)
	q := notify.Quiet{From: clock(21, 0), To: clock(4, 0), Zone: zone}
	end, ok := q.Until(time.Date(2027, 3, 13, 23, 0, 0, 0, zone))
	require.True(t, ok)
	require.Equal(t, "2027-03-14T08:00:00Z", end.Format(time.RFC3339))
	end, ok = q.Until(time.Date(2027, 11, 6, 23, 0, 0, 0, zone))
	require.True(t, ok)
	require.Equal(t, "2027-11-07T09:00:00Z", end.Format(time.RFC3339))

	day := notify.Quiet{From: clock(13, 0), To: clock(14, 0), Zone: zone}
	_, ok = day.Until(time.Date(2027, 1, 18, 12, 59, 0, 0, zone))
	require.False(t, ok)
	_, ok = day.Until(time.Date(2027, 1, 18, 13, 0, 0, 0, zone))
	require.True(t, ok)
	_, ok = notify.Quiet{}.Until(time.Date(2027, 1, 18, 13, 0, 0, 0, zone))
	require.False(t, ok)
}
