package store

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
)

// WarningLife is a product in one zone with when it was seen.
type WarningLife struct {
	models.Warning
	FirstSeen, LastSeen time.Time
	// Ended is when it was found to have ended, and How it did.
	Ended models.Opt[time.Time]
	How   models.WarningEnd
	// Missed counts the answers in a row that lacked it, the last that counted
	// made at MissedAt.
	Missed   int
	MissedAt models.Opt[time.Time]
	// Changed is when its times last changed, and Was how it stood before;
	// unknown where they never did.
	Changed models.Opt[time.Time]
	Was     models.Opt[models.Warning]
}

// WarningNews is how a product changed between two looks at the feed.
type WarningNews string

// News of a product.
const (
	WarningIssued WarningNews = "issued"
	// WarningChanged: its times are others than before.
	WarningChanged WarningNews = "changed"
)

// newsOf is the news of a product that ended.
func newsOf(how models.WarningEnd) WarningNews { return WarningNews(how) }

// WarningChange is one piece of news about a product.
type WarningChange struct {
	News WarningNews
	Now  WarningLife
	// Before is how the product stood; it is unknown for one just issued.
	Before models.Opt[models.Warning]
}

const warningColumns = "event, vtec, phenomenon, significance, zone, zone_name, office, issued_at, onset_at, ends_at, " +
	"headline, text, instruction, url, area, source, detail, first_seen_at, last_seen_at, life, missed, how, ended_at, missed_at, changed_at, was_onset_at, was_ends_at"

func scanWarning(rows *sql.Rows) (w WarningLife, err error) {
	var onset, ends models.Opt[time.Time]
	if err := rows.Scan(warningDest(&w, &onset, &ends)...); err != nil {
		return w, err
	}
	if t, ok := onset.Get(); ok {
		was := w.Warning
		was.Onset, was.Ends = t, ends
		w.Was = models.Known(was)
	}
	return w, nil
}

func warningDest(w *WarningLife, wasOnset, wasEnds *models.Opt[time.Time]) []any {
	return []any{
		&w.Event, &w.VTEC, &w.Phenomenon, &w.Significance, &w.Zone, &w.ZoneName, &w.Office, toTime(&w.Issued), toTime(&w.Onset), toOptTime(&w.Ends),
		&w.Headline, &w.Text, &w.Instruction, &w.URL, toDocument(&w.Area), &w.From.Source, &w.From.Detail, toTime(&w.FirstSeen), toTime(&w.LastSeen), &w.Life, &w.Missed, &w.How, toOptTime(&w.Ended), toOptTime(&w.MissedAt), toOptTime(&w.Changed), toOptTime(wasOnset), toOptTime(wasEnds),
	}
}

// warningKey is what stays the same while a product is continued, extended
// and corrected: office, phenomenon, significance and event number of its
// VTEC, the first that it had, or where it has none, the event; and the zone.
func warningKey(w models.Warning) string {
	id := w.Event
	if w.Life != "" {
		id = w.Life
	} else if p := strings.Split(strings.Trim(w.VTEC, "/"), "."); len(p) == 7 {
		id = strings.Join(p[2:6], ".")
	}
	return w.Office + "|" + id + "|" + w.Zone
}

