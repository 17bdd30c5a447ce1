package web

import (
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"strconv"
	"time"
)

func (s *Server) doorRoutes() []route {
	return []route{
		{Pattern: "GET /login", Page: s.loginPage},
		{Pattern: "POST /login", Form: true, Raw: s.login},
		{Pattern: "POST /logout", Needs: Mate, Form: true, Raw: s.logout},
		{Pattern: "POST /choices", Form: true, Raw: s.choose},
		{Pattern: "GET /link/{token}", Page: s.linkPage},
		{Pattern: "POST /link/{token}", Form: true, Raw: s.redeem},
	}
}

// readPassphrases reads the hashes of Options.
func readPassphrases(list map[Role]string) (map[Role]phc, error) {
	hashes := map[Role]phc{}
	for role, s := range list {
		if role != Captain && role != Mate {
			return nil, fmt.Errorf("web: nobody logs in as %q", role)
		}
		h, err := readPHC(s)
		if err != nil {
			return nil, fmt.Errorf("web: the %s's passphrase: %w", role, err)
		}
		hashes[role] = h
	}
	return hashes, nil
}

// loginData is what the page to log in shows.
type loginData struct {
	Roles      []option
	Back, Hint string
	// Wrong says why the last try was refused.
	Wrong string
	// Now is who is logged in.
	Now Role
}

func (s *Server) loginData(v *view, back string, role Role) loginData {
	d := loginData{Back: localPath(back), Hint: s.o.Hint, Now: v.Role}
	for _, r := range []Role{Captain, Mate} {
		if _, ok := s.hashes[r]; ok {
			d.Roles = append(d.Roles, option{Value: string(r), Words: v.T("role." + string(r)), Chosen: r == role || role == Nobody && len(d.Roles) == 0})
		}
	}
	return d
}

func (s *Server) loginPage(v *view) (page, error) {
	return page{Name: "login", Title: "title.login", Data: s.loginData(v, v.Request.URL.Query().Get("back"), Nobody), Fresh: true}, nil
}

// login checks a passphrase.
func (s *Server) login(v *view, w http.ResponseWriter) error {
	r := v.Request
	f, err := s.readForm(v, route{})
	if err != nil {
		return err
	}
	role, from, now := Role(f.get("role")), addressOf(r), s.o.Now()
	d := s.loginData(v, f.Values.Get("back"), role)
	again := func(status int, words string) error {
		d.Wrong = words
		return s.show(w, v, route{Page: func(*view) (page, error) {
			return page{Name: "login", Title: "title.login", Data: d, Status: status, Fresh: true}, nil
		}})
	}
	hash, ok := s.hashes[role]
	passphrase := f.Values.Get("passphrase")
	switch {
	case !ok:
		return again(http.StatusUnprocessableEntity, v.T("login.no role"))
	case passphrase == "" || len(passphrase) > longestPassphrase:
		return again(http.StatusUnprocessableEntity, v.T("login.empty"))
	}
	if wait := s.gate.try(role, from, now); wait > 0 {
		s.o.Logger.Warn("a login has to wait", "role", string(role), "from", from.String(), "wait", wait.String())
		w.Header().Set("Retry-After", seconds(wait))
		return again(http.StatusTooManyRequests, v.T("login.wait", waitWords(wait)))
	}
	right, busy := s.gate.match(r.Context(), hash, passphrase)
	if busy {
		w.Header().Set("Retry-After", seconds(hashWait))
		return again(http.StatusTooManyRequests, v.T("login.busy"))
	}
	s.gate.tried(from, right, now)
	if !right {
		s.o.Logger.Warn("a login was refused", "role", string(role), "from", from.String())
		return again(http.StatusForbidden, v.T("login.wrong"))
	}
	one, err := s.beginSession(role, now)
	if err != nil {
		return err
	}
	s.o.Logger.Info("somebody logged in", slog.String("role", string(role)), slog.String("from", from.String()))
	s.setSession(w, r, one)
	seeOther(w, d.Back)
	return nil
}

// waitWords tells a wait in seconds, or in minutes where it is long.
func waitWords(d time.Duration) string {
	if d <= 2*time.Minute {
		return seconds(d) + " s"
	}
	return strconv.Itoa(int((d+time.Minute-1)/time.Minute)) + " min"
}

// logout ends the session of this browser. Whoever has a page open with an
// older form is logged out all the same.
func (s *Server) logout(v *view, w http.ResponseWriter) error {
	var stale *mistake
	if _, err := s.readForm(v, route{Needs: Mate}); err != nil && !errors.As(err, &stale) {
		return err
	}
	s.dropSession(w, v.Request)
	// What the browser kept of pages seen while logged in goes too.
	w.Header().Set("Clear-Site-Data", `"cache"`)
	seeOther(w, "/")
	return nil
}

// LoginPath is where to log in and come back to this page.
func (v *view) LoginPath() string { return "/login?back=" + url.QueryEscape(v.Back()) }
