package web_test

import (
	"bytes"
	"net/http"
	"sort"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	ical "github.com/emersion/go-ical"
	"github.com/stretchr/testify/require"

	"forecastd/internal/calendar"
	"forecastd/internal/models"
	"forecastd/internal/web"
)

// keyed is a server and the address of its calendar with the guests in it.
func keyed(t *testing.T, d *desk, change ...func(*web.Options)) (http.Handler, string) {
	t.Helper()
	o := options(d, change...)
	s, err := web.New(o)
	require.NoError(t, err)
	return s.Handler(), "/calendar/" + s.CalendarKey() + ".ics"
}

// read reads a calendar by a library that our own writer does not use.
func read(t *testing.T, b []byte) []ical.Event {
	t.Helper()
	cal, err := ical.NewDecoder(bytes.NewReader(b)).Decode()
	require.NoError(t, err)
	list := cal.Events()
	sort.Slice(list, func(i, j int) bool { return prop(t, list[i], "UID") < prop(t, list[j], "UID") })
	return list
}

func prop(t *testing.T, e ical.Event, name string) string {
	t.Helper()
	s, err := e.Props.Text(name)
	require.NoError(t, err)
	return s
}

func sequence(t *testing.T, e ical.Event) int {
	t.Helper()
	n, err := e.Props.Get("SEQUENCE").Int()
	require.NoError(t, err)
	return n
}

func TestTheCalendarReadsBackByAnotherLibrary(t *testing.T) {
	d := newDesk(t)
	d.board.Days[0].Trips[0].Call.Warnings = models.Known([]models.Warning{{Event: "Small Craft Advisory", Onset: made(), Ends: models.Known(made().Add(30 * time.Hour))}})
	h, address := keyed(t, d)
	w := ask(h, "GET", address)
	require.Equal(t, http.StatusOK, w.Code)
	require.Equal(t, "text/calendar; charset=utf-8", w.Header().Get("Content-Type"))
	require.Equal(t, "private, no-cache", w.Header().Get("Cache-Control"))
	require.Equal(t, http.StatusNotModified, ask(h, "GET", address, "If-None-Match", w.Header().Get("ETag")).Code)

	for _, line := range strings.SplitAfter(w.Body.String(), "\r\n") { // RFC 5545 3.1
		require.LessOrEqual(t, len(strings.TrimSuffix(line, "\r\n")), 75)
		require.False(t, strings.ContainsAny(strings.TrimSuffix(line, "\r\n"), "\r\n"), line)
		require.True(t, utf8.ValidString(line))
	}
	call := d.board.Days[0].Trips[0].Call
	leave, _ := call.Leave.Get()
	back, _ := call.Back.Get()
	seen := 0
	for _, e := range read(t, w.Body.Bytes()) {
		require.NotEmpty(t, prop(t, e, "UID"))
		stamp, err := e.Props.DateTime("DTSTAMP", nil)
		require.NoError(t, err)
		require.Equal(t, made().Add(10*time.Minute), stamp)
		start, err := e.DateTimeStart(time.UTC)
		require.NoError(t, err)
		end, err := e.DateTimeEnd(time.UTC)
		require.NoError(t, err)
		require.Contains(t, prop(t, e, "DESCRIPTION"), "DEMO: invented")
		require.Contains(t, prop(t, e, "SUMMARY"), guests)
		if strings.HasPrefix(prop(t, e, "SUMMARY"), "Charter") {
			zone := call.Port.Zone
			require.Equal(t, call.Trip.Start.On(call.Date, zone), start)
			require.Equal(t, call.Trip.End.On(call.Date, zone), end)
			seen++
			continue
		}
		require.Equal(t, leave.UTC(), start)
		require.Equal(t, back.UTC(), end)
		text := prop(t, e, "DESCRIPTION")
		require.Contains(t, text, "Official: Small Craft Advisory")
		require.Contains(t, text, "forecast scenarios")
		require.Contains(t, text, "Cautions:")
		seen++
	}
	require.Equal(t, 2, seen, "a call and a charter")

	window := calendar.Window{Zone: call.Port.Zone, From: made(), To: made().AddDate(0, 1, 0)}
	list, problems, err := calendar.Read(bytes.NewReader(w.Body.Bytes()), window)
	require.NoError(t, err)
	require.Empty(t, problems)
	require.Len(t, list, 2)
}

func TestTheOpenCalendarNamesNoGuests(t *testing.T) {
	d := newDesk(t)
	h, address := keyed(t, d)
	b := ask(h, "GET", "/calendar.ics").Body.Bytes()
	require.Len(t, read(t, b), 1)
	unfolded := bytes.ReplaceAll(b, []byte("\r\n "), nil)
	for _, secret := range []string{guests, "guests@example.com", "Invented party", "Charter:"} {
		require.NotContains(t, string(unfolded), secret)
	}
	require.NotContains(t, ask(h, "GET", "/calendar.ics").Body.String(), address)
}

