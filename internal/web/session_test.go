package web_test

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/web"
	"forecastd/internal/web/door"
)

func FuzzFlashCookie(f *testing.F) {
	o := web.Options{Options: door.Options{Key: bytes.Repeat([]byte("k"), 32), Now: made}}
	f.Add("c2FpZA.9999999999.AAAA")
	f.Add("..")
	f.Fuzz(func(t *testing.T, value string) {
		require.Empty(t, web.FlashOf(o, "/log", value, web.Mate))
	})
}

func TestASessionSlidesAndEnds(t *testing.T) {
	c := clock{made()}
	v := loggedIn(t, newServer(t, newDesk(t), c.set), web.Mate)
	began := c.now
	require.Empty(t, v.get("/log").Result().Cookies(), "a cookie of today stays as it is")
	for range 200 {
		c.now = c.now.Add(7 * 24 * time.Hour)
		if c.now.Sub(began) >= 90*24*time.Hour {
			break
		}
		w := v.get("/charters")
		require.Equal(t, http.StatusOK, w.Code, c.now.Sub(began))
		require.Len(t, w.Result().Cookies(), 1)
	}
	require.Equal(t, http.StatusSeeOther, v.get("/charters").Code, "90 days after the login it ends, used or not")

	v = loggedIn(t, newServer(t, newDesk(t), c.set), web.Mate)
	c.now = c.now.Add(14*24*time.Hour - time.Second)
	r := httptest.NewRequest(http.MethodGet, "/charters", nil) // not a page that somebody opens
	require.Empty(t, v.do(r).Result().Cookies())
	c.now = c.now.Add(time.Second)
	require.Equal(t, http.StatusSeeOther, v.get("/charters").Code)
}

func TestASentenceIsForItsPageItsReaderAndAMinute(t *testing.T) {
	c := clock{made()}
	h := newServer(t, newDesk(t), c.set)
	v := loggedIn(t, h, web.Mate)
	w := v.post("/reports", v.form("fish", "say", "today"))
	require.Equal(t, "/reports#said", w.Header().Get("Location"))
	require.Len(t, w.Result().Cookies(), 1)
	said := w.Result().Cookies()[0]
	require.Equal(t, "/reports", said.Path)
	require.True(t, said.HttpOnly)
	require.NotContains(t, v.get("/bait").Body.String(), "done:")

	see := func(to, value string) string {
		r := httptest.NewRequest(http.MethodGet, to, nil)
		r.AddCookie(&http.Cookie{Name: "said", Value: value})
		return v.do(r).Body.String()
	}
	require.Contains(t, see("/reports", said.Value), `role="status" tabindex="-1">done: report mate fish-on-top today</p>`)
	require.NotContains(t, see("/bait", said.Value), "done:")
	require.NotContains(t, see("/reports", "A"+said.Value), "done:")
	c.now = c.now.Add(time.Minute)
	require.NotContains(t, see("/reports", said.Value), "done:")
}

// A cookie that somebody kept is worth nothing after the logout, on this
// device and, if asked for, on all.
func TestALogoutEndsTheLoginOnTheServer(t *testing.T) {
	h := newServer(t, newDesk(t))
	replayed := func(v *visitor) func() int {
		kept := v.jar.Cookies(v.base)
		return func() int {
			r := httptest.NewRequest(http.MethodGet, "/charters", nil)
			for _, c := range kept {
				r.AddCookie(c)
			}
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			return w.Code
		}
	}
	phone, tablet, mate := loggedIn(t, h, web.Captain), loggedIn(t, h, web.Captain), loggedIn(t, h, web.Mate)
	old, other, mates := replayed(phone), replayed(tablet), replayed(mate)
	require.Equal(t, http.StatusOK, old())
	require.Equal(t, http.StatusSeeOther, phone.post("/logout", phone.form("")).Code)
	require.Equal(t, http.StatusSeeOther, old(), "replayed")
	require.Equal(t, http.StatusOK, other())

	// The mate ends the mates' logins alone.
	require.Equal(t, http.StatusSeeOther, mate.post("/logout/everywhere", mate.form("")).Code)
	require.Equal(t, http.StatusSeeOther, mates())
	require.Equal(t, http.StatusOK, other())

	// The captain ends all.
	mate = loggedIn(t, h, web.Mate)
	mates = replayed(mate)
	require.Contains(t, tablet.get("/login").Body.String(), "Log out on every device")
	require.Equal(t, http.StatusSeeOther, tablet.post("/logout/everywhere", tablet.form("")).Code)
	require.Equal(t, http.StatusSeeOther, other())
	require.Equal(t, http.StatusSeeOther, mates())

	// To log in again ends the login before on the same device.
	v := loggedIn(t, h, web.Captain)
	before := replayed(v)
	require.Equal(t, http.StatusSeeOther, v.post("/login", passphrase(web.Captain, "captain's words")).Code)
	require.Equal(t, http.StatusSeeOther, before())
	require.Equal(t, http.StatusOK, v.get("/charters").Code)
}

