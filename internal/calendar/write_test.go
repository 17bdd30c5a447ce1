package calendar_test

import (
	"bytes"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/calendar"
	"forecastd/internal/models"
)

func TestWrite(t *testing.T) {
	w := window(t, "2027-01-01", "2028-01-01")
	at := time.Date(2027, 1, 19, 12, 0, 0, 0, time.UTC)
	b, err := calendar.Write(calendar.Feed{
		Name: "Second Light (DEMO: invented)", Stamp: time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC), Zone: w.Zone,
		Events: []calendar.Event{{
			UID: calendar.UID("booking 1"), Start: at, End: at.Add(8 * time.Hour), Sequence: 3,
			Summary: "Charter, party of four; moved", Description: "Leave 07:00.\nOfficial warnings rule.", Location: "Port Amparo",
		}},
	})
	require.NoError(t, err)
	require.Equal(t, strings.Join([]string{
		"BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//forecastd//NONSGML forecastd//EN", "METHOD:PUBLISH", "X-WR-CALNAME:Second Light (DEMO: invented)",
		"BEGIN:VEVENT", "UID:" + calendar.UID("booking 1"), "DTSTAMP:20270118T220000Z", "SEQUENCE:3", "DTSTART:20270119T120000Z", "DTEND:20270119T200000Z",
		`SUMMARY:Charter\, party of four\; moved`, `DESCRIPTION:Leave 07:00.\nOfficial warnings rule.`, "LOCATION:Port Amparo", "STATUS:CONFIRMED", "END:VEVENT", "END:VCALENDAR", "",
	}, "\r\n"), string(b))
	require.Equal(t, calendar.UID("booking 1"), calendar.UID("booking 1"))
	require.NotEqual(t, calendar.UID("booking 1"), calendar.UID("booking 2"))

	_, err = calendar.Write(calendar.Feed{Events: []calendar.Event{{Summary: "x"}}})
	require.ErrorContains(t, err, `the event "x": it needs a UID`)
}

// What is written reads back, in lines of at most 75 octets that end in CRLF
// (RFC 5545 3.1) and never split inside the file's UTF-8.
func TestRoundTrip(t *testing.T) {
	w := window(t, "2027-01-01", "2028-01-01")
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringMatching(`([ -~]|[áñü漢🎣\n;,\\:"<>']){0,200}`)
		e := calendar.Event{
			UID: rapid.StringMatching(`[a-z0-9@.-]{1,120}`).Draw(t, "uid"), Start: time.Date(2027, 3, 1, 0, 0, rapid.IntRange(0, 20000000).Draw(t, "start"), 0, time.UTC),
			Summary: text.Draw(t, "summary"), Description: text.Draw(t, "description"), Location: text.Draw(t, "location"), Contact: text.Draw(t, "contact"),
			Sequence: rapid.IntRange(0, 99).Draw(t, "sequence"), Cancelled: rapid.Bool().Draw(t, "cancelled"),
		}
		e.End = e.Start.Add(time.Duration(rapid.IntRange(0, 100000).Draw(t, "length")) * time.Second)
		if rapid.Bool().Draw(t, "all day") {
			day := models.DateOf(e.Start, w.Zone)
			e.AllDay, e.Start, e.End = true, day.Start(w.Zone), day.AddDays(rapid.IntRange(1, 5).Draw(t, "days")).Start(w.Zone)
		}
		b, err := calendar.Write(calendar.Feed{Stamp: e.Start, Zone: w.Zone, Events: []calendar.Event{e}})
		require.NoError(t, err)
		require.True(t, bytes.HasSuffix(b, []byte("\r\n")))
		for _, line := range strings.Split(strings.TrimSuffix(string(b), "\r\n"), "\r\n") {
			require.LessOrEqual(t, len(line), 75)
			require.False(t, strings.ContainsAny(line, "\r\n"))
			require.True(t, utf8.ValidString(line))
		}
		list, problems, err := calendar.Read(bytes.NewReader(b), w)
		require.NoError(t, err)
		require.Empty(t, problems)
		require.Len(t, list, 1)
		got := list[0]
		got.Line = 0
		e.Summary, e.Location, e.Contact = models.PlainLine(e.Summary), models.PlainLine(e.Location), models.PlainLine(e.Contact) // each a line
		require.Equal(t, e, got)
	})
}

func FuzzRead(f *testing.F) {
	f.Add(event("DTSTART;TZID=America/New_York:20270119T070000", "DURATION:PT8H", "RRULE:FREQ=WEEKLY;BYDAY=SA;COUNT=5", "EXDATE:20270123T120000Z", "SUMMARY:a\\, b"))
	f.Add(wrap(append(strings.Split(vtimezone, "\n"), "BEGIN:VEVENT", "UID:b", "DTSTART;TZID=Boat Time:20270314T023000", "RDATE;VALUE=PERIOD:20270119T120000Z/PT1H", "END:VEVENT")...))
	f.Add("BEGIN:VCALENDAR\nBEGIN:VEVENT\nUID:1\nDTSTART;X=\"a\nEND:VEVENT\nEND:VCALENDAR")
	w := window(f, "2027-01-01", "2027-06-01")
	f.Fuzz(func(t *testing.T, s string) {
		list, _, err := calendar.Read(strings.NewReader(s), w)
		if err != nil {
			return
		}
		require.LessOrEqual(t, len(list), calendar.MaxEvents)
		for i, e := range list {
			require.NotEmpty(t, e.UID)
			require.False(t, e.End.Before(e.Start))
			require.True(t, e.Start.Before(w.To))
			require.True(t, i == 0 || !e.Start.Before(list[i-1].Start))
		}
	})
}
