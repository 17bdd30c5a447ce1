package store

import (
	"context"
	"database/sql"
	"iter"
	"slices"
	"time"

	"forecastd/internal/models"
)

// Pair is one forecast hour and what a station reported then.
type Pair struct {
	Source string
	Ground string
	Run    time.Time
	// Lead is how far ahead the hour lay when the run was made.
	Lead     time.Duration
	Official bool
	Forecast models.Hour
	// Observed is put together from the reports nearest to the hour: one for
	// the wind, one for the sea, one for the air, which stations give at
	// different times. The instants tell which. Winds are at the
	// anemometer's height, averaged as Averaging says.
	Observed          models.Observation
	WindAt, SeaAt     models.Opt[time.Time]
	PressureAt, AirAt models.Opt[time.Time]
}

// PairQuery says which forecasts are matched with which station.
type PairQuery struct {
	Port, Ground, Station string
	// Source narrows to one source; empty takes all.
	Source string
	// Span holds the hours forecast.
	Span models.Interval
	// Every thins the hours: those that are a multiple of it since midnight
	// UTC; 0 takes all.
	Every time.Duration
	// Window is how far a report may lie from the hour; 0 means 30 minutes.
	Window time.Duration
}

// Pairs goes through the forecast hours of a ground for which a station
// reported anything near in time, by run and then by hour. It holds the
// station's reports of the span in memory, not the forecasts.
func (s *Store) Pairs(ctx context.Context, q PairQuery) iter.Seq2[Pair, error] {
	if q.Window == 0 {
		q.Window = 30 * time.Minute
	}
	return func(yield func(Pair, error) bool) {
		const doing = "match forecasts with reports"
		obs, err := s.Observations(ctx, q.Station, models.Interval{Start: q.Span.Start.Add(-q.Window), End: q.Span.End.Add(q.Window)})
		if err != nil {
			yield(Pair{}, err)
			return
		}
		m := matcher{obs: obs, window: q.Window}
		rows, err := s.read.QueryContext(ctx, "SELECT source, ground, run_at, official, "+hourColumns+` FROM series JOIN series_hours ON series_id = id
			WHERE port = ? AND ground = ? AND (? = '' OR source = ?) AND run_at <= valid_at AND valid_at >= ? AND valid_at < ? AND valid_at % ? = 0
			ORDER BY source, run_at, valid_at`,
			q.Port, q.Ground, q.Source, q.Source, at(q.Span.Start), at(q.Span.End), max(int64(q.Every/time.Second), 1))
		if err != nil {
			yield(Pair{}, fault(doing, err))
			return
		}
		defer rows.Close()
		for rows.Next() {
			p, err := scanPair(rows)
			if err != nil {
				yield(Pair{}, fault(doing, err))
				return
			}
			if m.match(&p) && !yield(p, nil) {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(Pair{}, fault(doing, err))
		}
	}
}

func scanPair(rows *sql.Rows) (p Pair, err error) {
	dest := append([]any{&p.Source, &p.Ground, toTime(&p.Run), &p.Official}, hourDest(&p.Forecast)...)
	err = rows.Scan(dest...)
	p.Lead = p.Forecast.At.Sub(p.Run)
	return p, err
}

// matcher finds the reports of one station near an instant.
type matcher struct {
	obs    []models.Observation // by time
	window time.Duration
}

// match puts the reports nearest to the pair's hour together; false where
// there is none.
func (m matcher) match(p *Pair) bool {
	hour := p.Forecast.At
	o := &p.Observed
	wind, okWind := m.nearest(hour, func(o models.Observation) bool { return o.Wind.Known() })
	sea, okSea := m.nearest(hour, func(o models.Observation) bool { return o.Sea.Known() })
	air, okAir := m.nearest(hour, func(o models.Observation) bool { return o.Air.Known() || o.Water.Known() || o.Visibility.Known() })
	pressure, okPressure := m.nearest(hour, func(o models.Observation) bool { return o.Pressure.Known() })
	if okAir {
		*o, p.AirAt = air, models.Known(air.At)
	}
	if okPressure {
		p.PressureAt = models.Known(pressure.At)
	}
	if okWind {
		p.WindAt = models.Known(wind.At)
	}
	if okSea {
		p.SeaAt = models.Known(sea.At)
	}
	o.Pressure = pressure.Pressure
	o.Wind, o.WindFrom, o.Gust, o.Averaging = wind.Wind, wind.WindFrom, wind.Gust, wind.Averaging
	o.Sea, o.Period, o.MeanPeriod, o.SeaFrom, o.WindSea, o.SteepnessLabel = sea.Sea, sea.Period, sea.MeanPeriod, sea.SeaFrom, sea.WindSea, sea.SteepnessLabel
	o.Swell, o.SwellPeriod, o.SwellFrom = sea.Swell, sea.SwellPeriod, sea.SwellFrom
	for _, part := range []models.Observation{wind, sea, air, pressure} {
		if part.Station != "" {
			o.Station, o.From, o.At = part.Station, part.From, part.At
			break
		}
	}
	return okWind || okSea || okAir || okPressure
}

func (m matcher) nearest(hour time.Time, has func(models.Observation) bool) (best models.Observation, ok bool) {
	i, _ := slices.BinarySearchFunc(m.obs, hour.Add(-m.window), func(o models.Observation, t time.Time) int { return o.At.Compare(t) })
	for ; i < len(m.obs) && !m.obs[i].At.After(hour.Add(m.window)); i++ {
		o := m.obs[i]
		if has(o) && (!ok || o.At.Sub(hour).Abs() < best.At.Sub(hour).Abs()) {
			best, ok = o, true
		}
	}
	return best, ok
}
