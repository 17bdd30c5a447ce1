package web

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"sync"
	"time"

	"forecastd/internal/calendar"
	"forecastd/internal/models"
	"forecastd/internal/words"
)

// calendarRoutes are the coming calls as a calendar. Calendars fetch without
// cookies, so that the captain's own has a key in its address.
func (s *Server) calendarRoutes() []route {
	return []route{
		{Pattern: "GET /calendar.ics", Raw: func(v *view, w http.ResponseWriter) error {
			return s.serveCalendar(v, w, v.Role != Nobody)
		}},
		{Pattern: "GET /calendar/{file}", Raw: func(v *view, w http.ResponseWriter) error {
			key, ok := strings.CutSuffix(v.Request.PathValue("file"), ".ics")
			if !ok || !hmac.Equal([]byte(key), []byte(s.CalendarKey())) {
				return ErrNotFound
			}
			return s.serveCalendar(v, w, true)
		}},
	}
}

// CalendarKey is what the address of the calendar with the guests' names in
// it has in place of a login: "1-" and 40 hexadecimal digits. It holds until
// Options.CalendarGeneration is another.
func (s *Server) CalendarKey() string {
	generation := strconv.Itoa(s.o.CalendarGeneration)
	mac := hmac.New(sha256.New, s.o.Key)
	mac.Write([]byte("forecastd calendar key\n" + generation))
	return generation + "-" + hex.EncodeToString(mac.Sum(nil)[:20])
}

// CalendarAddress is the address of the calendar with the guests' names, for
// the captain; empty for everybody else.
func (v *view) CalendarAddress() string {
	if v.Role != Captain {
		return ""
	}
	query := url.Values{}
	if v.Port != "" {
		query.Set("port", v.Port)
	}
	return v.address("/calendar/"+v.server.CalendarKey()+".ics", query)
}

// serveCalendar answers the calendar; full has the charters in it, by name.
func (s *Server) serveCalendar(v *view, w http.ResponseWriter, full bool) error {
	board, err := v.Board()
	if err != nil {
		return err
	}
	if board.Port.Zone == nil {
		board.Port.Zone = time.UTC
	}
	var events []calendar.Event
	for _, day := range board.Days {
		for i, trip := range day.Trips {
			events = append(events, v.callEvent(board, day.Date, i, trip, full))
		}
	}
	if full {
		charters, err := s.o.Desk.Charters(v.Request.Context(), v.Port)
		if err != nil {
			return fmt.Errorf("ask for the charters: %w", err)
		}
		for _, c := range charters {
			events = append(events, v.charterEvent(board, c))
		}
	}
	variant := fmt.Sprint(board.Port.Name, "\n", full, v.Reader)
	stamp := s.sequences.number(variant, events, v.Now)
	name := v.T("calendar.name", board.Port.Name)
	if board.Demo {
		name = v.T("calendar.demo", name)
	}
	b, err := calendar.Write(calendar.Feed{Name: name, Stamp: stamp, Zone: board.Port.Zone, Events: events})
	if err != nil {
		return fmt.Errorf("write the calendar: %w", err)
	}
	cache := "no-cache"
	if full {
		cache = "private, no-cache"
	}
	w.Header().Set("Vary", "Cookie")
	answer(w, v.Request, body{Type: "text/calendar; charset=utf-8", Bytes: b, Tag: tagOf(b), Cache: cache})
	return nil
}

// callEvent is the call for the n-th trip of a day.
func (v *view) callEvent(board Board, date models.Date, n int, trip TripCall, full bool) calendar.Event {
	c, t := trip.Call, v.Tell(date)
	e := calendar.Event{
		UID:     calendar.UID(fmt.Sprintf("call\n%s\n%s\n%d", board.Port.Name, date, n)),
		Summary: capital(t.Verdict(c)), Location: strings.Trim(c.Ground.Name+", "+board.Port.Name, ", "),
	}
	leave, out := c.Leave.Get()
	back, known := c.Back.Get()
	switch {
	case out && known && c.BeyondHours(): // shifted hours are not told yet
		e.Start, e.End = c.Trip.Start.On(date, board.Port.Zone), c.Trip.End.On(date, board.Port.Zone)
	case out && known && !back.Before(leave):
		e.Start, e.End = leave, back
	default:
		e.AllDay, e.Start, e.End = true, date.Start(board.Port.Zone), date.AddDays(1).Start(board.Port.Zone)
	}
	if name, ok := trip.Guests.Get(); ok && full {
		e.Summary += " (" + name + ")"
	}
	e.Description = v.tellCall(board, t, c)
	return e
}

