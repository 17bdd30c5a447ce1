// Package catalogue holds what people read: one file a language, each a table
// of keys and texts with {0}, {1} … where values go. It knows nothing of what
// the texts are about, of values and of their units. A text that changes with
// a number has a form for each kind of number that its language tells apart:
//
//	"trips.count": {"count": 0, "one": "{0} trip", "other": "{0} trips"}
//
// A new language is a new file here and its line in models.Languages.
package catalogue

import (
	"bytes"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"path"
	"regexp"
	"slices"
	"strings"
	"sync"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
)

//go:embed *.json
var files embed.FS

// Measure is the language that the others are compared with.
const Measure = "en"

// Glosses begin the keys that a language has only if official products are
// named in another: what their names mean.
const Glosses = "event."

// Catalogue is all that is told in one language.
type Catalogue struct {
	// Code is the language as BCP 47 has it, and Name what its readers call it.
	Code, Name string
	// Unread tells, in the language itself, that nobody who speaks it and
	// fishes has read it yet; empty where somebody has.
	Unread  string
	phrases map[string]Phrase
	lacks   []string
}

// Phrase is one text in all its forms.
type Phrase struct {
	forms map[plural.Form]string
	// count is the place of the number that chooses the form; it has none
	// where there is one form only.
	count int
	tag   language.Tag
}

// header is what a file has beside its phrases.
type header struct {
	Name    string          `json:"name"`
	Unread  string          `json:"unread"`
	About   []string        `json:"about"`
	Phrases json.RawMessage `json:"phrases"`
}

var read = sync.OnceValues(func() (map[string]Catalogue, error) {
	names, err := files.ReadDir(".")
	if err != nil {
		return nil, fmt.Errorf("list the catalogues: %w", err)
	}
	texts := map[string][]byte{}
	for _, n := range names {
		if texts[n.Name()], err = files.ReadFile(n.Name()); err != nil {
			return nil, fmt.Errorf("read a catalogue: %w", err)
		}
	}
	return Parse(texts)
})

// All returns the catalogue of every language, by its code. The error names
// file, line or key of all that is wrong with them.
func All() (map[string]Catalogue, error) { return read() }

// Parse reads files by name ("es.json") and compares every language with
// the measure: the same keys, with the same places for values. A language that
// nobody has read yet may lack phrases, which are then told in the measure's.
func Parse(texts map[string][]byte) (map[string]Catalogue, error) {
	all := map[string]Catalogue{}
	var wrong []error
	for _, name := range slices.Sorted(maps.Keys(texts)) {
		c, err := parse(strings.TrimSuffix(path.Base(name), ".json"), texts[name])
		if err != nil {
			wrong = append(wrong, fmt.Errorf("catalogue %s: %w", name, err))
			continue
		}
		all[c.Code] = c
	}
	if err := errors.Join(wrong...); err != nil {
		return nil, err
	}
	measure, ok := all[Measure]
	if !ok {
		return nil, fmt.Errorf("catalogue %s.json is missing: the other languages are compared with it", Measure)
	}
	for _, code := range slices.Sorted(maps.Keys(all)) {
		if all[code].Unread != "" {
			all[code] = all[code].filled(measure)
		}
		wrong = append(wrong, all[code].compare(measure)...)
	}
	if err := errors.Join(wrong...); err != nil {
		return nil, err
	}
	return all, nil
}

func parse(code string, text []byte) (Catalogue, error) {
	tag, err := language.Parse(code)
	if err != nil {
		return Catalogue{}, fmt.Errorf("its name is no code of a language: %w", err)
	}
	var h header
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&h); err != nil {
		at := d.InputOffset()
		if syntax := (*json.SyntaxError)(nil); errors.As(err, &syntax) {
			at = syntax.Offset
		}
		return Catalogue{}, fmt.Errorf("line %d: %w", line(text, at), err)
	}
	if h.Name == "" || len(h.Phrases) == 0 {
		return Catalogue{}, errors.New("it needs \"name\" and \"phrases\"")
	}
	c := Catalogue{Code: code, Name: h.Name, Unread: h.Unread, phrases: map[string]Phrase{}}
	start := int64(bytes.Index(text, h.Phrases))
	var wrong []error
	err = walk(h.Phrases, func(at int64, key string, value json.RawMessage) {
		p, err := phrase(tag, value)
		if _, twice := c.phrases[key]; twice {
			err = errors.New("it stands twice")
		}
		if err != nil {
			wrong = append(wrong, fmt.Errorf("line %d: %s: %w", line(text, start+at), key, err))
			return
		}
		c.phrases[key] = p
	})
	return c, errors.Join(append(wrong, err)...)
}

// walk goes through the members of an object in their order; a map would hide
// the second of two with one key.
func walk(object []byte, member func(at int64, key string, value json.RawMessage)) error {
	d := json.NewDecoder(bytes.NewReader(object))
	if t, err := d.Token(); err != nil || t != json.Delim('{') {
		return errors.New("\"phrases\" has to be a table of keys and texts")
	}
	for d.More() {
		t, err := d.Token()
		if err != nil {
			return fmt.Errorf("read a key: %w", err)
		}
		at := d.InputOffset()
		var value json.RawMessage
		if err := d.Decode(&value); err != nil {
			return fmt.Errorf("read the text of %v: %w", t, err)
		}
		member(at, fmt.Sprint(t), value)
	}
	return nil
}

