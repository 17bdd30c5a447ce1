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
	"forecastd/internal/models/units"
	"forecastd/internal/store"
)

// seenLasts is how long a word on edge, water and showering bait counts.
const seenLasts = 36 * time.Hour

// saying is the store and the port for what people say.
func (a *App) saying(portName string) (*store.Store, config.Port, error) {
	port, _, err := a.place(portName, "")
	if err != nil {
		return nil, port, err
	}
	st, err := a.needStore()
	return st, port, err
}

// Report keeps one thing that somebody on the water has seen, as the words of
// the command say it: "fish-on-top today", "showering yes", "edge in 140 ft",
// "water clean green", "inlet from 13:00", "inlet ok". It answers a sentence
// that says what was understood and how long it counts. by tells who says so.
func (a *App) Report(ctx context.Context, portName string, said []string, by string) (string, error) {
	st, port, err := a.saying(portName)
	if err != nil {
		return "", err
	}
	if len(said) < 2 {
		return "", errors.New(`report needs what was seen, as "fish-on-top today": see forecastd report -h`)
	}
	what, rest := strings.ToLower(said[0]), strings.ToLower(strings.Join(said[1:], " "))
	now := a.now().UTC()
	today := models.DateOf(now, port.Zone)
	r := store.Report{Port: port.Name, Seen: now, Until: now.Add(seenLasts), By: by}
	told := ""
	switch what {
	case "fish-on-top":
		return a.reportFish(ctx, st, port, rest, by)
	case "inlet":
		return a.reportInlet(ctx, st, port, rest, by)
	case "showering":
		yes, err := yesNo(rest)
		if err != nil {
			return "", fmt.Errorf("showering: %w", err)
		}
		r.BaitShowering = models.Known(yes)
		told = "bait is showering"
		if !yes {
			told = "no bait is showering"
		}
	case "water":
		water := models.Water(rest)
		if !slices.Contains(waters(), water) {
			return "", fmt.Errorf("water: %q is no look of the water: write %s", rest, inWords(waters()))
		}
		r.Water = models.Known(water)
		told = "the water is " + rest
	case "edge":
		if told, err = readEdge(&r, rest); err != nil {
			return "", err
		}
	default:
		return "", fmt.Errorf("nothing is known of %q: report fish-on-top, showering, edge, water or inlet", said[0])
	}
	if _, err := st.AddReport(ctx, r); err != nil {
		return "", err
	}
	return fmt.Sprintf("%s, as of %s %s; it counts until %s", told, today, clockOf(now, port), dayClock(r.Until, port)), nil
}

func waters() []models.Water {
	return []models.Water{models.WaterClear, models.WaterCleanGreen, models.WaterBlueEdge, models.WaterDirty}
}

// reportFish keeps on which day fish were seen on top. It counts on that day
// and the next.
func (a *App) reportFish(ctx context.Context, st *store.Store, port config.Port, rest, by string) (string, error) {
	now := a.now().UTC()
	on := models.DateOf(now, port.Zone)
	switch rest {
	case "today":
	case "yesterday":
		on = on.AddDays(-1)
	case "none":
		n, err := st.TakeBack(ctx, port.Name, store.SaidFishOnTop, now)
		if err != nil {
			return "", err
		}
		if n == 0 {
			return "no fish on top: none was reported that would still count", nil
		}
		return "no fish on top: what was reported before no longer counts", nil
	default:
		return "", fmt.Errorf("fish-on-top: %q is no day: write today, yesterday or none", rest)
	}
	until := on.AddDays(2).Start(port.Zone)
	if _, err := st.AddReport(ctx, store.Report{Port: port.Name, Seen: now, Until: until, By: by, FishOnTop: models.Known(on)}); err != nil {
		return "", err
	}
	return fmt.Sprintf("fish were on top on %s; it counts until the end of %s", on, on.AddDays(1)), nil
}

