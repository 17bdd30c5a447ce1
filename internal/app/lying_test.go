package app_test

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
)

// liar is a proxy before the invented coast that lies about one thing each
// hour, and keeps copies to lie with.
type liar struct {
	coast invented
	now   func() time.Time
	// lie is what is done at an hour to the answers of the alerts feed and of
	// the grid.
	lie  func(now time.Time) string
	kept map[string][]string // bodies by path, the oldest first
}

func (l *liar) RoundTrip(r *http.Request) (*http.Response, error) {
	resp, err := l.coast.RoundTrip(r)
	if err != nil || resp.StatusCode != http.StatusOK || strings.HasPrefix(r.URL.Path, "/data/") {
		return resp, err
	}
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		return nil, err
	}
	alerts := strings.HasPrefix(r.URL.Path, "/alerts/")
	l.kept[r.URL.Path] = append(l.kept[r.URL.Path], string(b))
	status, body := http.StatusOK, string(b)
	switch lie := l.lie(l.now()); {
	case lie == "stale": // the first answer that it ever saw
		body = l.kept[r.URL.Path][0]
	case lie == "wrong" && alerts:
		body = strings.ReplaceAll(body, "AMZ997", "AMZ555")
	case lie == "flipping": // now this, now the first
		if len(l.kept[r.URL.Path])%2 == 0 {
			body = l.kept[r.URL.Path][0]
		}
	case lie == "future" && alerts:
		body = fmt.Sprintf(`{"type":"FeatureCollection","features":[],"updated":%q}`, l.now().Add(9*time.Hour).Format(time.RFC3339))
	case lie == "damaged":
		body = string(bytes.Map(func(r rune) rune {
			if r == ':' {
				return ';'
			}
			return r
		}, b))
	case lie == "empty" && alerts:
		body = `{"type":"FeatureCollection","features":[]}`
	case lie == "refused":
		status, body = http.StatusForbidden, "no"
	}
	out := response(r, status, body)
	out.Header = resp.Header
	return out, nil
}

// An evening and a night behind a proxy that lies: an advisory stands all the
// time, from before the first lie until it is cancelled by nobody. What was
// sent, and what the pages said about warnings, is kept. Nothing in it says
// that none is in force, or that the advisory was cancelled.
func TestANightBehindALyingProxy(t *testing.T) {
	t.Parallel()
	var log strings.Builder
	synctest.Test(t, func(t *testing.T) {
		began := time.Date(2027, 1, 18, 20, 2, 0, 0, time.UTC)
		now := shiftedClock(began)
		quiet := began.Add(time.Hour) // until then nothing is in force: the copy to lie with
		coast := closedFrom(t, now, 6)
		onset, ends, _ := coast.warned(began)
		coast.warned = func(at time.Time) (time.Time, time.Time, bool) { return onset, ends, at.After(quiet) }
		lies := []string{"", "", "stale", "wrong", "flipping", "", "future", "damaged", "empty", "refused", "stale", "", "flipping", "wrong", ""}
		lie := func(at time.Time) string { return lies[min(int(at.Sub(began)/time.Hour), len(lies)-1)] }
		bag := &mailbag{now: now}
		d := start(t, serveOptions(t, daemonConfig(t, ""), now, &liar{coast: coast, now: now, lie: lie, kept: map[string][]string{}}, bag))
		defer halt(t, d)
		shown := 0
		for range len(lies) {
			pass(time.Hour - time.Second)
			ask(t, d, "/") // the board is made when somebody looks
			pass(time.Second)
			_, page := ask(t, d, "/")
			code, _ := ask(t, d, "/readyz")
			said := aboutWarnings(page)
			fmt.Fprintf(&log, "%s  feed %-8s  ready %d  page: %s\n", now().Format("15:04"), lie(now().Add(-time.Minute)), code, said)
			if at := now(); at.After(quiet.Add(10 * time.Minute)) {
				require.NotContains(t, strings.ToLower(said), "none in force", "%s", at)
			}
			for _, m := range bag.all()[shown:] {
				fmt.Fprintf(&log, "       %s sent (%s, %s): %s\n", m.at.Format("15:04"), m.Notice, m.Reason, m.Subject)
				if m.at.After(quiet.Add(10 * time.Minute)) {
					require.NotContains(t, strings.ToLower(m.Subject), "cancelled")
					if m.Notice == models.NoticeCall || m.Notice == models.NoticeMorning {
						require.NotContains(t, strings.ToLower(m.Text), "none in force")
					}
				}
			}
			shown = len(bag.all())
		}
	})
	golden(t, "lying-night.golden.txt", log.String())
}

// aboutWarnings is what a page says under the head of official warnings, in
// its first words.
func aboutWarnings(page string) string {
	text := html.UnescapeString(regexp.MustCompile(`(?s)<(style|script|svg).*?</(style|script|svg)>|<[^>]*>`).ReplaceAllString(page, " "))
	text = strings.Join(strings.Fields(text), " ")
	if i := strings.Index(text, "Official warnings"); i >= 0 {
		text = text[i:]
	}
	if r := []rune(text); len(r) > 110 {
		text = string(r[:110])
	}
	return text
}
