package app_test

import (
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
)

// handClock is a clock that a test moves.
type handClock struct {
	mu sync.Mutex
	at time.Time
}

func (c *handClock) now() time.Time { c.mu.Lock(); defer c.mu.Unlock(); return c.at }
func (c *handClock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

func (o *postOffice) to(address string) (subjects []string) {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, p := range o.got {
		if p.to == address {
			subjects = append(subjects, p.subject)
		}
	}
	return subjects
}

func (o *postOffice) triedFor(address string) int {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.tried[address]
}

// refusing is a daemon under a small craft advisory whose mail server takes
// nothing for the captain, with people as given.
func refusing(t *testing.T, people string, refuses ...string) (*app.Daemon, *postOffice, *handClock) {
	t.Helper()
	office := &postOffice{refuses: map[string]bool{}, tried: map[string]int{}}
	for _, a := range refuses {
		office.refuses[a] = true
	}
	port := office.open(t)
	head, _, _ := strings.Cut(daemonText, "people:\n")
	cfg, err := config.Load("forecastd.yaml", []byte(head+"people:\n"+people+
		"sources:\n  contact: captain@example.com\n  coastal_text: {use: no}\n  coops: {use: no}\n  gridded: {use: no}\n"+
		"mail: {host: 127.0.0.1, port: "+port+", encryption: none, from: Second Light <boat@example.com>}\n"))
	require.NoError(t, err)
	c := &handClock{at: time.Date(2027, 1, 18, 15, 5, 0, 0, time.UTC)}
	onset := c.at.Add(20 * time.Hour).Truncate(time.Hour)
	coast := invented{now: c.now, warned: func(time.Time) (time.Time, time.Time, bool) { return onset, onset.Add(12 * time.Hour), true }}
	o := serveOptions(t, cfg, c.now, coast, nil)
	o.Channels = nil
	return start(t, o), office, c
}

func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	require.Eventually(t, ok, 20*time.Second, 20*time.Millisecond, what)
}

// A refused alert is not told: it is tried anew while the product stands,
// somebody else is asked to pass it on, and /readyz says it. When the server
// takes it, all that is over.
func TestARefusedAlertIsNotTold(t *testing.T) {
	d, office, c := refusing(t, "  - {name: Ana, role: captain, address: ana@example.com}\n  - {name: Ben, role: mate, address: ben@example.com, what: [morning]}\n", "ana@example.com")
	defer halt(t, d)
	eventually(t, "she is tried", func() bool { return office.triedFor("ana@example.com") > 0 })
	// Others are asked by the round after the refusal, whichever comes first.
	eventually(t, "the mate is asked to pass it on", func() bool {
		_ = d.RunNow(t.Context(), "collect Port Amparo") // one may be under way
		return len(office.to("ben@example.com")) > 0
	})
	require.Contains(t, office.to("ben@example.com")[0], "Tell Ana: SMALL CRAFT ADVISORY issued")
	require.Empty(t, office.to("ana@example.com"))
	_, body := ask(t, d, "/readyz")
	require.Contains(t, body, "a message (alerts) did not reach Ana")
	_, body = ask(t, d, "/sources")
	require.Contains(t, body, "1 messages reached nobody")

	tried := office.triedFor("ana@example.com")
	c.pass(16 * time.Minute)
	require.NoError(t, d.RunNow(t.Context(), "collect Port Amparo"))
	eventually(t, "it is tried anew", func() bool { return office.triedFor("ana@example.com") > tried })
	require.Len(t, office.to("ben@example.com"), 1, "he knows")

	office.mu.Lock()
	office.refuses["ana@example.com"] = false
	office.mu.Unlock()
	c.pass(16 * time.Minute)
	require.NoError(t, d.RunNow(t.Context(), "collect Port Amparo"))
	eventually(t, "she is told", func() bool { return len(office.to("ana@example.com")) == 1 })
	eventually(t, "and all is well", func() bool { code, _ := ask(t, d, "/readyz"); return code == 200 })
}

// The second way comes before another person, and where all ways of the mate
// fail too the owner is asked.
func TestARefusedAlertGoesOn(t *testing.T) {
	t.Run("the second way", func(t *testing.T) {
		d, office, _ := refusing(t, "  - {name: Ana, role: captain, address: ana@example.com, second: ana@example.net}\n  - {name: Ben, role: mate, address: ben@example.com, what: [morning]}\n", "ana@example.com")
		defer halt(t, d)
		eventually(t, "she is told the other way", func() bool { return len(office.to("ana@example.net")) > 0 })
		require.Empty(t, office.to("ben@example.com"))
		code, body := ask(t, d, "/readyz")
		require.Equal(t, 200, code, body)
	})
	t.Run("the third person", func(t *testing.T) {
		d, office, _ := refusing(t, "  - {name: Cal, role: owner, address: cal@example.com, what: [morning]}\n  - {name: Ana, role: captain, address: ana@example.com}\n  - {name: Ben, role: mate, address: ben@example.com, what: [morning]}\n",
			"ana@example.com", "ben@example.com")
		defer halt(t, d)
		eventually(t, "the owner is asked", func() bool {
			_ = d.RunNow(t.Context(), "collect Port Amparo") // one may be under way
			return len(office.to("cal@example.com")) > 0
		})
		require.Contains(t, office.to("cal@example.com")[0], "Tell Ana: ")
		require.Positive(t, office.triedFor("ben@example.com"), "the mate was asked first")
	})
}
