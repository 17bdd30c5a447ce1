package web

import (
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/web/door"
	"forecastd/internal/words"
)

// view is one request on its way to a page: who asks, how he reads, and what
// he gets.
type view struct {
	Request *http.Request
	Role    Role
	Reader  words.Reader
	// Look is "auto" (as the device has it), "light", "dark", "night", or
	// "sun": night while the sun stands below -6 degrees.
	Look string
	// Night tells that the night look is on for this request.
	Night bool
	Now   time.Time
	// Port is the name asked for; empty is the home port.
	Port  string
	Title string
	Data  any
	// Stamps are the instants of the call that the page shows, for scripts.
	Stamps *stamps

	server *Server
	board  *Board
	// tellers are those made for this request, by day: each brings all words
	// of its language along.
	tellers map[models.Date]words.Teller
}

// view reads a request.
func (s *Server) view(r *http.Request) *view {
	v := &view{Request: r, Now: s.o.Now(), server: s, Role: door.RoleOf(r), Port: r.URL.Query().Get("port")}
	if r.Header.Get(nameless) != "" {
		v.Role = Nobody
	}
	v.Reader.Language, v.Reader.Measures = words.English, words.Nautical
	if b, err := v.Board(); err == nil {
		if b.Language != "" {
			v.Reader.Language = words.Language(b.Language)
		}
		if b.Units != "" {
			v.Reader.Measures = words.Measures(b.Units)
		}
	}
	v.readChoices()
	v.Night = v.Look == lookNight || v.Look == lookSun && v.sunDown()
	return v
}

// Board is that of the port asked for.
func (v *view) Board() (Board, error) {
	if v.board != nil {
		return *v.board, nil
	}
	b, err := v.server.o.Desk.Board(v.Request.Context(), v.Port)
	if err != nil {
		return b, err
	}
	v.board = &b
	return b, nil
}

// Demo tells whether all of it is invented.
func (v *view) Demo() bool {
	b, err := v.Board()
	return err == nil && b.Demo
}

// Tell is a teller for a day.
func (v *view) Tell(date models.Date) words.Teller {
	if t, ok := v.tellers[date]; ok {
		return t
	}
	var zone *time.Location
	if b, err := v.Board(); err == nil {
		zone = b.Port.Zone
	}
	if v.tellers == nil {
		v.tellers = map[models.Date]words.Teller{}
	}
	v.tellers[date] = words.NewTeller(v.Reader, zone, date)
	return v.tellers[date]
}

// T tells a text of the pages in the reader's language.
func (v *view) T(key string, args ...any) string {
	return words.NewTeller(v.Reader, nil, models.Date{}).Say(models.Say("page."+key, args...))
}

// parsePages reads the templates: each page with the frame around it.
func parsePages() (map[string]*template.Template, error) {
	names, err := fs.Glob(pageFiles, "pages/*.html")
	if err != nil {
		return nil, fmt.Errorf("list the templates: %w", err)
	}
	pages := map[string]*template.Template{}
	for _, n := range names {
		name := strings.TrimSuffix(path.Base(n), ".html")
		if name == "frame" || strings.HasPrefix(name, "part-") {
			continue
		}
		t, err := template.New("frame.html").ParseFS(pageFiles, "pages/frame.html", "pages/part-*.html", n)
		if err != nil {
			return nil, fmt.Errorf("read the template %s: %w", n, err)
		}
		pages[name] = t
	}
	return pages, nil
}
