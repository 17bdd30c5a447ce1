// Package outlook joins series, observations and tides into the outlook of
// one ground for one day: a middle course, which is the best single guess, and
// courses around it, which are the days that may come, each whole.
//
// Courses are a function of the forecasts and of how wrong such forecasts
// are: the same quantiles of the same errors for every port, run and day. It
// reads no clock and does no I/O.
package outlook

import (
	"fmt"
	"slices"
	"sort"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/tide"
	"forecastd/internal/models/units"
)

// Input is all that goes into an outlook.
type Input struct {
	// Now is when the outlook is made.
	Now       time.Time
	Date      models.Date
	Port      models.Port
	Ground    models.Ground
	Boat      models.Boat
	Kites     []models.Kite
	Trip      models.Trip
	Reports   models.Reports
	Overrides []models.Override

	// Series are the forecasts for the ground. Their order is the order of
	// trust: the middle member takes each value from the first series that
	// has it.
	Series []models.Series
	// Inlet is the tidal stream in the inlet, at any spacing up to an hour.
	Inlet    []models.Hour
	Tides    []models.TideEvent
	Streams  []models.StreamEvent
	Observed []models.Observation
	Warnings models.Opt[[]models.Warning]
	// Stood is as in models.Outlook; it counts while Warnings is unknown.
	Stood   []models.Warning
	Texts   []models.OfficialText
	Sources []models.Provenance
	// Gaps are the inputs that could not be had.
	Gaps []models.Gap
	// Errors tells how wrong a source is at a lead; nil means Assumed.
	Errors func(source string, lead time.Duration) ErrorSize
	// HistoryDays is how long the errors were learned from.
	HistoryDays int
	// Courses is how many courses are drawn; 0 means Courses.
	Courses int
	Demo    bool
}

// Courses is how many courses an outlook has where nobody says.
const Courses = 64

// The hours of a day that an outlook covers, on the port's clock. A trip
// outside them is not a trip this tool plans.
func dayStart() models.Clock { return models.Clock{Hour: 4} }
func dayEnd() models.Clock   { return models.Clock{Hour: 21} }

// Build makes the outlook. Hours that no series covers are in it with all
// values unknown.
func Build(in Input) models.Outlook {
	var doubts []models.Gap
	in.Series, doubts = doubted(in.Series, in)
	hours := dayHours(in.Date, in.Port.Zone)
	errorsOf := in.Errors
	if errorsOf == nil {
		errorsOf = func(_ string, lead time.Duration) ErrorSize { return Assumed(lead) }
	}
	o := models.Outlook{
		Made: in.Now.UTC().Truncate(time.Second), Date: in.Date, Port: in.Port, Ground: in.Ground, Boat: in.Boat, Kites: in.Kites,
		Trip: in.Trip, Reports: in.Reports, Overrides: in.Overrides, Warnings: in.Warnings, Stood: in.Stood, Texts: in.Texts,
		Tides:    during(in.Tides, hours, func(e models.TideEvent) time.Time { return e.At }),
		Streams:  during(in.Streams, hours, func(e models.StreamEvent) time.Time { return e.At }),
		Observed: in.Observed, Sources: in.Sources, HistoryDays: in.HistoryDays, Demo: in.Demo,
	}
	series := make([]models.Series, 0, len(in.Series))
	for _, s := range in.Series {
		if s.Ground == in.Ground.Name && len(s.Hours) > 0 {
			series = append(series, corrected(s, errorsOf, official(in.Series, in.Ground.Name)))
		}
	}
	o.Middle = models.Member{Hours: warmed(middle(hours, series, in), in)}
	n := in.Courses
	if n == 0 {
		n = Courses
	}
	o.Members = courses(o.Middle.Hours, series, Place{in.Port.Zone, in.Ground.At.Lat, in.Port.ShoreNormal}, errorsOf, n)
	o.Missing = gaps(in, series, o.Middle.Hours, doubts)
	return o
}

func dayHours(d models.Date, zone *time.Location) []time.Time {
	var hours []time.Time
	end := dayEnd().On(d, zone)
	for t := dayStart().On(d, zone).Truncate(time.Hour); t.Before(end); t = t.Add(time.Hour) {
		hours = append(hours, t)
	}
	return hours
}

