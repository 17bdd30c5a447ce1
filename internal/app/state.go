package app

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/scoring"
	"forecastd/internal/store"
)

// OpenStore opens the store in a state folder. Where there is none it is made,
// unless onlyOld asks for one that is there already: then nil is answered
// without an error.
func OpenStore(ctx context.Context, dir string, onlyOld bool, now func() time.Time, log *slog.Logger) (*store.Store, error) {
	path := filepath.Join(dir, store.FileName)
	if onlyOld {
		if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
			return nil, nil
		}
	}
	return store.Open(ctx, store.Options{Path: path, Now: now, Logger: log})
}

// HasChecksum tells whether a checksum lies beside a backup.
func HasChecksum(backup string) bool { return store.HasSum(backup) }

// RestoreStore puts a backup in the place of the store in a state folder,
// which nobody may have open. It answers where the old file was put aside;
// empty where there was none.
func RestoreStore(ctx context.Context, backup, dir string, now func() time.Time) (aside string, err error) {
	if backup, err = filepath.Abs(backup); err != nil {
		return "", err
	}
	lock, err := store.LockDir(dir, "restore", now)
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, lock.Release()) }()
	return store.Restore(ctx, backup, store.Options{Path: filepath.Join(dir, store.FileName), Now: now})
}

// Backup writes a copy of the store to a new file.
func (a *App) Backup(ctx context.Context, file string) error {
	st, err := a.needStore()
	if err != nil {
		return err
	}
	if file, err = filepath.Abs(file); err != nil {
		return err
	}
	return st.Backup(ctx, file)
}

// StorePath tells where the store is; empty where there is none.
func (a *App) StorePath() string {
	if a.store == nil {
		return ""
	}
	return a.store.Path()
}

// remembered is what the store knows that bears on the calls of a port.
type remembered struct {
	// reports and overrides by the day called.
	reports   func(models.Date) models.Reports
	overrides func(models.Date, models.Trip) []models.Override
	// bookings are in order of time; those called off are not among them.
	bookings []Booked
	// taken are days that are kept for what is no booking that could be read;
	// unplaced tells that any other day may be, too.
	taken    map[models.Date]bool
	unplaced bool
	pen      models.Opt[models.Pen]
	learned  Learned
	gaps     []models.Gap
}

// remember asks the store, and the places that bookings come from. What can't
// be had is a gap, never an error: a call is made without it.
func (a *App) remember(ctx context.Context, port config.Port, ground config.Ground) remembered {
	today := models.DateOf(a.now(), port.Zone)
	r := remembered{
		reports:   func(models.Date) models.Reports { return models.Reports{} },
		overrides: func(models.Date, models.Trip) []models.Override { return nil },
	}
	held, misfits := a.bookings(ctx, port, today, today.AddDays(farthest))
	for _, b := range held {
		if !b.Cancelled {
			r.bookings = append(r.bookings, b)
		}
	}
	r.taken = map[models.Date]bool{}
	for _, m := range misfits {
		if d, ok := m.day.Get(); ok {
			r.taken[d] = true
		}
		r.unplaced = r.unplaced || m.unplaced
	}
	for _, p := range forKeeping(misfits) {
		r.gap("bookings", p)
	}
	r.pen = a.configuredPen(port)
	if a.storeFault != nil {
		r.gap("what was reported, counted and overridden", "the store can't be used: "+a.storeFault.Error())
	}
	if a.store == nil {
		return r
	}
	if pen, err := a.store.Pen(ctx, port.Name, a.now()); err != nil {
		r.gap("the bait count", err.Error())
	} else if p, ok := pen.Get(); ok && p.Counted.After(r.pen.Or(models.Pen{}).Counted) {
		r.pen = pen
	}
	if err := a.recallReports(ctx, port, today, &r); err != nil {
		r.gap("the captain's reports", err.Error())
	}
	if err := a.recallOverrides(ctx, port, today, &r); err != nil {
		r.gap("the captain's overrides", err.Error())
	}
	var err error
	if r.learned, err = a.learnedFor(ctx, port, ground); err != nil {
		r.gap("what was learned from the stations", err.Error())
	}
	return r
}

func (r *remembered) gap(what, why string) {
	r.gaps = append(r.gaps, models.Gap{What: what, Why: why})
}

// recallReports reads what people have said, as it will stand on the evening
// before each day: what has aged out by then does not count for that day.
func (a *App) recallReports(ctx context.Context, port config.Port, today models.Date, r *remembered) error {
	now := a.now()
	by := map[models.Date]models.Reports{}
	for n := 0; n <= farthest; n++ {
		date, ahead := today.AddDays(n), max(n-1, 0)
		local := now.In(port.Zone)
		at := time.Date(local.Year(), local.Month(), local.Day()+ahead, local.Hour(), local.Minute(), local.Second(), 0, port.Zone)
		reports, _, err := a.store.ReportsAt(ctx, port.Name, at, today.AddDays(ahead))
		if err != nil {
			return err
		}
		reports.InletHazardFrom = models.Unknown[models.Clock]() // it is of one day
		by[date] = reports
	}
	// The last word on a day's inlet is the one that counts.
	said, err := a.store.Reports(ctx, port.Name, models.Interval{Start: now.AddDate(0, 0, -farthest-2), End: now.Add(time.Second)})
	if err != nil {
		return err
	}
	for _, s := range said {
		if !s.InletHazardFrom.Known() || !s.Until.After(now) {
			continue
		}
		date := models.DateOf(s.Until.Add(-time.Second), port.Zone)
		if reports, ok := by[date]; ok && !reports.InletHazardFrom.Known() {
			reports.InletHazardFrom = s.InletHazardFrom
			by[date] = reports
		}
	}
	r.reports = func(d models.Date) models.Reports { return by[d] }
	return nil
}

