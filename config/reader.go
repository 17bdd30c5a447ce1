package config

import (
	"errors"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// reader walks one parsed file, collects every problem, and notes each key
// that it was asked for, from which the reference page is checked.
type reader struct {
	file     string
	problems []*Problem
	told     map[string]bool // paths that have a problem already
	keys     []keyDoc
	seen     map[string]bool // whether the file has each of them
}

// keyDoc describes one key that the format knows.
type keyDoc struct {
	form string // its path, with "[]" for each list index
	what string // what is written there
	must string // "required", "optional" or the default
}

// maxFile bounds the file: a configuration of a busy charter fleet is far
// below it.
const maxFile = 1 << 20

// open parses the file and returns its top table, or nil when it can't be
// read as YAML.
func (r *reader) open(b []byte) *table {
	if len(b) > maxFile {
		r.say(position{1, 1}, "", "is larger than 1 MiB: this is no configuration file")
		return nil
	}
	b = []byte(strings.TrimPrefix(string(b), "\ufeff"))
	f, err := parser.ParseBytes(b, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		r.syntax(err)
		return nil
	}
	top := &table{r: r, at: position{1, 1}}
	switch {
	case len(f.Docs) > 1:
		r.say(place(f.Docs[1]), "", "holds a second document after ---: keep one")
		return nil
	case len(f.Docs) == 0 || f.Docs[0].Body == nil:
		r.say(top.at, "", "is empty: `forecastd setup -at LAT,LON` writes a first one")
		return nil
	}
	top.fill(f.Docs[0].Body)
	return top
}

// syntax reports what the YAML parser said, in our form.
func (r *reader) syntax(err error) {
	at, text := position{1, 1}, err.Error()
	var ye yaml.Error
	if errors.As(err, &ye) {
		text = ye.GetMessage()
		if tk := ye.GetToken(); tk != nil && tk.Position != nil {
			at = position{tk.Position.Line, tk.Position.Column}
		}
	}
	text, _, _ = strings.Cut(text, "\n")
	cure := "check indentation, colons and brackets here and in the line before"
	if strings.Contains(text, "\t") {
		text, cure = "a tab stands where a line is indented", "indent with spaces"
	}
	r.say(at, "", "is not well-formed YAML: "+text+": "+cure)
}

// say reports a problem; of several with one path only the first counts.
func (r *reader) say(at position, path, text string) *Problem {
	if path != "" {
		if r.told[path] {
			return nil
		}
		r.told[path] = true
	}
	p := &Problem{File: r.file, Line: at.line, Column: at.column, Path: path, Text: text}
	r.problems = append(r.problems, p)
	return p
}

// note records that the format knows a key, and whether the file has it. The
// form is its path with "[]" for each list index.
func (r *reader) note(form, what, must string, there bool) {
	if seen, known := r.seen[form]; known {
		r.seen[form] = seen || there
		return
	}
	r.seen[form] = there
	r.keys = append(r.keys, keyDoc{form, what, must})
}

// position is a place in the file, counted from 1.
type position struct{ line, column int }

// place returns where a node begins. The token of a mapping is its first
// colon, so its first key is asked instead.
func place(n ast.Node) position {
	switch v := n.(type) {
	case *ast.MappingNode:
		if !v.IsFlowStyle && len(v.Values) > 0 {
			return place(v.Values[0].Key)
		}
	case *ast.MappingValueNode:
		return place(v.Key)
	case *ast.DocumentNode:
		if v.Body != nil {
			return place(v.Body)
		}
	}
	return tokenPlace(n.GetToken())
}

func tokenPlace(tk *token.Token) position {
	if tk == nil || tk.Position == nil {
		return position{1, 1}
	}
	return position{tk.Position.Line, tk.Position.Column}
}