// fullBook is a book that can't be written, as on a full disk.
type fullBook struct{ door.Book }

func (fullBook) Begin(context.Context, models.Session) error { return errors.New("no space left") }
func (fullBook) End(context.Context, string) error           { return errors.New("no space left") }
func (fullBook) EndAll(context.Context, string, string) error {
	return errors.New("no space left")
}
func (fullBook) Touch(context.Context, string, time.Time, time.Time) error {
	return errors.New("no space left")
}
func (fullBook) Find(context.Context, string) (models.Opt[models.Session], error) {
	return models.Unknown[models.Session](), nil
}

func TestACaptainLogsInAndOutOnAFullDisk(t *testing.T) {
	var log bytes.Buffer
	v := loggedIn(t, newServer(t, newDesk(t), func(o *web.Options) {
		o.Book, o.Logger = fullBook{}, slog.New(slog.NewTextHandler(&log, nil))
	}), web.Captain)
	kept := v.jar.Cookies(v.base)
	require.Equal(t, http.StatusOK, v.get("/charters").Code)
	require.Contains(t, log.String(), "it ends with this process")
	require.Equal(t, http.StatusSeeOther, v.post("/logout", v.form("")).Code)
	v.jar.SetCookies(v.base, kept)
	require.Equal(t, http.StatusSeeOther, v.get("/charters").Code)
}

// Four wrong guesses of anybody at the captain's address, ten or twenty: his
// own try waits a moment and is answered.
func TestOthersGuessesDoNotCostTheCaptainHisLogin(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var log bytes.Buffer
		h := newServer(t, newDesk(t), func(o *web.Options) { o.Logger = slog.New(slog.NewTextHandler(&log, nil)) })
		try := func(v *visitor, words string) int {
			return v.post("/login", passphrase(web.Captain, words), func(r *http.Request) { r.RemoteAddr = "172.18.0.2:1" }).Code
		}
		phone := loggedIn(t, h, web.Captain)
		require.Equal(t, http.StatusSeeOther, phone.post("/logout", phone.form("")).Code)
		for range 20 {
			require.Equal(t, http.StatusForbidden, try(newVisitor(t, h), "guess"))
		}
		began := time.Now()
		require.Equal(t, http.StatusSeeOther, try(phone, "captain's words"), "a device that was logged in before")
		require.Zero(t, time.Since(began))
		require.Equal(t, http.StatusSeeOther, try(newVisitor(t, h), "captain's words"), "a new one")
		require.LessOrEqual(t, time.Since(began), time.Second)
		require.Contains(t, log.String(), "a login was refused")
		require.NotContains(t, log.String(), "guess", "what was typed is in no log")
	})
}

// Who is turned away for the crowd is told what to do.
func TestACrowdIsToldToWait(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := newServer(t, newDesk(t))
		var all sync.WaitGroup
		var crowded atomic.Int64
		for range 120 {
			all.Go(func() {
				w := newVisitor(t, h).post("/login", passphrase(web.Captain, "guess"))
				if w.Code == http.StatusTooManyRequests {
					crowded.Add(1)
					if w.Header().Get("Retry-After") == "" || !strings.Contains(w.Body.String(), "Too many are trying to log in") {
						t.Error(w.Body.String())
					}
				}
			})
		}
		all.Wait()
		require.Positive(t, crowded.Load())
	})
}