func during[T any](list []T, hours []time.Time, at func(T) time.Time) []T {
	if len(hours) == 0 {
		return nil
	}
	// The event before the first hour and after the last one tell which way
	// the water is going: keep half a tide on either side.
	span := models.Interval{Start: hours[0].Add(-7 * time.Hour), End: hours[len(hours)-1].Add(8 * time.Hour)}
	var kept []T
	for _, e := range list {
		if span.Contains(at(e)) {
			kept = append(kept, e)
		}
	}
	sort.SliceStable(kept, func(i, j int) bool { return at(kept[i]).Before(at(kept[j])) })
	return kept
}

// middle takes each value of each hour from the first series that has it, and
// the inlet's stream from the tide tables.
func middle(hours []time.Time, series []models.Series, in Input) []models.Hour {
	out := make([]models.Hour, len(hours))
	for i, t := range hours {
		h := models.Hour{At: t}
		for _, s := range series {
			if at, ok := at(s.Hours, t); ok {
				h = fill(h, at)
			}
		}
		if at, ok := at(in.Inlet, t); ok {
			h.InletCurrent = h.InletCurrent.Else(at.InletCurrent)
		}
		// A subordinate station tells only when the stream turns.
		h.InletCurrent = h.InletCurrent.Else(tide.CurrentBetween(in.Streams, t))
		out[i] = quantise(h)
	}
	return out
}

// The sea's temperature changes slowly: what a station measured within a day
// stands for the days ahead that no source tells it for.
const (
	waterKeeps = 24 * time.Hour
	waterReach = 4 * 24 * time.Hour
)

// Warming is the report, if any, that the sea's temperature is taken from, with
// nothing else in it: of all reports it alone enters an outlook's hours.
func Warming(in Input) []models.Observation {
	var newest models.Observation
	for _, o := range in.Observed {
		if o.Water.Known() && o.At.After(newest.At) && !o.At.After(in.Now) {
			newest = o
		}
	}
	if !newest.Water.Known() || in.Now.Sub(newest.At) > waterKeeps {
		return nil
	}
	return []models.Observation{{At: newest.At, Water: newest.Water}}
}

// warmed fills in the sea's temperature from the newest report that has one.
func warmed(hours []models.Hour, in Input) []models.Hour {
	list := Warming(in)
	if len(list) == 0 {
		return hours
	}
	newest := list[0]
	for i, h := range hours {
		if h.At.Sub(newest.At) <= waterReach {
			hours[i].Water = h.Water.Else(newest.Water)
			hours[i] = quantise(hours[i])
		}
	}
	return hours
}

// fill takes from b what a does not know. Values that belong together (speed
// and direction, height and period) are taken together, so that a member
// never carries one source's swell on another one's bearing.
func fill(a, b models.Hour) models.Hour {
	if !a.Wind.Known() && b.Wind.Known() {
		a.Wind, a.WindFrom, a.Gust, a.DirectionSpread = b.Wind, b.WindFrom, b.Gust.Else(a.Gust), b.DirectionSpread
	}
	if !a.Gust.Known() && b.Gust.Known() {
		if w, ok := a.Wind.Get(); !ok || b.Gust.Or(0) >= w {
			a.Gust = b.Gust
		}
	}
	if !a.Sea.Known() && b.Sea.Known() {
		a.Sea, a.Period, a.SeaFrom, a.SeaIncludesCurrent = b.Sea, b.Period, b.SeaFrom, b.SeaIncludesCurrent
	}
	a.Period = a.Period.Else(b.Period)
	a.SeaFrom = a.SeaFrom.Else(b.SeaFrom)
	if !a.Swell.Known() && b.Swell.Known() {
		a.Swell, a.SwellPeriod, a.SwellFrom = b.Swell, b.SwellPeriod, b.SwellFrom
	}
	if !a.Current.Known() && b.Current.Known() {
		a.Current, a.CurrentToward = b.Current, b.CurrentToward
	}
	a.InletCurrent = a.InletCurrent.Else(b.InletCurrent)
	a.Cloud, a.Rain, a.Thunder = a.Cloud.Else(b.Cloud), a.Rain.Else(b.Rain), a.Thunder.Else(b.Thunder)
	a.Visibility = a.Visibility.Else(b.Visibility)
	a.Air, a.Water = a.Air.Else(b.Air), a.Water.Else(b.Water)
	return a
}

