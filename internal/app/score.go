package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/models/skill"
	"forecastd/internal/models/units"
	"forecastd/internal/store"
	"forecastd/internal/words"
)

// Score is how the sources and our own calls did.
type Score struct {
	Learned Learned
	// From is the day from which on it was looked.
	From models.Date
	// Outlooks are the outlooks of our own calls against the station's wind,
	// by how many days ahead they were made.
	Outlooks []OutlookScore
	// Calls counts the days called, Told those of them that the log tells the
	// tactic of.
	Calls, Told int
	// Words is how often the call was right by the word for its confidence.
	Words []WordScore
	// Brier is of the agreement said; unknown without any day told.
	Brier models.Opt[skill.BrierParts]
}

// OutlookScore is how the members of our outlooks did.
type OutlookScore struct {
	// Ahead is how many civil days before the day the call was made.
	Ahead       int
	Calls, Days int
	Hours       int
	// CRPS and Middle (the mean absolute error of the middle member) are of
	// the wind at 10 m.
	CRPS, Middle units.Speed
	// Bias is of the middle member.
	Bias units.Speed
}

// WordScore is how often calls of one confidence came right.
type WordScore struct {
	Word  models.Confidence
	N     int
	Said  float64 // mean agreement said
	Came  int
	Share float64
}

// Score looks back over some days.
func (a *App) Score(ctx context.Context, portName, groundName string, days int) (Score, error) {
	port, ground, err := a.place(portName, groundName)
	if err != nil {
		return Score{}, err
	}
	if _, err := a.needStore(); err != nil {
		return Score{}, err
	}
	today := models.DateOf(a.now(), port.Zone)
	s := Score{From: today.AddDays(-days)}
	if s.Learned, err = a.learn(ctx, port, ground, a.now().Sub(s.From.Start(port.Zone))); err != nil {
		return s, err
	}
	if err := a.scoreOutlooks(ctx, port, ground, s.From, today, &s); err != nil {
		return s, err
	}
	return s, a.scoreConfidence(ctx, port, s.From, today, &s)
}

// scoreOutlooks holds the members of our outlooks against the wind station.
func (a *App) scoreOutlooks(ctx context.Context, port config.Port, ground config.Ground, from, today models.Date, s *Score) error {
	station, ok := stationFor(port, config.StationWind)
	if !ok {
		return nil
	}
	type sum struct {
		OutlookScore
		days map[models.Date]bool
	}
	sums := map[int]*sum{}
	for d := from; !today.Before(d); d = d.AddDays(1) {
		const most = 100
		calls, err := a.store.Calls(ctx, port.Name, d, most)
		if err != nil {
			return err
		}
		if len(calls) == 0 {
			continue
		}
		day := d.Interval(port.Zone)
		span := models.Interval{Start: day.Start.Add(-halfHour), End: day.End.Add(halfHour)}
		seen, err := a.store.Observations(ctx, station.ID, span)
		if err != nil {
			return err
		}
		for _, c := range calls {
			full, err := a.store.Call(ctx, c.ID)
			if err != nil {
				return err
			}
			if c.Ground != ground.Name || len(full.Outlook) == 0 || len(seen) == 0 {
				continue
			}
			o, err := words.ReadOutlook(full.Outlook)
			if err != nil {
				return fmt.Errorf("read the outlook of call %d: %w", c.ID, err)
			}
			ahead := max(int(d.Start(time.UTC).Sub(models.DateOf(c.Standing.Made, port.Zone).Start(time.UTC)).Hours()/24), 0)
			if sums[ahead] == nil {
				sums[ahead] = &sum{OutlookScore{Ahead: ahead}, map[models.Date]bool{}}
			}
			t, before := sums[ahead], sums[ahead].Hours
			for i, h := range o.Middle.Hours {
				if h.At.Before(c.Standing.Made) {
					continue // no forecast
				}
				came, ok := windAt(seen, h.At, station)
				mid, known := h.Wind.Get()
				if !ok || !known {
					continue
				}
				var members []float64
				for _, m := range o.Members {
					if i < len(m.Hours) {
						if w, ok := m.Hours[i].Wind.Get(); ok {
							members = append(members, float64(w))
						}
					}
				}
				if len(members) == 0 {
					members = []float64{float64(mid)}
				}
				crps, err := skill.CRPS(members, float64(came))
				if err != nil {
					return err
				}
				t.Hours++
				t.CRPS += units.Speed(crps)
				t.Bias += mid - came
				t.Middle += max(mid-came, came-mid)
			}
			if t.Hours > before {
				t.Calls++
				t.days[d] = true
			}
		}
	}
	for _, t := range sums {
		if t.Hours == 0 {
			continue
		}
		n := units.Speed(t.Hours)
		t.Days, t.CRPS, t.Bias, t.Middle = len(t.days), t.CRPS/n, t.Bias/n, t.Middle/n
		s.Outlooks = append(s.Outlooks, t.OutlookScore)
	}
	slices.SortFunc(s.Outlooks, func(x, y OutlookScore) int { return x.Ahead - y.Ahead })
	return nil
}

