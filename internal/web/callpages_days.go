package web

import (
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
	// Official are the warnings of the day; Rule tells that some hold, or
	// that nobody knows: then they stand first.
	Official   []string
	Rule       bool
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
	data.Best = v.Tell(b.Next).DaysToOffer(all)
	return page{Name: "days", Title: "title.days", Data: data}, nil
}

// ahead tells one day in short; the guests are named on the charters' page.
func (v *view) ahead(d Day) dayAhead {
	t := v.Tell(d.Date)
	told := t.Ahead(d.Short, false)
	a := dayAhead{
		Name: t.LongDay(d.Date), Link: v.Link("/day/" + d.Date.String()), Say: capital(told.Say), Doubt: capital(told.Doubt),
		Rule: told.Rule, Met: told.Met,
	}
	for _, o := range told.Official {
		a.Official = append(a.Official, capital(o))
	}
	if told.Booked != "" {
		a.Notes = append(a.Notes, capital(told.Booked))
	}
	for _, n := range told.Notes {
		a.Notes = append(a.Notes, capital(n))
	}
	if len(d.Trips) > 1 {
		a.Trips = len(d.Trips)
	}
	return a
}
