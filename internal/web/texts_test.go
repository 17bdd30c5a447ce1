package web_test

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/words"
)

// Every text that a template or the code asks for by name is in the
// catalogue; a test that walks the pages sees the keys that are put together.
func TestEveryTextThatIsAskedForIsThere(t *testing.T) {
	var files []string
	for _, pattern := range []string{"pages/*.html", "*.go"} {
		list, err := filepath.Glob(pattern)
		list = slices.DeleteFunc(list, func(n string) bool { return strings.HasSuffix(n, "_test.go") })
		require.NoError(t, err)
		files = append(files, list...)
	}
	asked := regexp.MustCompile(`(?:\bT|\.Lead|\.Say)[ (]"([a-z][a-z_. ]*[a-z])"`)
	found := 0
	for _, name := range files {
		b, err := os.ReadFile(name)
		require.NoError(t, err)
		for _, m := range asked.FindAllStringSubmatch(string(b), -1) {
			key := m[1]
			if strings.Contains(m[0], "Say") {
				require.True(t, words.HasPhrase(words.English, key), "%s asks for %s", name, key)
				continue
			}
			found++
			require.True(t, words.HasPhrase(words.English, "page."+key), "%s asks for page.%s", name, key)
		}
	}
	require.Greater(t, found, 200)
}
