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

// The unit names who is told when it fails for good, that unit is there, and
// the limit is one that its pauses can reach.
func TestAFailedUnitIsTold(t *testing.T) {
	unit := func(name string) string {
		b, err := os.ReadFile(filepath.Join(testdata.Root(), "packaging", name))
		require.NoError(t, err)
		return string(b)
	}
	service := unit("forecastd.service")
	other := regexp.MustCompile(`(?m)^OnFailure=(\S+)$`).FindStringSubmatch(service)
	require.Len(t, other, 2)
	require.Contains(t, unit(other[1]), "forecastd.service")
	// 20 starts with pauses of 15 s lie well within the hour (systemd.unit(5):
	// StartLimitIntervalSec, StartLimitBurst).
	for _, line := range []string{"StartLimitIntervalSec=1h", "StartLimitBurst=20", "RestartSec=15s"} {
		require.Contains(t, service, "\n"+line+"\n")
	}
}
