package app

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
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
	// Booking is the trip that was called; unknown for the usual trip of a
	// day without a booking, and for an outlook in a file.
	Booking models.Opt[Booked]
	// Alone tells that it is the only trip of its day.
	Alone bool
	// Fault is why no call could be made; then Call is empty.
	Fault error
	// fetched is what the sources answered.
	fetched fetch.Collection
	slot    slot
	// with is what the other trips of the day leave it.
	with scoring.With
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
	return Called{Call: c, Outlook: o, Now: o.Made, Reader: words.Reader{}, Alone: true}, nil
}

// Telling is how a command is asked to tell: a language and a system of units;
// empty is as configured.
type Telling struct {
	Language words.Language
	Units    words.Measures
}

// SetLanguage takes a language by its code.
func (t *Telling) SetLanguage(s string) error {
	for _, l := range words.Languages() {
		if s == string(l) {
			t.Language = l
			return nil
		}
	}
	return fmt.Errorf("%q is none of ours: write %s", s, inWords(words.Languages()))
}

// SetUnits takes a system of units by its name.
func (t *Telling) SetUnits(s string) error {
	switch m := words.Measures(s); m {
	case words.Nautical, words.Metric:
		t.Units = m
		return nil
	}
	return fmt.Errorf("%q is none of ours: write %s or %s", s, words.Nautical, words.Metric)
}

// Configured is how the configuration asks to tell.
func Configured(cfg *config.Config) Telling {
	r := reader(cfg)
	return Telling{Language: r.Language, Units: r.Measures}
}

// over is a reader as configured, with what was asked for put over it.
func (t Telling) over(r words.Reader) words.Reader {
	return words.Reader{Language: cmp.Or(t.Language, r.Language), Measures: cmp.Or(t.Units, r.Measures)}
}

// Told is the call for a reader as was asked for.
func (c Called) Told(t Telling) Called {
	c.Reader = t.over(c.Reader)
	return c
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

// CallsText tells the calls of a day's trips in one document.
func CallsText(list []Called, explain bool) string {
	if len(list) == 1 {
		return list[0].Text(explain)
	}
	t := list[0].teller()
	s := t.Trips(tripsOf(list), list[0].Now)
	for _, c := range list {
		if explain {
			s += "\n" + c.TripName() + "\n" + t.Explain(c.Call)
		}
	}
	return s
}

// CallsJSON is the call document; of several trips one document a line.
func CallsJSON(list []Called, explain bool) ([]byte, error) {
	if len(list) == 1 {
		return list[0].JSON(explain)
	}
	var out bytes.Buffer
	for _, c := range list {
		b, err := c.JSON(explain)
		if err != nil {
			return nil, err
		}
		if err := json.Compact(&out, b); err != nil {
			return nil, fmt.Errorf("set a call document on a line: %w", err)
		}
		out.WriteByte('\n')
	}
	return out.Bytes(), nil
}

// TripName tells the trip by its booked times and its guests.
func (c Called) TripName() string { return c.teller().TripName(c.forWords()) }

func (c Called) forWords() words.Trip {
	return words.Trip{Guests: c.Booking.Or(Booked{}).Name, Call: c.Call}
}

func tripsOf(list []Called) []words.Trip {
	var out []words.Trip
	for _, c := range list {
		out = append(out, c.forWords())
	}
	return loadOnce(out)
}

// loadOnce leaves one load list of the day among its trips, that of them all:
// the boat is loaded the evening before.
func loadOnce(trips []words.Trip) []words.Trip {
	var loads [][]models.LoadItem
	last := 0
	for i := range trips {
		c := &trips[i].Call
		if len(c.Load) > 0 {
			last = i
		}
		loads = append(loads, c.Load)
		c.Load = nil
	}
	trips[last].Call.Load = scoring.LoadOfDay(loads)
	return trips
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

// Day reads "today", "tomorrow" or a date, on the clock of a port; the zero
// date, that of the next trip, is empty.
func (a *App) Day(s, port string) (models.Date, error) {
	p, _, err := a.place(port, "")
	if err != nil {
		return models.Date{}, err
	}
	today := models.DateOf(a.now(), p.Zone)
	switch s {
	case "":
		return models.Date{}, nil
	case "today":
		return today, nil
	case "tomorrow":
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

// LoadLists tells what goes aboard for a day's trips.
func LoadLists(list []Called) string {
	trips := tripsOf(list)
	var load []models.LoadItem
	for _, t := range trips {
		load = append(load, t.Call.Load...)
	}
	return list[0].teller().TripsLoad(trips, load)
}

// WhatIf tells the call beside what it would be with some changes, each as
// "wind +5kn" or "front 3h later". The other trips of the day stay as they are.
func (c Called) WhatIf(changes []string, lim models.Limits) (string, error) {
	var list []scoring.Change
	for _, s := range changes {
		change, err := scoring.ParseChange(s)
		if err != nil {
			return "", err
		}
		list = append(list, change)
	}
	then := scoring.Judge(scoring.WhatIf(c.Outlook, list...), lim, c.with)
	trip := ""
	if !c.Alone {
		trip = c.TripName()
	}
	return c.teller().SideBySide(c.Call, then, trip, changes), nil
}

// DaysText tells the days ahead.
func (a *App) DaysText(ctx context.Context, port, ground string, in Telling) (string, error) {
	days, p, err := a.Days(ctx, port, ground)
	if err != nil {
		return "", err
	}
	return words.NewTeller(in.over(reader(a.cfg)), p.Zone, models.DateOf(a.now(), p.Zone)).Days(days, a.demo), nil
}

// Limits are the configured limits.
func (a *App) Limits() models.Limits { return a.cfg.Limits }
