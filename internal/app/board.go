package app

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/scoring"
	"forecastd/internal/store"
	"forecastd/internal/web"
	"forecastd/internal/words"
)

// boards keep what the pages show, by port. A board is judged when somebody
// looks and the sources have answered since; until it is ready the one before
// is shown, with its age.
type boards struct {
	mu    sync.Mutex
	ports map[string]*posted
}

// posted is the board of a port.
type posted struct {
	board web.Board
	// from is what the sources answered last, by ground; asOf counts the
	// answers, and whatever else a board depends on.
	from map[string]gathered
	asOf int
	// made is the count that the board was made of; busy that one is being
	// made.
	made int
	busy bool
	// ready is closed when the first board is there, asked when the sources
	// have answered for the first time.
	ready, asked chan struct{}
}

func newBoards() *boards { return &boards{ports: map[string]*posted{}} }

func (b *boards) of(port string) *posted {
	p := b.ports[port]
	if p == nil {
		p = &posted{from: map[string]gathered{}, ready: make(chan struct{}), asked: make(chan struct{})}
		b.ports[port] = p
	}
	return p
}

// post keeps what the sources answered for a ground.
func (b *boards) post(g gathered) {
	b.mu.Lock()
	defer b.mu.Unlock()
	p := b.of(g.port.Name)
	if len(p.from) == 0 {
		close(p.asked)
	}
	p.from[g.ground.Name] = g
	p.asOf++
}

// changed tells that something else changed that a board depends on.
func (b *boards) changed(port string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.of(port).asOf++
}

// firstAnswer is how long the first visitors wait for the sources before they
// are shown what was kept.
const firstAnswer = 5 * time.Second

