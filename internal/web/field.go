package web

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"net"
	"net/http"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
)

// option is one thing to choose.
type option struct {
	Value, Words string
	Chosen       bool
}

// field is one thing to fill in.
type field struct {
	// ID is one of its kind on the page, Name what is sent.
	ID, Name, Label, Hint string
	// Type is that of an input, or "area", "check", or "" with Options.
	Type, Value, Mode, Min string
	Options                []option
	Required               bool
	// Wrong says why what was typed was not taken.
	Wrong string
}

// press is a button that says something.
type press struct{ Name, Value, Words, Aria string }

// fillIn is a form to fill in.
type fillIn struct {
	Name, Action, Token string
	Fields              []field
	Presses             []press
	Hidden              []option
	// Tried tells that this is the form that could not be taken.
	Tried bool
}

// formName is the name of a form about one of many things: it follows from the
// thing alone, so that what was typed about one is never shown at another.
func formName(what, id string) string {
	return fmt.Sprintf("%s-%x", what, sha256.Sum256([]byte(id)))[:len(what)+9]
}

// problem is a line of the list of what is wrong, with the field to go to.
type problem struct {
	ID, Words string
	Foreign   bool
}

// fill makes a form, with what was typed where it could not be taken.
func (v *view) fill(f *form, one fillIn) fillIn {
	one.Token = v.FormToken()
	one.Tried = f != nil && f.Name == one.Name
	for i := range one.Fields {
		field := &one.Fields[i]
		field.ID = one.Name + "-" + field.Name
		if one.Tried {
			field.Value = f.Values.Get(field.Name)
			for _, w := range f.Wrong {
				if w.Field == field.Name {
					field.Wrong = w.Words
				}
			}
		}
		for j := range field.Options {
			field.Options[j].Chosen = field.Options[j].Value == field.Value
		}
	}
	return one
}

// problems lists what is wrong with a form.
func (f *form) problems() []problem {
	if f == nil {
		return nil
	}
	var list []problem
	for _, w := range f.Wrong {
		p := problem{Words: w.Words, Foreign: w.Foreign}
		if w.Field != "" {
			p.ID = f.Name + "-" + w.Field
		}
		list = append(list, p)
	}
	return list
}

// pick is a field to choose one of a list in.
func (v *view) pick(name, label, key string, values ...string) field {
	f := field{Name: name, Label: v.T(label)}
	for _, value := range values {
		f.Options = append(f.Options, option{Value: value, Words: v.T(key + value)})
	}
	return f
}

// number reads a number that may be left out, with a point or a comma.
func (v *view) number(f *form, name string, least, most float64) models.Opt[float64] {
	said := f.get(name)
	if said == "" {
		return models.Unknown[float64]()
	}
	n, err := strconv.ParseFloat(strings.Replace(said, ",", ".", 1), 64)
	if err != nil || math.IsNaN(n) || n < least || n > most {
		f.refuse(name, v.T("people.number", said, plainNumber(least), plainNumber(most)))
		return models.Unknown[float64]()
	}
	return models.Known(n)
}

// whole reads a whole number that may be left out.
func (v *view) whole(f *form, name string, least, most int) models.Opt[int] {
	said := f.get(name)
	if said == "" {
		return models.Unknown[int]()
	}
	n, err := strconv.Atoi(said)
	if err != nil || n < least || n > most {
		f.refuse(name, v.T("people.whole", said, least, most))
		return models.Unknown[int]()
	}
	return models.Known(n)
}

// day reads a day; today where it is left out.
func (v *view) day(f *form, name string) models.Date {
	said := f.get(name)
	if said == "" {
		return v.today()
	}
	d, err := models.ParseDate(said)
	if err != nil {
		f.refuse(name, v.T("people.date", said))
	}
	return d
}

// clock reads a time of day that may be left out.
func (v *view) clock(f *form, name string) models.Opt[models.Clock] {
	said := f.get(name)
	if said == "" {
		return models.Unknown[models.Clock]()
	}
	c, err := models.ParseClock(said)
	if err != nil {
		f.refuse(name, v.T("people.clock", said))
		return models.Unknown[models.Clock]()
	}
	return models.Known(c)
}

// oneOf reads one of a list; empty where it is left out.
func (v *view) oneOf(f *form, name string, list ...string) string {
	said := f.get(name)
	if said != "" && among(said, list) == "" {
		f.refuse(name, v.T("people.none of", said))
	}
	return among(said, list)
}

// needed notes that a field is empty that must not be.
func (v *view) needed(f *form, name, key string) string {
	said := f.get(name)
	if said == "" {
		f.refuse(name, v.T(key))
	}
	return said
}

func plainNumber(n float64) string { return strconv.FormatFloat(n, 'f', -1, 64) }

// answered takes what the hand answers to a form: what it can't do for a
// reason that the asker can mend is told at the form.
func (v *view) answered(f *form, sentence string, err error, to string) (done, error) {
	switch {
	case err == nil:
		return done{Sentence: sentence, To: v.Link(to)}, nil
	case errors.Is(err, ErrNotFound) || errors.Is(err, ErrNoLink) || v.Request.Context().Err() != nil || broken(err):
		return done{}, fmt.Errorf("do what the form %s asks: %w", f.Name, err)
	}
	f.Wrong = append(f.Wrong, wrong{Words: err.Error(), Foreign: true})
	return done{}, &mistake{Status: http.StatusUnprocessableEntity}
}

// broken tells whether an error is of the machine and not of the asker: a
// file, the network, the store. Its text is for the log.
func broken(err error) bool {
	var file *fs.PathError
	var network net.Error
	var coded interface{ Code() int } // of the store's driver
	return errors.As(err, &file) || errors.As(err, &network) || errors.As(err, &coded)
}

// today is the day on the port's clock.
func (v *view) today() models.Date {
	b, err := v.Board()
	if err != nil {
		return models.DateOf(v.Now, time.UTC)
	}
	return models.DateOf(v.Now, zoneOf(b))
}

// when tells an instant on the port's clock.
func (v *view) when(t time.Time) string { return v.Tell(v.today()).Time(t) }