func line(text []byte, offset int64) int {
	return 1 + bytes.Count(text[:min(int(offset), len(text))], []byte("\n"))
}

func formNames() map[string]plural.Form {
	return map[string]plural.Form{"zero": plural.Zero, "one": plural.One, "two": plural.Two, "few": plural.Few, "many": plural.Many, "other": plural.Other}
}

// phrase reads a text, or the forms of one that changes with a number.
func phrase(tag language.Tag, value json.RawMessage) (Phrase, error) {
	p := Phrase{forms: map[plural.Form]string{}, tag: tag}
	var text string
	if json.Unmarshal(value, &text) == nil {
		p.forms[plural.Other] = text
		return p, p.sound()
	}
	var forms map[string]json.RawMessage
	if err := json.Unmarshal(value, &forms); err != nil {
		return p, errors.New("write a text, or its forms with the place of the number that chooses: {\"count\": 0, \"one\": …, \"other\": …}")
	}
	if err := json.Unmarshal(forms["count"], &p.count); err != nil {
		return p, errors.New("\"count\" has to be the place of the number that chooses the form")
	}
	delete(forms, "count")
	for name, raw := range forms {
		form, ok := formNames()[name]
		if !ok {
			return p, fmt.Errorf("%q is no form: write zero, one, two, few, many or other", name)
		}
		if err := json.Unmarshal(raw, &text); err != nil {
			return p, fmt.Errorf("%q has to be a text", name)
		}
		p.forms[form] = text
	}
	for n := range 200 {
		form := plural.Cardinal.MatchPlural(tag, n, 0, 0, 0, 0)
		if _, ok := p.forms[form]; !ok {
			return p, fmt.Errorf("the form for %d is missing", n)
		}
	}
	return p, p.sound()
}

var place = regexp.MustCompile(`\{\d\}`)

// sound tells of forms that are empty or have broken places.
func (p Phrase) sound() error {
	for _, text := range p.forms {
		if strings.TrimSpace(text) == "" {
			return errors.New("it is empty")
		}
		if strings.ContainsAny(place.ReplaceAllString(text, ""), "{}") {
			return fmt.Errorf("%q: a place for a value is a digit in braces: {0}", text)
		}
	}
	if _, ok := p.forms[plural.Other]; !ok {
		return errors.New("the form \"other\" is missing")
	}
	return nil
}

// filled has the measure's phrases where it lacks its own.
func (c Catalogue) filled(measure Catalogue) Catalogue {
	for _, key := range measure.Keys() {
		if _, ok := c.phrases[key]; !ok {
			c.phrases[key] = measure.phrases[key]
			c.lacks = append(c.lacks, key)
		}
	}
	return c
}

// Lacks lists the phrases that an unread language is told in the measure's.
func (c Catalogue) Lacks() []string { return c.lacks }

// compare tells where a language has other keys or places than the measure.
func (c Catalogue) compare(measure Catalogue) []error {
	var wrong []error
	for _, key := range measure.Keys() {
		p, ok := c.phrases[key]
		if !ok {
			wrong = append(wrong, fmt.Errorf("catalogue %s.json: %s is missing", c.Code, key))
			continue
		}
		if want := measure.phrases[key].places(); !slices.Equal(want, p.places()) {
			wrong = append(wrong, fmt.Errorf("catalogue %s.json: %s has places %v, but %s.json has %v", c.Code, key, p.places(), measure.Code, want))
		}
	}
	for _, key := range c.Keys() {
		if _, ok := measure.phrases[key]; !ok && !strings.HasPrefix(key, Glosses) {
			wrong = append(wrong, fmt.Errorf("catalogue %s.json: %s is not in %s.json", c.Code, key, measure.Code))
		}
	}
	return wrong
}

func (p Phrase) places() []string {
	return slices.Sorted(slices.Values(place.FindAllString(p.forms[plural.Other], -1)))
}

// Keys lists the keys of all phrases, sorted.
func (c Catalogue) Keys() []string { return slices.Sorted(maps.Keys(c.phrases)) }

// Phrase finds the phrase of a key.
func (c Catalogue) Phrase(key string) (Phrase, bool) {
	p, ok := c.phrases[key]
	return p, ok
}

// Texts lists every form of a phrase.
func (p Phrase) Texts() []string { return slices.Sorted(maps.Values(p.forms)) }

// Count is the place of the number that chooses the form, if one does.
func (p Phrase) Count() (place int, ok bool) { return p.count, len(p.forms) > 1 }

// Text is the form for numbers in general.
func (p Phrase) Text() string { return p.forms[plural.Other] }

// TextFor is the form for n of something.
func (p Phrase) TextFor(n int) string {
	if text, ok := p.forms[plural.Cardinal.MatchPlural(p.tag, max(n, -n), 0, 0, 0, 0)]; ok {
		return text
	}
	return p.Text()
}
