package archtest_test

import (
	"go/ast"
	"go/token"
	"go/types"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// enums are the types of our own with named values, each by room and name,
// with the names of its values.
func enums(list []source) map[string][]string {
	out := map[string][]string{}
	for _, s := range list {
		if s.test {
			continue
		}
		for _, d := range s.file.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.CONST {
				continue
			}
			typed := "" // an iota goes on with the type of the line above
			for _, spec := range g.Specs {
				v := spec.(*ast.ValueSpec)
				switch t := v.Type.(type) {
				case *ast.Ident:
					typed = t.Name
				default:
					if len(v.Values) > 0 {
						typed = ""
					}
				}
				if typed == "" || types.Universe.Lookup(typed) != nil { // a plain number or text
					continue
				}
				for _, n := range v.Names {
					if n.Name != "_" {
						out[s.room+"."+typed] = append(out[s.room+"."+typed], n.Name)
					}
				}
			}
		}
	}
	return out
}

// A switch over an enum of the model or of the judgement names every value, so
// that one added later is judged by somebody and never falls into "fine". A
// default stands for what is none of them: an error, a panic, or the gravest.
func TestSwitchesNameEveryValueOfAnEnum(t *testing.T) {
	fset, list := sources(t)
	all := enums(list)
	of := map[string]string{} // "room.Value" to enum
	for enum, values := range all {
		room := enum[:strings.LastIndex(enum, ".")]
		for _, v := range values {
			of[room+"."+v] = enum
		}
	}
	require.Contains(t, all, "internal/models.Tactic")
	seen := 0
	for _, s := range list {
		if s.test || strings.HasPrefix(s.room, "tools/") {
			continue
		}
		rooms := map[string]string{} // by the name of the package in this file
		for _, imp := range s.file.Imports {
			if own, ok := strings.CutPrefix(strings.Trim(imp.Path.Value, `"`), "forecastd/"); ok {
				name := own[strings.LastIndex(own, "/")+1:]
				if imp.Name != nil {
					name = imp.Name.Name
				}
				rooms[name] = own
			}
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			sw, ok := n.(*ast.SwitchStmt)
			if !ok || sw.Tag == nil {
				return true
			}
			enum, named := "", []string{}
			for _, c := range sw.Body.List {
				clause := c.(*ast.CaseClause)
				for _, x := range clause.List {
					value := ""
					switch x := x.(type) {
					case *ast.Ident:
						value = s.room + "." + x.Name
					case *ast.SelectorExpr:
						if pkg, ok := x.X.(*ast.Ident); ok && rooms[pkg.Name] != "" {
							value = rooms[pkg.Name] + "." + x.Sel.Name
						}
					}
					if e := of[value]; e != "" {
						enum = e
						named = append(named, value[strings.LastIndex(value, ".")+1:])
					}
				}
			}
			if room := enum[:max(strings.LastIndex(enum, "."), 0)]; room != "internal/models" && room != "internal/scoring" {
				return true
			}
			seen++
			var lacking []string
			for _, v := range all[enum] {
				if !slices.Contains(named, v) {
					lacking = append(lacking, v)
				}
			}
			if len(lacking) > 0 {
				t.Errorf("%s: the switch over %s does not name %s", fset.Position(sw.Pos()), enum, strings.Join(lacking, ", "))
			}
			return true
		})
	}
	require.Greater(t, seen, 20, "the switches are not found any more")
}
