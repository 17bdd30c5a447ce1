package app_test

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/models"
)

// A product in two zones is one message that names both. It is told again when
// it is extended, in time or to a zone, and as such; and once when it leaves the
// feed, which is no cancellation.
func TestAProductOfTwoZonesIsOneMessage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Date(2027, 1, 18, 15, 5, 0, 0, time.UTC)
		now := shiftedClock(began)
		onset := began.Add(20 * time.Hour).Truncate(time.Hour)
		coast := invented{now: now}
		coast.warned = func(at time.Time) (time.Time, time.Time, bool) {
			ends := onset.Add(12 * time.Hour)
			if at.Sub(began) > 2*time.Hour {
				ends = onset.Add(18 * time.Hour)
			}
			return onset, ends, at.Sub(began) < 4*time.Hour
		}
		coast.zones = func(at time.Time) []string {
			if at.Sub(began) > 3*time.Hour {
				return []string{"AMZ995", "AMZ996", "AMZ997"}
			}
			return []string{"AMZ996", "AMZ997"}
		}
		text := strings.Replace(daemonText, "zones: [{id: AMZ997, for: trip}]", "zones: [{id: AMZ997, for: trip}, {id: AMZ996, for: trip}, {id: AMZ995, for: trip}]", 1)
		cfg, err := config.Load("forecastd.yaml", []byte(text))
		require.NoError(t, err)
		bag := &mailbag{now: now}
		d := start(t, serveOptions(t, cfg, now, coast, bag))
		defer halt(t, d)
		time.Sleep(5 * time.Hour)
		var said []string
		for _, m := range bag.of(models.NoticeAlert) {
			said = append(said, m.Subject)
		}
		require.Len(t, said, 4, "%q", said)
		for i, want := range []struct{ what, zones string }{
			{"issued", "(AMZ996; AMZ997)"}, {"extended", "(AMZ996; AMZ997)"}, {"extended", "(AMZ995; AMZ996; AMZ997)"}, {"no longer listed", "(AMZ995; AMZ996; AMZ997)"},
		} {
			require.Contains(t, said[i], want.what)
			require.Contains(t, said[i], want.zones)
		}
	})
}
