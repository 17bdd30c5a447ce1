package web

import (
	"math"
	"strings"

	"forecastd/internal/models"
	"forecastd/internal/words"
)

// daysData is what the page of the days ahead is filled with.
type daysData struct {
	Called bool
	Days   []dayAhead
	Best   []words.Section
}

// dayAhead is one day in short.
type dayAhead struct {
	Name, Link string
	// Say is what to do, Doubt how sure that is, Met what would be met.
	Say, Doubt string
	Met, Notes []string
	// Trips counts the bookings where there is more than one.
	Trips int
}

// daysPage is the days ahead.
func daysPage(v *view) (page, error) {
	b, err := v.Board()
	if err != nil {
		return page{}, err
	}
	data := daysData{Called: !b.Made.IsZero()}
	var all []models.DayOutlook
	for _, d := range b.Days {
		all = append(all, d.Short)
		data.Days = append(data.Days, v.ahead(d))
	}
	data.Best = v.Tell(b.Next).BestDays(all)
	return page{Name: "days", Title: "title.days", Data: data}, nil
}

// ahead tells one day in short.
func (v *view) ahead(d Day) dayAhead {
	t := v.Tell(d.Date)
	s := d.Short
	a := dayAhead{Name: t.LongDay(d.Date), Link: v.Link("/day/" + d.Date.String()), Say: capital(t.Word(string(s.Tactic)))}
	if out, ok := s.Out.Get(); ok {
		a.Say += ", " + v.T("days.out", t.Time(out.Start), t.Time(out.End))
	}
	a.Doubt = v.T("days.sure", capital(t.Word(string(s.Confidence))), math.Round(100*s.Agreement))
	if w, ok := s.Wind.Get(); ok {
		a.Met = append(a.Met, v.T("days.wind", t.Speed(w)))
	} else {
		a.Met = append(a.Met, v.T("days.wind unknown"))
	}
	if sea, ok := s.Sea.Get(); ok {
		a.Met = append(a.Met, v.T("days.sea", t.Length(sea)))
	} else {
		a.Met = append(a.Met, v.T("days.sea unknown"))
	}
	ride := t.Word(s.BestRide.String())
	if s.WorstRide != s.BestRide {
		ride = v.T("days.range", ride, t.Word(s.WorstRide.String()))
	}
	a.Met = append(a.Met, v.T("days.ride", ride))
	var windows []string
	for _, w := range s.KiteWindows {
		windows = append(windows, v.T("days.range", t.Time(w.Start), t.Time(w.End)))
	}
	if len(windows) > 0 {
		a.Met = append(a.Met, v.T("days.kites", strings.Join(windows, ", ")))
	} else {
		a.Met = append(a.Met, v.T("days.no kites"))
	}
	for _, p := range []models.Phrase{s.Front, s.Closed} {
		if told := t.Say(p); told != "" {
			a.Notes = append(a.Notes, capital(told))
		}
	}
	if free, ok := s.Free.Get(); ok && free {
		a.Notes = append(a.Notes, v.T("days.free"))
	}
	if len(d.Trips) > 1 {
		a.Trips = len(d.Trips)
	}
	return a
}
