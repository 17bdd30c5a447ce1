package web

import (
	"context"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

const (
	// A role can be tried twenty times at once and then ten times a minute,
	// from wherever: fast enough for a captain who is not alone in trying,
	// slow enough that four words are not found in a lifetime.
	roleBurst = 20
	roleEvery = 6 * time.Second
	// One address can be tried from five times at once and then twice a
	// minute. From the fourth wrong passphrase in a row on it waits besides,
	// longer each time, up to a quarter of an hour.
	addressBurst = 5
	addressEvery = 30 * time.Second
	freeMistakes = 3
	firstWait    = 5 * time.Second
	longestWait  = 15 * time.Minute
	// mostAddresses is how many are remembered; the one longest not heard of
	// is forgotten for a new one.
	mostAddresses = 2048
	// mostWaiting is how many logins may wait for the one hash that is
	// computed at a time, and hashWait how long.
	mostWaiting = 4
	hashWait    = 5 * time.Second
)

// gate bounds how often passphrases are tried.
type gate struct {
	mu    sync.Mutex
	roles map[Role]*rate.Limiter
	from  map[netip.Prefix]*visitor
	// turn lets one hash be computed at a time, so that guesses can't take
	// the memory; queue bounds who waits for it.
	turn, queue chan struct{}
}

// visitor is one address that passphrases were tried from.
type visitor struct {
	tries *rate.Limiter
	wrong int
	until time.Time
	last  time.Time
}

func newGate() *gate {
	return &gate{
		roles: map[Role]*rate.Limiter{}, from: map[netip.Prefix]*visitor{},
		turn: make(chan struct{}, 1), queue: make(chan struct{}, mostWaiting),
	}
}

// try asks whether a passphrase may be tried now; if not, it tells how long to
// wait.
func (g *gate) try(role Role, from netip.Prefix, now time.Time) (wait time.Duration) {
	g.mu.Lock()
	defer g.mu.Unlock()
	one := g.visitor(from, now)
	if wait := one.until.Sub(now); wait > 0 {
		return wait
	}
	if wait := take(one.tries, now); wait > 0 {
		return wait
	}
	all := g.roles[role]
	if all == nil {
		all = rate.NewLimiter(rate.Every(roleEvery), roleBurst)
		g.roles[role] = all
	}
	return take(all, now)
}

// take takes a token, or tells when there is one.
func take(l *rate.Limiter, now time.Time) time.Duration {
	r := l.ReserveN(now, 1)
	wait := r.DelayFrom(now)
	if wait > 0 {
		r.CancelAt(now)
	}
	return wait
}

// visitor finds an address, or remembers it.
func (g *gate) visitor(from netip.Prefix, now time.Time) *visitor {
	one := g.from[from]
	if one == nil {
		if len(g.from) >= mostAddresses {
			g.forget()
		}
		one = &visitor{tries: rate.NewLimiter(rate.Every(addressEvery), addressBurst)}
		g.from[from] = one
	}
	one.last = now
	return one
}

// forget drops the address longest not heard of.
func (g *gate) forget() {
	var oldest netip.Prefix
	var at time.Time
	for p, one := range g.from {
		if at.IsZero() || one.last.Before(at) {
			oldest, at = p, one.last
		}
	}
	delete(g.from, oldest)
}

// tried notes how a try came out.
func (g *gate) tried(from netip.Prefix, right bool, now time.Time) {
	g.mu.Lock()
	defer g.mu.Unlock()
	one := g.visitor(from, now)
	if right {
		one.wrong, one.until = 0, time.Time{}
		return
	}
	one.wrong++
	if over := one.wrong - freeMistakes; over > 0 {
		wait := longestWait
		if over < 10 {
			wait = min(firstWait<<(over-1), longestWait)
		}
		one.until = now.Add(wait)
	}
}

// match computes a hash when it is this visitor's turn; busy tells that too
// many wait already.
func (g *gate) match(ctx context.Context, h phc, passphrase string) (right, busy bool) {
	select {
	case g.queue <- struct{}{}:
		defer func() { <-g.queue }()
	default:
		return false, true
	}
	ctx, cancel := context.WithTimeout(ctx, hashWait)
	defer cancel()
	select {
	case g.turn <- struct{}{}:
		defer func() { <-g.turn }()
	case <-ctx.Done():
		return false, true
	}
	return h.match(passphrase), false
}

// addressOf is where a request came from, as far as a visitor can't make it
// up: an address, or a network of 64 bits, for whoever has one of its
// addresses has all. A server before us on the same computer writes down at
// the end of X-Forwarded-For whom it answers.
func addressOf(r *http.Request) netip.Prefix {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		host = r.RemoteAddr
	}
	at, err := netip.ParseAddr(host)
	if err != nil {
		return netip.Prefix{}
	}
	if at.IsLoopback() {
		list := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
		if told, err := netip.ParseAddr(strings.TrimSpace(list[len(list)-1])); err == nil {
			at = told
		}
	}
	at = at.Unmap().WithZone("")
	bits := 32
	if at.Is6() {
		bits = 64
	}
	p, err := at.Prefix(bits)
	if err != nil {
		return netip.Prefix{}
	}
	return p
}