// recallOverrides reads the overrides that hold at any time of a day.
func (a *App) recallOverrides(ctx context.Context, port config.Port, today models.Date, r *remembered) error {
	span := models.Interval{Start: a.now(), End: today.AddDays(farthest + 1).Start(port.Zone)}
	list, err := a.store.Overrides(ctx, port.Name, span)
	if err != nil {
		return err
	}
	r.overrides = func(d models.Date, trip models.Trip) []models.Override {
		var out []models.Override
		// A trip is called as a whole, so an override must hold for what is
		// left of it.
		start, end := trip.Start.On(d, port.Zone), trip.End.On(d, port.Zone)
		for _, o := range list {
			if !o.From.After(laterOf(start, span.Start)) && !o.Until.Before(end) {
				out = append(out, o.Override)
			}
		}
		return out
	}
	return nil
}

func laterOf(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// on are the bookings of a day.
func (r remembered) on(d models.Date) []Booked {
	var out []Booked
	for _, b := range r.bookings {
		if b.Date == d {
			out = append(out, b)
		}
	}
	return out
}

// bookedOn are the bookings of a day as the judgement knows them.
func (r remembered) bookedOn(d models.Date) []models.Booking {
	var out []models.Booking
	for _, b := range r.on(d) {
		out = append(out, b.Booking)
	}
	return out
}

// free tells whether a day can be offered; unknown where a booking could not
// be read that may be for it.
func (r remembered) free(d models.Date) models.Opt[bool] {
	switch {
	case len(r.on(d)) > 0 || r.taken[d]:
		return models.Known(false)
	case r.unplaced:
		return models.Unknown[bool]()
	}
	return models.Known(true)
}

// before returns where a trip stands as people were last told, and the results
// of the runs before, oldest first. Calls made by hand count only where the
// daemon has made none: nobody else was told of them.
func (a *App) before(ctx context.Context, t slot) (told models.Opt[models.Standing], runs []models.Standing, err error) {
	if a.store == nil {
		return told, nil, nil
	}
	const most = 400
	calls, err := a.store.Calls(ctx, t.port, t.date, most)
	if err != nil {
		return told, nil, err
	}
	calls = slices.DeleteFunc(calls, func(c store.Call) bool { return c.Ground != t.ground || c.Standing.Made.After(a.now()) })
	slices.Reverse(calls)
	calls = t.own(calls)
	byHand := calls
	calls = slices.DeleteFunc(slices.Clone(calls), func(c store.Call) bool { return c.Asked })
	if len(calls) == 0 && len(byHand) > 0 {
		last := byHand[len(byHand)-1].Standing
		return models.Known(last), []models.Standing{last}, nil
	}
	last := models.Unknown[models.Standing]()
	for _, c := range calls {
		told = models.Known(scoring.Settle(c.Standing, told, last).Told)
		last = models.Known(c.Standing)
		runs = append(runs, c.Standing)
	}
	return told, runs, nil
}

// slot is a trip's place among the calls that are kept.
type slot struct {
	port, ground string
	date         models.Date
	// mark is the trip's own, empty where nothing is booked; booked are the
	// marks of all trips of the day, in order of time.
	mark   string
	booked []string
}

// own keeps, of the calls of a day, those for the trip. What was called before
// it was booked (the day without a booking, or a trip since called off) goes
// on in the day's first trip, so that people are told what turned.
func (t slot) own(calls []store.Call) []store.Call {
	var own, before []store.Call
	for _, c := range calls {
		switch {
		case c.Booking == t.mark:
			own = append(own, c)
		case len(own) == 0 && !slices.Contains(t.booked, c.Booking):
			before = append(before, c)
		}
	}
	if len(before) == 0 || len(t.booked) > 0 && t.booked[0] != t.mark {
		return own
	}
	newest := before[len(before)-1].Booking
	before = slices.DeleteFunc(before, func(c store.Call) bool { return c.Booking != newest })
	if len(own) > 0 {
		first := own[0].Standing.Made
		before = slices.DeleteFunc(before, func(c store.Call) bool { return !c.Standing.Made.Before(first) })
	}
	return append(before, own...)
}

// Keep keeps a call with what it was made from: the series and reports that
// were fetched, and the call with its outlook. asked tells that somebody made
// it by hand, so that nobody else was told. Without a store it does nothing.
// It answers the number of the call.
func (a *App) Keep(ctx context.Context, c Called, asked bool) (int64, error) {
	if a.store == nil {
		return 0, nil
	}
	port := c.Call.Port.Name
	var errs []error
	for _, s := range c.fetched.Series {
		_, err := a.store.AddSeries(ctx, port, s)
		errs = append(errs, err)
	}
	_, err := a.store.AddObservations(ctx, c.fetched.Observations)
	errs = append(errs, err)
	doc, err := c.JSON(false)
	if err != nil {
		return 0, errors.Join(append(errs, err)...)
	}
	from, err := c.OutlookFile()
	if err != nil {
		return 0, errors.Join(append(errs, err)...)
	}
	id, err := a.store.AddCall(ctx, store.Call{
		Port: port, Ground: c.Call.Ground.Name, Booking: c.slot.mark, Confidence: c.Call.Confidence, Agreement: c.Call.Agreement,
		Standing: scoring.StandingOf(c.Call), Asked: asked, Document: doc, Outlook: from,
	})
	return id, errors.Join(append(errs, err)...)
}

// needStore answers the store, or what to do to have one.
func (a *App) needStore() (*store.Store, error) {
	switch {
	case a.storeFault != nil:
		return nil, a.storeFault
	case a.store == nil:
		return nil, errors.New("there is no store: name its folder with -state DIR")
	}
	return a.store, nil
}
