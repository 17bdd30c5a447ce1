package web

import "net/http"

func (s *Server) doorRoutes() []route { return nil }

func doorTexts() map[string]text { return map[string]text{} }

// roleOf tells who asks.
func (s *Server) roleOf(*http.Request) Role { return Nobody }

// readChoices reads how the visitor likes the pages.
func (v *view) readChoices() { v.Look = "auto" }

// admit tells why a visitor may not ask for an address.
func (s *Server) admit(_ *view, r route) error {
	if r.Needs != Nobody || r.Form {
		return &refusal{Status: http.StatusForbidden, Key: "error.not found"}
	}
	return nil
}

// guard stands before every address.
func (s *Server) guard(next http.Handler) http.Handler { return next }