const halfHour = 30 * time.Minute

// windAt is the station's wind nearest to an hour, carried to 10 m.
func windAt(seen []models.Observation, hour time.Time, s config.Station) (units.Speed, bool) {
	best, found := store.Pair{}, false
	for _, o := range seen {
		apart := o.At.Sub(hour).Abs()
		if !o.Wind.Known() || apart > halfHour || found && apart >= best.Observed.At.Sub(hour).Abs() {
			continue
		}
		best, found = store.Pair{Forecast: models.Hour{At: hour, Wind: o.Wind}, Observed: o}, true
	}
	if !found {
		return 0, false
	}
	_, at10, ok := windPair(best, s)
	return at10, ok
}

// scoreConfidence holds the last call before each day against the captain's
// log. A call was right where the day was fished as it said, or he stayed in
// as it said.
func (a *App) scoreConfidence(ctx context.Context, port config.Port, from, today models.Date, s *Score) error {
	entries, err := a.store.Log(ctx, port.Name, from, today)
	if err != nil {
		return err
	}
	done := map[models.Date]store.LogEntry{}
	for _, e := range entries {
		if e.Tactic != "" {
			done[e.Date] = e // the last word counts
		}
	}
	by := map[models.Confidence]*WordScore{}
	var said []skill.Said
	for d := from; !today.Before(d); d = d.AddDays(1) {
		const most = 100
		calls, err := a.store.Calls(ctx, port.Name, d, most)
		if err != nil {
			return err
		}
		// The last one made before the day: what the evening was settled on.
		i := slices.IndexFunc(calls, func(c store.Call) bool { return c.Standing.Made.Before(d.Start(port.Zone)) })
		if i < 0 {
			continue
		}
		s.Calls++
		e, ok := done[d]
		if !ok {
			continue
		}
		s.Told++
		c := calls[i]
		right, err := fishedAs(c.Standing.Tactic, e.Tactic)
		if err != nil {
			return fmt.Errorf("the call and the log of %s: %w", d, err)
		}
		said = append(said, skill.Said{Chance: c.Agreement, Came: right})
		if by[c.Confidence] == nil {
			by[c.Confidence] = &WordScore{Word: c.Confidence}
		}
		w := by[c.Confidence]
		w.N++
		w.Said += c.Agreement
		if right {
			w.Came++
		}
	}
	for _, word := range []models.Confidence{models.Sure, models.Likely, models.TossUp, models.Doubtful} {
		if w := by[word]; w != nil {
			w.Said, w.Share = w.Said/float64(w.N), float64(w.Came)/float64(w.N)
			s.Words = append(s.Words, *w)
		}
	}
	parts, err := skill.Brier(said)
	if errors.Is(err, skill.ErrEmpty) {
		return nil
	}
	s.Brier = models.Known(parts)
	return err
}

// fishedAs tells whether a day was fished as called: with one of the methods
// the call named, and with no other. "Either" leaves it to the captain.
// A tactic that nobody has told the methods of is no score at all.
func fishedAs(called, fished models.Tactic) (bool, error) {
	ck, cs, err := methods(called)
	if err != nil {
		return false, err
	}
	fk, fs, err := methods(fished)
	if err != nil {
		return false, err
	}
	if called == models.TacticEither {
		return fk || fs, nil
	}
	return ck == fk && cs == fs, nil
}

// methods tells which methods a tactic fishes by.
func methods(t models.Tactic) (kite, sight bool, err error) {
	switch t {
	case models.TacticKite, models.TacticHelium:
		return true, false, nil
	case models.TacticSight:
		return false, true, nil
	case models.TacticStayIn:
		return false, false, nil
	case models.TacticKiteSight, models.TacticSightKite, models.TacticEither:
		return true, true, nil
	}
	return false, false, fmt.Errorf("nothing is known of the tactic %q: it can be neither right nor wrong", t)
}

// ScoreText tells a score, with how many cases each line rests on.
func (a *App) ScoreText(s Score) string {
	var b strings.Builder
	if a.demo {
		b.WriteString(words.DemoNotice() + "\n\n")
	}
	t := words.NewTeller(reader(a.cfg), nil, s.From)
	fmt.Fprintf(&b, "How the forecasts did at %s, since %s\n", s.Learned.Ground, s.From)
	scoreWind(&b, t, s.Learned)
	scoreSea(&b, t, s.Learned)
	scoreOwn(&b, t, s)
	return b.String()
}

