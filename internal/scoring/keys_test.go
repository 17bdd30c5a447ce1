package scoring_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/scoring"
	"forecastd/internal/testdata"
	"forecastd/internal/words"
)

// Every literal in the code that looks like the key of a phrase, and every key
// that is put together, has a text in every language.
func TestEveryKeyHasAText(t *testing.T) {
	has := func(key, where string) {
		for _, l := range words.Languages() {
			require.True(t, words.HasPhrase(l, key), "%s: no text in %s for %q: add it to internal/words/catalogue/%s.json", where, l, key, l)
		}
	}
	looksLikeKey := regexp.MustCompile(`^(reason|refused|change|outcome|changed|settle|missing|caution|front|closed|guests|offer|kite|spread|drift|bait|factor|input|range|lack)\.[a-z_.]+$`)
	found := 0
	for _, dir := range []string{"internal/scoring", "internal/models/kite", "internal/models/spread", "internal/models/drift"} {
		root := filepath.Join(testdata.Root(), filepath.FromSlash(dir))
		entries, err := os.ReadDir(root)
		require.NoError(t, err)
		for _, e := range entries {
			if !strings.HasSuffix(e.Name(), ".go") || strings.HasSuffix(e.Name(), "_test.go") {
				continue
			}
			f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(root, e.Name()), nil, 0)
			require.NoError(t, err)
			ast.Inspect(f, func(n ast.Node) bool {
				lit, ok := n.(*ast.BasicLit)
				if !ok || lit.Kind != token.STRING {
					return true
				}
				s, _ := strconv.Unquote(lit.Value)
				if looksLikeKey.MatchString(s) && !strings.HasSuffix(s, ".") {
					found++
					has(s, e.Name())
				}
				return true
			})
		}
	}
	require.Greater(t, found, 100)
	for prefix, list := range map[string]string{
		"factor.": "wind gust_spread gust direction rain thunder slip tending crew tailing_wind opposed current faces edge water season report shower sun cloud glare cast weather",
	} {
		for _, f := range strings.Fields(list) {
			for _, word := range []string{"none", "poor", "fair", "good"} {
				has(prefix+f+"."+word, "factors")
			}
		}
	}
	for _, by := range scoring.Causes() {
		has("cause."+by, "causes")
	}
	for _, lack := range scoring.KiteLacks() {
		has("reason.not_kite."+lack, "kite lacks")
		if lack != "wind" {
			has("reason.hard_kite."+lack, "kite lacks")
		}
	}
	for prefix, list := range map[string]string{
		"reason.not_sight.": "opposed current wind faces cloud edge season water glare sun cast",
		"guests.feel.":      "easy ok rough no",
		"guests.tactic.":    "kite helium_kite sight_cast kite_then_sight_cast sight_cast_then_kite either",
	} {
		for _, s := range strings.Fields(list) {
			has(prefix+s, "put together")
		}
	}
}
