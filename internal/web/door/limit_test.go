package door_test

import (
	"context"
	"encoding/binary"
	"net/netip"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/web/door"
)

// hashing is how long a hash takes in these tests: argon2id under the second
// recommended option of RFC 9106 takes about as long on a small computer.
const hashing = 150 * time.Millisecond

// address is the n-th of many, each in a network of its own.
func address(n int) netip.Addr {
	var b [4]byte
	binary.BigEndian.PutUint32(b[:], uint32(n)*2654435761) // spread over all networks
	return netip.AddrFrom4(b)
}

// attack is attackers who guess as fast as they are answered.
type attack struct {
	gate    door.Gate
	stop    context.CancelFunc
	all     sync.WaitGroup
	guesses atomic.Int64
	inside  atomic.Int64
	most    atomic.Int64
}

// guess gives a passphrase once.
func (a *attack) guess(ctx context.Context, device string, from netip.Addr, right bool) bool {
	leave, err := a.gate.Enter(ctx, device, from)
	if err != nil {
		return false
	}
	a.most.Store(max(a.most.Load(), a.inside.Add(1)))
	time.Sleep(hashing)
	a.inside.Add(-1)
	leave(right)
	return true
}

// attacked starts attackers, the n-th from an address of his own.
func attacked(t *testing.T, attackers int, from func(n, round int) netip.Addr) *attack {
	t.Helper()
	ctx, stop := context.WithCancel(t.Context())
	a := &attack{gate: door.NewGate(), stop: stop}
	for n := range attackers {
		a.all.Go(func() {
			for round := 0; ctx.Err() == nil; round++ {
				if a.guess(ctx, "", from(n, round), false) {
					a.guesses.Add(1)
				} else {
					time.Sleep(250 * time.Millisecond) // the next request
				}
			}
		})
	}
	return a
}

func (a *attack) end() {
	a.stop()
	a.all.Wait()
}

// login is the captain's try and tries again as told, and how long it took.
func (a *attack) login(t *testing.T, device string, from netip.Addr) time.Duration {
	t.Helper()
	began := time.Now()
	for !a.guess(t.Context(), device, from, true) {
		time.Sleep(time.Second)
		require.Less(t, time.Since(began), time.Hour, "locked out")
	}
	return time.Since(began)
}

// Whatever others guess, and from wherever, the captain gets in: on a device
// that was logged in before at once, on another one in a time that is bounded.
func TestNobodyLocksOutWhoKnowsThePassphrase(t *testing.T) {
	home := netip.MustParseAddr("203.0.113.7")
	proxy := netip.MustParseAddr("172.18.0.2")
	for _, c := range []struct {
		name      string
		attackers int
		from      func(n, round int) netip.Addr
		captain   netip.Addr
		// stranger is the longest that the captain may wait on a device that
		// is not known; 0 where that can't be told.
		stranger time.Duration
	}{
		{"one attacker", 1, func(int, int) netip.Addr { return address(0) }, home, 2 * hashing},
		{"a thousand addresses", 1000, func(n, _ int) netip.Addr { return address(n) }, home, 1001*hashing + time.Second},
		{"hundreds of addresses, later", 400, func(n, _ int) netip.Addr { return address(n) }, home, 2 * hashing},
		{"a network of IPv6, an address a guess", 100, func(n, round int) netip.Addr {
			b := [16]byte{0x20, 1, 0xd, 0xb8, 0, 1}
			binary.BigEndian.PutUint16(b[6:], uint16(100*round+n))
			return netip.AddrFrom16(b)
		}, home, 32 * hashing},
		{"two hundred with an address a guess", 200, func(n, round int) netip.Addr { return address(200*round + n) }, home, 202 * hashing},
		{"some behind the captain's own proxy", 30, func(int, int) netip.Addr { return proxy }, proxy, 33 * time.Second},
		{"hundreds behind the captain's own proxy", 300, func(int, int) netip.Addr { return proxy }, proxy, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				a := attacked(t, c.attackers, c.from)
				defer a.end()
				if c.name == "hundreds of addresses, later" {
					time.Sleep(2 * time.Minute)
				} else {
					time.Sleep(time.Second)
				}
				require.LessOrEqual(t, a.login(t, "the captain's phone", c.captain), 2*hashing, "a device that was logged in before")
				if c.stranger > 0 {
					require.LessOrEqual(t, a.login(t, "", c.captain), c.stranger, "a new device")
				}
				require.Equal(t, int64(1), a.most.Load(), "one hash at a time")
			})
		})
	}
}

