package store_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/store"
)

// What is answered as kept is on the disk: the writer's commits wait for it, so
// that an approval, an override, a booking and "sent" outlive a power cut. In
// WAL mode that is synchronous=FULL, which is 2 (sqlite.org/pragma.html).
func TestWhatIsKeptIsOnTheDisk(t *testing.T) {
	s := open(t)
	got, err := s.StringsOfTheWriter(t.Context(), "PRAGMA synchronous")
	require.NoError(t, err)
	require.Equal(t, []string{"2"}, got)
}

// One word of the captain's is one commit.
func BenchmarkOneCommit(b *testing.B) {
	s := open(b)
	at := evening()
	for b.Loop() {
		at = at.Add(time.Second)
		_, err := s.AddReport(b.Context(), store.Report{Port: "Port A", Seen: at, Until: at.Add(time.Hour), By: "test", BaitShowering: models.Known(true)})
		require.NoError(b, err)
	}
}
