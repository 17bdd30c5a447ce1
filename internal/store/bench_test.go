package store_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/store"
)

// A station's file repeats 45 days of reports at each poll.
func BenchmarkReadAStationAgain(b *testing.B) {
	s := open(b)
	var obs []models.Observation
	for i := range 6480 {
		obs = append(obs, observation(i))
	}
	_, err := s.AddObservations(b.Context(), obs)
	require.NoError(b, err)
	for b.Loop() {
		n, err := s.AddObservations(b.Context(), obs)
		require.NoError(b, err)
		require.Zero(b, n)
	}
}

func BenchmarkAddSeries(b *testing.B) {
	s := open(b)
	run := evening()
	for b.Loop() {
		run = run.Add(time.Hour)
		_, err := s.AddSeries(b.Context(), "Port A", series(run, 156))
		require.NoError(b, err)
	}
}

// Sixty days of hourly runs against a station.
func BenchmarkPairs(b *testing.B) {
	s := open(b)
	start := evening()
	var obs []models.Observation
	for i := range 62 * 144 {
		obs = append(obs, observation(i))
	}
	_, err := s.AddObservations(b.Context(), obs)
	require.NoError(b, err)
	for h := range 60 * 24 {
		f := series(start.Add(time.Duration(h)*time.Hour), 48)
		_, err := s.AddSeries(b.Context(), "Port A", f)
		require.NoError(b, err)
	}
	size, err := s.Size(b.Context())
	require.NoError(b, err)
	b.ReportMetric(float64(size)/1e6, "MB")
	for b.Loop() {
		n := 0
		for _, err := range s.Pairs(b.Context(), store.PairQuery{Port: "Port A", Ground: "the edge", Station: "XAMP1", Span: always()}) {
			require.NoError(b, err)
			n++
		}
		require.Greater(b, n, 60000, fmt.Sprint(n))
	}
}
