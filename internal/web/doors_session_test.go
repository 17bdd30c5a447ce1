package web_test

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/web"
)

func TestSessionsThatDoNotCount(t *testing.T) {
	o := options(newDesk(t))
	now := made()
	good := web.CookieOf(o, web.Captain, now, now, now.Add(time.Hour))
	role, err := web.ReadCookie(o, good, now)
	require.NoError(t, err)
	require.Equal(t, web.Captain, role)

	otherKey := o
	otherKey.Key = bytes.Repeat([]byte("x"), 32)
	changed := o
	changed.Passphrases = map[web.Role]string{web.Captain: web.CheapHash("other words"), web.Mate: o.Passphrases[web.Mate]}
	mate := web.CookieOf(o, web.Mate, now, now, now.Add(time.Hour))
	for name, c := range map[string]struct {
		o     web.Options
		value string
		now   time.Time
	}{
		"expired":                          {o, good, now.Add(time.Hour)},
		"of another key":                   {o, web.CookieOf(otherKey, web.Captain, now, now, now.Add(time.Hour)), now},
		"after the passphrase was changed": {changed, good, now},
		"the mate's as the captain's":      {o, strings.Replace(mate, ".mate.", ".captain.", 1), now},
		"made to last":                     {o, strings.Replace(good, ".", ".", 1)[:len(good)-1] + "A", now},
		"a role that is none":              {o, web.CookieOf(o, "owner", now, now, now.Add(time.Hour)), now},
		"nobody":                           {o, web.CookieOf(o, web.Nobody, now, now, now.Add(time.Hour)), now},
		"without a signature":              {o, good[:strings.LastIndexByte(good, '.')+1], now},
		"empty":                            {o, "", now},
		"too long":                         {o, good + strings.Repeat("A", 300), now},
	} {
		if c.value == good && c.now.Equal(now) && name != "after the passphrase was changed" {
			t.Fatalf("%s: the case changes nothing", name)
		}
		_, err := web.ReadCookie(c.o, c.value, c.now)
		require.Error(t, err, name)
	}
	// The other role's sessions outlive the change.
	_, err = web.ReadCookie(changed, mate, now)
	require.NoError(t, err)
}

// No change of a single character is taken.
func TestASessionIsSignedWhole(t *testing.T) {
	o := options(newDesk(t))
	good := web.CookieOf(o, web.Mate, made(), made(), made().Add(time.Hour))
	rapid.Check(t, func(t *rapid.T) {
		b := []byte(good)
		i := rapid.IntRange(0, len(b)-1).Draw(t, "place")
		c := rapid.Byte().Draw(t, "character")
		if b[i] == c {
			t.Skip("unchanged")
		}
		b[i] = c
		_, err := web.ReadCookie(o, string(b), made())
		if err == nil {
			t.Fatalf("%q was taken", b)
		}
	})
}

func FuzzSessionCookie(f *testing.F) {
	o := web.Options{Key: bytes.Repeat([]byte("k"), 32), Passphrases: map[web.Role]string{web.Mate: "hash"}}
	good := web.CookieOf(o, web.Mate, made(), made(), made().Add(time.Hour))
	f.Add(good)
	f.Add("1.mate.1.1.9999999999.AAAA.")
	f.Add("1.mate.....")
	f.Fuzz(func(t *testing.T, value string) {
		if _, err := web.ReadCookie(o, value, made()); err == nil {
			require.Equal(t, good, value)
		}
	})
}

func FuzzFlashCookie(f *testing.F) {
	o := web.Options{Key: bytes.Repeat([]byte("k"), 32), Now: made}
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
	require.Contains(t, see("/reports", said.Value), `role="status" tabindex="-1"><span lang="en">done: report mate fish-on-top today</span></p>`)
	require.NotContains(t, see("/bait", said.Value), "done:")
	require.NotContains(t, see("/reports", "A"+said.Value), "done:")
	c.now = c.now.Add(time.Minute)
	require.NotContains(t, see("/reports", said.Value), "done:")
}