// board is what is shown of a port now.
func (e *engine) board(ctx context.Context, port config.Port) (web.Board, error) {
	b := e.boards
	b.mu.Lock()
	asked := b.of(port.Name).asked
	if b.of(port.Name).made > 0 {
		asked = nil
	}
	b.mu.Unlock()
	if asked != nil {
		wait := time.NewTimer(firstAnswer)
		defer wait.Stop()
		select {
		case <-asked:
		case <-wait.C:
		case <-ctx.Done():
			return web.Board{}, ctx.Err()
		}
	}
	b.mu.Lock()
	p := b.of(port.Name)
	first := p.made == 0
	if p.made != p.asOf || first {
		if !p.busy {
			p.busy = true
			// A visitor who leaves does not stop the work: others wait for it.
			e.sending.Go(func() { e.judgeBoard(port) })
		}
	}
	ready, board := p.ready, p.board
	b.mu.Unlock()
	if !first {
		return board, nil
	}
	select {
	case <-ready:
	case <-ctx.Done():
		return web.Board{}, ctx.Err()
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	return p.board, nil
}

// judgeBoard makes the board of a port anew.
func (e *engine) judgeBoard(port config.Port) {
	b := e.boards
	b.mu.Lock()
	p := b.of(port.Name)
	asOf := max(p.asOf, 1)
	p.asOf = asOf
	from := map[string]gathered{}
	for k, g := range p.from {
		from[k] = g
	}
	b.mu.Unlock()
	ctx, cancel := context.WithTimeout(e.living, time.Minute)
	defer cancel()
	board := e.app.lookAhead(ctx, port, from)
	board.Version = fmt.Sprintf("%d.%d", e.d.started.Unix(), asOf)
	b.mu.Lock()
	defer b.mu.Unlock()
	p.board, p.busy = board, false
	if p.made == 0 {
		close(p.ready)
	}
	p.made = asOf
}

// lookAhead judges the days ahead from what the sources answered, or where
// they did not yet, shows what was called and kept before. A day whose boat
// has left is shown as it was called: it can't be called again.
func (a *App) lookAhead(ctx context.Context, port config.Port, from map[string]gathered) web.Board {
	now := a.now()
	today := models.DateOf(now, port.Zone)
	board := web.Board{Port: port.Port, Demo: a.demo, Language: string(a.cfg.Language), Units: string(a.cfg.Units)}
	for _, g := range port.Grounds {
		board.Grounds = append(board.Grounds, g.Ground)
	}
	if !a.demo {
		board.Official = "https://www.weather.gov/marine/"
	}
	short := map[string][]models.DayOutlook{}
	for name, g := range from {
		_, ground, err := a.place(port.Name, name)
		if err != nil {
			delete(from, name) // the configuration no longer has it
			continue
		}
		g.port, g.ground = port, ground
		g.mem = a.remember(ctx, port, ground)
		from[name] = g
		short[name] = a.shortDays(g, 0)
	}
	for n := 0; n <= farthest; n++ {
		day, err := a.boardDay(ctx, port, today.AddDays(n), from, short)
		if err != nil {
			a.log.WarnContext(ctx, "a day could not be judged for the pages", "port", port.Name, "date", today.AddDays(n).String(), "error", err)
			continue
		}
		if len(day.Trips) == 0 || n == 0 && allBack(day, now, port.Zone) {
			continue
		}
		board.Days = append(board.Days, day)
	}
	board.Next = today.AddDays(1)
	if len(board.Days) > 0 && board.Days[0].Date == today {
		board.Next = today
	}
	for _, g := range from {
		board.EdgeDepth = g.mem.reports(board.Next).EdgeDepth // of the port: the same for each ground
	}
	for _, d := range board.Days {
		for _, t := range d.Trips {
			if t.Call.Made.After(board.Made) {
				board.Made = t.Call.Made
			}
		}
	}
	return board
}

// boardDay is a day of the board.
func (a *App) boardDay(ctx context.Context, port config.Port, date models.Date, from map[string]gathered, short map[string][]models.DayOutlook) (web.Day, error) {
	day := web.Day{Date: date}
	trips, err := a.tripsOn(ctx, port, "", date)
	if err != nil {
		return day, err
	}
	var list []ready
	for _, t := range trips {
		kept, err := a.keptCall(ctx, t)
		if err != nil {
			return day, err
		}
		k, ok := kept.Get()
		g, asked := from[t.ground.Name]
		if ok && (!asked || !a.now().Before(k.Call.Leave.Or(a.now().Add(1)))) {
			day.Trips = append(day.Trips, k) // it has left, or nobody answered since
			continue
		}
		if !asked {
			// A day further on may go to a ground that is not asked about yet:
			// another of the port tells more than nothing, under its own name.
			i := slices.IndexFunc(port.Grounds, func(o config.Ground) bool { _, ok := from[o.Name]; return ok })
			if i < 0 {
				continue
			}
			t.ground = port.Grounds[i]
			t.slot.ground, g = t.ground.Name, from[t.ground.Name]
		}
		r := ready{dayTrip: t, g: g, days: short[t.ground.Name], outlook: a.outlook(g, date, t.trip)}
		if r.told, r.runs, err = a.before(ctx, t.slot); err != nil {
			return day, err
		}
		list = append(list, r)
	}
	for i, c := range a.judgeReady(list) {
		if c.Fault == nil {
			day.Trips = append(day.Trips, web.TripCall{Call: c.Call, Guests: guestsOf(c.Booking)})
			continue
		}
		kept, err := a.keptCall(ctx, list[i].dayTrip)
		if err != nil {
			return day, err
		}
		if k, ok := kept.Get(); ok {
			day.Trips = append(day.Trips, k)
		}
	}
	slices.SortStableFunc(day.Trips, func(x, y web.TripCall) int {
		return x.Call.Trip.Start.On(date, port.Zone).Compare(y.Call.Trip.Start.On(date, port.Zone))
	})
	if len(day.Trips) == 0 {
		return day, nil
	}
	day.Short = models.DayOutlook{Date: date, Tactic: day.Trips[0].Call.Tactic, Timing: day.Trips[0].Call.Timing, Confidence: day.Trips[0].Call.Confidence, Agreement: day.Trips[0].Call.Agreement}
	if i := slices.IndexFunc(short[day.Trips[0].Call.Ground.Name], func(d models.DayOutlook) bool { return d.Date == date }); i >= 0 {
		day.Short = short[day.Trips[0].Call.Ground.Name][i]
	}
	return day, nil
}

func guestsOf(b models.Opt[Booked]) models.Opt[string] {
	return models.MapOpt(b, func(b Booked) string { return b.Name })
}

// keptCall is the newest call of a trip that was kept, judged again from what
// it was made from.
func (a *App) keptCall(ctx context.Context, t dayTrip) (models.Opt[web.TripCall], error) {
	none := models.Unknown[web.TripCall]()
	if a.store == nil {
		return none, nil
	}
	const most = 400
	calls, err := a.store.Calls(ctx, t.port.Name, t.slot.date, most)
	if err != nil {
		return none, err
	}
	slices.Reverse(calls)
	calls = t.slot.own(slices.DeleteFunc(calls, func(c store.Call) bool { return c.Ground != t.ground.Name || c.Standing.Made.After(a.now()) }))
	if len(calls) == 0 {
		return none, nil
	}
	last, err := a.store.Call(ctx, calls[len(calls)-1].ID)
	if err != nil || len(last.Outlook) == 0 {
		return none, err
	}
	o, err := words.ReadOutlook(last.Outlook)
	if err != nil {
		return none, fmt.Errorf("read the outlook of call %d: %w", last.ID, err)
	}
	c, err := judge(o, a.cfg.Limits, scoring.With{Unbooked: !t.booked.Known(), Booking: models.MapOpt(t.booked, func(b Booked) models.Booking { return b.Booking }), Pen: a.configuredPen(t.port), Gear: a.cfg.Gear})
	if err != nil {
		return none, err
	}
	return models.Known(web.TripCall{Call: c, Guests: guestsOf(t.booked)}), nil
}

// allBack tells whether a day is over for the boat: every trip is back, or
// stays in and should have begun.
func allBack(d web.Day, now time.Time, zone *time.Location) bool {
	return !slices.ContainsFunc(d.Trips, func(t web.TripCall) bool {
		return now.Before(t.Call.Back.Or(t.Call.Trip.Start.On(d.Date, zone)))
	})
}

// tripOf is the first trip of a day, for the days ahead in short.
func (a *App) tripOf(g gathered, date models.Date) models.Trip {
	if held := g.mem.on(date); len(held) > 0 {
		return held[0].Trip
	}
	return a.cfg.Charters.Usual
}