// SawWarnings keeps what a good answer of the feed for some zones said, seen at
// an instant, and returns what changed. A product that the answer calls over has
// ended as it says, and one whose time is over has expired. One that the answer
// merely lacks has not ended: it is no longer listed once WarningGoneAfter
// answers in a row, made WarningGoneApart from each other, have lacked it. An
// answer older than the last one says nothing, and what is not the whole list
// ends nothing by what it lacks. A feed that failed says nothing: do not call it
// then. Products of other zones are refused. The same answer seen again changes
// nothing but when the products were last seen.
func (s *Store) SawWarnings(ctx context.Context, zones []string, seen models.WarningsSeen, when time.Time) ([]WarningChange, error) {
	var news []WarningChange
	err := s.update(ctx, "keep warnings", func(tx *sql.Tx) error {
		if seen.Whole {
			newer, err := answered(ctx, tx, zones, seen.Made)
			if err != nil || !newer {
				return err
			}
		}
		alive, err := aliveWarnings(ctx, tx, zones)
		if err != nil {
			return err
		}
		gone := map[string]WarningLife{}
		for _, w := range alive {
			gone[warningKey(w.Warning)] = w
		}
		for _, w := range newestOfEach(seen.Listed) {
			if !slices.Contains(zones, w.Zone) {
				return fmt.Errorf("%s is for zone %q, which was not asked for", w.Event, w.Zone)
			}
			key := warningKey(w)
			before, had := gone[key]
			delete(gone, key)
			life := WarningLife{Warning: w, FirstSeen: when.UTC(), LastSeen: when.UTC()}
			switch {
			case !had:
				news = append(news, WarningChange{News: WarningIssued, Now: life})
			case !sameTimes(before.Warning, w):
				life.FirstSeen = before.FirstSeen
				news = append(news, WarningChange{News: WarningChanged, Now: life, Before: models.Known(before.Warning)})
			}
			if err := keepWarning(ctx, tx, key, w, when); err != nil {
				return err
			}
		}
		over := map[string]models.WarningEnd{}
		for _, o := range seen.Over {
			over[warningKey(o.Warning)] = o.End
		}
		for _, w := range alive { // in a stable order
			key := warningKey(w.Warning)
			if _, isGone := gone[key]; !isGone {
				continue
			}
			after := missing(w, over[key], seen, when)
			if _, err := tx.ExecContext(ctx, "UPDATE warnings SET ended_at = ?, how = ?, missed = ?, missed_at = ? WHERE key = ? AND ended_at IS NULL",
				optAt(after.Ended), after.How, after.Missed, optAt(after.MissedAt), key); err != nil {
				return err
			}
			if after.Ended.Known() {
				news = append(news, WarningChange{News: newsOf(after.How), Now: after, Before: models.Known(w.Warning)})
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return news, nil
}

// missing is the life of a product that an answer does not list.
func missing(w WarningLife, said models.WarningEnd, seen models.WarningsSeen, when time.Time) WarningLife {
	end, ends := w.Ends.Get()
	switch {
	case said != "":
		w.How = said
	case ends && !when.Before(end):
		w.How = models.EndExpired
	case !seen.Whole, w.Missed > 0 && seen.Made.Sub(w.MissedAt.Or(time.Time{})) < models.WarningGoneApart:
		return w
	default:
		w.Missed, w.MissedAt = w.Missed+1, models.Known(seen.Made.UTC())
		if w.Missed < models.WarningGoneAfter {
			return w
		}
		w.How = models.EndUnlisted
	}
	w.Ended = models.Known(when.UTC())
	return w
}

func zonesKey(zones []string) string {
	return strings.Join(slices.Compact(slices.Sorted(slices.Values(zones))), ",")
}

// answered notes when an answer about some zones was made, and tells whether
// none newer was seen before.
func answered(ctx context.Context, tx *sql.Tx, zones []string, made time.Time) (newer bool, err error) {
	r, err := tx.ExecContext(ctx, `INSERT INTO warning_answers (zones, made_at) VALUES (?, ?)
		ON CONFLICT (zones) DO UPDATE SET made_at = excluded.made_at WHERE excluded.made_at >= made_at`, zonesKey(zones), at(made))
	if err != nil {
		return false, err
	}
	n, err := r.RowsAffected()
	return n > 0, err
}

// WarningsKept returns what is remembered of the feed for some zones, so that
// whoever asks it after a restart goes on where the last one stopped.
func (s *Store) WarningsKept(ctx context.Context, zones []string) (models.WarningsKept, error) {
	made, err := list(ctx, s.read, "read the last answer about warnings", func(rows *sql.Rows) (t time.Time, err error) {
		return t, rows.Scan(toTime(&t))
	}, "SELECT made_at FROM warning_answers WHERE zones = ?", zonesKey(zones))
	if err != nil {
		return models.WarningsKept{}, err
	}
	alive, err := aliveWarnings(ctx, s.read, zones)
	if err != nil {
		return models.WarningsKept{}, err
	}
	var kept models.WarningsKept
	for _, t := range made {
		kept.Made = t
	}
	for _, w := range alive {
		kept.Alive = append(kept.Alive, models.WarningKept{Warning: w.Warning, Missed: w.Missed, MissedAt: w.MissedAt.Or(time.Time{})})
	}
	return kept, nil
}

// newestOfEach drops a product of which the feed holds an update too.
func newestOfEach(seen []models.Warning) []models.Warning {
	var out []models.Warning
	for _, w := range seen {
		i := slices.IndexFunc(out, func(o models.Warning) bool { return warningKey(o) == warningKey(w) })
		switch {
		case i < 0:
			out = append(out, w)
		case w.Issued.After(out[i].Issued):
			out[i] = w
		}
	}
	return out
}

func sameTimes(a, b models.Warning) bool {
	endA, okA := a.Ends.Get()
	endB, okB := b.Ends.Get()
	return okA == okB && at(endA) == at(endB) && at(a.Onset) == at(b.Onset)
}

func aliveWarnings(ctx context.Context, q querier, zones []string) ([]WarningLife, error) {
	if len(zones) == 0 {
		return nil, nil
	}
	args := make([]any, len(zones))
	for i, z := range zones {
		args[i] = z
	}
	return list(ctx, q, "read warnings", scanWarning,
		"SELECT "+warningColumns+" FROM warnings WHERE ended_at IS NULL AND zone IN ("+marks(len(zones))+") ORDER BY first_seen_at, id", args...)
}

func keepWarning(ctx context.Context, tx *sql.Tx, key string, w models.Warning, when time.Time) error {
	area, err := document(append([]models.Position{}, w.Area...))
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO warnings (key, `+warningColumns+`) VALUES (`+marks(21)+`,0,'',NULL,NULL,NULL,NULL,NULL)
		ON CONFLICT (key) WHERE ended_at IS NULL DO UPDATE SET
			changed_at = CASE WHEN onset_at <> excluded.onset_at OR ends_at IS NOT excluded.ends_at THEN excluded.last_seen_at ELSE changed_at END,
			was_onset_at = CASE WHEN onset_at <> excluded.onset_at OR ends_at IS NOT excluded.ends_at THEN onset_at ELSE was_onset_at END,
			was_ends_at = CASE WHEN onset_at <> excluded.onset_at OR ends_at IS NOT excluded.ends_at THEN ends_at ELSE was_ends_at END,
			life = excluded.life, missed = 0, missed_at = NULL,
			event = excluded.event, vtec = excluded.vtec, zone_name = excluded.zone_name,
			issued_at = excluded.issued_at, onset_at = excluded.onset_at, ends_at = excluded.ends_at, headline = excluded.headline, text = excluded.text,
			instruction = excluded.instruction, url = excluded.url, area = excluded.area, detail = excluded.detail, last_seen_at = excluded.last_seen_at`,
		key, w.Event, w.VTEC, w.Phenomenon, w.Significance, w.Zone, w.ZoneName, w.Office, at(w.Issued), at(w.Onset), optAt(w.Ends),
		w.Headline, w.Text, w.Instruction, w.URL, area, w.From.Source, w.From.Detail, at(when), at(when), w.Life)
	return err
}

// Warnings returns the products of some zones that were seen within a span,
// with their lives, oldest first.
func (s *Store) Warnings(ctx context.Context, zones []string, span models.Interval) ([]WarningLife, error) {
	if len(zones) == 0 {
		return nil, nil
	}
	args := []any{at(span.Start), at(span.End)}
	for _, z := range zones {
		args = append(args, z)
	}
	return list(ctx, s.read, "read warnings", scanWarning,
		"SELECT "+warningColumns+" FROM warnings WHERE last_seen_at >= ? AND first_seen_at < ? AND zone IN ("+marks(len(zones))+") ORDER BY first_seen_at, id", args...)
}
