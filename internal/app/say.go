package app

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"forecastd/config"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/store"
)

// saying is the store and the port for what people say.
func (a *App) saying(portName string) (*store.Store, config.Port, error) {
	port, _, err := a.place(portName, "")
	if err != nil {
		return nil, port, err
	}
	st, err := a.needStore()
	return st, port, err
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
	req.Note = strings.TrimSpace(models.PlainText(req.Note))
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
