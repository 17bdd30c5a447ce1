package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Report is what somebody on the water said at one time. What he did not
// speak of is unknown.
type Report struct {
	ID   int64
	Port string
	// Seen is when it was so; after Until it no longer counts.
	Seen, Until time.Time
	By, Note    string

	EdgeInReach models.Opt[bool]
	EdgeDepth   models.Opt[units.Length]
	Water       models.Opt[models.Water]
	// FishOnTop is the civil day on which fish were seen on top.
	FishOnTop       models.Opt[models.Date]
	BaitShowering   models.Opt[bool]
	Season          models.Opt[models.Season]
	InletHazardFrom models.Opt[models.Clock]
}

const reportColumns = "port, seen_at, until_at, said_by, note, edge_in_reach, edge_depth_m, water, fish_on_top_on, bait_showering, season, inlet_hazard_from"

func scanReport(rows *sql.Rows) (r Report, err error) {
	return r, rows.Scan(&r.ID, &r.Port, toTime(&r.Seen), toTime(&r.Until), &r.By, &r.Note, toFlag(&r.EdgeInReach), toNumber(&r.EdgeDepth), toWord(&r.Water),
		toOptText(&r.FishOnTop), toFlag(&r.BaitShowering), toWord(&r.Season), toOptText(&r.InletHazardFrom))
}

// AddReport keeps a report and returns its number.
func (s *Store) AddReport(ctx context.Context, r Report) (int64, error) {
	return s.insert(ctx, "keep a report", "INSERT INTO reports ("+reportColumns+") VALUES ("+marks(12)+")",
		r.Port, at(r.Seen), at(r.Until), r.By, r.Note, flag(r.EdgeInReach), number(r.EdgeDepth), word(r.Water),
		words(r.FishOnTop), flag(r.BaitShowering), word(r.Season), words(r.InletHazardFrom))
}

// Saying is a thing that reports speak of and that can be taken back.
type Saying string

// Things that can be taken back: nobody can report that there is nothing to
// report of them.
const (
	SaidFishOnTop   Saying = "fish_on_top_on"
	SaidInletHazard Saying = "inlet_hazard_from"
)

// TakeBack ends the reports of a port that speak of a thing and would still
// count, and returns how many there were.
func (s *Store) TakeBack(ctx context.Context, port string, of Saying, when time.Time) (int, error) {
	const doing = "take a report back"
	if of != SaidFishOnTop && of != SaidInletHazard {
		return 0, fmt.Errorf("%s: %q can't be taken back", doing, of)
	}
	res, err := s.write.ExecContext(ctx, fmt.Sprintf("UPDATE reports SET until_at = ? WHERE port = ? AND until_at > ? AND %s IS NOT NULL", of), at(when), port, at(when))
	if err != nil {
		return 0, fault(doing, err)
	}
	n, err := res.RowsAffected()
	return int(n), fault(doing, err)
}

// Reports returns the reports of a port seen within a span, newest first.
func (s *Store) Reports(ctx context.Context, port string, span models.Interval) ([]Report, error) {
	return list(ctx, s.read, "read reports", scanReport,
		"SELECT id, "+reportColumns+" FROM reports WHERE port = ? AND seen_at >= ? AND seen_at < ? ORDER BY seen_at DESC, id DESC", port, at(span.Start), at(span.End))
}

// ReportsAt puts together what counts at an instant that lies on the civil
// day today: of each thing the newest word that has not aged out. The second
// result is when the oldest of these words was given, unknown where nobody
// said anything.
func (s *Store) ReportsAt(ctx context.Context, port string, now time.Time, today models.Date) (models.Reports, models.Opt[time.Time], error) {
	var all models.Reports
	oldest := models.Unknown[time.Time]()
	found, err := list(ctx, s.read, "read reports", scanReport,
		"SELECT id, "+reportColumns+" FROM reports WHERE port = ? AND seen_at <= ? AND until_at > ? ORDER BY seen_at DESC, id DESC", port, at(now), at(now))
	for _, r := range found { // newest first: what is known already stays
		before := all
		all.EdgeInReach, all.EdgeDepth = all.EdgeInReach.Else(r.EdgeInReach), all.EdgeDepth.Else(r.EdgeDepth)
		all.Water, all.BaitShowering = all.Water.Else(r.Water), all.BaitShowering.Else(r.BaitShowering)
		all.Season, all.InletHazardFrom = all.Season.Else(r.Season), all.InletHazardFrom.Else(r.InletHazardFrom)
		all.FishOnTop = all.FishOnTop.Else(seen(r.FishOnTop, today))
		if all != before {
			oldest = models.Known(r.Seen)
		}
	}
	return all, oldest, err
}

// seen tells a day as seen from another.
func seen(on models.Opt[models.Date], today models.Date) models.Opt[models.Seen] {
	switch d, ok := on.Get(); {
	case ok && d == today:
		return models.Known(models.SeenToday)
	case ok && d == today.AddDays(-1):
		return models.Known(models.SeenYesterday)
	}
	return models.Unknown[models.Seen]()
}

// Override is the captain's word against a limit, for a while.
type Override struct {
	ID   int64
	Port string
	models.Override
	By          string
	From, Until time.Time
	Withdrawn   models.Opt[time.Time]
}

const overrideColumns = "port, what, why, said_by, from_at, until_at, withdrawn_at"

func scanOverride(rows *sql.Rows) (o Override, err error) {
	return o, rows.Scan(&o.ID, &o.Port, &o.What, &o.Why, &o.By, toTime(&o.From), toTime(&o.Until), toOptTime(&o.Withdrawn))
}

// AddOverride keeps an override and returns its number. It says why, and ends.
func (s *Store) AddOverride(ctx context.Context, o Override) (int64, error) {
	const doing = "keep an override"
	if o.What == "" || o.Why == "" || !o.Until.After(o.From) {
		return 0, fmt.Errorf("%s: it must say what, why and until when", doing)
	}
	return s.insert(ctx, doing, "INSERT INTO overrides ("+overrideColumns+") VALUES ("+marks(7)+")",
		o.Port, o.What, o.Why, o.By, at(o.From), at(o.Until), optAt(o.Withdrawn))
}

// WithdrawOverride ends an override before its time.
func (s *Store) WithdrawOverride(ctx context.Context, id int64, when time.Time) error {
	return s.change(ctx, fmt.Sprintf("withdraw override %d", id), "UPDATE overrides SET withdrawn_at = ? WHERE id = ? AND withdrawn_at IS NULL", at(when), id)
}

// Overrides returns the overrides of a port that hold at any time of a span,
// oldest first. Those withdrawn hold no more.
func (s *Store) Overrides(ctx context.Context, port string, span models.Interval) ([]Override, error) {
	return list(ctx, s.read, "read overrides", scanOverride,
		"SELECT id, "+overrideColumns+" FROM overrides WHERE port = ? AND from_at < ? AND until_at > ? AND withdrawn_at IS NULL ORDER BY from_at, id",
		port, at(span.End), at(span.Start))
}
