package email_test

import (
	"encoding/json"
	"io"
	"net/mail"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/notify"
)

// The whole way of a message over a real server that first is busy, then
// takes it and dies before we can tell: it is repeated with the same
// Message-ID and the same bytes, by this process or, from what the ledger kept
// as JSON, by the next.
func TestRepeatedMessageIsTheSame(t *testing.T) {
	tries := 0
	var held []string
	s := &server{onData: func(c *smtp.Conn, r io.Reader) error {
		switch tries++; tries {
		case 1:
			return &smtp.SMTPError{Code: 451, Message: "busy"}
		case 2: // takes it all, and dies before its 250
			b, err := io.ReadAll(r)
			if err != nil {
				return err
			}
			held = append(held, string(b))
			return c.Conn().Close()
		}
		return nil
	}}
	port, roots := s.start(t, true)
	now := time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC)
	l := &notify.Memory{}
	box := func() *notify.Outbox {
		o, err := notify.NewOutbox(notify.OutboxOptions{
			Ledger: l, Channels: map[string]notify.Channel{"email": channel(t, options(port, roots))},
			Now: func() time.Time { return now }, Random: func() float64 { return 0 },
		})
		require.NoError(t, err)
		return o
	}
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	person := notify.Person{Name: "José", Routes: []models.Route{{Channel: "email", Address: "captain@example.com"}}, Quiet: notify.Quiet{Zone: zone}}
	m := notify.Test(person, models.Port{Name: "Port Amparo", Zone: zone}, true, now).Message(models.ReasonFirst, now, "boat.example")
	b, err := json.Marshal(m)
	require.NoError(t, err)
	var kept models.Message
	require.NoError(t, json.Unmarshal(b, &kept))

	o := box()
	require.NoError(t, o.Add(t.Context(), kept))
	for _, want := range []models.MessageState{models.MessageWaiting, models.MessageWaiting, models.MessageSent} {
		_, err = o.Flush(t.Context())
		require.NoError(t, err)
		require.Equal(t, want, l.All()[0].State)
		now = now.Add(10 * time.Minute)
		o = box()
	}
	got := s.all()
	require.Len(t, held, 1)
	last := got[len(got)-1].data
	require.Equal(t, held[0], last)
	fresh, err := channel(t, options(port, roots)).Compose(m, "captain@example.com")
	require.NoError(t, err)
	require.Equal(t, fresh, last, "what the ledger kept makes the same bytes")
	read, err := mail.ReadMessage(strings.NewReader(last))
	require.NoError(t, err)
	require.Equal(t, "<"+m.ID+">", read.Header.Get("Message-ID"))
	require.Equal(t, "Mon, 18 Jan 2027 17:00:00 -0500", read.Header.Get("Date"), "on the port's clock")
}

// A wrong password takes the second way at once, and shows in what is kept.
func TestSecondWayWhenTheServerRefusesUs(t *testing.T) {
	bad := &server{}
	port, roots := bad.start(t, true)
	o := options(port, roots)
	o.Password = "wrong"
	good := &server{}
	port2, roots2 := good.start(t, true)
	l := &notify.Memory{}
	now := time.Now()
	box, err := notify.NewOutbox(notify.OutboxOptions{
		Ledger: l, Channels: map[string]notify.Channel{"first": channel(t, o), "second": channel(t, options(port2, roots2))},
		Now: func() time.Time { return now }, Random: func() float64 { return 0 },
	})
	require.NoError(t, err)
	person := notify.Person{Name: "mate", Routes: []models.Route{{Channel: "first", Address: "mate@example.com"}, {Channel: "second", Address: "mate@example.com"}}}
	require.NoError(t, box.Add(t.Context(), notify.Test(person, models.Port{}, false, now).Message(models.ReasonFirst, now, "boat.example")))
	next, err := box.Flush(t.Context())
	require.NoError(t, err)
	require.True(t, next.Known())
	require.Contains(t, l.All()[0].Fault, "log in as boat")
	_, err = box.Flush(t.Context())
	require.NoError(t, err)
	require.Equal(t, "second", l.All()[0].SentBy)
	require.Len(t, good.all(), 1)
	require.Empty(t, bad.all())
}
