package app_test

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/testdata"
)

// The README's minimal configuration loads, and its sample is what the demo
// prints.
func TestReadmeIsTrue(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(testdata.Root(), "README.md"))
	require.NoError(t, err)
	call, err := os.ReadFile("testdata/demo-call.golden.txt")
	require.NoError(t, err)
	sample, _, ok := strings.Cut(string(call), "\n\nWhile fishing")
	require.True(t, ok)
	if *update {
		b = regexp.MustCompile("(?s)```\nDEMO: invented data.*?\n```").ReplaceAllLiteral(b, []byte("```\n"+sample+"\n```"))
		require.NoError(t, os.WriteFile(filepath.Join(testdata.Root(), "README.md"), b, 0o644))
	}
	blocks := regexp.MustCompile("(?s)```(yaml)?\n(.*?)\n```").FindAllStringSubmatch(string(b), -1)
	sampled, loaded := false, false
	for _, block := range blocks {
		switch {
		case block[1] == "yaml":
			_, err := config.Load("README.md", []byte(block[2]))
			require.NoError(t, err)
			loaded = true
		case strings.HasPrefix(block[2], "DEMO: invented data"):
			require.True(t, block[2] == sample, "the sample is not what the demo prints: run the test with -update")
			sampled = true
		}
	}
	require.True(t, loaded)
	require.True(t, sampled)
}
