package app

import (
	"context"
	"fmt"
	"time"

	"forecastd/config"
	"forecastd/internal/fetch"
	"forecastd/internal/models"
	"forecastd/internal/scoring"
	"forecastd/internal/words"
)

// Called is a call with all that is needed to tell it.
type Called struct {
	Call    models.Call
	Outlook models.Outlook
	// Now is when it is told, for the ages of what went in.
	Now    time.Time
	Reader words.Reader
	// fetched is what the sources answered.
	fetched fetch.Collection
}

// CallOutlookFile makes the call from an outlook file. Now is the file's made
// unless it is given.
func CallOutlookFile(b []byte, lim models.Limits, now models.Opt[time.Time]) (Called, error) {
	o, err := words.ReadOutlook(b)
	if err != nil {
		return Called{}, err
	}
	o.Made = now.Or(o.Made)
	c, err := judge(o, lim, scoring.With{})
	if err != nil {
		return Called{}, err
	}
	return Called{Call: c, Outlook: o, Now: o.Made, Reader: words.Reader{}}, nil
}

// Text tells the call in words.
func (c Called) Text(explain bool) string {
	t := c.teller()
	s := t.Text(c.Call, c.Now)
	if explain {
		s += "\n" + t.Explain(c.Call)
	}
	return s
}

// JSON is the call document.
func (c Called) JSON(explain bool) ([]byte, error) { return c.teller().JSON(c.Call, c.Now, explain) }

// OutlookFile is the outlook that was judged, as a file that gives the same
// call again.
func (c Called) OutlookFile() ([]byte, error) { return words.WriteOutlook(c.Outlook) }

func (c Called) teller() words.Teller {
	return words.NewTeller(c.Reader, c.Outlook.Port.Zone, c.Outlook.Date)
}

func reader(cfg *config.Config) words.Reader {
	return words.Reader{Language: words.Language(cfg.Language), Measures: words.Measures(cfg.Units)}
}

// Day reads "today", "tomorrow" or a date, on the clock of a port.
func (a *App) Day(s, port string) (models.Date, error) {
	p, _, err := a.place(port, "")
	if err != nil {
		return models.Date{}, err
	}
	today := models.DateOf(a.now(), p.Zone)
	switch s {
	case "today":
		return today, nil
	case "", "tomorrow":
		return today.AddDays(1), nil
	}
	d, err := models.ParseDate(s)
	if err != nil {
		return d, err
	}
	if last := today.AddDays(farthest); d.Before(today) || last.Before(d) {
		return d, fmt.Errorf("%s can't be called: a day from today, %s, to ten days ahead, %s, can", d, today, last)
	}
	return d, nil
}

// LoadList tells what goes aboard.
func (c Called) LoadList() string { return c.teller().LoadList(c.Call) }

// WhatIf tells the call beside what it would be with some changes, each as
// "wind +5kn" or "front 3h later".
func (c Called) WhatIf(changes []string, lim models.Limits) (string, error) {
	var list []scoring.Change
	for _, s := range changes {
		change, err := scoring.ParseChange(s)
		if err != nil {
			return "", err
		}
		list = append(list, change)
	}
	then := scoring.Judge(scoring.WhatIf(c.Outlook, list...), lim, scoring.With{})
	return c.teller().SideBySide(c.Call, then, changes), nil
}

// DaysText tells the days ahead.
func (a *App) DaysText(ctx context.Context, port, ground string) (string, error) {
	days, p, err := a.Days(ctx, port, ground)
	if err != nil {
		return "", err
	}
	return words.NewTeller(reader(a.cfg), p.Zone, models.DateOf(a.now(), p.Zone)).Days(days, a.demo), nil
}

// Limits are the configured limits.
func (a *App) Limits() models.Limits { return a.cfg.Limits }
