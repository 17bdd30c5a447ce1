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

// Every literal in the code that looks like a key of a phrase is listed, and
// every key that is listed has a text in every language.
func TestEveryPhraseHasAKeyAndAText(t *testing.T) {
	keys := scoring.PhraseKeys()
	looksLikeKey := regexp.MustCompile(`^(reason|refused|change|outcome|changed|settle|missing|caution|front|closed|guests|offer|kite|spread|drift|bait|factor|input|range)\.[a-z_.]+$`)
	found := 0
	for _, dir := range []string{"internal/scoring", "internal/models/kite", "internal/models/spread", "internal/models/drift"} {
		root := filepath.Join(testdata.Root(), filepath.FromSlash(dir))
		entries, err := os.ReadDir(root)
		require.NoError(t, err)
		for _, e := range entries {
			if !strings.HasSuffix(e.Name(), ".go") || strings.HasSuffix(e.Name(), "_test.go") || e.Name() == "keys.go" {
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
					require.Contains(t, keys, s, e.Name())
				}
				return true
			})
		}
	}
	require.Greater(t, found, 100)
	for _, k := range keys {
		for _, l := range words.Languages() {
			require.True(t, words.HasPhrase(l, k), "no text in %s for %q", l, k)
		}
	}
}
