package app_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/app"
	"forecastd/internal/store"
)

// However stores, notes and flags lie: a store that is there and is not the one
// used is named, and so is the daemon's wherever it is used; alone beside the
// configuration it is used without a word.
func TestThereAreNeverTwoStoresInSilence(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		root, err := os.MkdirTemp("", "")
		require.NoError(t, err)
		defer os.RemoveAll(root)
		dir := func(name string, begun bool) string {
			d := filepath.Join(root, name)
			require.NoError(t, os.MkdirAll(d, 0o700))
			if begun {
				require.NoError(t, os.WriteFile(filepath.Join(d, store.FileName), nil, 0o600))
			}
			return d
		}
		yes := func(label string) bool { return rapid.Bool().Draw(t, label) }
		besideBegun, keptBegun := yes("store beside"), yes("daemon's store")
		beside, kept := dir("conf", besideBegun), dir("kept", keptBegun)
		s := app.StoreSearch{Config: filepath.Join(beside, "boat.yaml"), Runtime: []string{dir("run", false)}}
		require.NoError(t, os.WriteFile(s.Config, nil, 0o600))
		noted := yes("a daemon has run")
		if noted {
			require.NoError(t, s.Leave(kept))
		} else if yes("packaged") {
			s.Packaged, noted = kept, true
		}
		if yes("-state") {
			s.State = dir(rapid.SampledFrom([]string{"kept", "conf", "third"}).Draw(t, "state"), false)
		}
		if yes("environment") {
			s.Environment = dir(rapid.SampledFrom([]string{"kept", "conf", "fourth"}).Draw(t, "environment"), false)
		}
		p := s.Find()
		said := strings.Join(p.Said, "\n")
		switch {
		case s.State != "":
			require.Equal(t, s.State, p.Dir)
		case s.Environment != "":
			require.Equal(t, s.Environment, p.Dir)
		case noted && keptBegun:
			require.Equal(t, kept, p.Dir, "a command beside a daemon goes to its store")
			require.Contains(t, said, kept)
		default:
			require.Equal(t, beside, p.Dir)
			require.Empty(t, said)
		}
		if noted && keptBegun && p.Dir != kept {
			require.Contains(t, said, kept)
		} else if besideBegun && p.Dir != beside && p.Dir != kept {
			require.Contains(t, said, beside)
		}
		require.LessOrEqual(t, len(p.Said), 1)
	})
}