// Attackers get few guesses: as many as there are addresses, a few times over,
// and beyond that one a second of all together.
func TestGuessesAreFew(t *testing.T) {
	for name, c := range map[string]struct {
		attackers int
		from      func(n, round int) netip.Addr
		most      int64 // in a quarter of an hour
	}{
		"one address":      {20, func(int, int) netip.Addr { return address(1) }, 900 + 5 + 2},
		"a network of 256": {64, func(n, round int) netip.Addr { return netip.AddrFrom4([4]byte{192, 0, 2, byte(4*n + round%4)}) }, 900 + 30 + 15},
		"a line of IPv6 addresses": {50, func(n, round int) netip.Addr {
			return netip.AddrFrom16([16]byte{0x20, 1, 0xd, 0xb8, 14: byte(round), 15: byte(n)})
		}, 900 + 5 + 2},
		"fifty networks": {50, func(n, _ int) netip.Addr { return address(n) }, 900 + 50*(3+2)},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				a := attacked(t, c.attackers, c.from)
				time.Sleep(15 * time.Minute)
				a.end()
				require.LessOrEqual(t, a.guesses.Load(), c.most)
				require.Greater(t, a.guesses.Load(), int64(500), "they are slowed, not stopped: nothing here tells them from the captain")
			})
		})
	}
}

// A device that guesses wrong itself counts as a stranger after some.
func TestADevicesOwnMistakes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := attacked(t, 30, func(int, int) netip.Addr { return address(1) })
		defer a.end()
		time.Sleep(time.Minute)
		for range 10 {
			began := time.Now()
			require.True(t, a.guess(t.Context(), "a stolen phone", address(1), false))
			require.LessOrEqual(t, time.Since(began), 2*hashing)
		}
		began := time.Now()
		a.guess(t.Context(), "a stolen phone", address(1), false)
		require.Greater(t, time.Since(began), 5*time.Second, "it stands behind the others of its address now")
		time.Sleep(10 * time.Minute)
		require.LessOrEqual(t, a.login(t, "a stolen phone", address(1)), 2*hashing, "and is forgiven with time")
	})
}

func TestMistakesAreForgiven(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		a := &attack{gate: door.NewGate()}
		took := func() time.Duration {
			began := time.Now()
			require.True(t, a.guess(t.Context(), "", address(1), false))
			return time.Since(began)
		}
		for range 4 {
			require.Equal(t, hashing, took(), "a captain who mistypes does not wait")
		}
		require.Equal(t, door.Pace, took()) // from the one before it on
		require.Equal(t, door.Pace, took())
		time.Sleep(time.Hour)
		for range 3 {
			require.Equal(t, hashing, took())
		}
		// The right words leave no debt.
		time.Sleep(time.Hour)
		for range 10 {
			require.Equal(t, hashing, a.login(t, "", address(1)))
		}
	})
}

func TestTheGatesMemoryIsBounded(t *testing.T) {
	g := door.NewGate()
	for n := range 2 * door.MostDebts {
		leave, err := g.Enter(t.Context(), "", address(n))
		require.NoError(t, err)
		leave(false)
	}
	require.LessOrEqual(t, g.Remembered(), door.MostDebts)
}

// Whoever comes, goes, gives up and guesses, in whatever order: one is inside
// at most, few wait, and once all have left the next one is let in at once.
func TestTheGateIsNeverStuck(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		type visit struct {
			device         string
			address        int
			comes, patient time.Duration
			right          bool
		}
		visits := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) visit {
			return visit{
				rapid.SampledFrom([]string{"", "", "a", "b"}).Draw(t, "device"), rapid.IntRange(0, 4).Draw(t, "address"),
				time.Duration(rapid.IntRange(0, 20_000).Draw(t, "comes")) * time.Millisecond,
				time.Duration(rapid.IntRange(0, 60_000).Draw(t, "patient")) * time.Millisecond, rapid.Bool().Draw(t, "right"),
			}
		}), 1, 120).Draw(rt, "visits")
		synctest.Test(t, func(t *testing.T) {
			a := &attack{gate: door.NewGate()}
			for _, v := range visits {
				a.all.Go(func() {
					time.Sleep(v.comes)
					ctx, cancel := context.WithTimeout(t.Context(), v.patient)
					defer cancel()
					began := time.Now()
					a.guess(ctx, v.device, address(v.address), v.right)
					if waited := time.Since(began); waited > min(v.patient, door.LongestWait)+hashing {
						t.Errorf("waited %s", waited)
					}
					if n := a.gate.Waiting(); n > door.MostWaiting {
						t.Errorf("%d wait", n)
					}
				})
			}
			a.all.Wait()
			require.LessOrEqual(t, a.most.Load(), int64(1))
			require.Zero(t, a.gate.Waiting())
			began := time.Now()
			require.True(t, a.guess(t.Context(), "", netip.MustParseAddr("198.51.100.1"), true))
			require.Equal(t, hashing, time.Since(began))
		})
	})
}
