package store

import (
	"context"
	"database/sql"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// stock is a models.BaitStock as kept.
type stock struct {
	Kind   string                  `json:"kind"`
	Count  int                     `json:"count"`
	Source models.BaitSource       `json:"source"`
	Caught models.Opt[models.Date] `json:"caught"`
	// Counted is unknown in counts of before each lot had its own.
	Counted models.Opt[time.Time] `json:"counted"`
}

// AddBaitCount keeps a count of a port's whole pen. A count of the same
// second takes the place of the one before.
func (s *Store) AddBaitCount(ctx context.Context, port string, pen models.Pen) error {
	lots := []stock{}
	for _, l := range pen.Stock {
		lots = append(lots, stock(l))
	}
	held, err := document(lots)
	if err != nil {
		return fault("keep a bait count", err)
	}
	return s.change(ctx, "keep a bait count", `INSERT INTO bait_counts (port, counted_at, stock) VALUES (?,?,?)
		ON CONFLICT (port, counted_at) DO UPDATE SET stock = excluded.stock`, port, at(pen.Counted), held)
}

// Pen returns the newest count of a port's pen not after an instant; unknown
// where nobody counted.
func (s *Store) Pen(ctx context.Context, port string, now time.Time) (models.Opt[models.Pen], error) {
	found, err := list(ctx, s.read, "read the bait count", func(rows *sql.Rows) (p models.Pen, err error) {
		var lots []stock
		err = rows.Scan(toTime(&p.Counted), toDocument(&lots))
		for _, l := range lots {
			p.Stock = append(p.Stock, models.BaitStock(l))
		}
		return p, err
	}, "SELECT counted_at, stock FROM bait_counts WHERE port = ? AND counted_at <= ? ORDER BY counted_at DESC LIMIT 1", port, at(now))
	if err != nil || len(found) == 0 {
		return models.Unknown[models.Pen](), err
	}
	return models.Known(found[0]), nil
}

// LogEntry is what the captain writes down about a day: what was done and
// what was met. What he leaves out is unknown.
type LogEntry struct {
	ID      int64
	Port    string
	Date    models.Date
	Written time.Time
	By      string
	Ground  string
	// Tactic is how the day was fished; empty where he does not say.
	Tactic     models.Tactic
	Ride       models.Opt[models.Ride]
	Left, Back models.Opt[time.Time]
	Wind       models.Opt[units.Speed]
	Sea        models.Opt[units.Length]

	FishOnTop, BaitShowering models.Opt[bool]
	FishRaised, FishCaught   models.Opt[int]
	Note                     string
}

const logColumns = "port, date, written_at, said_by, ground, tactic, ride, left_at, back_at, wind_mps, sea_m, fish_on_top, bait_showering, fish_raised, fish_caught, note"

func scanLogEntry(rows *sql.Rows) (e LogEntry, err error) {
	var ride string
	err = rows.Scan(&e.ID, &e.Port, toText(&e.Date), toTime(&e.Written), &e.By, &e.Ground, &e.Tactic, &ride, toOptTime(&e.Left), toOptTime(&e.Back),
		toNumber(&e.Wind), toNumber(&e.Sea), toFlag(&e.FishOnTop), toFlag(&e.BaitShowering), toInteger(&e.FishRaised), toInteger(&e.FishCaught), &e.Note)
	if err == nil && ride != "" {
		var r models.Ride
		r, err = rideOf(ride)
		e.Ride = models.Known(r)
	}
	return e, err
}

// AddLogEntry keeps an entry of the captain's log and returns its number.
func (s *Store) AddLogEntry(ctx context.Context, e LogEntry) (int64, error) {
	ride := models.MapOpt(e.Ride, models.Ride.String).Or("")
	return s.insert(ctx, "keep a log entry", "INSERT INTO log_entries ("+logColumns+") VALUES ("+marks(16)+")",
		e.Port, e.Date.String(), at(e.Written), e.By, e.Ground, string(e.Tactic), ride, optAt(e.Left), optAt(e.Back),
		number(e.Wind), number(e.Sea), flag(e.FishOnTop), flag(e.BaitShowering), integer(e.FishRaised), integer(e.FishCaught), e.Note)
}

// Log returns the captain's log of a port from one day up to and including
// another, in the order of the days.
func (s *Store) Log(ctx context.Context, port string, from, to models.Date) ([]LogEntry, error) {
	return list(ctx, s.read, "read the log", scanLogEntry,
		"SELECT id, "+logColumns+" FROM log_entries WHERE port = ? AND date BETWEEN ? AND ? ORDER BY date, written_at, id", port, from.String(), to.String())
}