// tellCall tells a call in short: what is official first, and what it was
// made from never without its doubt.
func (v *view) tellCall(board Board, t words.Teller, c models.Call) string {
	var lines []string
	if board.Demo {
		lines = append(lines, v.T("calendar.invented"))
	}
	lines = append(lines, v.tellWarnings(t, c)...)
	if c.Members > 0 {
		lines = append(lines, t.Sureness(c))
	}
	for _, part := range []struct {
		head string
		list []models.Phrase
	}{{"calendar.reasons", c.Reasons}, {"calendar.missing", c.Missing}, {"calendar.cautions", c.Cautions}} {
		for i, p := range part.list {
			if i == 0 {
				lines = append(lines, v.T(part.head))
			}
			lines = append(lines, "- "+t.Say(p))
		}
	}
	made := c.Made.In(board.Port.Zone).Format("2006-01-02 15:04 MST")
	lines = append(lines, v.T("calendar.made", made), v.T("caution.rule"))
	return strings.Join(lines, "\n")
}

// tellWarnings names the official products that hold on the call's day.
func (v *view) tellWarnings(t words.Teller, c models.Call) []string {
	list, known := c.Warnings.Get()
	if !known {
		return []string{v.T("calendar.unknown")}
	}
	var lines []string
	for _, w := range models.DuringGravestFirst(list, c.Date.Interval(c.Port.Zone)) {
		until := v.T("calendar.notice")
		if end, ok := w.Ends.Get(); ok {
			until = t.Time(end)
		}
		lines = append(lines, v.T("calendar.official", t.Word(w.Event), t.Time(w.Onset), until))
	}
	return lines
}

// charterEvent is a booking, at the hours that were booked.
func (v *view) charterEvent(board Board, c Charter) calendar.Event {
	e := calendar.Event{
		UID:     calendar.UID("charter\n" + board.Port.Name + "\n" + c.ID),
		Start:   c.Trip.Start.On(c.Date, board.Port.Zone),
		End:     c.Trip.End.On(c.Date, board.Port.Zone),
		Summary: v.T("calendar.charter", c.Name), Location: strings.Trim(c.Ground+", "+board.Port.Name, ", "), Cancelled: c.Cancelled,
	}
	if e.End.Before(e.Start) { // a trip over midnight
		e.End = c.Trip.End.On(c.Date.AddDays(1), board.Port.Zone)
	}
	var lines []string
	if board.Demo {
		lines = append(lines, v.T("calendar.invented"))
	}
	if c.FirstDate != (models.Date{}) && c.FirstDate != c.Date {
		lines = append(lines, v.T("calendar.moved", c.FirstDate))
	}
	if c.Why != "" {
		lines = append(lines, c.Why)
	}
	if advice, ok := c.Advice.Get(); ok {
		var actions []string
		for _, a := range advice.Actions {
			actions = append(actions, v.Tell(c.Date).Word(string(a)))
		}
		lines = append(lines, v.T("calendar.advice", strings.Join(actions, ", ")))
	}
	e.Description = strings.Join(append(lines, v.T("caution.rule")), "\n")
	return e
}

// capital begins a sentence with a capital letter.
func capital(s string) string {
	for i, r := range s {
		return strings.ToUpper(string(r)) + s[i+len(string(r)):]
	}
	return s
}

// sequences numbers the versions of events (RFC 5545 3.8.7.4): an event whose
// content changes gets a higher number than it ever had. The number is the
// second since 2025 at which the content was first seen here, or one more
// than the last, so that it does not shrink with a restart either.
type sequences struct {
	mu   sync.Mutex
	seen map[string]map[string]version // by variant of the feed and UID
}

type version struct {
	digest [sha256.Size]byte
	number int
	at     time.Time
}

// number puts the numbers on the events of a feed, and tells when the feed
// last changed. It forgets events that are no longer in the feed: should one
// return, the clock has moved on.
func (q *sequences) number(variant string, events []calendar.Event, now time.Time) time.Time {
	q.mu.Lock()
	defer q.mu.Unlock()
	if q.seen == nil {
		q.seen = map[string]map[string]version{}
	}
	before, after := q.seen[variant], map[string]version{}
	changed := time.Time{}
	for i := range events {
		e := &events[i]
		v := version{digest: sha256.Sum256(fmt.Appendf(nil, "%d %d %t %t %q %q %q", e.Start.Unix(), e.End.Unix(), e.AllDay, e.Cancelled, e.Summary, e.Description, e.Location)), at: now}
		v.number = max(0, int(now.Sub(time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)).Seconds()))
		if old, ok := before[e.UID]; ok {
			if old.digest == v.digest {
				v = old
			} else {
				v.number = max(v.number, old.number+1)
			}
		}
		after[e.UID] = v
		e.Sequence = v.number
		if v.at.After(changed) {
			changed = v.at
		}
	}
	q.seen[variant] = after
	if changed.IsZero() {
		changed = now
	}
	return changed
}
