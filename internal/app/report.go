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
	"forecastd/internal/store"
	"forecastd/internal/words"
)

// seenLasts is how long a word on edge, water and showering bait counts.
const seenLasts = 36 * time.Hour

// Say sets what was done in the configured language and units.
func (a *App) Say(portName string, p models.Phrase) string {
	port, _, err := a.place(portName, "")
	if err != nil {
		port = a.cfg.Ports[0]
	}
	return words.NewTeller(reader(a.cfg), port.Zone, models.DateOf(a.now(), port.Zone)).Say(p)
}

// Report keeps one thing that somebody on the water has seen, as the words of
// the command say it: "fish-on-top today", "showering yes", "edge in 140 ft",
// "water clean green", "inlet from 13:00", "inlet ok". It answers
// what was understood and how long it counts. by tells who says so.
func (a *App) Report(ctx context.Context, portName string, said []string, by string) (told models.Phrase, err error) {
	var none models.Phrase
	st, port, err := a.saying(portName)
	if err != nil {
		return none, err
	}
	if len(said) < 2 {
		return none, errors.New(`report needs what was seen, as "fish-on-top today": see forecastd report -h`)
	}
	what, rest := strings.ToLower(said[0]), strings.ToLower(strings.Join(said[1:], " "))
	now := a.now().UTC()
	r := store.Report{Port: port.Name, Seen: now, Until: now.Add(seenLasts), By: by}
	switch what {
	case "fish-on-top":
		return a.reportFish(ctx, st, port, rest, by)
	case "inlet":
		return a.reportInlet(ctx, st, port, rest, by)
	case "showering":
		yes, err := yesNo(rest)
		if err != nil {
			return none, fmt.Errorf("showering: %w", err)
		}
		r.BaitShowering = models.Known(yes)
		told = models.Say("said.showering")
		if !yes {
			told = models.Say("said.no_showering")
		}
	case "water":
		water := models.Water(rest)
		if !slices.Contains(waters(), water) {
			return none, fmt.Errorf("water: %q is no look of the water: write %s", rest, inWords(waters()))
		}
		r.Water = models.Known(water)
		told = models.Say("said.water", models.Word(rest))
	case "edge":
		if told, err = readEdge(&r, rest); err != nil {
			return none, err
		}
	default:
		return none, fmt.Errorf("nothing is known of %q: report fish-on-top, showering, edge, water or inlet", said[0])
	}
	if _, err := st.AddReport(ctx, r); err != nil {
		return none, err
	}
	return models.Say("said.counts", told, now, r.Until), nil
}

func waters() []models.Water {
	return []models.Water{models.WaterClear, models.WaterCleanGreen, models.WaterBlueEdge, models.WaterDirty}
}

// reportFish keeps on which day fish were seen on top. It counts on that day
// and the next.
func (a *App) reportFish(ctx context.Context, st *store.Store, port config.Port, rest, by string) (models.Phrase, error) {
	var none models.Phrase
	now := a.now().UTC()
	on := models.DateOf(now, port.Zone)
	switch rest {
	case "today":
	case "yesterday":
		on = on.AddDays(-1)
	case "none":
		n, err := st.TakeBack(ctx, port.Name, store.SaidFishOnTop, now)
		if err != nil {
			return none, err
		}
		if n == 0 {
			return models.Say("said.no_fish_before"), nil
		}
		return models.Say("said.no_fish"), nil
	default:
		return none, fmt.Errorf("fish-on-top: %q is no day: write today, yesterday or none", rest)
	}
	until := on.AddDays(2).Start(port.Zone)
	if _, err := st.AddReport(ctx, store.Report{Port: port.Name, Seen: now, Until: until, By: by, FishOnTop: models.Known(on)}); err != nil {
		return none, err
	}
	return models.Say("said.fish_on_top", on, on.AddDays(1)), nil
}

// reportInlet keeps from when the inlet is expected to be dangerous: the next
// time that the clock shows it, until the end of that day.
func (a *App) reportInlet(ctx context.Context, st *store.Store, port config.Port, rest, by string) (models.Phrase, error) {
	var none models.Phrase
	now := a.now().UTC()
	if rest == "ok" {
		n, err := st.TakeBack(ctx, port.Name, store.SaidInletHazard, now)
		if err != nil {
			return none, err
		}
		if n == 0 {
			return models.Say("said.inlet_ok_before"), nil
		}
		return models.Say("said.inlet_ok"), nil
	}
	word, ok := strings.CutPrefix(rest, "from ")
	if !ok {
		return none, fmt.Errorf("inlet: %q can't be read: write from 13:00, or ok", rest)
	}
	from, err := models.ParseClock(word)
	if err != nil {
		return none, fmt.Errorf("inlet: %w", err)
	}
	day := models.DateOf(now, port.Zone)
	if !from.On(day, port.Zone).After(now) {
		day = day.AddDays(1)
	}
	if _, err := st.AddReport(ctx, store.Report{
		Port: port.Name, Seen: now, Until: day.AddDays(1).Start(port.Zone), By: by, InletHazardFrom: models.Known(from),
	}); err != nil {
		return none, err
	}
	return models.Say("said.inlet", from, day), nil
}

// readEdge reads "in", "in 140 ft", "out".
func readEdge(r *store.Report, rest string) (models.Phrase, error) {
	var none models.Phrase
	where, depth, _ := strings.Cut(rest, " ")
	switch {
	case where != "in" && where != "out":
		return none, fmt.Errorf("edge: %q is neither in nor out: write whether it is in reach, as edge in 140 ft", where)
	case where == "out" && depth != "":
		return none, fmt.Errorf("edge: an edge out of reach has no depth to start in: leave out %q", depth)
	}
	r.EdgeInReach = models.Known(where == "in")
	if depth == "" {
		return models.Say("said.edge_" + where), nil
	}
	d, err := config.ParseDepth(depth)
	if err != nil {
		return none, fmt.Errorf("edge: %w", err)
	}
	r.EdgeDepth = models.Known(d)
	return models.Say("said.edge_depth", d), nil
}

// Reported lists what was reported and still counts, a line each.
func (a *App) Reported(ctx context.Context, portName string) ([]string, error) {
	st, port, err := a.saying(portName)
	if err != nil {
		return nil, err
	}
	now := a.now()
	t := words.NewTeller(reader(a.cfg), port.Zone, models.DateOf(now, port.Zone))
	found, err := st.Reports(ctx, port.Name, models.Interval{Start: now.AddDate(0, 0, -14), End: now.Add(time.Second)})
	if err != nil {
		return nil, err
	}
	var out []string
	for _, r := range found {
		if r.Until.After(now) {
			var said []string
			for _, p := range reportPhrases(r) {
				said = append(said, t.Say(p))
			}
			if r.Note != "" {
				said = append(said, r.Note)
			}
			out = append(out, t.Say(models.Say("said.line", r.Seen, models.Word(strings.Join(said, ", ")), r.Until)))
		}
	}
	return out, nil
}
