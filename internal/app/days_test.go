package app_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/app"
	"forecastd/internal/models"
)

// TestCallsOfSevenKindsOfDay holds the words of a call for invented days: wind
// against current, a front, a spring tailing day, light air, a building wind,
// fog, an event under an advisory.
func TestCallsOfSevenKindsOfDayGolden(t *testing.T) {
	files, err := filepath.Glob("testdata/days/*.json")
	require.NoError(t, err)
	require.Len(t, files, 7)
	for _, name := range files {
		t.Run(filepath.Base(name), func(t *testing.T) {
			b, err := os.ReadFile(name)
			require.NoError(t, err)
			c, err := app.CallOutlookFile(b, models.DefaultLimits(), models.Unknown[time.Time]())
			require.NoError(t, err)
			text := c.Text(false)
			require.NotContains(t, text, "{0}", "a phrase without its values")
			for line := range strings.Lines(text) {
				require.LessOrEqual(t, len([]rune(strings.TrimRight(line, "\n"))), 100, "too wide: %s", line)
			}
			golden(t, filepath.Join("days", strings.TrimSuffix(filepath.Base(name), ".json")+".golden.txt"), text)
		})
	}
}
