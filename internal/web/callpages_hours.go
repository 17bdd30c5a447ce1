package web

import (
	"fmt"

	"forecastd/internal/models"
	"forecastd/internal/words"
)

// hoursData is what the page of a day's hours is filled with.
type hoursData struct {
	Long, Day string
	Steps     []pageLink
	Trips     []hoursTrip
}

// hoursTrip is the hours of one trip.
type hoursTrip struct {
	N, Of   int
	Head    string
	Verdict string
	Wide    figure
	Narrow  figure
	Hours   []hourData
	Sources []string
}

// hourData is one hour with all that made it.
type hourData struct {
	ID, Clock, Do, Short string
	Closed               string
	Met                  []string
	Lanes                []laneData
}

// laneData is one lane of an hour.
type laneData struct {
	Name, Word string
	Factors    []factorData
}

// factorData is one factor: what was looked at, what it was worth from 0 to
// 1, and what that means.
type factorData struct{ Name, Input, Worth, Means string }

// hoursPage explains every hour of a day.
func hoursPage(v *view) (page, error) {
	b, d, err := v.dayAsked()
	if err != nil {
		return page{}, err
	}
	if len(d.Trips) == 0 {
		return page{}, fmt.Errorf("no hours are known for %s: %w", d.Date, ErrNotFound)
	}
	data := hoursData{Long: v.Tell(d.Date).LongDay(d.Date), Day: v.Link("/day/" + d.Date.String())}
	data.Steps = append(data.Steps, v.steps(b, d)...)
	for i, trip := range d.Trips {
		c := trip.Call
		t := v.Tell(c.Date)
		one := hoursTrip{
			N: i + 1, Of: len(d.Trips), Verdict: capital(t.Verdict(c)), Sources: v.sourcesOf(c, words.PartHours),
			Head: v.tripHead(c), Wide: v.lanes(c, i, false), Narrow: v.lanes(c, i, true),
		}
		for _, h := range c.Hours {
			x := v.hour(t, h)
			x.ID = "h" + clockOf(b, h.At).String()[:2] + fmt.Sprintf("-%d", i+1)
			one.Hours = append(one.Hours, x)
		}
		data.Trips = append(data.Trips, one)
	}
	return page{Name: "hours", Title: "title.hours", Data: data}, nil
}

// hour explains one hour.
func (v *view) hour(t words.Teller, h models.HourCall) hourData {
	x := hourData{Clock: t.Time(h.At), Do: t.Word(string(h.Do)), Closed: t.Say(h.Closed)}
	lane := func(name, word string) {
		l := laneData{Name: v.T("lanes." + name), Word: t.Word(word)}
		for _, f := range h.Factors[name] {
			l.Factors = append(l.Factors, factorData{Name: t.Word(f.Name), Input: t.Say(f.Input), Worth: fmt.Sprintf("%.2f", f.Value), Means: t.Say(f.Phrase)})
		}
		x.Lanes = append(x.Lanes, l)
	}
	lane("kite", h.Kite.String())
	lane("sight", h.Sight.String())
	lane("ride", h.Ride.String())
	x.Short = capital(v.T("hours.short", t.Word(h.Kite.String()), t.Word(h.Sight.String()), t.Word(h.Ride.String())))
	c := h.Conditions
	x.Met = []string{v.T("hours.wind", t.Wind(c)), v.T("hours.sea", t.Sea(c))}
	told := func(key string, known bool, tell func() string) {
		if known {
			x.Met = append(x.Met, v.T(key, tell()))
		}
	}
	told("hours.aloft", c.KiteWind.Known(), func() string {
		return v.T("hours.aloft range", optSpeed(t, c.KiteLull), optSpeed(t, c.KiteWind), optSpeed(t, c.KiteGust))
	})
	told("hours.current", c.Current.Known() && c.CurrentToward.Known(), func() string {
		return t.Say(models.Say("range.one", c.CurrentToward.Or(0))) + " " + optSpeed(t, c.Current)
	})
	told("hours.slip", c.Slip.Known(), func() string { return optSpeed(t, c.Slip) })
	told("hours.inlet", c.InletSea.Known(), func() string { return t.Length(c.InletSea.Or(0)) })
	told("hours.visibility", c.Visibility.Known(), func() string { return t.Length(c.Visibility.Or(0)) })
	told("hours.cloud", c.Cloud.Known(), func() string { return fmt.Sprintf("%.0f %%", c.Cloud.Or(0)) })
	told("hours.rain", c.Rain.Known(), func() string { return fmt.Sprintf("%.0f %%", c.Rain.Or(0)) })
	told("hours.thunder", c.Thunder.Known(), func() string { return fmt.Sprintf("%.0f %%", c.Thunder.Or(0)) })
	x.Met = append(x.Met, v.sun(t, c))
	told("hours.kite", c.KiteName != "", func() string { return t.Word(c.KiteName) })
	return x
}

// sun tells where the sun stands.
func (v *view) sun(t words.Teller, c models.Conditions) string {
	if c.SunElevation <= 0 {
		return v.T("hours.sun down")
	}
	return v.T("hours.sun", fmt.Sprintf("%.0f", c.SunElevation), point(t, c.SunAzimuth))
}
