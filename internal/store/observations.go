package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"forecastd/internal/models"
)

const observationValues = "wind_mps, wind_from_deg, gust_mps, averaging_s, sea_m, period_s, mean_period_s, sea_from_deg, " +
	"swell_m, swell_period_s, swell_from_deg, wind_sea_m, pressure_pa, air_k, water_k, visibility_m"

const observationColumns = "station, observed_at, source, " + observationValues + ", steepness, detail, issued_at, fetched_at"

func observationArgs(o models.Observation) []any {
	averaging := models.MapOpt(o.Averaging, func(d time.Duration) int64 { return int64(d / time.Second) })
	return []any{
		o.Station, at(o.At), o.From.Source,
		number(o.Wind), number(o.WindFrom), number(o.Gust), integer(averaging), number(o.Sea), number(o.Period), number(o.MeanPeriod), number(o.SeaFrom),
		number(o.Swell), number(o.SwellPeriod), number(o.SwellFrom), number(o.WindSea), number(o.Pressure), number(o.Air), number(o.Water), number(o.Visibility),
		o.SteepnessLabel, o.From.Detail, atOrNull(o.From.Issued), at(o.From.Fetched),
	}
}

func scanObservation(rows *sql.Rows) (o models.Observation, err error) {
	var averaging models.Opt[int64]
	err = rows.Scan(
		&o.Station, toTime(&o.At), &o.From.Source,
		toNumber(&o.Wind), toNumber(&o.WindFrom), toNumber(&o.Gust), toInteger(&averaging), toNumber(&o.Sea), toNumber(&o.Period), toNumber(&o.MeanPeriod), toNumber(&o.SeaFrom),
		toNumber(&o.Swell), toNumber(&o.SwellPeriod), toNumber(&o.SwellFrom), toNumber(&o.WindSea), toNumber(&o.Pressure), toNumber(&o.Air), toNumber(&o.Water), toNumber(&o.Visibility),
		&o.SteepnessLabel, &o.From.Detail, toTime(&o.From.Issued), toTime(&o.From.Fetched),
	)
	o.Averaging = models.MapOpt(averaging, func(s int64) time.Duration { return time.Duration(s) * time.Second })
	return o, err
}

// AddObservations keeps reports of stations and returns how many were new or
// told something new. One station, instant and source is one report: seen
// again, what it now tells takes the place of what it told, and what it no
// longer tells stays, since services give one report in parts.
func (s *Store) AddObservations(ctx context.Context, obs []models.Observation) (changed int, err error) {
	const doing = "keep observations"
	var set, old, merged []string
	for c := range strings.SplitSeq(observationValues, ", ") {
		set = append(set, fmt.Sprintf("%[1]s = coalesce(excluded.%[1]s, %[1]s)", c))
		old = append(old, "observations."+c)
		merged = append(merged, fmt.Sprintf("coalesce(excluded.%[1]s, observations.%[1]s)", c))
	}
	stmt := fmt.Sprintf("INSERT INTO observations (%s) VALUES (%s) ON CONFLICT (station, observed_at, source) DO UPDATE SET %s, "+
		"steepness = iif(excluded.steepness <> '', excluded.steepness, steepness), issued_at = excluded.issued_at, fetched_at = excluded.fetched_at "+
		"WHERE (%s) IS NOT (%s)", // what tells nothing new writes nothing: stations repeat weeks of reports
		observationColumns, marks(23), strings.Join(set, ", "), strings.Join(old, ", "), strings.Join(merged, ", "))
	err = s.update(ctx, doing, func(tx *sql.Tx) error {
		keep, err := tx.PrepareContext(ctx, stmt)
		if err != nil {
			return err
		}
		defer keep.Close()
		for _, o := range obs {
			res, err := keep.ExecContext(ctx, observationArgs(o)...)
			if err != nil {
				return fmt.Errorf("%s at %s: %w", o.Station, o.At.UTC().Format(time.RFC3339), err)
			}
			n, err := res.RowsAffected()
			if err != nil {
				return err
			}
			changed += int(n)
		}
		return nil
	})
	if err != nil {
		return 0, err
	}
	return changed, nil
}

// Observations returns the reports of a station within a span, oldest first.
func (s *Store) Observations(ctx context.Context, station string, span models.Interval) ([]models.Observation, error) {
	return list(ctx, s.read, "read observations", scanObservation,
		"SELECT "+observationColumns+" FROM observations WHERE station = ? AND observed_at >= ? AND observed_at < ? ORDER BY observed_at, source",
		station, at(span.Start), at(span.End))
}
