package app_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"
	"unicode"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/models"
)

// poison are characters that must come out nowhere: C0 and C1 controls, ESC,
// BEL, line ends where a line is meant, and those that turn the direction of
// what stands beside them (UAX #9). The words among them show where it got to.
const poison = "PZN\x1b[31m\x07\x00\u009b2J\u202eevil\u2066\u200f\u061c\u2028\r\nBcc: all@example.com"

// poisoned puts the poison into every text of a JSON document but those that
// a program reads: times, units, codes.
func poisoned(t testing.TB, doc []byte) []byte {
	t.Helper()
	codes := []string{
		"sent", "effective", "onset", "ends", "expires", "updated", "updateTime", "validTime", "validTimes", "uom", "VTEC", "status", "messageType", "UGC",
		"affectedZones", "type", "gridId", "gridX", "gridY", "forecastZone", "timeZone", "urgency", "geometry", "eventEndingTime", "issuanceTime", "@id",
	}
	var walk func(key string, v any) any
	walk = func(key string, v any) any {
		switch v := v.(type) {
		case map[string]any:
			for k, x := range v {
				v[k] = walk(k, x)
			}
		case []any:
			for i, x := range v {
				v[i] = walk(key, x)
			}
		case string:
			if !slices.Contains(codes, key) {
				return v + poison
			}
		}
		return v
	}
	var v any
	require.NoError(t, json.Unmarshal(doc, &v))
	b, err := json.Marshal(walk("", v))
	require.NoError(t, err)
	return b
}

// hostile answers as another does, with poison in every JSON document.
func hostile(t testing.TB, honest http.RoundTripper) http.RoundTripper {
	return transportFunc(func(r *http.Request) (*http.Response, error) {
		resp, err := honest.RoundTrip(r)
		if err != nil || !strings.Contains(resp.Header.Get("Content-Type"), "json") {
			return resp, err
		}
		defer resp.Body.Close()
		body, err := io.ReadAll(resp.Body)
		if err != nil || !json.Valid(body) {
			return nil, fmt.Errorf("the test's own document: %w", err)
		}
		body = poisoned(t, body)
		resp.Body, resp.ContentLength = io.NopCloser(bytes.NewReader(body)), int64(len(body))
		resp.Header.Del("Content-Length")
		return resp, nil
	})
}

// clean looks for what must not come out. Only the line ends of the medium
// itself are left.
func clean(t *testing.T, where, s string) {
	t.Helper()
	for _, r := range s {
		if r == '\n' || r == '\r' || r == '\t' {
			continue
		}
		require.False(t, unicode.In(r, unicode.Cc, unicode.Zl, unicode.Zp) || unicode.Is(unicode.Cf, r) && r != '\u200d' && r != '\u200c', "%s holds %U: %q", where, r, around(s, r))
	}
}

func around(s string, r rune) string {
	i := strings.IndexRune(s, r)
	return s[max(i-60, 0):min(i+60, len(s))]
}

// hostileBookings are files of bookings with poison in every text of theirs.
func hostileBookings(t testing.TB, cfg *config.Config) {
	t.Helper()
	dir := t.TempDir()
	csvText := strings.NewReplacer("\r", "", "\n", "").Replace(poison)
	table := "date,name,contact,party,id\n" +
		"2027-01-19,\"Ann " + csvText + "\",ann@example.com,family,\"id " + csvText + "\"\n" +
		"2027-01-22,\"Bo\",\"bo" + csvText + "\",\"kids " + csvText + "\",\n"
	csvFile := filepath.Join(dir, "guests.csv")
	require.NoError(t, os.WriteFile(csvFile, []byte(table), 0o600))
	event := strings.NewReplacer("\r\n", "\\n", "\u2028", "\u2028").Replace(poison)
	ics := strings.Join([]string{
		"BEGIN:VCALENDAR", "VERSION:2.0", "BEGIN:VEVENT", "UID:one" + event, "DTSTART:20270121T120000Z", "DTEND:20270121T200000Z",
		"SUMMARY:Charter: Cy " + event, "CATEGORIES:charter", "CONTACT:cy@example.com", "LOCATION:" + event, "DESCRIPTION:party: " + event + "\\nguests: 4\\n" + event, "END:VEVENT", "END:VCALENDAR", "",
	}, "\r\n")
	icsFile := filepath.Join(dir, "guests.ics")
	require.NoError(t, os.WriteFile(icsFile, []byte(ics), 0o600))
	cfg.Charters.CSV, cfg.Charters.Calendar = models.Known(csvFile), models.Known(icsFile)
}

