package archtest_test

import (
	"go/ast"
	"slices"
	"testing"
)

// Most methods that a type may have. Past that it is several things in one,
// and a file in it is no boundary.
const mostMethods = 40

// offenders are the types that had more methods when the rule came. The list
// only shrinks: one that has fewer by now leaves it.
func offenders() []string {
	return []string{
		"internal/app.App", "internal/app.engine", "internal/scoring.site", "internal/store.Store",
		"internal/web.Server", "internal/web.view", "internal/words.Teller",
	}
}

func TestNoTypeHasTooManyMethods(t *testing.T) {
	methods := map[string]int{}
	_, list := sources(t)
	for _, s := range list {
		if s.test {
			continue
		}
		for _, d := range s.file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok && f.Recv != nil {
				methods[s.room+"."+receiver(f)]++
			}
		}
	}
	for name, n := range methods {
		if n > mostMethods && !slices.Contains(offenders(), name) {
			t.Errorf("%s has %d methods, more than %d: split it by what its methods need", name, n, mostMethods)
		}
	}
	for _, name := range offenders() {
		if methods[name] <= mostMethods {
			t.Errorf("%s has only %d methods by now: take it out of offenders", name, methods[name])
		}
	}
}

// receiver is the name of the type that a method belongs to.
func receiver(f *ast.FuncDecl) string {
	x := f.Recv.List[0].Type
	for {
		switch y := x.(type) {
		case *ast.StarExpr:
			x = y.X
		case *ast.IndexExpr:
			x = y.X
		case *ast.IndexListExpr:
			x = y.X
		case *ast.Ident:
			return y.Name
		default:
			return "?"
		}
	}
}