func scoreWind(b *strings.Builder, t words.Teller, l Learned) {
	b.WriteString("\nWind, forecast less observed\n")
	if l.WindStation == "" {
		b.WriteString("  no station is configured for wind: nothing to hold the forecasts against\n")
		return
	}
	fmt.Fprintf(b, "  against %s, its wind carried to 10 m", l.WindStation)
	if len(l.Averaging) > 0 {
		fmt.Fprintf(b, "; it averages over %s min, the forecasts over about 10 to 60", strings.Trim(fmt.Sprint(l.Averaging), "[]"))
	}
	b.WriteString("\n")
	rows := 0
	for _, x := range l.Lessons {
		if x.Wind.Hours == 0 {
			continue
		}
		if rows == 0 {
			fmt.Fprintf(b, "  %-16s %4s %6s %5s %12s %12s %12s  %s\n", "source", "day", "cases", "days", "bias", "mean error", "rms error", "used")
		}
		rows++
		fmt.Fprintf(b, "  %-16s %4d %6d %5d %12s %12s %12s  %s\n", x.Source, x.Day, x.Wind.Hours, x.Wind.Days,
			signed(x.Wind.Mean, func(v float64) string { return t.Speed(units.Speed(v)) }), t.Speed(units.Speed(x.Wind.Absolute)), t.Speed(units.Speed(x.Wind.Root)), used(x.Wind))
	}
	if rows == 0 {
		b.WriteString("  no forecast hour has met a report yet: each call and each poll of the daemon keeps some\n")
		return
	}
	b.WriteString("  the CRPS of a single forecast is its mean error\n")
}

func scoreSea(b *strings.Builder, t words.Teller, l Learned) {
	b.WriteString("\nSea, forecast less observed\n")
	if l.SeaStation == "" {
		b.WriteString("  no station is configured for the sea: nothing to hold the forecasts against\n")
		return
	}
	fmt.Fprintf(b, "  against %s\n", l.SeaStation)
	rows := 0
	for _, x := range l.Lessons {
		if x.Sea.Hours == 0 {
			continue
		}
		if rows == 0 {
			fmt.Fprintf(b, "  %-16s %4s %6s %5s %12s %12s %12s  %s\n", "source", "day", "cases", "days", "bias", "mean error", "rms error", "used")
		}
		rows++
		fmt.Fprintf(b, "  %-16s %4d %6d %5d %12s %12s %12s  %s\n", x.Source, x.Day, x.Sea.Hours, x.Sea.Days,
			signed(x.Sea.Mean, func(v float64) string { return t.Length(units.Length(v)) }), t.Length(units.Length(x.Sea.Absolute)), t.Length(units.Length(x.Sea.Root)), used(x.Sea))
	}
	if rows == 0 {
		b.WriteString("  no forecast hour has met a report yet\n")
	}
}

// signed tells a difference with its sign.
func signed(v float64, tell func(float64) string) string {
	if v < 0 {
		return "-" + tell(-v)
	}
	return "+" + tell(v)
}

// used says whether the calls go by it.
func used(m Measure) string {
	if m.Enough() {
		return "by the calls"
	}
	return fmt.Sprintf("not yet: %d days to go, assumed errors till then", enoughDays-m.Days)
}

func scoreOwn(b *strings.Builder, t words.Teller, s Score) {
	b.WriteString("\nOur own calls\n")
	if s.Calls == 0 && len(s.Outlooks) == 0 {
		b.WriteString("  none of the days behind us was called and kept: run forecastd serve, or call with a store\n")
		return
	}
	for _, o := range s.Outlooks {
		when := "on the day"
		if o.Ahead > 0 {
			when = fmt.Sprintf("%d ahead", o.Ahead)
		}
		fmt.Fprintf(b, "  wind, called %s: CRPS %s, middle member's mean error %s, bias %s; %d hours of %d days, %d calls\n",
			when, t.Speed(o.CRPS), t.Speed(o.Middle), signed(float64(o.Bias), func(v float64) string { return t.Speed(units.Speed(v)) }), o.Hours, o.Days, o.Calls)
	}
	if len(s.Outlooks) == 0 {
		b.WriteString("  no outlook of a call has met a report of the wind yet\n")
	}
	b.WriteString("\nThe confidence said, against the log\n")
	if s.Told == 0 {
		fmt.Fprintf(b, "  %d days were called on the evening before; the log tells the tactic of none:\n  forecastd log -tactic kite -day DAY tells it, \"stay in\" too\n", s.Calls)
		return
	}
	fmt.Fprintf(b, "  %d days were called on the evening before; the log tells the tactic of %d\n", s.Calls, s.Told)
	for _, w := range s.Words {
		fmt.Fprintf(b, "  %-9s said of %d: %.0f %% of what could happen agreed, %d came so (%.0f %%)\n", w.Word, w.N, 100*w.Said, w.Came, 100*w.Share)
	}
	if p, ok := s.Brier.Get(); ok {
		fmt.Fprintf(b, "  Brier score %.3f: reliability %.3f, resolution %.3f, uncertainty %.3f (of %d days)\n", p.Score, p.Reliability, p.Resolution, p.Uncertainty, p.N)
	}
	const few = 30
	if s.Told < few {
		fmt.Fprintf(b, "  fewer than %d days tell little yet\n", few)
	}
	b.WriteString("  who fishes as he was told makes the call look right: the wind and the sea above tell more\n")
}
