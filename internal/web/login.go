package web

import (
	"errors"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"forecastd/internal/web/door"
)

func (s *Server) doorRoutes() []route {
	return []route{
		{Pattern: "GET /login", Page: s.loginPage},
		{Pattern: "POST /login", Form: true, Raw: s.login},
		{Pattern: "POST /logout", Needs: Mate, Form: true, Raw: s.logout},
		{Pattern: "POST /logout/everywhere", Needs: Mate, Form: true, Raw: s.logoutEverywhere},
		{Pattern: "POST /choices", Form: true, Raw: s.choose},
		{Pattern: "GET /link/{token}", Page: s.linkPage},
		{Pattern: "POST /link/{token}", Form: true, Raw: s.redeem},
	}
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
	d := loginData{Back: door.LocalPath(back), Hint: s.o.Hint, Now: v.Role}
	for _, r := range door.Roles() {
		if s.door.Opens(r) {
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
	f, err := s.readForm(v, route{})
	if err != nil {
		return err
	}
	role := Role(f.get("role"))
	d := s.loginData(v, f.Values.Get("back"), role)
	again := func(status int, words string) error {
		d.Wrong = words
		return s.show(w, v, route{Page: func(*view) (page, error) {
			return page{Name: "login", Title: "title.login", Data: d, Status: status, Fresh: true}, nil
		}})
	}
	err = s.door.Login(w, v.Request, role, f.Values.Get("passphrase"))
	wait, crowded := door.Crowded(err)
	switch {
	case crowded:
		w.Header().Set("Retry-After", strconv.Itoa(int(wait/time.Second)))
		return again(http.StatusTooManyRequests, v.T("login.crowd"))
	case errors.Is(err, door.ErrRole):
		return again(http.StatusUnprocessableEntity, v.T("login.no role"))
	case errors.Is(err, door.ErrEmpty):
		return again(http.StatusUnprocessableEntity, v.T("login.empty"))
	case errors.Is(err, door.ErrWrong):
		return again(http.StatusForbidden, v.T("login.wrong"))
	case err != nil:
		return err
	}
	seeOther(w, d.Back)
	return nil
}

// logout ends the session of this browser. Whoever has a page open with an
// older form is logged out all the same.
func (s *Server) logout(v *view, w http.ResponseWriter) error {
	return s.goOut(v, w, func() error { s.door.Logout(w, v.Request); return nil })
}

// logoutEverywhere ends the sessions on all devices.
func (s *Server) logoutEverywhere(v *view, w http.ResponseWriter) error {
	return s.goOut(v, w, func() error { return s.door.LogoutEverywhere(w, v.Request) })
}

func (s *Server) goOut(v *view, w http.ResponseWriter, out func() error) error {
	var stale *mistake
	if _, err := s.readForm(v, route{Needs: Mate}); err != nil && !errors.As(err, &stale) {
		return err
	}
	if err := out(); err != nil {
		return err
	}
	// What the browser kept of pages seen while logged in goes too.
	w.Header().Set("Clear-Site-Data", `"cache"`)
	seeOther(w, "/")
	return nil
}

// LoginPath is where to log in and come back to this page.
func (v *view) LoginPath() string { return "/login?back=" + url.QueryEscape(v.Back()) }
