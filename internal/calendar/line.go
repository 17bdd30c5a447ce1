package calendar

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"
)

// property is one content line with where it stands.
type property struct {
	line  int
	name  string // upper case
	param map[string]string
	value string
}

// lines unfolds the content lines of a file (RFC 5545 3.1) and calls f with
// each. Bad lines are reported and skipped.
func lines(b []byte, f func(property) error, bad func(Problem)) error {
	b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	var text []byte
	start, n := 0, 0
	give := func() error {
		if len(bytes.TrimSpace(text)) == 0 {
			return nil
		}
		p, err := parse(string(text), start)
		if err != nil {
			bad(Problem{Line: start, Err: err})
			return nil
		}
		return f(p)
	}
	for len(b) > 0 {
		n++
		raw := b
		if i := bytes.IndexByte(b, '\n'); i >= 0 {
			raw, b = b[:i], b[i+1:]
		} else {
			b = nil
		}
		raw = bytes.TrimSuffix(raw, []byte("\r"))
		if len(raw) > 0 && (raw[0] == ' ' || raw[0] == '\t') && start > 0 {
			text = append(text, raw[1:]...)
			continue
		}
		if err := give(); err != nil {
			return err
		}
		text, start = append(text[:0], raw...), n
	}
	return give()
}

func parse(text string, line int) (property, error) {
	if !utf8.ValidString(text) {
		text = strings.ToValidUTF8(text, "\uFFFD")
	}
	// The library takes a name from the middle of a line: see to it that the
	// line begins with one.
	if c := text[0]; !(c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-') {
		return property{}, fmt.Errorf("%q is no property: it must begin with a name", cut(text))
	}
	p, err := ics.ParseProperty(ics.ContentLine(text))
	if err != nil {
		return property{}, fmt.Errorf("read the property: %w", err)
	}
	if p == nil {
		return property{}, fmt.Errorf("%q is no property: a name and a colon are wanted", cut(text))
	}
	out := property{line: line, name: strings.ToUpper(p.IANAToken), param: map[string]string{}, value: p.Value}
	for k, v := range p.ICalParameters {
		if len(v) > 0 {
			out.param[strings.ToUpper(k)] = v[0]
		}
	}
	return out, nil
}

func cut(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "..."
	}
	return s
}

// errTooLarge tells that a calendar passes a bound.
var errTooLarge = errors.New("the calendar is too large")
