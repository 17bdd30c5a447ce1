package door

import (
	"cmp"
	"context"
	"maps"
	"net/netip"
	"slices"
	"sync"
	"time"
)

// Who gives a passphrase waits for his turn; nobody is refused for what others
// guessed. One hash is computed at a time. Devices that were logged in before
// come first; then strangers from networks that owe little; then the others,
// who are taken one a second. Each wrong try is owed by the address and by the
// networks around it, and is forgiven with time.
const (
	// deviceFree is how many wrong tries a device may owe before it counts as
	// a stranger, and deviceForgives how long each is remembered.
	deviceFree     = 10
	deviceForgives = 3 * time.Minute
	// pace is the time between two strangers who owe: 86,400 guesses a day,
	// of all who guess together, do not find four words in a lifetime.
	pace = time.Second
	// longestWait is how long one waits: a server before us or a browser would
	// give up not long after. mostWaiting of a class may wait at once, and of
	// those who owe as many as have their turn in that time.
	longestWait  = 45 * time.Second
	mostWaiting  = 256
	mostIndebted = int(longestWait/pace) - 5
	// mostDebts is how many networks and devices are remembered; those who
	// owe least are forgotten for new ones.
	mostDebts = 4096
	// mostOwed is how many times what is free can be owed.
	mostOwed = 10
)

// ring is a network around an address: how many of its bits count, how many
// wrong tries it may owe before it has to wait, and how fast they are forgiven.
type ring struct {
	bits4, bits6 int
	free         float64
	forgives     time.Duration // one try
}

// rings are those around every address: an address of IPv4 or the network that
// one line of IPv6 has, and two wider ones, for who has one address of a
// network may have many.
func rings() [3]ring {
	return [3]ring{
		{32, 64, 3, 10 * time.Minute},
		{24, 48, 30, time.Minute},
		{16, 32, 300, 6 * time.Second},
	}
}

// around is the ring's network of an address.
func (r ring) around(at netip.Addr) netip.Prefix {
	bits := r.bits4
	if at.Is6() {
		bits = r.bits6
	}
	p, err := at.Prefix(bits)
	if err != nil {
		return netip.Prefix{} // no address at all: they share one debt
	}
	return p
}

// debtor is who owes: a network, or a device.
type debtor struct {
	network netip.Prefix
	device  string
}

// debt is what was owed at an instant.
type debt struct {
	wrong    float64
	at       time.Time
	forgives time.Duration
}

// owed is what is owed now; nothing where there is no debt.
func (d debt) owed(now time.Time) float64 {
	if d.forgives == 0 {
		return 0
	}
	return max(0, d.wrong-float64(now.Sub(d.at))/float64(d.forgives))
}

// standing orders who waits: the least comes first.
type standing struct {
	class int
	owed  [3]float64
	seq   uint64
}

const (
	known = iota
	clean
	indebted
)

func (s standing) compare(o standing) int {
	return cmp.Or(cmp.Compare(s.class, o.class), slices.Compare(s.owed[:], o.owed[:]), cmp.Compare(s.seq, o.seq))
}

// charge is a debt as it stands with a try, and by how much that made it
// more.
type charge struct {
	who debtor
	debt
	by float64
}

// try is one passphrase given, on its way.
type try struct {
	standing
	charges []charge
	// turn is closed when it is this one's turn, out when it has to make room
	// for a better one.
	turn, out chan struct{}
}

// gate lets one try at a time through. Its clock is that of the machine's
// uptime: one that is set to another date neither locks nor opens anything.
type gate struct {
	mu      sync.Mutex
	debts   map[debtor]debt
	waiting []*try
	inside  *try
	seq     uint64
	// next is when the next stranger who owes may be taken, and alarm is set
	// to it.
	next  time.Time
	alarm *time.Timer
}

func newGate() *gate { return &gate{debts: map[debtor]debt{}} }

// crowd says that too many wait already.
type crowd struct{ wait time.Duration }

// Error tells so.
func (c *crowd) Error() string { return "too many wait to log in" }

// enter waits for a turn. Whoever has it calls leave with how the try came
// out. It fails where too many wait, where the wait is too long and where ctx
// ends.
func (g *gate) enter(ctx context.Context, device string, from netip.Addr) (leave func(right bool), err error) {
	t, ok := g.join(device, from)
	if !ok {
		return nil, &crowd{longestWait}
	}
	ctx, cancel := context.WithTimeout(ctx, longestWait)
	defer cancel()
	select {
	case <-t.turn:
		return func(right bool) { g.leave(t, !right) }, nil
	case <-t.out:
		return nil, &crowd{longestWait}
	case <-ctx.Done():
		g.leave(t, false)
		return nil, &crowd{pace}
	}
}

