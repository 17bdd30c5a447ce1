package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/testdata"
)

// The figures of docs/physics.md and docs/judgement.md are what the code
// computes now, and the pages show every one. Text is compared to the letter,
// numbers to a step of the paper, since processors differ in the last bit.
func TestFiguresAreCurrent(t *testing.T) {
	const cure = "run go run ./cmd/figures"
	dir, docs := t.TempDir(), filepath.Join(testdata.Root(), "docs")
	require.NoError(t, run(testdata.Root(), dir))
	all, err := pages(testdata.Root())
	require.NoError(t, err)
	number := regexp.MustCompile(`-?\d+(\.\d+)?`)
	for file, figures := range all {
		page, err := os.ReadFile(filepath.Join(docs, file))
		require.NoError(t, err)
		for name := range figures {
			t.Run(name, func(t *testing.T) {
				require.Contains(t, string(page), "(img/"+name+".svg)")
				want, err := os.ReadFile(filepath.Join(dir, name+".svg"))
				require.NoError(t, err)
				have, err := os.ReadFile(filepath.Join(docs, "img", name+".svg"))
				require.NoError(t, err, cure)
				require.Equal(t, number.ReplaceAllString(string(want), "#"), number.ReplaceAllString(string(have), "#"), cure)
				x, y := number.FindAllString(string(want), -1), number.FindAllString(string(have), -1)
				for i := range x {
					u, err := strconv.ParseFloat(x[i], 64)
					require.NoError(t, err)
					v, err := strconv.ParseFloat(y[i], 64)
					require.NoError(t, err)
					require.InDelta(t, u, v, 0.15, cure)
				}
			})
		}
	}
}
