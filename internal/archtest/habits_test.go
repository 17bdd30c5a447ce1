package archtest_test

import (
	"go/ast"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/testdata"
)

func TestNoInitAndOnlyCommandsExit(t *testing.T) {
	fset, list := sources(t)
	for _, s := range list {
		for _, d := range s.file.Decls {
			if f, ok := d.(*ast.FuncDecl); ok && f.Recv == nil && f.Name.Name == "init" {
				t.Errorf("%s: init: wire it in app instead", fset.Position(f.Pos()))
			}
		}
		if s.test || strings.HasPrefix(s.room, "cmd/") || strings.HasPrefix(s.room, "tools/") {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			if pkg, name, ok := call(n); ok && (pkg == "os" && name == "Exit" || pkg == "log" && (name == "Fatal" || name == "Fatalf")) {
				t.Errorf("%s: only cmd ends the process", fset.Position(n.Pos()))
			}
			return true
		})
	}
}

// Package-level variables may be error values, embedded files, interface
// checks, compiled patterns, or tables that nothing writes to.
func TestNoPackageLevelState(t *testing.T) {
	fset, list := sources(t)
	vars := map[string]*ast.GenDecl{} // by room and name
	for _, s := range list {
		if s.test {
			continue
		}
		for _, d := range s.file.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.VAR {
				continue
			}
			for _, spec := range g.Specs {
				v := spec.(*ast.ValueSpec)
				for _, name := range v.Names {
					if name.Name == "_" {
						continue
					}
					vars[s.room+"."+name.Name] = g
					if len(v.Values) == 0 && !embedded(g) {
						t.Errorf("%s: package-level variable %s starts empty: it can only be state", fset.Position(name.Pos()), name.Name)
					}
				}
			}
		}
	}
	for _, s := range list {
		for _, d := range s.file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || f.Body == nil {
				continue
			}
			local := locals(f)
			ast.Inspect(f.Body, func(n ast.Node) bool {
				var targets []ast.Expr
				switch n := n.(type) {
				case *ast.AssignStmt:
					if n.Tok != token.DEFINE {
						targets = n.Lhs
					}
				case *ast.IncDecStmt:
					targets = []ast.Expr{n.X}
				}
				for _, x := range targets {
					if name := root(x); name != nil && !local[name.Name] && vars[s.room+"."+name.Name] != nil {
						t.Errorf("%s: package-level variable %s is written to", fset.Position(n.Pos()), name.Name)
					}
				}
				return true
			})
		}
	}
}

// locals are the names that a function declares anywhere in it.
func locals(f *ast.FuncDecl) map[string]bool {
	names := map[string]bool{}
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.Field:
			for _, i := range n.Names {
				names[i.Name] = true
			}
		case *ast.AssignStmt:
			if n.Tok == token.DEFINE {
				for _, x := range n.Lhs {
					if i, ok := x.(*ast.Ident); ok {
						names[i.Name] = true
					}
				}
			}
		case *ast.ValueSpec:
			for _, i := range n.Names {
				names[i.Name] = true
			}
		case *ast.RangeStmt:
			for _, x := range []ast.Expr{n.Key, n.Value} {
				if i, ok := x.(*ast.Ident); ok {
					names[i.Name] = true
				}
			}
		}
		return true
	})
	return names
}

func embedded(g *ast.GenDecl) bool {
	if g.Doc == nil {
		return false
	}
	return slices.ContainsFunc(g.Doc.List, func(c *ast.Comment) bool { return strings.HasPrefix(c.Text, "//go:embed") })
}

func root(x ast.Expr) *ast.Ident {
	for {
		switch y := x.(type) {
		case *ast.Ident:
			return y
		case *ast.IndexExpr:
			x = y.X
		case *ast.SelectorExpr:
			x = y.X
		case *ast.ParenExpr:
			x = y.X
		case *ast.StarExpr:
			return nil
		default:
			return nil
		}
	}
}

func TestEveryPackageAndEveryExportedNameOfModelsIsExplained(t *testing.T) {
	fset, list := sources(t)
	explained := map[string]bool{}
	for _, s := range list {
		if !s.test && s.file.Doc != nil {
			explained[s.room] = true
		}
	}
	for _, s := range list {
		if s.test {
			continue
		}
		if !explained[s.room] {
			t.Errorf("%s: package %s has no doc comment", s.name, s.room)
			explained[s.room] = true
		}
		if !strings.HasPrefix(s.room, "internal/") {
			continue
		}
		for _, d := range s.file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if ok && f.Name.IsExported() && f.Doc == nil && (f.Recv == nil || exportedReceiver(f)) {
				t.Errorf("%s: %s has no doc comment", fset.Position(f.Pos()), f.Name.Name)
			}
		}
	}
}

func exportedReceiver(f *ast.FuncDecl) bool {
	x := f.Recv.List[0].Type
	for {
		switch y := x.(type) {
		case *ast.StarExpr:
			x = y.X
		case *ast.IndexExpr:
			x = y.X
		case *ast.Ident:
			return y.IsExported()
		default:
			return false
		}
	}
}

func TestTestsRequireAndDoNotSleep(t *testing.T) {
	fset, list := sources(t)
	for _, s := range list {
		if !s.test {
			continue
		}
		for _, imp := range s.file.Imports {
			if strings.HasSuffix(strings.Trim(imp.Path.Value, `"`), "testify/assert") {
				t.Errorf("%s imports assert: a test that goes on after a failure tells less", s.name)
			}
		}
		usesSynctest := slices.ContainsFunc(s.file.Imports, func(i *ast.ImportSpec) bool { return i.Path.Value == `"testing/synctest"` })
		ast.Inspect(s.file, func(n ast.Node) bool {
			if pkg, name, ok := call(n); ok && pkg == "time" && name == "Sleep" && !usesSynctest {
				t.Errorf("%s: a test sleeps", fset.Position(n.Pos()))
			}
			return true
		})
	}
}

func TestErrorsAreWrapped(t *testing.T) {
	fset, list := sources(t)
	lost := regexp.MustCompile(`%[vs]["\x60]?$`)
	for _, s := range list {
		if s.test {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			pkg, name, ok := call(n)
			if !ok || pkg != "fmt" || name != "Errorf" {
				return true
			}
			args := n.(*ast.CallExpr).Args
			last, isIdent := args[len(args)-1].(*ast.Ident)
			format, isLit := args[0].(*ast.BasicLit)
			if isIdent && isLit && last.Name == "err" && lost.MatchString(strings.TrimRight(format.Value, `"`)) {
				t.Errorf("%s: wrap err with %%w", fset.Position(n.Pos()))
			}
			return true
		})
	}
}

// Every path that the contributor's map names exists.
func TestDevelopersMapIsTrue(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(testdata.Root(), "DEVELOPERS.md"))
	require.NoError(t, err)
	for _, m := range regexp.MustCompile("`((?:cmd|internal|config|docs|tools|packaging)/[^` ]*)`").FindAllStringSubmatch(string(b), -1) {
		name := strings.TrimSuffix(m[1], "/")
		if strings.ContainsAny(name, "*{<") {
			continue
		}
		_, err := os.Stat(filepath.Join(testdata.Root(), filepath.FromSlash(name)))
		require.NoError(t, err, "DEVELOPERS.md names %s", name)
	}
}