// reportInlet keeps from when the inlet is expected to be dangerous: the next
// time that the clock shows it, until the end of that day.
func (a *App) reportInlet(ctx context.Context, st *store.Store, port config.Port, rest, by string) (string, error) {
	now := a.now().UTC()
	if rest == "ok" {
		n, err := st.TakeBack(ctx, port.Name, store.SaidInletHazard, now)
		if err != nil {
			return "", err
		}
		if n == 0 {
			return "the inlet: nothing was reported that would still count; sea and stream judge it as ever", nil
		}
		return "the inlet: what was reported before no longer counts; sea and stream judge it as ever", nil
	}
	word, ok := strings.CutPrefix(rest, "from ")
	if !ok {
		return "", fmt.Errorf("inlet: %q can't be read: write from 13:00, or ok", rest)
	}
	from, err := models.ParseClock(word)
	if err != nil {
		return "", fmt.Errorf("inlet: %w", err)
	}
	day := models.DateOf(now, port.Zone)
	if !from.On(day, port.Zone).After(now) {
		day = day.AddDays(1)
	}
	if _, err := st.AddReport(ctx, store.Report{
		Port: port.Name, Seen: now, Until: day.AddDays(1).Start(port.Zone), By: by, InletHazardFrom: models.Known(from),
	}); err != nil {
		return "", err
	}
	return fmt.Sprintf("the inlet is dangerous from %s on %s to the end of that day", from, day), nil
}

// readEdge reads "in", "in 140 ft", "out".
func readEdge(r *store.Report, rest string) (string, error) {
	where, depth, _ := strings.Cut(rest, " ")
	switch {
	case where != "in" && where != "out":
		return "", fmt.Errorf("edge: %q is neither in nor out: write whether it is in reach, as edge in 140 ft", where)
	case where == "out" && depth != "":
		return "", fmt.Errorf("edge: an edge out of reach has no depth to start in: leave out %q", depth)
	}
	r.EdgeInReach = models.Known(where == "in")
	if depth == "" {
		return map[string]string{"in": "the edge is in reach", "out": "the edge is out of reach"}[where], nil
	}
	d, err := config.ParseDepth(depth)
	if err != nil {
		return "", fmt.Errorf("edge: %w", err)
	}
	r.EdgeDepth = models.Known(d)
	return fmt.Sprintf("the edge is in reach in %.0f ft", d.Feet()), nil
}

// Reported lists what was reported and still counts, a line each.
func (a *App) Reported(ctx context.Context, portName string) ([]string, error) {
	st, port, err := a.saying(portName)
	if err != nil {
		return nil, err
	}
	now := a.now()
	found, err := st.Reports(ctx, port.Name, models.Interval{Start: now.AddDate(0, 0, -14), End: now.Add(time.Second)})
	if err != nil {
		return nil, err
	}
	var out []string
	for _, r := range found {
		if r.Until.After(now) {
			out = append(out, fmt.Sprintf("%s  %s; counts until %s", dayClock(r.Seen, port), reportText(r), dayClock(r.Until, port)))
		}
	}
	return out, nil
}

func reportText(r store.Report) string {
	var parts []string
	if d, ok := r.FishOnTop.Get(); ok {
		parts = append(parts, "fish on top on "+d.String())
	}
	if yes, ok := r.BaitShowering.Get(); ok {
		parts = append(parts, map[bool]string{true: "bait showering", false: "no bait showering"}[yes])
	}
	if in, ok := r.EdgeInReach.Get(); ok {
		parts = append(parts, map[bool]string{true: "edge in reach", false: "edge out of reach"}[in])
	}
	if d, ok := r.EdgeDepth.Get(); ok {
		parts = append(parts, fmt.Sprintf("edge in %.0f ft", d.Feet()))
	}
	if w, ok := r.Water.Get(); ok {
		parts = append(parts, "water "+string(w))
	}
	if c, ok := r.InletHazardFrom.Get(); ok {
		parts = append(parts, "inlet dangerous from "+c.String())
	}
	return strings.Join(append(parts, strings.Fields(r.Note)...), ", ")
}

// LogRequest is an entry of the captain's log as a command gives it.
type LogRequest struct {
	Port, Note string
	// By tells who writes it.
	By string
	// Date is the day told of; the zero date is today.
	Date           models.Date
	Tactic         models.Tactic
	Ride           models.Opt[models.Ride]
	Wind           models.Opt[units.Speed]
	Sea            models.Opt[units.Length]
	Raised, Caught models.Opt[int]
}

