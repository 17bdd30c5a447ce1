package config

import (
	"fmt"
	"slices"
	"strings"

	"forecastd/internal/models"

	"github.com/goccy/go-yaml/ast"
)

// table is one mapping of the file, or an absent one that holds nothing.
type table struct {
	r     *reader
	path  string
	form  string // the path with "[]" for each list index
	at    position
	vals  map[string]ast.Node
	order []string // keys as they stand in the file
	where map[string]position
	asked []string
	lacks map[string]*Problem // required keys that are absent
}

// fill reads the keys of a mapping and reports what is no mapping, and keys
// that come twice.
func (t *table) fill(n ast.Node) {
	m, ok := n.(*ast.MappingNode)
	if !ok {
		if t.path == "" {
			t.r.say(place(n), "", "must be a list of keys at the top, as `boat:` and `ports:`")
		} else {
			t.r.say(place(n), t.path, "must hold keys, one a line, indented below it")
		}
		return
	}
	t.vals, t.where = map[string]ast.Node{}, map[string]position{}
	if t.path != "" && !m.IsFlowStyle && len(m.Values) > 0 {
		t.at = place(m)
	}
	for _, v := range m.Values {
		key := v.Key.GetToken().Value
		at := place(v.Key)
		if v.Key.IsMergeKey() {
			t.r.say(at, t.sub(key), "merge keys are not read here: write the keys out")
			continue
		}
		if first, ok := t.where[key]; ok {
			t.r.say(at, t.sub(key), fmt.Sprintf("is given twice, first in line %d: keep one", first.line))
			continue
		}
		t.vals[key], t.where[key] = v.Value, at
		t.order = append(t.order, key)
	}
}

func (t *table) sub(key string) string { return below(t.path, key) }

