package archtest_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/testdata"
)

// rooms tells for each room which of our own rooms it may import. A room not
// listed here fails the test: give it a row before it grows.
func rooms() map[string][]string {
	const m = "internal/models"
	physics := func(left ...string) []string {
		list := []string{m, m + "/units"}
		for _, l := range left {
			list = append(list, m+"/"+l)
		}
		return list
	}
	allModels := physics("wind", "wave", "tide", "sky", "drift", "kite", "spread", "ride", "skill", "outlook")
	return map[string][]string{
		"cmd/forecastd":               {"internal/app", "config", "internal/fetch/grib2", m},
		"config":                      {m, m + "/units"},
		"internal/app":                {"*"},
		"internal/archtest":           {},
		"internal/testdata":           {},
		m:                             {m + "/units"},
		m + "/units":                  {},
		m + "/wind":                   physics(),
		m + "/wave":                   physics("wind"),
		m + "/tide":                   physics("wind", "wave"),
		m + "/sky":                    physics("wind", "wave", "tide"),
		m + "/drift":                  physics("wind", "wave", "tide", "sky"),
		m + "/kite":                   physics("wind", "wave", "tide", "sky", "drift"),
		m + "/spread":                 physics("wind", "wave", "tide", "sky", "drift", "kite"),
		m + "/ride":                   physics("wind", "wave", "tide", "sky", "drift", "kite", "spread"),
		m + "/skill":                  physics(),
		m + "/outlook":                physics("wind", "wave", "tide", "sky", "drift", "kite", "spread", "ride", "skill"),
		"internal/scoring":            allModels,
		"internal/words":              {m, m + "/units", "internal/words/catalogue"},
		"internal/words/catalogue":    {},
		"internal/draw":               {m, m + "/units"},
		"internal/calendar":           {m},
		"internal/fetch":              {m, m + "/units"},
		"internal/fetch/httpx":        {m},
		"internal/fetch/ndbc":         {"internal/fetch", "internal/fetch/httpx", "internal/calendar", m, m + "/units"},
		"internal/fetch/nws":          {"internal/fetch", "internal/fetch/httpx", "internal/calendar", m, m + "/units"},
		"internal/fetch/coops":        {"internal/fetch", "internal/fetch/httpx", "internal/calendar", m, m + "/units"},
		"internal/fetch/grib2":        {m + "/units", "internal/fetch/grib2/jp2k", "internal/fetch/grib2/aec"},
		"internal/fetch/grib2/jp2k":   {},
		"internal/fetch/grib2/aec":    {},
		"internal/fetch/grib2/encode": {m + "/units"},
		"internal/fetch/gridded":      {"internal/fetch", "internal/fetch/httpx", "internal/fetch/grib2", m, m + "/units"},
		"internal/fetch/replay":       {m},
		"internal/fetch/fetchtest":    {"internal/fetch", "internal/fetch/httpx", m, m + "/units"},
		"internal/fetch/bookings":     {"internal/fetch", "internal/fetch/httpx", "internal/calendar", m, m + "/units"},
		"internal/notify":             {m, m + "/units", "internal/words", "internal/calendar"},
		"internal/notify/email":       {m},
		"internal/notify/webhook":     {m},
		"internal/web":                {m, m + "/units", "internal/scoring", "internal/words", "internal/draw", "internal/calendar", "internal/web/door"},
		"internal/web/door":           {m},
		"internal/web/webtest":        {},
		"internal/store":              {m, m + "/units"},
		"internal/sched":              {m},
		"internal/demo":               {m},
		"cmd/demogen":                 {"*"},
		"cmd/figures":                 {"*"},
	}
}

// homes tells where a library may be imported outside tests.
func homes() map[string][]string {
	return map[string][]string{
		"github.com/go-resty/resty":                  {"internal/fetch/httpx"},
		"github.com/robfig/cron":                     {"internal/sched"},
		"modernc.org/sqlite":                         {"internal/store"},
		"github.com/pressly/goose":                   {"internal/store"},
		"database/sql":                               {"internal/store"},
		"github.com/wneessen/go-mail":                {"internal/notify/email"},
		"github.com/goccy/go-yaml":                   {"config"},
		"github.com/arran4/golang-ical":              {"internal/calendar"},
		"github.com/teambition/rrule-go":             {"internal/calendar"},
		"github.com/prometheus/client_golang":        {"internal/fetch/httpx", "internal/sched", "internal/store", "internal/notify", "internal/web", "internal/app"},
		"github.com/stretchr/testify":                {"internal/fetch/fetchtest", "internal/web/webtest"},
		"github.com/chromedp":                        {"internal/web/webtest"},
		"pgregory.net/rapid":                         {},
		"github.com/rogpeppe/go-internal/testscript": {},
		"os/signal":                                  {"cmd/forecastd"},
		"golang.org/x/crypto":                        {"internal/web/door"},
		"flag":                                       {"cmd/forecastd", "cmd/demogen", "cmd/figures", "tools/*"},
		"testing":                                    {"internal/testdata", "internal/fetch/fetchtest", "internal/web/webtest"},
	}
}

