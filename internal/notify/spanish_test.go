package notify_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/notify"
	"forecastd/internal/words"
)

// Every message to a Spanish reader, as he reads it. The guests' draft is
// quoted in the language that they are written to.
func TestSpanishAsItIsRead(t *testing.T) {
	c, told := demoDay(t)
	news, now := demoNews(t)
	p := captain(t)
	p.Reader.Language = words.Spanish
	var b strings.Builder
	add := func(d notify.Draft) {
		fmt.Fprintf(&b, "Subject: %s\n\n%s\nShort: %s\n----\n", d.Message(models.ReasonChanged, now, "boat.example").Subject, d.Text, d.Short)
		require.Contains(t, d.HTML, `<html lang="es">`)
	}
	add(notify.Morning(p, one(c, told), news, now))
	add(notify.Changed(p, turned(c, told, "settle.worse"), now))
	booking := models.Booking{ID: "b1", Name: "party of four", Contact: "guests@example.com"}
	ask, ok := notify.Approval(p, p.Reader, c, booking, "", now)
	require.True(t, ok)
	add(ask)
	english, ok := notify.Approval(p, words.Reader{}, c, booking, "", now)
	require.True(t, ok)
	require.Contains(t, english.Text, "> Hello party of four, on Tue 19 January we would like", "guests who read English are not promised Spanish")
	guests, ok, err := notify.Guests(p, c, booking, 1, now)
	require.NoError(t, err)
	require.True(t, ok)
	add(guests)
	add(notify.Warned(p, c.Port, notify.WarningChange{Change: notify.Extended, Warning: c.Warnings.Or(nil)[0]}, c.Leave, true, now))
	add(notify.Troubled(p, c.Port, notify.Trouble{Name: "no call", What: models.Say("trouble.no_call"), Cure: models.Say("trouble.no_call_cure"), Since: now.Add(-time.Hour), Grave: true}, true, now))
	plan := notify.FloatPlan{Port: c.Port, Boat: c.Boat, Ground: c.Ground, Leave: c.Leave.Or(now), Back: c.Back.Or(now), Aboard: models.Known(7), CheckIn: "https://boat.example/in/token", Demo: true}
	add(notify.Left(p, plan, plan.Leave))
	add(notify.Late(p, plan, false, plan.Overdue()))
	golden(t, "spanish.txt", b.String())
}
