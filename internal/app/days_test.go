package app_test

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"forecastd/internal/app"
	"forecastd/internal/models"
	"forecastd/internal/words"
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

// Each of the days in Spanish, every factor with it: no line but an official
// text and the names in the file has an English word, and none is too wide.
func TestCallsOfSevenKindsOfDayInSpanish(t *testing.T) {
	english := regexp.MustCompile(`(?i)\b(the|and|of|with|until|party|gusts?|leave|ride|kites?|winds?|seas|water|light|unknown|good|poor|fair|rough|easy|inside|dock|hours?|left|right|middle|line|lead|leader|rod|unit|bait|drift|sun|tide|flood|ebb|advisory|warnings?|spread)\b`)
	files, err := filepath.Glob("testdata/days/*.json")
	require.NoError(t, err)
	require.Len(t, files, 7)
	for _, name := range files {
		t.Run(filepath.Base(name), func(t *testing.T) {
			b, err := os.ReadFile(name)
			require.NoError(t, err)
			c, err := app.CallOutlookFile(b, models.DefaultLimits(), models.Unknown[time.Time]())
			require.NoError(t, err)
			pairs := []string{c.Call.Ground.Name, ""}
			for _, w := range c.Call.Warnings.Or(nil) {
				pairs = append(pairs, w.Event, "", strings.ToUpper(w.Event), "")
			}
			for _, o := range c.Call.Overrides {
				pairs = append(pairs, o.What, "", o.Why, "")
			}
			names := strings.NewReplacer(pairs...)
			text := c.Told(app.Telling{Language: words.Spanish}).Text(true)
			require.NotContains(t, text, "{0}", "a phrase without its values")
			var own []string
			for line := range strings.Lines(text) {
				require.LessOrEqual(t, utf8.RuneCountInString(strings.TrimRight(line, "\n")), 100, "too wide: %s", line)
				if line = strings.TrimPrefix(line, "    > "); !strings.HasPrefix(line, "    | ") {
					own = append(own, strings.Fields(line)...)
				}
			}
			told := names.Replace(strings.Join(own, " "))
			for _, at := range english.FindAllStringIndex(told, -1) {
				require.Fail(t, "English", "...%s...", told[max(0, at[0]-40):min(len(told), at[1]+40)])
			}
		})
	}
}
