package tide_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func rows(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	require.NoError(t, err)
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(all), 100)
	return all[1:]
}

// Source: an independent library (testdata), January 2026 at Virginia Key,
// from the same constants. It takes node factors at each instant where the
// national tables take those of mid-year, and its own forms of some small
// constituents: some millimetres and a few minutes.
func TestAMonthOfAnIndependentLibrary(t *testing.T) {
	s := heights(t, "8723214")
	s.Mean = 0
	var worst, squares float64
	all := rows(t, "predictor-heights.csv")
	for _, r := range all {
		at, err := time.Parse(time.RFC3339, r[0])
		require.NoError(t, err)
		want, err := strconv.ParseFloat(r[1], 64)
		require.NoError(t, err)
		got, ok := s.HeightAt(at).Get()
		require.True(t, ok)
		d := got.Metres() - want
		worst = max(worst, math.Abs(d))
		squares += d * d
	}
	rms := math.Sqrt(squares / float64(len(all)))
	t.Logf("heights: worst %.1f mm, rms %.1f mm", worst*1000, rms*1000)
	require.Less(t, worst, 0.008)
	require.Less(t, rms, 0.004)

	want := rows(t, "predictor-extremes.csv")
	got, err := s.Extremes(utc("2026-01-01 00:00"), utc("2026-02-01 00:00"))
	require.NoError(t, err)
	require.Len(t, got, len(want))
	var late time.Duration
	for i, r := range want {
		at, err := time.Parse(time.RFC3339, r[0])
		require.NoError(t, err)
		require.Equal(t, r[1], string(got[i].Kind))
		late = max(late, got[i].At.Sub(at).Abs())
	}
	t.Logf("times: worst %v", late)
	require.Less(t, late, 4*time.Minute)
}
