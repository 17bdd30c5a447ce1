package archtest_test

import (
	"go/ast"
	"go/token"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/words/catalogue"
)

// wordless are the rooms whose findings reach people as phrases.
func wordless(room string) bool {
	return room == "internal/scoring" || room == "internal/models" || strings.HasPrefix(room, "internal/models/") ||
		room == "internal/words" || room == "internal/draw" || room == "internal/notify" || room == "internal/web"
}

// standing are the literals that the rule found when it came: words of forms
// and of the trade that are compared with and never told, what a log tells
// through a helper, and what nobody is told yet. The list only shrinks: one
// that is gone from the code leaves it.
func standing() map[string][]string {
	return map[string][]string{
		"internal/models/drift": {
			"the depth band or the slope of the bottom is not given",
			"the drift runs along the band",
			"sport fisher, center console, open cockpit",
			"sport boat, no canvas, modified V, cuddy cabin",
			"wind is stronger than in the leeway trials",
			"boat is longer than those of the leeway trials",
			"wind is unknown",
			"wind direction is unknown",
			"current is unknown",
			"current direction is unknown",
			"no hours are given",
			"hours are not in order of time",
		},
		"internal/models/kite": {
			"the kite's size or mass is not given",
			"too little wind to hold the kite and its baits up",
			"pull is over the line's working load",
		},
		"internal/models": {
			"nws coastal text", // the name of a source, as operators and Sources know it
			"required weekly test",
			"required monthly test",
		},
		"internal/models/spread": {
			"sardine, small herring",
		},
		"internal/notify": {
			"--- would send by %s to %s <%s>: %s (%s)\nSubject: %s\nShort: %s\n",
			"are you back",
			"the outbox can't get at its ledger",
			"its deadline passed before any channel took it",
			"every channel refused it",
			"message shown, not sent: this is a dry run",
			"message not sent",
			"message given up: nobody was told",
		},
		"internal/scoring": {
			"air and water",
			"Official product without a name",
		},
		"internal/web": {
			"forecastd calendar key\n",
			"the form can't be taken",
		},
	}
}

// No sentence stands in the code of a room whose findings reach people: three
// words in a row are English that a reader of another language would get.
// Errors, logs, metrics and panics are for who runs the service; a word of the
// model's own is a key of the catalogue.
func TestNoEnglishWhereThereMustBeNone(t *testing.T) {
	all, err := catalogue.All()
	require.NoError(t, err)
	sentence := regexp.MustCompile(`\p{L}{2,}[ ,:]+\p{Ll}{2,} \p{Ll}{2,}`)
	ours := func(s string) bool {
		for _, prefix := range []string{"", "word.", "page.", catalogue.Glosses} {
			for _, code := range []string{"en", "es"} {
				if _, ok := all[code].Phrase(prefix + strings.ToLower(s)); ok {
					return true
				}
			}
		}
		return false
	}
	seen := map[string]bool{}
	fset, list := sources(t)
	for _, s := range list {
		// The outlook file is read by who writes one: its errors are operators'.
		if s.test || !wordless(s.room) || strings.HasSuffix(s.name, "words/outlookfile.go") {
			continue
		}
		operator := map[ast.Node]bool{} // what stands in an error, a log or a metric
		ast.Inspect(s.file, func(n ast.Node) bool {
			if forOperators(n) {
				ast.Inspect(n, func(inner ast.Node) bool { operator[inner] = true; return true })
			}
			lit, ok := n.(*ast.BasicLit)
			if !ok || lit.Kind != token.STRING || operator[lit] {
				return true
			}
			text, err := strconv.Unquote(lit.Value)
			require.NoError(t, err)
			if slices.Contains(standing()[s.room], text) {
				seen[s.room+text] = true
				return true
			}
			if sentence.MatchString(text) && !ours(text) {
				t.Errorf("%s: %q is English in the code: give it a key in internal/words/catalogue", fset.Position(lit.Pos()), text)
			}
			return true
		})
	}
	for room, texts := range standing() {
		for _, text := range texts {
			if !seen[room+text] {
				t.Errorf("%s: %q is gone: take it out of standing", room, text)
			}
		}
	}
}

// forOperators tells of a call or value whose words only operators read.
func forOperators(n ast.Node) bool {
	switch n := n.(type) {
	case *ast.CallExpr:
		switch f := n.Fun.(type) {
		case *ast.Ident:
			return f.Name == "panic"
		case *ast.SelectorExpr:
			return slices.Contains([]string{"New", "Errorf", "Error", "Warn", "Info", "Debug"}, f.Sel.Name)
		}
	case *ast.CompositeLit:
		if sel, ok := n.Type.(*ast.SelectorExpr); ok {
			return slices.Contains([]string{"CounterOpts", "GaugeOpts", "HistogramOpts", "SummaryOpts"}, sel.Sel.Name)
		}
	}
	return false
}
