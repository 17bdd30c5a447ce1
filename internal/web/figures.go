package web

import (
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/draw"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/words"
)

// figure is a drawing of our own making, ready to stand in a page; empty
// where there is nothing to draw.
type figure = template.HTML

// drawn takes a drawing. What can't be drawn is left out: the table behind it
// says the same.
func drawn(svg []byte, err error) figure {
	if err != nil {
		return ""
	}
	return figure(svg)
}

func itoa(n int) string { return strconv.Itoa(n) }

// figureID begins the ids of a drawing: each stands twice on the page, wide
// and narrow, for each trip.
func figureID(name string, trip int, narrow bool) string {
	id := name + itoa(trip+1)
	if narrow {
		return id + "n"
	}
	return id
}

// lanes draws the day of a call.
func (v *view) lanes(c models.Call, trip int, narrow bool) figure {
	if len(c.Hours) == 0 {
		return ""
	}
	t := v.Tell(c.Date)
	from, to := c.Hours[0].At, c.Hours[len(c.Hours)-1].At.Add(time.Hour)
	l := draw.Lanes{
		ID: figureID("l", trip, narrow), Title: v.T("lanes.title", t.LongDay(c.Date)), Description: v.laneWords(t, c),
		Zone: c.Port.Zone, From: from, To: to, Sun: c.Sun, Tactic: stretches(t, c), Narrow: narrow,
		Labels: draw.LaneLabels{
			FirstLight: v.T("lanes.first light"), Sunrise: v.T("lanes.sunrise"), Sunset: v.T("lanes.sunset"), LastLight: v.T("lanes.last light"),
			Plan: v.T("lanes.plan"), Leave: v.T("lanes.leave"), Back: v.T("lanes.back"), Closed: v.T("lanes.closed"), Now: v.T("lanes.now"),
			Tide: v.T("lanes.tide"), Stream: v.T("lanes.stream"), Warnings: v.T("lanes.warnings"),
		},
	}
	if leave, back, ok := c.Times(); ok && c.BeyondHours() {
		l.LeaveAt, l.BackAt = t.Told(leave), t.Told(back)
	}
	if !v.Now.Before(from) && v.Now.Before(to) {
		l.Now = models.Known(v.Now)
	}
	kite, sight, ride := draw.Lane{Name: v.T("lanes.kite")}, draw.Lane{Name: v.T("lanes.sight")}, draw.Lane{Name: v.T("lanes.ride")}
	for _, h := range c.Hours {
		shut := h.Closed.Key != ""
		kite.Levels = append(kite.Levels, draw.Level{At: h.At, Height: int(h.Kite), Word: t.Word(h.Kite.String()), Closed: shut})
		sight.Levels = append(sight.Levels, draw.Level{At: h.At, Height: int(h.Sight), Word: t.Word(h.Sight.String()), Closed: shut})
		ride.Levels = append(ride.Levels, draw.Level{At: h.At, Height: int(models.RideNo - h.Ride), Word: t.Word(h.Ride.String()), Closed: shut})
	}
	l.Lanes = []draw.Lane{kite, sight, ride}
	for _, w := range officialOn(c, c.Date, Board{Port: c.Port}) {
		l.Bars = append(l.Bars, draw.LaneBar{From: w.Onset, To: w.Ends.Or(to), Words: strings.ToUpper(w.Event)})
	}
	for _, e := range c.Tides {
		l.Turns = append(l.Turns, draw.Turn{At: e.At, Kind: draw.TurnKind(e.Kind), Words: t.Length(e.Height)})
	}
	for _, e := range c.Streams {
		turn := draw.Turn{At: e.At, Kind: draw.TurnKind(e.Kind), Words: v.T("lanes." + string(e.Kind))}
		l.Turns = append(l.Turns, turn)
	}
	return drawn(l.SVG())
}

// laneWords says in one sentence what the drawing of a day shows.
func (v *view) laneWords(t words.Teller, c models.Call) string {
	leave, back, ok := c.Times()
	if !ok {
		return v.T("lanes.in", t.Verdict(c))
	}
	key := "lanes.out"
	if c.BeyondHours() {
		key = "lanes.out_parts"
	}
	return v.T(key, t.Verdict(c), t.Told(leave), t.Told(back))
}

// stretches are the parts of the plan, from leaving to coming back. Runs have
// no words.
func stretches(t words.Teller, c models.Call) []draw.Stretch {
	leave, ok := c.Leave.Get()
	back, ok2 := c.Back.Get()
	if !ok || !ok2 {
		return nil
	}
	var list []draw.Stretch
	last := models.Do("none yet")
	for _, h := range c.Hours {
		from, to := h.At, h.At.Add(time.Hour)
		if from.Before(leave) {
			from = leave
		}
		if to.After(back) {
			to = back
		}
		if !to.After(from) {
			continue
		}
		if n := len(list); n > 0 && h.Do == last {
			list[n-1].To = to
			continue
		}
		s := draw.Stretch{From: from, To: to}
		switch h.Do {
		case models.DoKite, models.DoHeliumKite:
			s.In = []int{0}
		case models.DoSight:
			s.In = []int{1}
		case models.DoEither:
			s.In = []int{0, 1}
		case models.DoDock, models.DoInside, models.DoNoGo:
		}
		if s.In != nil {
			s.Words = t.Word(string(h.Do))
		}
		list, last = append(list, s), h.Do
	}
	return list
}