// Log keeps an entry of the captain's log.
func (a *App) Log(ctx context.Context, req LogRequest) (string, error) {
	st, port, err := a.saying(req.Port)
	if err != nil {
		return "", err
	}
	now := a.now().UTC()
	today := models.DateOf(now, port.Zone)
	if req.Date == (models.Date{}) {
		req.Date = today
	}
	if today.Before(req.Date) {
		return "", fmt.Errorf("%s is still to come: the log is of days that were", req.Date)
	}
	if strings.TrimSpace(req.Note) == "" && req.Tactic == "" && !req.Ride.Known() && !req.Wind.Known() && !req.Sea.Known() && !req.Raised.Known() && !req.Caught.Known() {
		return "", errors.New("an entry says something: a text, or flags as -tactic kite -ride ok")
	}
	_, err = st.AddLogEntry(ctx, store.LogEntry{
		Port: port.Name, Date: req.Date, Written: now, By: req.By, Tactic: req.Tactic, Ride: req.Ride, Wind: req.Wind, Sea: req.Sea,
		FishRaised: req.Raised, FishCaught: req.Caught, Note: req.Note,
	})
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("written into the log of %s", req.Date), nil
}

// LogLines lists the last days of the captain's log, a line an entry.
func (a *App) LogLines(ctx context.Context, portName string, days int) ([]string, error) {
	st, port, err := a.saying(portName)
	if err != nil {
		return nil, err
	}
	today := models.DateOf(a.now(), port.Zone)
	entries, err := st.Log(ctx, port.Name, today.AddDays(-days), today)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, e := range entries {
		out = append(out, e.Date.String()+"  "+logText(e))
	}
	return out, nil
}

func logText(e store.LogEntry) string {
	var parts []string
	if e.Tactic != "" {
		parts = append(parts, string(e.Tactic))
	}
	if r, ok := e.Ride.Get(); ok {
		parts = append(parts, "ride "+r.String())
	}
	if w, ok := e.Wind.Get(); ok {
		parts = append(parts, fmt.Sprintf("wind %.0f kn", w.Knots()))
	}
	if s, ok := e.Sea.Get(); ok {
		parts = append(parts, fmt.Sprintf("sea %.1f ft", s.Feet()))
	}
	if n, ok := e.FishRaised.Get(); ok {
		parts = append(parts, fmt.Sprintf("%d raised", n))
	}
	if n, ok := e.FishCaught.Get(); ok {
		parts = append(parts, fmt.Sprintf("%d caught", n))
	}
	if e.Note != "" {
		parts = append(parts, e.Note)
	}
	return strings.Join(parts, ", ")
}

// Drafts lists the messages to guests that wait for the captain's word.
func (a *App) Drafts(ctx context.Context) ([]store.Draft, error) {
	st, err := a.needStore()
	if err != nil {
		return nil, err
	}
	return st.Outbox().Drafts(ctx, a.now())
}

// AnswerDraft approves or refuses a draft in the name of who says so. The
// daemon sends what was approved.
func (a *App) AnswerDraft(ctx context.Context, id string, approve bool, by string) (string, error) {
	open, err := a.Drafts(ctx)
	if err != nil {
		return "", err
	}
	var found []store.Draft
	for _, d := range open { // the first characters will do
		if id != "" && strings.HasPrefix(d.ID, id) {
			found = append(found, d)
		}
	}
	switch {
	case len(found) == 0:
		return "", fmt.Errorf("there is no open draft %q: it may be answered or out of date; `forecastd approve` lists them", id)
	case len(found) > 1:
		return "", fmt.Errorf("%q could be %d drafts: write more of it", id, len(found))
	}
	answer, told := store.DraftRefused, "refused: nothing is sent"
	if approve {
		answer, told = store.DraftApproved, "approved: the daemon sends it to "+found[0].Message.Person
	}
	if _, err := a.store.Outbox().AnswerDraft(ctx, found[0].ID, answer, by, a.now()); err != nil {
		return "", err
	}
	return told, nil
}

func yesNo(s string) (bool, error) {
	switch s {
	case "yes":
		return true, nil
	case "no":
		return false, nil
	}
	return false, fmt.Errorf("%q is neither yes nor no: write one of them", s)
}

func inWords[T ~string](words []T) string {
	var out []string
	for _, w := range words {
		out = append(out, string(w))
	}
	return strings.Join(out, ", ")
}

func clockOf(t time.Time, p config.Port) string  { return t.In(p.Zone).Format("15:04") }
func dayClock(t time.Time, p config.Port) string { return t.In(p.Zone).Format("2006-01-02 15:04") }
