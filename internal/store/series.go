package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
	"time"

	"forecastd/internal/models"
)

const hourColumns = "valid_at, wind_mps, wind_from_deg, gust_mps, direction_spread_deg, sea_m, period_s, sea_from_deg, sea_includes_current, " +
	"swell_m, swell_period_s, swell_from_deg, inlet_current_mps, current_mps, current_toward_deg, cloud_pct, rain_pct, thunder_pct, visibility_m, air_k, water_k"

func hourArgs(h models.Hour) []any {
	return []any{
		at(h.At), number(h.Wind), number(h.WindFrom), number(h.Gust), number(h.DirectionSpread), number(h.Sea), number(h.Period), number(h.SeaFrom), flag(h.SeaIncludesCurrent),
		number(h.Swell), number(h.SwellPeriod), number(h.SwellFrom), number(h.InletCurrent), number(h.Current), number(h.CurrentToward), number(h.Cloud), number(h.Rain), number(h.Thunder), number(h.Visibility), number(h.Air), number(h.Water),
	}
}

func hourDest(h *models.Hour) []any {
	return []any{
		toTime(&h.At), toNumber(&h.Wind), toNumber(&h.WindFrom), toNumber(&h.Gust), toNumber(&h.DirectionSpread), toNumber(&h.Sea), toNumber(&h.Period), toNumber(&h.SeaFrom), toFlag(&h.SeaIncludesCurrent),
		toNumber(&h.Swell), toNumber(&h.SwellPeriod), toNumber(&h.SwellFrom), toNumber(&h.InletCurrent), toNumber(&h.Current), toNumber(&h.CurrentToward), toNumber(&h.Cloud), toNumber(&h.Rain), toNumber(&h.Thunder), toNumber(&h.Visibility), toNumber(&h.Air), toNumber(&h.Water),
	}
}

func scanHour(rows *sql.Rows) (h models.Hour, err error) { return h, rows.Scan(hourDest(&h)...) }

// AddSeries keeps a forecast as fetched for a ground of a port. One source,
// ground and run is one series: fetched again with other hours (a run that
// was still coming in), the newer takes its place; unchanged, nothing is
// written. A series that names no run counts as of when it was fetched.
// changed tells whether anything was new.
func (s *Store) AddSeries(ctx context.Context, port string, f models.Series) (changed bool, err error) {
	doing := fmt.Sprintf("keep the series of %s", f.Source)
	if f.Run.IsZero() {
		f.Run = f.Fetched
	}
	notes, err := document(append([]string{}, f.Notes...))
	if err != nil {
		return false, fault(doing, err)
	}
	sum := digest(f)
	err = s.update(ctx, doing, func(tx *sql.Tx) error {
		res, err := tx.ExecContext(ctx, `INSERT INTO series (source, port, ground, run_at, fetched_at, official, notes, digest) VALUES (?,?,?,?,?,?,?,?)
			ON CONFLICT (source, port, ground, run_at) DO UPDATE SET fetched_at = excluded.fetched_at, official = excluded.official, notes = excluded.notes, digest = excluded.digest
			WHERE digest <> excluded.digest`,
			f.Source, port, f.Ground, at(f.Run), at(f.Fetched), f.Official, notes, sum)
		if err != nil {
			return err
		}
		if n, err := res.RowsAffected(); err != nil || n == 0 {
			return err
		}
		changed = true
		var id int64
		if err := tx.QueryRowContext(ctx, "SELECT id FROM series WHERE source = ? AND port = ? AND ground = ? AND run_at = ?", f.Source, port, f.Ground, at(f.Run)).Scan(&id); err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, "DELETE FROM series_hours WHERE series_id = ?", id); err != nil {
			return err
		}
		keep, err := tx.PrepareContext(ctx, "INSERT INTO series_hours (series_id, "+hourColumns+") VALUES ("+marks(22)+")")
		if err != nil {
			return err
		}
		defer keep.Close()
		for _, h := range f.Hours {
			if _, err := keep.ExecContext(ctx, append([]any{id}, hourArgs(h)...)...); err != nil {
				return fmt.Errorf("hour %s: %w", h.At.UTC().Format(time.RFC3339), err)
			}
		}
		return nil
	})
	return changed && err == nil, err
}

// digest tells two contents of the same series apart.
func digest(f models.Series) string {
	h := sha256.New()
	fmt.Fprintln(h, f.Official, f.Notes)
	for _, hour := range f.Hours {
		fmt.Fprintln(h, hourArgs(hour)...)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// SeriesFor returns the newest series of each source for a ground whose run
// is not after asOf, without those of runs before since.
func (s *Store) SeriesFor(ctx context.Context, port, ground string, since, asOf time.Time) ([]models.Series, error) {
	const doing = "read series"
	type head struct {
		id int64
		models.Series
	}
	heads, err := list(ctx, s.read, doing, func(rows *sql.Rows) (h head, err error) {
		err = rows.Scan(&h.id, &h.Source, &h.Ground, toTime(&h.Run), toTime(&h.Fetched), &h.Official, toDocument(&h.Notes))
		return h, err
	}, `SELECT id, source, ground, run_at, fetched_at, official, notes FROM (
			SELECT *, row_number() OVER (PARTITION BY source ORDER BY run_at DESC) AS rank FROM series
			WHERE port = ? AND ground = ? AND run_at BETWEEN ? AND ?)
		WHERE rank = 1 ORDER BY source`, port, ground, at(since), at(asOf))
	if err != nil {
		return nil, err
	}
	var out []models.Series
	for _, h := range heads {
		h.Hours, err = list(ctx, s.read, doing, scanHour, "SELECT "+hourColumns+" FROM series_hours WHERE series_id = ? ORDER BY valid_at", h.id)
		if err != nil {
			return nil, err
		}
		out = append(out, h.Series)
	}
	return out, nil
}