// lengthUnit is the reader's unit for what is measured on the boat, and for
// distances where far.
func (v *view) lengthUnit(far bool) draw.Unit {
	switch metric := v.Reader.Measures == words.Metric; {
	case metric && far:
		return draw.Unit{Name: "km", Metres: units.Kilometre.Metres()}
	case metric:
		return draw.Unit{Name: "m", Metres: 1}
	case far:
		return draw.Unit{Name: "nmi", Metres: units.NauticalMile.Metres()}
	}
	return draw.Unit{Name: "ft", Metres: units.Foot.Metres()}
}

func (v *view) spreadLabels() draw.SpreadLabels {
	return draw.SpreadLabels{
		Kite: v.T("figure.kite"), LeftKite: v.T("figure.left kite"), RightKite: v.T("figure.right kite"),
		Boat: v.T("figure.boat"), Wind: v.T("figure.wind"),
	}
}

// spreadSide draws the spread from the side.
func (v *view) spreadSide(c models.Call, trip int, narrow bool) figure {
	s, ok := c.Spread.Get()
	if !ok {
		return ""
	}
	t := v.Tell(c.Date)
	return drawn(draw.SpreadSide{
		ID: figureID("s", trip, narrow), Title: v.T("figure.side"), Description: v.spreadWords(t, c), Spread: s,
		Scale: v.lengthUnit(false), Words: t.Word, Labels: v.spreadLabels(), Narrow: narrow,
	}.SVG())
}

// spreadTop draws the spread from above.
func (v *view) spreadTop(c models.Call, trip int, narrow bool) figure {
	s, ok := c.Spread.Get()
	if !ok {
		return ""
	}
	t := v.Tell(c.Date)
	return drawn(draw.SpreadTop{
		ID: figureID("t", trip, narrow), Title: v.T("figure.top"), Description: v.spreadWords(t, c), Spread: s,
		Scale: v.lengthUnit(false), Words: t.Word, Labels: v.spreadLabels(), Narrow: narrow,
	}.SVG())
}

// spreadWords is the head of the spread card.
func (v *view) spreadWords(t words.Teller, c models.Call) string {
	for _, s := range t.Part(words.PartSpread, c, v.Now) {
		return s.Head
	}
	return ""
}

// driftChart draws a drift over the ground of a call.
func (v *view) driftChart(c models.Call, g models.Ground, d models.Drift, edge models.Opt[units.Length], narrow bool) figure {
	if len(d.Track) == 0 {
		return ""
	}
	t := v.Tell(c.Date)
	contour := func(key string, depth models.Opt[units.Length]) draw.Contour {
		l, ok := depth.Get()
		if !ok {
			return draw.Contour{}
		}
		return draw.Contour{Depth: depth, Words: v.T(key, t.Length(l))}
	}
	chart := draw.DriftChart{
		ID: figureID("d", 0, narrow), Title: v.T("drift.figure"), Description: v.driftWords(t, d), Zone: c.Port.Zone, Track: fromStart(d.Track),
		Band: draw.DepthBand{
			Shallow: contour("drift.contour", g.Shallow), Deep: contour("drift.contour", g.Deep), Edge: contour("drift.edge", edge),
			Slope: g.Slope, Offshore: c.Port.ShoreNormal,
		},
		Scale:  v.lengthUnit(true),
		Labels: draw.DriftLabels{Start: v.T("drift.start"), End: v.T("drift.end"), Reset: v.T("drift.reset"), North: v.T("drift.north")},
		Narrow: narrow,
	}
	if d.StartDepth > 0 {
		chart.StartDepth = models.Known(d.StartDepth)
	}
	begin, end := d.Track[0].At, d.Track[len(d.Track)-1].At
	if every, ok := d.ResetEvery.Get(); ok && every > 0 {
		for at := begin.Add(every); at.Before(end); at = at.Add(every) {
			chart.Resets = append(chart.Resets, at)
		}
	}
	if h, ok := hourAt(c, begin); ok {
		if from, ok := h.Conditions.WindFrom.Get(); ok {
			chart.Wind = draw.WindArrow{From: models.Known(from), Words: v.T("drift.wind", t.Wind(h.Conditions))}
		}
		if to, ok := h.Conditions.CurrentToward.Get(); ok {
			speed := t.Word("unknown")
			if s, ok := h.Conditions.Current.Get(); ok {
				speed = t.Speed(s)
			}
			chart.Current = draw.CurrentArrow{Toward: models.Known(to), Words: v.T("drift.current", speed)}
		}
	}
	return drawn(chart.SVG())
}

// driftWords says in one sentence where a drift goes.
func (v *view) driftWords(t words.Teller, d models.Drift) string {
	last := d.Track[len(d.Track)-1]
	return v.T("drift.words", t.Time(d.Track[0].At), t.Say(models.Say("range.one", d.Toward)), t.Speed(d.Speed), t.Time(last.At), t.Length(d.Distance), t.Length(last.SpreadRadius))
}

// hourAt is the hour of a call that an instant lies in.
func hourAt(c models.Call, at time.Time) (models.HourCall, bool) {
	i := slices.IndexFunc(c.Hours, func(h models.HourCall) bool {
		return models.Interval{Start: h.At, End: h.At.Add(time.Hour)}.Contains(at)
	})
	if i < 0 {
		return models.HourCall{}, false
	}
	return c.Hours[i], true
}
