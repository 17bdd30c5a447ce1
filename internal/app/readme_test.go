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
	blocks := regexp.MustCompile("(?s)```(yaml)?\n(.*?)\n```").FindAllStringSubmatch(string(b), -1)
	sampled, loaded := false, false
	call, err := os.ReadFile("testdata/demo-call.golden.txt")
	require.NoError(t, err)
	for _, block := range blocks {
		switch {
		case block[1] == "yaml":
			_, err := config.Load("README.md", []byte(block[2]))
			require.NoError(t, err)
			loaded = true
		case strings.HasPrefix(block[2], "DEMO: invented data"):
			require.Contains(t, string(call), block[2], "write the sample anew from testdata/demo-call.golden.txt")
			sampled = true
		}
	}
	require.True(t, loaded)
	require.True(t, sampled)
}