// join takes a place among those who wait. What is owed is charged before the
// try is made, so that many at once do not all pass for the first.
func (g *gate) join(device string, from netip.Addr) (*try, bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	now := time.Now()
	g.seq++
	t := &try{standing: standing{class: known, seq: g.seq}, turn: make(chan struct{}), out: make(chan struct{})}
	if device == "" || !t.owes(g, debtor{device: device}, deviceFree, deviceForgives, now) {
		t.charges, t.class = nil, clean
		for i, r := range rings() {
			if !t.owes(g, debtor{network: r.around(from)}, r.free, r.forgives, now) {
				t.class = indebted
			}
			t.owed[i] = t.charges[i].wrong
		}
	}
	if !g.room(t) {
		return nil, false
	}
	for _, c := range t.charges {
		if _, ok := g.debts[c.who]; !ok && len(g.debts) >= mostDebts {
			g.forget(now)
		}
		g.debts[c.who] = debt{g.debts[c.who].owed(now) + c.by, now, c.forgives}
	}
	g.waiting = append(g.waiting, t)
	g.admit()
	return t, true
}

// room makes room for a try among those of its class: the worst of them has to
// go, and that may be the try itself.
func (g *gate) room(t *try) bool {
	most := mostWaiting
	if t.class == indebted {
		most = mostIndebted
	}
	worst, waiting := t, 0
	for _, o := range g.waiting {
		if o.class != t.class {
			continue
		}
		if waiting++; o.compare(worst.standing) > 0 {
			worst = o
		}
	}
	switch {
	case waiting < most:
		return true
	case worst == t:
		return false
	}
	g.drop(worst)
	close(worst.out)
	return true
}

// owes notes what a debtor will owe with this try, and tells whether that is
// within what is free.
func (t *try) owes(g *gate, who debtor, free float64, forgives time.Duration, now time.Time) bool {
	before := g.debts[who].owed(now)
	owed := min(before+1, free*mostOwed)
	t.charges = append(t.charges, charge{who, debt{owed, now, forgives}, owed - before})
	return owed <= free
}

// refund takes back what was charged for a try that was right or never made.
func (g *gate) refund(t *try) {
	for _, c := range t.charges {
		if d, ok := g.debts[c.who]; ok {
			d.wrong -= c.by
			g.debts[c.who] = d
		}
	}
}

// forget drops the quarter that owes least.
func (g *gate) forget(now time.Time) {
	all := slices.SortedFunc(maps.Keys(g.debts), func(x, y debtor) int { return cmp.Compare(g.debts[x].owed(now), g.debts[y].owed(now)) })
	for _, who := range all[:max(1, len(all)/4)] {
		delete(g.debts, who)
	}
}

// drop takes a try out of those who wait, if it still does.
func (g *gate) drop(t *try) {
	if i := slices.Index(g.waiting, t); i >= 0 {
		g.waiting = slices.Delete(g.waiting, i, i+1)
		g.refund(t)
	}
}

// leave ends a try, whether it had its turn or not.
func (g *gate) leave(t *try, wrong bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.inside != t {
		g.drop(t)
		return
	}
	g.inside = nil
	if !wrong {
		g.refund(t)
	}
	g.admit()
}

// admit gives the turn to the best of those who wait.
func (g *gate) admit() {
	if g.inside != nil || len(g.waiting) == 0 {
		return
	}
	best := slices.MinFunc(g.waiting, func(x, y *try) int { return x.compare(y.standing) })
	if best.class == indebted {
		now := time.Now()
		if wait := g.next.Sub(now); wait > 0 {
			g.wake(wait)
			return
		}
		g.next = now.Add(pace)
	}
	g.waiting = slices.DeleteFunc(g.waiting, func(o *try) bool { return o == best })
	g.inside = best
	close(best.turn)
}

// wake looks again after a while.
func (g *gate) wake(after time.Duration) {
	if g.alarm != nil {
		g.alarm.Stop()
	}
	g.alarm = time.AfterFunc(after, func() {
		g.mu.Lock()
		defer g.mu.Unlock()
		g.admit()
	})
}