// What others write reaches mail, its Subject, drafts and logs as plain text.
func TestHostileTextInMailAndLogs(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(time.Date(2027, 1, 18, 16, 0, 0, 0, time.UTC))
		warned := func(at time.Time) (onset, ends time.Time, ok bool) {
			onset = time.Date(2027, 1, 19, 23, 0, 0, 0, time.UTC)
			return onset, onset.Add(12 * time.Hour), at.Before(onset.Add(6 * time.Hour))
		}
		cfg := daemonConfig(t, "")
		hostileBookings(t, cfg)
		bag := &mailbag{now: now}
		var logs bytes.Buffer
		o := serveOptions(t, cfg, now, hostile(t, invented{now: now, warned: warned}), bag)
		o.Logger = slog.New(slog.NewTextHandler(&logs, nil))
		d := start(t, o)
		stopped := false
		defer func() {
			if !stopped {
				halt(t, d)
			}
		}()
		pass(30 * time.Hour)
		for _, path := range []string{"/healthz", "/readyz", "/metrics", "/"} {
			_, body := ask(t, d, path)
			clean(t, path, body)
		}
		halt(t, d)
		stopped = true
		all := bag.all()
		require.NotEmpty(t, bag.of(models.NoticeCall))
		require.NotEmpty(t, bag.of(models.NoticeAlert))
		require.NotEmpty(t, bag.of(models.NoticeDraft))
		seen := ""
		for _, m := range all {
			clean(t, "Subject", m.Subject)
			require.NotContains(t, m.Subject, "\n")
			require.NotContains(t, m.Short, "\r")
			clean(t, "text", m.Text)
			clean(t, "html", m.HTML)
			clean(t, "short", m.Short)
			for _, a := range m.Attachments {
				clean(t, a.Name, string(a.Data))
			}
			seen += m.Subject + m.Text
		}
		require.Contains(t, seen, "PZN", "the hostile text itself is told: nothing official is hidden")
		clean(t, "logs", logs.String())
	})
}

// And so to terminal, pages, calendars and documents.
func TestHostileTextOnPagesAndTerminal(t *testing.T) {
	d := demoDaemon(t, func(o *app.ServeOptions) {
		o.Transport = hostile(t, o.Transport)
		hostileBookings(t, o.Config)
	})
	v := visit(t, d)
	v.post("/login", "/login", "role", "captain", "passphrase", "demo captain")
	v.post("/log", "/log", "form", "new", "note", "seen "+poison)
	for _, path := range []string{
		"/", "/days", "/day", "/hours", "/drift", "/spread", "/sources", "/score", "/print", "/reports", "/bait", "/log", "/charters",
		"/calendar.ics", "/drift.gpx", "/api/v1/call", "/api/v1/days", "/readyz", "/metrics",
	} {
		_, body := v.get(path)
		clean(t, path, body)
	}
	_, body := v.get("/charters")
	require.Contains(t, body, "PZN")

	cfg := demoConfig(t)
	hostileBookings(t, cfg)
	a, err := app.New(app.Options{Config: cfg, Now: evening, Transport: hostile(t, coast().transport(t))})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Stop(t.Context())) })
	list, _, err := a.CallsByHand(t.Context(), app.CallRequest{})
	require.NoError(t, err)
	text := app.CallsText(list, true)
	require.Contains(t, text, "PZN")
	clean(t, "call", text)
	clean(t, "check", print(a.Check(t.Context())))
	booked, problems, err := a.Charters(t.Context(), "")
	require.NoError(t, err)
	for _, b := range booked {
		clean(t, "charter list", b.String())
		require.NotContains(t, b.String(), "\n")
	}
	require.NotEmpty(t, problems)
	for _, p := range problems {
		clean(t, "problems", p)
		require.NotContains(t, p, "\n")
	}
}
