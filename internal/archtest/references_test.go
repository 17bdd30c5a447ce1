package archtest_test

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/testdata"
)

// Every source that a doc comment of the physics names stands in
// REFERENCES.md. The key Own marks what is our own definition or assumption.
func TestReferencesExist(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(testdata.Root(), "REFERENCES.md"))
	require.NoError(t, err)
	known := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?m)^- \*\*([^*]+)\*\*`).FindAllStringSubmatch(string(b), -1) {
		require.False(t, known[m[1]], "REFERENCES.md lists %s twice", m[1])
		known[m[1]] = true
	}
	require.Greater(t, len(known), 20)
	fset, list := sources(t)
	named := 0
	for _, s := range list {
		if s.test || !strings.HasPrefix(s.room, "internal/models/") {
			continue
		}
		for _, group := range s.file.Comments {
			_, after, ok := strings.Cut(group.Text(), "Reference: ")
			if !ok {
				continue
			}
			line, _, _ := strings.Cut(strings.ReplaceAll(after, "\n", " "), "  ")
			for i, part := range strings.Split(line, ";") {
				key := strings.Trim(strings.Fields(part + " ?")[0], ".,:")
				if i > 0 && key == strings.ToLower(key) {
					continue // a remark, not a key
				}
				named++
				if !known[key] {
					t.Errorf("%s: %q is no key of REFERENCES.md", fset.Position(group.Pos()), key)
				}
			}
		}
	}
	require.Greater(t, named, 50)
}
