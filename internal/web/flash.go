package web

import (
	"encoding/base64"
	"net/http"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/web/door"
)

// The sentence that says what was done waits in a signed cookie for the page
// that it is shown on, and for a minute at most.
const flashLasts = time.Minute

// setFlash keeps a sentence for the page of a path.
func (s *Server) setFlash(w http.ResponseWriter, r *http.Request, path, sentence string) {
	const longest = 1000 // bytes; a cookie has room for some 4000
	sentence = strings.ToValidUTF8(sentence, "")
	if len(sentence) > longest {
		sentence = strings.ToValidUTF8(sentence[:longest], "") + " …"
	}
	payload := base64.RawURLEncoding.EncodeToString([]byte(sentence)) + "." + strconv.FormatInt(s.o.Now().Add(flashLasts).Unix(), 10)
	http.SetCookie(w, &http.Cookie{
		Name: "said", Value: payload + "." + s.door.Sign("flash", path, payload, string(door.RoleOf(r))), Path: path, MaxAge: int(flashLasts / time.Second),
		HttpOnly: true, Secure: s.door.Secure(r), SameSite: http.SameSiteLaxMode,
	})
}

// Flash is the sentence that waits for this page; empty where there is none.
func (v *view) Flash() string {
	c, err := v.Request.Cookie("said")
	if err != nil {
		return ""
	}
	return v.server.readFlash(v.Request.URL.Path, c.Value, v.Role)
}

func (s *Server) readFlash(path, value string, role Role) string {
	i := strings.LastIndexByte(value, '.')
	if i < 0 || !s.door.Signed(value[i+1:], "flash", path, value[:i], string(role)) {
		return ""
	}
	text, until, _ := strings.Cut(value[:i], ".")
	n, err := strconv.ParseInt(until, 10, 64)
	if err != nil || !s.o.Now().Before(time.Unix(n, 0)) {
		return ""
	}
	b, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil {
		return ""
	}
	return string(b)
}

// dropFlash takes the sentence away once its page is made.
func (s *Server) dropFlash(w http.ResponseWriter, r *http.Request) {
	if _, err := r.Cookie("said"); err != nil {
		return
	}
	http.SetCookie(w, &http.Cookie{Name: "said", Path: r.URL.Path, MaxAge: -1, HttpOnly: true, Secure: s.door.Secure(r), SameSite: http.SameSiteLaxMode})
}
