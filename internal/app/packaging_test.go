package app_test

import (
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/testdata"
)

// Rules and dashboard name no metric that the daemon does not have.
func TestPackagingNamesRealMetrics(t *testing.T) {
	list, err := os.ReadFile(filepath.Join("testdata", "metrics.golden.txt"))
	require.NoError(t, err)
	known := map[string]bool{"forecastd_messages_dead_total": true, "forecastd_fetch_failures_total": true} // they come with the first failure
	for _, m := range regexp.MustCompile(`(?m)^(\w+) \(`).FindAllStringSubmatch(string(list), -1) {
		known[m[1]] = true
	}
	for _, name := range []string{"prometheus-rules.yaml", "grafana-dashboard.json"} {
		b, err := os.ReadFile(filepath.Join(testdata.Root(), "packaging", name))
		require.NoError(t, err)
		if strings.HasSuffix(name, ".json") {
			require.True(t, json.Valid(b), name)
		}
		found := regexp.MustCompile(`forecastd_[a-z_]+`).FindAllString(string(b), -1)
		require.NotEmpty(t, found)
		for _, m := range found {
			base := strings.TrimSuffix(strings.TrimSuffix(m, "_sum"), "_count")
			require.True(t, known[m] || known[base], "%s names %s", name, m)
		}
	}
}

// The image is built from no store, no configuration of who builds it and no
// history, and all that the program embeds is there.
func TestTheImageIsBuiltFromSourcesOnly(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(testdata.Root(), ".dockerignore"))
	require.NoError(t, err)
	left := strings.Fields(string(b))
	for _, name := range []string{".git", "**/*.db", "**/*.db-*", "**/*.store", "forecastd.yaml", "forecastd.captain", "forecastd.mate"} {
		require.Contains(t, left, name)
	}
	for _, needed := range []string{"internal/demo/demo.yaml", "config/example.yaml", "internal/store/migrations"} {
		require.NotContains(t, left, needed)
	}
}