// pure tells whether a room does no I/O and reads no clock.
func pure(room string) bool {
	return room == "internal/models" || strings.HasPrefix(room, "internal/models/") || room == "internal/scoring" ||
		room == "internal/words" || room == "internal/draw" || strings.HasPrefix(room, "internal/fetch/grib2")
}

type source struct {
	room, name string
	test       bool
	file       *ast.File
}

func sources(t *testing.T) (*token.FileSet, []source) {
	t.Helper()
	fset := token.NewFileSet()
	var list []source
	root := testdata.Root()
	require.NoError(t, filepath.WalkDir(root, func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == ".git" || d.Name() == ".ci" || d.Name() == "testdata" && p != filepath.Join(root, "internal", "testdata")) {
			return filepath.SkipDir
		}
		if d.IsDir() || filepath.Ext(p) != ".go" {
			return nil
		}
		b, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, p)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		f, err := parser.ParseFile(fset, rel, b, parser.ParseComments)
		if err != nil {
			return err
		}
		list = append(list, source{room: path.Dir(rel), name: rel, test: strings.HasSuffix(rel, "_test.go"), file: f})
		return nil
	}))
	require.NotEmpty(t, list)
	return fset, list
}

func TestArrowsNeverTurnBack(t *testing.T) {
	table := rooms()
	_, list := sources(t)
	for _, s := range list {
		if strings.HasPrefix(s.room, "tools/") {
			continue
		}
		allowed, listed := table[s.room]
		if !listed {
			t.Errorf("%s: room %s has no row in the table of allowed imports", s.name, s.room)
			continue
		}
		if s.test || slices.Contains(allowed, "*") {
			continue
		}
		for _, imp := range s.file.Imports {
			name := strings.Trim(imp.Path.Value, `"`)
			own, ok := strings.CutPrefix(name, "forecastd/")
			if ok && !slices.Contains(allowed, own) {
				t.Errorf("%s imports %s, which the table does not allow", s.name, own)
			}
		}
	}
}

func TestEachLibraryHasOneHome(t *testing.T) {
	_, list := sources(t)
	for _, s := range list {
		if s.test {
			continue
		}
		for _, imp := range s.file.Imports {
			name := strings.Trim(imp.Path.Value, `"`)
			for library, rooms := range homes() {
				if name != library && !strings.HasPrefix(name, library+"/") {
					continue
				}
				in := func(r string) bool {
					prefix, wild := strings.CutSuffix(r, "*")
					return s.room == r || wild && strings.HasPrefix(s.room, prefix)
				}
				if !slices.ContainsFunc(rooms, in) {
					t.Errorf("%s imports %s, whose home is %v", s.name, name, rooms)
				}
			}
		}
	}
}

func TestPureRoomsDoNoIOAndReadNoClock(t *testing.T) {
	forbidden := []string{"net", "net/http", "os", "os/exec", "log", "log/slog", "io/ioutil", "io/fs", "database/sql", "syscall", "embed", "context"}
	fset, list := sources(t)
	for _, s := range list {
		if s.test || !pure(s.room) {
			continue
		}
		for _, imp := range s.file.Imports {
			if name := strings.Trim(imp.Path.Value, `"`); slices.Contains(forbidden, name) {
				t.Errorf("%s: a pure room imports %s", s.name, name)
			}
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			if pkg, name, ok := call(n); ok && pkg == "time" && slices.Contains([]string{"Now", "Since", "Until", "After", "Tick", "Sleep", "NewTimer", "NewTicker"}, name) {
				t.Errorf("%s: a pure room calls time.%s", fset.Position(n.Pos()), name)
			}
			return true
		})
	}
}

// call returns package and function of a call like pkg.Name(...).
func call(n ast.Node) (pkg, name string, ok bool) {
	c, isCall := n.(*ast.CallExpr)
	if !isCall {
		return "", "", false
	}
	sel, isSel := c.Fun.(*ast.SelectorExpr)
	if !isSel {
		return "", "", false
	}
	x, isIdent := sel.X.(*ast.Ident)
	if !isIdent {
		return "", "", false
	}
	return x.Name, sel.Sel.Name, true
}
