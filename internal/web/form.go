package web

import (
	"errors"
	"maps"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"forecastd/internal/models"
	"forecastd/internal/web/door"
)

// form is a form as somebody filled it in.
type form struct {
	// Name tells which form of the page it is.
	Name   string
	Values url.Values
	// Wrong is what can't be taken, field by field.
	Wrong []wrong
}

// wrong is one thing that can't be taken.
type wrong struct {
	// Field is the name of the field, empty for the form as a whole.
	Field, Words string
	// Foreign words are not in the reader's language but in English.
	Foreign bool
}

// get is what stands in a field, as plain text without the blanks around it.
func (f *form) get(name string) string {
	return strings.TrimSpace(models.PlainText(f.Values.Get(name)))
}

// refuse notes what is wrong with a field.
func (f *form) refuse(field, words string) {
	f.Wrong = append(f.Wrong, wrong{Field: field, Words: words})
}

// mistake is an error that the form is shown with again.
type mistake struct {
	Status int
}

// Error tells that the form was not taken.
func (m *mistake) Error() string { return "the form can't be taken" }

// done is what came of a form: a sentence, and the page that tells it. Own
// tells that the sentence is in the visitor's own language, and not in English.
type done struct {
	Sentence, To string
	Own          bool
}

// ownWords stand before a sentence in the visitor's own language on its way.
const ownWords = "own:"

func (d done) flash() string {
	if d.Own {
		return ownWords + d.Sentence
	}
	return d.Sentence
}

// said is a sentence that waits for its page.
type said struct {
	Words string
	Own   bool
}

// Said is the sentence that waits for this page, without words where there is
// none.
func (v *view) Said() said {
	words, own := strings.CutPrefix(v.Flash(), ownWords)
	return said{words, own}
}

// act does what a form asks for. What can't be done is told on the form's own
// page, with all that was typed; what was done is told on the page gone on to.
func (s *Server) act(w http.ResponseWriter, v *view, r route) error {
	f, err := s.readForm(v, r)
	var d done
	if err == nil {
		d, err = r.Do(v, f)
	}
	if err == nil {
		to, _, _ := strings.Cut(d.To, "?")
		s.setFlash(w, v.Request, to, d.flash())
		seeOther(w, d.To+"#said")
		return nil
	}
	var m *mistake
	var refused *door.Refusal
	show := r
	switch {
	case errors.As(err, &m) && r.Again != nil:
		show.Page = func(v *view) (page, error) {
			p, err := r.Again(v, f)
			p.Status, p.Fresh = m.Status, true
			return p, err
		}
	case errors.As(err, &refused) && len(f.Values) > 0:
		show.Page = func(v *view) (page, error) { return v.typedPage(f, refused), nil }
	default:
		return err
	}
	return s.show(w, v, show)
}

// seeOther sends on to a page of ours.
func seeOther(w http.ResponseWriter, to string) {
	w.Header().Set("Location", to)
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(http.StatusSeeOther)
}

// readForm reads the body and checks that it may ask for what it asks. What
// was typed is answered with the error too.
func (s *Server) readForm(v *view, r route) (*form, error) {
	f := &form{Values: url.Values{}}
	kind, _, err := mime.ParseMediaType(v.Request.Header.Get("Content-Type"))
	if err != nil || kind != "application/x-www-form-urlencoded" {
		if err := s.admit(v, r); err != nil {
			return f, err
		}
		return f, &door.Refusal{Status: http.StatusUnsupportedMediaType, Key: "door.form"}
	}
	if err := v.Request.ParseForm(); err != nil {
		return f, door.Unreadable(err)
	}
	f.Values = v.Request.PostForm
	f.Name = f.get("form")
	if err := s.admit(v, r); err != nil {
		return f, err
	}
	if r.Needs == Nobody {
		return f, nil
	}
	if !s.door.OwnForm(v.Request, f.Values.Get("token")) {
		f.refuse("", v.T("door.stale"))
		return f, &mistake{Status: http.StatusForbidden}
	}
	return f, nil
}

// typed is what somebody typed into one field.
type typed struct{ Field, Words string }

type typedPage struct {
	Key, Login string
	Typed      []typed
}

// typedPage refuses a form, and shows what was typed so that it is not lost.
func (v *view) typedPage(f *form, refused *door.Refusal) page {
	d := typedPage{Key: refused.Key}
	if v.Role == Nobody {
		first, _, _ := strings.Cut(strings.TrimPrefix(v.Request.URL.Path, "/"), "/")
		if first == "checkin" {
			first = "log"
		}
		d.Login = "/login?back=" + url.QueryEscape(v.Link("/"+first))
	}
	for _, name := range slices.Sorted(maps.Keys(f.Values)) {
		if slices.Contains([]string{"token", "form", "passphrase"}, name) {
			continue
		}
		for _, words := range f.Values[name] {
			if strings.TrimSpace(words) != "" {
				d.Typed = append(d.Typed, typed{name, words})
			}
		}
	}
	return page{Name: "typed", Title: "title.error", Data: d, Status: refused.Status, Fresh: true}
}

// unfilled is the error for a form with something wrong in it, nil without.
func (f *form) unfilled() error {
	if len(f.Wrong) == 0 {
		return nil
	}
	return &mistake{Status: http.StatusUnprocessableEntity}
}