func below(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// has tells whether the key is in the file.
func (t *table) has(key string) bool { _, ok := t.vals[key]; return ok }

// fail reports a problem at a key's value, or at the table where the key is
// absent.
func (t *table) fail(key, format string, args ...any) {
	at := t.at
	if n, ok := t.vals[key]; ok {
		at = place(n)
	}
	t.r.say(at, t.sub(key), fmt.Sprintf(format, args...))
}

// ok tells whether none of the keys has a problem yet, so that a comparison
// of their values makes sense.
func (t *table) ok(keys ...string) bool {
	return !slices.ContainsFunc(keys, func(k string) bool { return t.r.told[t.sub(k)] })
}

// done reports the keys that nobody asked for. A required key that was
// mistyped is one mistake, not two.
func (t *table) done() {
	for _, key := range t.order {
		if slices.Contains(t.asked, key) {
			continue
		}
		cure := "known here: " + strings.Join(t.asked, ", ")
		if near := nearest(key, t.asked); near != "" {
			cure = "did you mean " + near
			if p := t.lacks[near]; p != nil {
				t.r.problems = slices.DeleteFunc(t.r.problems, func(q *Problem) bool { return q == p })
			}
		}
		t.r.say(t.where[key], t.sub(key), "unknown key: "+cure)
	}
}

// find looks a key up and notes it. A key with nothing after the colon is a
// mistake: either a blank still to fill in, or a line to take out.
func (t *table) find(key, what, must string) (ast.Node, bool) {
	t.asked = append(t.asked, key)
	n, ok := t.vals[key]
	t.r.note(below(t.form, key), what, must, ok)
	if !ok {
		if must == required {
			if t.lacks == nil {
				t.lacks = map[string]*Problem{}
			}
			t.lacks[key] = t.r.say(t.at, t.sub(key), "is missing: write "+what)
		}
		return nil, false
	}
	if _, null := n.(*ast.NullNode); null {
		cure := "fill in " + what
		if must != required {
			cure += ", or take the line out"
		}
		t.r.say(t.where[key], t.sub(key), "is blank: "+cure)
		return nil, false
	}
	return n, true
}

const (
	required = "required"
	optional = "optional"
)

// need reads a key that must be there.
func need[T any](t *table, key string, k kind[T]) T {
	n, ok := t.find(key, k.what, required)
	if !ok {
		var zero T
		return zero
	}
	v, _ := scalar(t, key, n, k)
	return v
}

// want reads a key that has a default.
func want[T any](t *table, key string, k kind[T], def T) T {
	n, ok := t.find(key, k.what, k.show(def))
	if !ok {
		return def
	}
	v, ok := scalar(t, key, n, k)
	if !ok {
		return def
	}
	return v
}

// maybe reads a key that may be absent.
func maybe[T any](t *table, key string, k kind[T]) models.Opt[T] {
	n, ok := t.find(key, k.what, optional)
	if !ok {
		return models.Unknown[T]()
	}
	if v, ok := scalar(t, key, n, k); ok {
		return models.Known(v)
	}
	return models.Unknown[T]()
}

// each reads a list of single values that may be absent or has a default.
func each[T comparable](t *table, key string, k kind[T], def ...T) []T {
	must := optional
	if len(def) > 0 {
		words := make([]string, len(def))
		for i, d := range def {
			words[i] = k.show(d)
		}
		must = "[" + strings.Join(words, ", ") + "]"
	}
	if list, ok := values(t, key, k, must); ok {
		return list
	}
	return def
}

// values reads a list of single values. A repeated value is a mistake, and so
// is an empty list.
func values[T comparable](t *table, key string, k kind[T], must string) ([]T, bool) {
	what := "a list, each " + k.what
	n, ok := t.find(key, what, must)
	if !ok {
		return nil, false
	}
	seq, ok := n.(*ast.SequenceNode)
	switch {
	case !ok:
		t.fail(key, "must be a list: write [a, b], or one entry a line behind a dash")
		return nil, false
	case len(seq.Values) == 0:
		t.fail(key, "is empty: write %s", what)
		return nil, false
	}
	var out []T
	for i, n := range seq.Values {
		path := fmt.Sprintf("%s[%d]", key, i)
		v, ok := scalar(t, path, n, k)
		if !ok {
			continue
		}
		if slices.Contains(out, v) {
			t.r.say(place(n), t.sub(path), fmt.Sprintf("%s is listed twice: keep one", k.show(v)))
			continue
		}
		out = append(out, v)
	}
	return out, true
}

// scalar reads one single value.
func scalar[T any](t *table, key string, n ast.Node, k kind[T]) (v T, ok bool) {
	text, ok := plain(n)
	if !ok {
		why := "must be one value"
		switch n.(type) {
		case *ast.AnchorNode, *ast.AliasNode, *ast.TagNode:
			why = "holds an anchor, alias or tag, which are not read here"
		}
		t.r.say(place(n), t.sub(key), why+": write "+k.what)
		return v, false
	}
	v, err := k.read(strings.TrimSpace(text))
	if err != nil {
		t.r.say(place(n), t.sub(key), err.Error())
		return v, false
	}
	return v, true
}

// plain returns the text of a scalar as it stands in the file, whatever YAML
// would take it for: an id may be all digits. Anchors, aliases and tags are
// not read.
func plain(n ast.Node) (string, bool) {
	switch v := n.(type) {
	case *ast.StringNode, *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return v.GetToken().Value, true
	case *ast.LiteralNode:
		return v.Value.GetToken().Value, true
	}
	return "", false
}

// group reads a table below a key; absent, it answers an empty one whose keys
// take their defaults.
func (t *table) group(key, what string) *table {
	g, _ := t.open(key, what, "optional, each key has a default")
	return g
}

// part reads a table that may be absent, and tells whether it is there.
func (t *table) part(key, what string) (*table, bool) { return t.open(key, what, optional) }

// must reads a table that has to be there.
func (t *table) must(key, what string) *table {
	g, _ := t.open(key, what, required)
	return g
}

func (t *table) open(key, what, must string) (*table, bool) {
	g := &table{r: t.r, path: t.sub(key), form: below(t.form, key), at: t.at}
	n, ok := t.find(key, what, must)
	if ok {
		g.at = t.where[key]
		g.fill(n)
	}
	return g, ok
}

// list reads a list of tables.
func (t *table) list(key, what, must string) []*table {
	n, ok := t.find(key, what, must)
	if !ok {
		return nil
	}
	seq, ok := n.(*ast.SequenceNode)
	if !ok {
		t.fail(key, "must be a list: put a dash before each entry")
		return nil
	}
	if len(seq.Values) == 0 && must == required {
		t.fail(key, "is empty: write %s", what)
	}
	var out []*table
	for i, n := range seq.Values {
		g := &table{r: t.r, path: fmt.Sprintf("%s[%d]", t.sub(key), i), form: below(t.form, key) + "[]", at: place(n)}
		g.fill(n)
		out = append(out, g)
	}
	return out
}

// unique reports a second entry of the same name.
func unique(seen map[string]bool, t *table, key, name string) {
	if name == "" {
		return
	}
	if seen[name] {
		t.fail(key, "%q is used twice: give each its own", name)
	}
	seen[name] = true
}
