package web

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"forecastd/internal/web/door"
)

//go:embed pages/*.html
var pageFiles embed.FS

//go:embed static
var staticFiles embed.FS

// Role is who is logged in.
type Role = door.Role

// Roles, as the door has them.
const (
	Nobody  = door.Nobody
	Mate    = door.Mate
	Captain = door.Captain
)

// Options are what a Server is made of. Desk, Hand and Key are needed.
type Options struct {
	// Options are those of the door before the pages.
	door.Options
	Desk Desk
	Hand Hand
	// CalendarGeneration is in the key of the calendar's address: another one
	// makes all addresses that were given out useless.
	CalendarGeneration int
	// Hint is told on the page to log in; the demo tells its passphrases.
	Hint string
}

// Server answers the pages, the feeds and what people do by them.
type Server struct {
	o     Options
	pages map[string]*template.Template
	rows  []route
	asset map[string]asset
	// sequences are the versions of the calendar's events.
	sequences sequences
	kept      kept
	door      *door.Door
}

// New makes a server.
func New(o Options) (*Server, error) {
	if o.Desk == nil || o.Hand == nil {
		return nil, errors.New("web: a desk and a hand are needed")
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Logger == nil {
		o.Logger = slog.New(slog.DiscardHandler)
	}
	s := &Server{o: o}
	var err error
	if s.door, err = door.New(o.Options); err != nil {
		return nil, fmt.Errorf("web: %w", err)
	}
	if s.pages, err = parsePages(); err != nil {
		return nil, err
	}
	if s.asset, err = readAssets(); err != nil {
		return nil, err
	}
	s.rows = s.routes()
	return s, nil
}

// route is one address: what it answers, and who may ask.
type route struct {
	// Pattern is as http.ServeMux has it.
	Pattern string
	// Needs is who may ask; Nobody is everybody. The captain may ask all.
	Needs Role
	// Page answers a page; Raw answers by itself. One of them is given.
	Page func(v *view) (page, error)
	Raw  func(v *view, w http.ResponseWriter) error
	// Form tells that the request changes state: it is guarded.
	Form bool
	// Do does what a form asks for, in place of Page or Raw. What can't be
	// taken is shown again by Again, where there is one.
	Do    func(v *view, f *form) (done, error)
	Again func(v *view, f *form) (page, error)
	// Keep tells that the page follows from the board and the minute, so that
	// it may be kept for visitors who are not logged in.
	Keep bool
}

// page is what a template is filled with.
type page struct {
	// Name is the template, Title the key of the title.
	Name, Title string
	Data        any
	Status      int
	// Fresh pages are not kept anywhere; others may be shown by the service
	// worker without a signal.
	Fresh bool
	// Again tells the browser to ask for the page again in some seconds.
	Again bool
}

// routes lists every address of the server.
func (s *Server) routes() []route {
	var rows []route
	rows = append(rows, s.callRoutes()...)
	rows = append(rows, s.peopleRoutes()...)
	rows = append(rows, s.doorRoutes()...)
	rows = append(rows, s.feedRoutes()...)
	return rows
}

// Handler answers all addresses, behind the guards.
func (s *Server) Handler() http.Handler {
	mux := http.NewServeMux()
	for _, r := range s.rows {
		mux.Handle(r.Pattern, s.serve(r))
	}
	mux.Handle("/", s.otherwise(mux))
	return s.door.Guard(mux, func(w http.ResponseWriter, r *http.Request, err error) { s.fail(w, s.view(r), err) })
}

// serve answers one address.
func (s *Server) serve(r route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, req *http.Request) {
		v := s.view(req)
		if r.Do != nil {
			if err := s.act(w, v, r); err != nil {
				s.fail(w, v, err)
			}
			return
		}
		if err := s.admit(v, r); err != nil {
			s.fail(w, v, err)
			return
		}
		if r.Raw != nil {
			if err := r.Raw(v, w); err != nil {
				s.fail(w, v, err)
			}
			return
		}
		if err := s.show(w, v, r); err != nil {
			s.fail(w, v, err)
		}
	})
}

// show writes a page.
func (s *Server) show(w http.ResponseWriter, v *view, r route) error {
	var made rendered
	var err error
	if key, ok := v.keepAs(r); ok {
		made, err = s.kept.get(v.Request.Context(), key, v.Now.Unix()/60, func() (rendered, error) { return s.make(v, r) })
	} else {
		made, err = s.make(v, r)
	}
	if err != nil {
		return err
	}
	s.write(w, v, made.page, made.body)
	return nil
}

// make makes a page.
func (s *Server) make(v *view, r route) (rendered, error) {
	p, err := r.Page(v)
	if err != nil {
		return rendered{}, err
	}
	b, err := s.render(v, p)
	return rendered{p, b}, err
}

// write answers with a page that is rendered.
func (s *Server) write(w http.ResponseWriter, v *view, p page, b []byte) {
	h := w.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("Content-Language", string(v.Reader.Language))
	if p.Fresh || v.Role != Nobody {
		h.Set("Cache-Control", "no-store")
	} else {
		h.Set("Cache-Control", "no-cache")
	}
	h.Set("Vary", "Cookie, Accept-Language")
	if p.Again {
		h.Set("Refresh", "10")
	}
	s.dropFlash(w, v.Request)
	if p.Status != 0 {
		w.WriteHeader(p.Status)
	}
	if _, err := w.Write(b); err != nil {
		s.o.Logger.Debug("the visitor left", "path", v.Request.URL.Path, "error", err)
	}
}

// render fills a page's template.
func (s *Server) render(v *view, p page) ([]byte, error) {
	t, ok := s.pages[p.Name]
	if !ok {
		return nil, fmt.Errorf("there is no template %q", p.Name)
	}
	v.Title = v.T(p.Title)
	v.Data = p.Data
	var b bytes.Buffer
	if err := t.Execute(&b, v); err != nil {
		return nil, fmt.Errorf("fill the page %s: %w", p.Name, err)
	}
	return bytes.Map(readable, b.Bytes()), nil
}

// readable drops what foreign text may hold to change how the rest of a page
// is read: control characters and marks that turn the direction of writing.
func readable(r rune) rune {
	switch {
	case r < ' ' && r != '\n' && r != '\t', r >= 0x7f && r < 0xa0,
		r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069, r == 0x200e, r == 0x200f, r == 0x061c:
		return -1
	}
	return r
}

// fail answers with a page that says what is wrong and what to do.
func (s *Server) fail(w http.ResponseWriter, v *view, err error) {
	if strings.HasPrefix(v.Request.URL.Path, "/api/") {
		v.apiFail(w, err)
		return
	}
	var to elsewhere
	if errors.As(err, &to) {
		seeOther(w, string(to))
		return
	}
	status, key := http.StatusInternalServerError, "error.inside"
	var refused *door.Refusal
	switch {
	case errors.As(err, &refused):
		status, key = refused.Status, refused.Key
	case errors.Is(err, ErrNotFound):
		status, key = http.StatusNotFound, "error.not found"
	case errors.Is(err, ErrNoLink):
		status, key = http.StatusGone, "error.link"
	default:
		s.o.Logger.Error("a page could not be made", "route", v.Request.Pattern, "error", err) // a path may be a signed link
	}
	b, bad := s.render(v, page{Name: "error", Title: "title.error", Data: errorPage{Key: key, Refused: refused}})
	if bad != nil {
		http.Error(w, http.StatusText(status), status)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(b) // nobody is left to be told
}

type errorPage struct {
	Key     string
	Refused *door.Refusal
}
