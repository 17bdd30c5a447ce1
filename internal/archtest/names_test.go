package archtest_test

import (
	"go/ast"
	"go/token"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A source's name is a constant of the models. Whoever needs it uses that: a
// text of its own would go on looking for the old name once it is changed, and
// find no warnings missing. The keys of the configuration are another matter.
func TestSourceNamesStandOnce(t *testing.T) {
	fset, list := sources(t)
	names := map[string]string{} // to the constant
	for _, s := range list {
		if s.room != "internal/models" || s.test {
			continue
		}
		for _, d := range s.file.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.CONST {
				continue
			}
			for _, spec := range g.Specs {
				v := spec.(*ast.ValueSpec)
				for i, n := range v.Names {
					if text, ok := literal(v.Values, i); ok && v.Type == nil && strings.HasPrefix(n.Name, "Source") {
						names[text] = "models." + n.Name
					}
				}
			}
		}
	}
	require.Contains(t, names, "nws alerts")
	require.GreaterOrEqual(t, len(names), 5)
	for _, s := range list {
		if s.test || s.room == "config" || s.room == "internal/models" {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			if e, ok := n.(*ast.BasicLit); ok {
				if text, ok := literal([]ast.Expr{e}, 0); ok && names[text] != "" {
					t.Errorf("%s: %q is the name of a source: use %s", fset.Position(e.Pos()), text, names[text])
				}
			}
			return true
		})
	}
}

func literal(list []ast.Expr, i int) (string, bool) {
	if i >= len(list) {
		return "", false
	}
	l, ok := list[i].(*ast.BasicLit)
	if !ok || l.Kind != token.STRING {
		return "", false
	}
	text, err := strconv.Unquote(l.Value)
	return text, err == nil
}