// official returns the hours of the weather service's own forecast.
func official(series []models.Series, ground string) []models.Hour {
	for _, s := range series {
		if s.Official && s.Ground == ground {
			return s.Hours
		}
	}
	return nil
}

// corrected takes the learned bias off a series, and never takes wind or sea
// below the official forecast, which the gate looks at.
func corrected(s models.Series, errorsOf func(string, time.Duration) ErrorSize, official []models.Hour) models.Series {
	hours := make([]models.Hour, len(s.Hours))
	for i, h := range s.Hours {
		e := errorsOf(s.Source, h.At.Sub(s.Run))
		if e.WindBias != 0 || e.SeaBias != 0 {
			floor, _ := at(official, h.At)
			h.Wind = unbias(h.Wind, e.WindBias, floor.Wind)
			h.Gust = unbias(h.Gust, e.WindBias, floor.Gust)
			h.Sea = unbias(h.Sea, e.SeaBias, floor.Sea)
		}
		hours[i] = h
	}
	s.Hours = hours
	return s
}

func unbias[T units.Speed | units.Length](v models.Opt[T], bias T, floor models.Opt[T]) models.Opt[T] {
	return models.MapOpt(v, func(x T) T {
		lower := max(x-bias, 0)
		if f, ok := floor.Get(); ok {
			lower = max(lower, min(x, f))
		}
		return lower
	})
}

// gaps names what the hours of the day do not know and why, and what was
// doubted, though another source may know it.
func gaps(in Input, series []models.Series, hours []models.Hour, doubts []models.Gap) []models.Gap {
	list := slices.Concat(in.Gaps, doubts)
	known := func(get func(models.Hour) bool) bool {
		for _, h := range hours {
			if inTrip(h.At, in) && !get(h) {
				return false
			}
		}
		return len(hours) > 0
	}
	why := func(none string) string {
		for _, s := range series {
			for _, n := range s.Notes {
				return fmt.Sprintf("%s; %s: %s", none, s.Source, n)
			}
		}
		return none
	}
	for _, f := range []struct {
		what string
		get  func(models.Hour) bool
		why  string
	}{
		{"wind", func(h models.Hour) bool { return h.Wind.Known() && h.WindFrom.Known() }, "no source gives wind for every hour of the trip"},
		{"gusts", func(h models.Hour) bool { return h.Gust.Known() }, "no source gives gusts for every hour of the trip"},
		{"seas", func(h models.Hour) bool { return h.Sea.Known() }, why("no source gives seas for every hour of the trip")},
		{"wave period", func(h models.Hour) bool { return !h.Sea.Known() || h.Period.Known() }, "the seas come without a period"},
		{"current", func(h models.Hour) bool { return h.Current.Known() && h.CurrentToward.Known() }, "no source gives the current on the ground"},
		{"inlet stream", func(h models.Hour) bool { return h.InletCurrent.Known() }, "no tidal stream for the inlet"},
		{"thunder", func(h models.Hour) bool { return h.Thunder.Known() }, "no source gives the chance of thunder"},
		{"cloud", func(h models.Hour) bool { return h.Cloud.Known() }, "no source gives cloud"},
		{"visibility", func(h models.Hour) bool { return h.Visibility.Known() }, "no source gives visibility"},
	} {
		if !known(f.get) && !slices.ContainsFunc(doubts, func(g models.Gap) bool { return g.What == f.what }) {
			list = append(list, models.Gap{What: f.what, Why: f.why})
		}
	}
	return list
}

func inTrip(t time.Time, in Input) bool {
	start, end := in.Trip.Start.On(in.Date, in.Port.Zone), in.Trip.End.On(in.Date, in.Port.Zone)
	return !t.Before(start.Truncate(time.Hour)) && t.Before(end)
}
