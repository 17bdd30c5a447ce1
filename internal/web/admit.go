package web

import (
	"net/http"
	"net/url"
	"strings"

	"forecastd/internal/web/door"
)

// otherwise answers what no route has: another method of an address that is
// there, or nothing.
func (s *Server) otherwise(mux *http.ServeMux) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var allowed []string
		for _, m := range []string{http.MethodGet, http.MethodHead, http.MethodPost, http.MethodPut, http.MethodDelete} {
			try := *r
			try.Method = m
			if _, pattern := mux.Handler(&try); pattern != "/" && pattern != "" {
				allowed = append(allowed, m)
			}
		}
		v := s.view(r)
		if len(allowed) == 0 {
			s.fail(w, v, ErrNotFound)
			return
		}
		w.Header().Set("Allow", strings.Join(allowed, ", "))
		s.fail(w, v, &door.Refusal{Status: http.StatusMethodNotAllowed, Key: "door.method"})
	})
}

// admit tells why a visitor may not ask for an address: he is not logged in,
// has the wrong role, or brings a form of an older login.
func (s *Server) admit(v *view, r route) error {
	if r.Needs == Nobody || v.Role == Captain || v.Role == r.Needs {
		return nil
	}
	if v.Role == Nobody {
		if method := v.Request.Method; method == http.MethodGet || method == http.MethodHead {
			return elsewhere("/login?back=" + url.QueryEscape(v.Request.URL.RequestURI()))
		}
		return &door.Refusal{Status: http.StatusForbidden, Key: "door.logged out"}
	}
	return &door.Refusal{Status: http.StatusForbidden, Key: "door.captain only"}
}

// elsewhere sends the visitor to another page of ours.
type elsewhere string

// Error tells where to.
func (e elsewhere) Error() string { return "see " + string(e) }

// FormToken is what a form of this page has to bring along.
func (v *view) FormToken() string {
	return v.server.door.FormToken(v.Request)
}

// LoggedIn tells whether the visitor is logged in.
func (v *view) LoggedIn() bool { return v.Role != Nobody }

// IsCaptain tells whether the visitor is the captain.
func (v *view) IsCaptain() bool { return v.Role == Captain }