func TestTheCalendarsKeyIsRevokedByAnotherGeneration(t *testing.T) {
	d := newDesk(t)
	_, address := keyed(t, d)
	for name, change := range map[string]func(*web.Options){
		"another generation": func(o *web.Options) { o.CalendarGeneration = 1 },
		"another key":        func(o *web.Options) { o.Key = []byte(strings.Repeat("x", 32)) },
	} {
		t.Run(name, func(t *testing.T) {
			h, other := keyed(t, d, change)
			require.NotEqual(t, address, other)
			require.Equal(t, http.StatusNotFound, ask(h, "GET", address).Code)
			require.Equal(t, http.StatusOK, ask(h, "GET", other).Code)
		})
	}
	h, _ := keyed(t, d)
	for _, p := range []string{"/calendar/.ics", "/calendar/0-.ics", strings.TrimSuffix(address, ".ics"), strings.Replace(address, "0-", "00-", 1), "/calendar/"} {
		require.Equal(t, http.StatusNotFound, ask(h, "GET", p).Code, p)
	}
}

func TestStayingInIsAnAllDayNote(t *testing.T) {
	d := newDesk(t)
	c := &d.board.Days[0].Trips[0].Call
	c.Tactic, c.Leave, c.Back, c.Warnings = models.TacticStayIn, models.Unknown[time.Time](), models.Unknown[time.Time](), models.Unknown[[]models.Warning]()
	h, _ := keyed(t, d)
	e := read(t, ask(h, "GET", "/calendar.ics").Body.Bytes())[0]
	require.Equal(t, "Stay in", prop(t, e, "SUMMARY"))
	require.Equal(t, "DATE", e.Props.Get("DTSTART").Params.Get("VALUE"))
	require.Equal(t, "20270119", e.Props.Get("DTSTART").Value)
	require.Equal(t, "20270120", e.Props.Get("DTEND").Value, "the end is exclusive (RFC 5545 3.6.1)")
	require.Contains(t, prop(t, e, "DESCRIPTION"), "Official warnings: unknown. Listen to the official broadcast.")
}

// RFC 5545 3.8.7.4: a changed event has a higher number, an unchanged one
// keeps its own, and none shrinks, also after a restart.
func TestSequencesGrowWithTheContentAndNeverShrink(t *testing.T) {
	d := newDesk(t)
	now := made().Add(10 * time.Minute)
	clock := func(o *web.Options) { o.Now = func() time.Time { return now } }
	h, address := keyed(t, d, clock)
	get := func(h http.Handler) (seq map[string]int, body string) {
		seq = map[string]int{}
		w := ask(h, "GET", address)
		for _, e := range read(t, w.Body.Bytes()) {
			seq[prop(t, e, "UID")] = sequence(t, e)
		}
		return seq, w.Body.String()
	}
	first, text := get(h)
	require.Len(t, first, 2)
	now = now.Add(time.Hour)
	second, same := get(h)
	require.Equal(t, first, second, "nothing changed")
	require.Equal(t, text, same)

	d.charters[0].Trip.End = models.Clock{Hour: 13}
	third, _ := get(h)
	grown := 0
	for uid, n := range third {
		require.GreaterOrEqual(t, n, first[uid])
		if n > first[uid] {
			grown++
		}
	}
	require.Equal(t, 1, grown, "the charter's alone")

	d.charters[0].Trip.End = models.Clock{Hour: 12}
	fourth, _ := get(h)
	d.charters[0].Trip.End = models.Clock{Hour: 11}
	fifth, _ := get(h)
	for uid := range third {
		if third[uid] != first[uid] {
			require.Greater(t, fourth[uid], third[uid])
			require.Greater(t, fifth[uid], fourth[uid], "twice within a second")
		}
	}
	now = now.Add(time.Minute)
	again, _ := keyed(t, d, clock)
	restarted, _ := get(again)
	for uid, n := range fifth {
		require.GreaterOrEqual(t, restarted[uid], n)
	}
}

func TestTheCalendarSpeaksTheReadersLanguage(t *testing.T) {
	d := newDesk(t)
	d.board.Language = "es"
	h, _ := keyed(t, d)
	e := read(t, ask(h, "GET", "/calendar.ics").Body.Bytes())[0]
	require.Contains(t, prop(t, e, "DESCRIPTION"), "Por qué:")
	require.NotContains(t, prop(t, e, "DESCRIPTION"), "Why:")
}

// Its address stands on the page of the charters, for the captain alone.
func TestTheCaptainFindsTheAddressOfHisCalendar(t *testing.T) {
	d := newDesk(t)
	h, address := keyed(t, d)
	for role, shown := range map[web.Role]bool{web.Captain: true, web.Mate: false} {
		w := loggedIn(t, h, role).get("/charters")
		require.Equal(t, http.StatusOK, w.Code)
		require.Equal(t, shown, strings.Contains(w.Body.String(), address), role)
	}
}
