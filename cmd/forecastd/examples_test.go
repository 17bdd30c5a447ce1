package main

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// shellWords splits a line as a shell does, as far as the examples need it.
func shellWords(line string) []string {
	var out []string
	for _, m := range regexp.MustCompile(`"([^"]*)"|(\S+)`).FindAllStringSubmatch(line, -1) {
		out = append(out, m[1]+m[2])
	}
	return out
}

// Every example that a command's help gives is done as it says: each command's
// in turn, on the demo with a store of its own.
func TestExamplesOfTheHelpAreDone(t *testing.T) {
	// What asks for something that only a longer life of the store brings.
	needMore := map[string]string{
		"forecastd explain last": "nothing is kept yet", "forecastd explain 17": "nothing is kept yet", "forecastd explain list": "nothing is kept yet",
		"forecastd log -back": "float plan", "forecastd override clear 3": "no override 3 holds",
	}
	ran := 0
	for _, c := range commands() {
		_, help, _ := inside(c.name, "-h")
		state := t.TempDir()
		for _, m := range regexp.MustCompile(`(?m)^  (forecastd \S.*)$`).FindAllStringSubmatch(help, -1) {
			line, _, _ := strings.Cut(m[1], "   ") // what follows explains it
			if strings.Contains(line, "-config") || strings.ContainsAny(line, "[") || strings.Contains(line, "-demo") {
				continue // needs a file of the reader's own
			}
			args := append(shellWords(line)[1:], "-demo", "-state", state, "-now", "2027-01-18T22:30:00Z")
			code, out, errs := inside(args...)
			ran++
			if why, ok := needMore[line]; ok && code != exitOK {
				require.NotContains(t, errs, "flag", line)
				require.Contains(t, errs+out, why, line)
				continue
			}
			require.Equal(t, exitOK, code, "%s: %s%s", line, out, errs)
		}
		if c.name == "bait" {
			_, out, _ := inside("bait", "list", "-demo", "-state", state)
			require.Contains(t, out, "40 goggle-eye, seasoned", "the first example counts the demo's pen and adds no lot")
			require.Contains(t, out, "25 goggle-eye, netted")
			require.Equal(t, 2, strings.Count(out, "goggle-eye"), out)
		}
	}
	require.Greater(t, ran, 15)
}
