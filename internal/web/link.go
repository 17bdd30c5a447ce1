package web

import "net/http"

// linkData is what the page of a signed link shows.
type linkData struct {
	Promise Promise
	Until   string
	// Done is what was done; empty before.
	Done string
}

// linkPage tells what a signed link would do. Programs that look through mail
// open links by themselves: nothing is done before the button is pressed.
func (s *Server) linkPage(v *view) (page, error) {
	p, err := s.o.Hand.Promise(v.Request.Context(), v.Request.PathValue("token"))
	if err != nil {
		return page{}, err
	}
	return page{Name: "link", Title: "title.link", Data: linkData{Promise: p, Until: v.when(p.Expires)}, Fresh: true}, nil
}

// redeem does what a signed link stands for.
func (s *Server) redeem(v *view, w http.ResponseWriter) error {
	if _, err := s.readForm(v, route{}); err != nil {
		return err
	}
	told, err := s.o.Hand.Redeem(v.Request.Context(), v.Request.PathValue("token"))
	if err != nil {
		return err
	}
	return s.show(w, v, route{Page: func(v *view) (page, error) {
		return page{Name: "link", Title: "title.link.done", Data: linkData{Done: told}, Fresh: true}, nil
	}})
}
