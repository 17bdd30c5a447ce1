package app_test

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/app"
	"forecastd/internal/models"
	"forecastd/internal/notify"
)

// picky is a mail server that refuses guests for a while, and quotes them.
type picky struct {
	*mailbag
	mu      sync.Mutex
	refused int
}

func (p *picky) Send(ctx context.Context, m models.Message, address string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if m.Notice == models.NoticeGuests && p.refused < 3 {
		p.refused++
		return &models.Error{Kind: models.KindServer, Source: "e-mail", Err: fmt.Errorf("451 4.7.1 <%s>: %s is greylisted, %w", strings.ToUpper(address), m.Person, io.ErrUnexpectedEOF)}
	}
	return p.mailbag.Send(ctx, m, address)
}

// spoken is a log that any number may write to.
type spoken struct {
	mu sync.Mutex
	bytes.Buffer
}

func (s *spoken) Write(b []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.Buffer.Write(b)
}

func (s *spoken) text() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.String()
}

// Guests are erased some days after their trip; a log keeps what it has. So
// nothing that the daemon logs names them: not in their messages sent, refused
// and given up, nor when their trip is moved, called off, doubled or can't be
// read, nor when a page breaks on it.
func TestGuestsAreInNoLog(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening().Add(-time.Hour))
		log, mail := &spoken{}, &picky{mailbag: &mailbag{now: now}}
		o := serveOptions(t, nil, now, closedFrom(t, now, 13), nil)
		o.Channels, o.Dir = map[string]notify.Channel{"e-mail": mail}, t.TempDir()
		o.Logger = slog.New(slog.NewTextHandler(log, &slog.HandlerOptions{Level: slog.LevelDebug}))
		hash, err := app.HashPassphrase("captain", "correct horse")
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(o.Dir, "hash"), []byte(hash+"\n"), 0o600))
		csv := filepath.Join(o.Dir, "book.csv")
		require.NoError(t, os.WriteFile(csv, []byte("date,name,contact,start,end\n"+
			"2027-01-23,Quistgaard cousins,cousins@quistgaard.example,07:00,12:00\n"+
			"2027-01-23,Quistgaard uncles,uncles@quistgaard.example,08:00,13:00\n"+
			"2027-13-45,Quistgaard aunts,aunts@quistgaard.example,07:00,12:00\n"+
			"2027-01-24,Quistgaard elders,no address of the Quistgaards,12:00,07:00\n"), 0o600))
		text := strings.Replace(daemonText, "drafts, trouble]", "drafts, trouble, float plan]", 1)
		trips := strings.NewReplacer("the Larsens", "the Quistgaards", "larsens@example.com", "quistgaards@example.com").Replace(twoTrips)
		o.Config = loaded(t, text+trips+"  bookings_csv: "+csv+"\npages: {address: \"https://boat.example\", captain_file: "+filepath.Join(o.Dir, "hash")+"}\n")
		d := start(t, o)
		browser := inside(t, d)
		browser.post("/login", "/login", "role", "captain", "passphrase", "correct horse")

		time.Sleep(3 * time.Hour)
		require.NotEmpty(t, mail.of(models.NoticeDraft))
		for _, m := range mail.of(models.NoticeDraft) {
			code, body := browse(t, d, http.MethodPost, linkIn(t, m.Text))
			require.Less(t, code, 400, body)
		}
		time.Sleep(2 * time.Hour)
		require.NotEmpty(t, mail.of(models.NoticeGuests), "refused at first, then taken")
		_, body := browser.get("/charters")
		require.Contains(t, body, "Quistgaard")
		for _, id := range charterIDs(body) {
			code, _ := browser.post("/charters", "/charters/"+id+"/move", "date", "2027-01-23", "start", "07:00", "end", "12:00", "why", "for the Quistgaards")
			require.Contains(t, []int{http.StatusOK, http.StatusUnprocessableEntity}, code)
			browser.post("/charters", "/charters/"+id+"/cancel", "why", "the Quistgaards asked", "sure", "yes")
		}
		browser.post("/charters", "/charters/Quistgaard/move", "date", "2027-01-25", "why", "nobody of that name")
		browser.post("/log", "/log", "form", "write", "date", "2027-01-18", "note", "with the Quistgaards")
		browser.get("/charters?id=Quistgaard&to=x")
		browser.get("/day/Quistgaard")
		time.Sleep(30 * time.Hour) // the day passes
		_, metrics := ask(t, d, "/metrics")
		_, ready := ask(t, d, "/readyz")
		halt(t, d)

		// And once nothing can be had of the store.
		require.NoError(t, os.WriteFile(csv, []byte("date,name\n2027-01-26,\"Quistgaard"), 0o600))
		d = start(t, o)
		time.Sleep(2 * time.Hour)
		halt(t, d)

		require.Contains(t, log.text(), "greylisted")
		require.Contains(t, log.text(), "charter cancelled")
		for name, text := range map[string]string{"log": log.text(), "metrics": metrics, "readyz": ready} {
			for line := range strings.Lines(text) {
				require.NotContains(t, strings.ToLower(line), "quistgaard", name)
			}
		}
	})
}

// charterIDs are the bookings that a page can move.
func charterIDs(body string) (ids []string) {
	for _, m := range regexp.MustCompile(`action="/charters/([^/"]+)/move"`).FindAllStringSubmatch(body, -1) {
		ids = append(ids, m[1])
	}
	return ids
}

// inside is a visitor who asks the daemon's handler without a network, in a
// bubble.
func inside(t testing.TB, d *app.Daemon) visitor {
	t.Helper()
	jar, err := cookiejar.New(nil)
	require.NoError(t, err)
	return visitor{t, "https://boat.example", &http.Client{Jar: jar, Transport: transportFunc(func(r *http.Request) (*http.Response, error) {
		w := httptest.NewRecorder()
		in := r.Clone(r.Context())
		in.RequestURI, in.RemoteAddr, in.Host = r.URL.RequestURI(), "127.0.0.1:1", r.URL.Host
		if in.Body == nil {
			in.Body = http.NoBody
		}
		d.Handler().ServeHTTP(w, in)
		resp := w.Result()
		resp.Request = r
		return resp, nil
	})}}
}
