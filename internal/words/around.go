package words

import (
	"math"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
)

func (t Teller) overrides(c models.Call) []Section {
	var lines []string
	for _, o := range c.Overrides {
		lines = append(lines, t.say("overrides.line", o.What, o.Why))
	}
	return list(t.say("head.overrides"), lines)
}

func (t Teller) charter(c models.Call, now time.Time) []Section {
	ch, ok := c.Charter.Get()
	if !ok {
		return nil
	}
	s := Section{Head: t.say("charter.head", t.actions(ch))}
	if by, ok := ch.TellBy.Get(); ok {
		key := "charter.tell_by"
		if by.Before(now) {
			key = "charter.tell_now"
		}
		s.Lines = append(s.Lines, t.say(key, by))
	}
	for _, d := range ch.Offer {
		s.Lines = append(s.Lines, t.say("charter.offer", d.Date, d.Why))
	}
	if msg := t.Message(ch); msg != "" {
		s.Lines = append(s.Lines, t.say("charter.draft"))
		s.Quote = msg
	}
	return []Section{s}
}

func (t Teller) actions(ch models.CharterCall) string {
	var list []string
	for _, a := range ch.Actions {
		list = append(list, t.Word(string(a)))
	}
	return strings.Join(list, ", ")
}

// water tells sun, tide and the stream in the inlet.
func (t Teller) water(c models.Call) []Section {
	var lines, sun, tides, streams []string
	for _, s := range []struct {
		what string
		at   models.Opt[time.Time]
	}{{"water.first_light", c.Sun.CivilDawn}, {"water.sunrise", c.Sun.Rise}, {"water.sunset", c.Sun.Set}, {"water.last_light", c.Sun.CivilDusk}} {
		if at, ok := s.at.Get(); ok {
			sun = append(sun, t.say(s.what, at))
		}
	}
	if len(sun) > 0 {
		lines = append(lines, capital(strings.Join(sun, ", ")))
	}
	day := t.date.Interval(t.zone)
	for _, e := range c.Tides {
		if day.Contains(e.At) {
			tides = append(tides, t.say("water."+string(e.Kind), e.At, e.Height))
		}
	}
	for _, e := range c.Streams {
		if day.Contains(e.At) {
			streams = append(streams, t.say("water."+string(e.Kind), e.At, max(e.Speed, -e.Speed)))
		}
	}
	if len(tides) > 0 {
		lines = append(lines, t.say("water.tide", strings.Join(tides, ", ")))
	}
	if len(streams) > 0 {
		lines = append(lines, t.say("water.inlet", strings.Join(streams, ", ")))
	}
	return list(t.say("head.water"), lines)
}

// official is the forecasters' own text, verbatim.
func (t Teller) official(c models.Call) []Section {
	var out []Section
	for _, o := range c.Texts {
		s := Section{Head: strings.TrimSpace(t.say("official.head", o.Zone, o.Name)), Verbatim: o.Body}
		if !o.Issued.IsZero() {
			s.Lines = []string{o.Office + ", " + t.say("issued", t.dayTime(o.Issued))}
		}
		if o.Body == "" {
			var heads []string
			for _, h := range o.Headlines {
				heads = append(heads, "..."+h+"...")
			}
			s.Verbatim = strings.Join(heads, "\n")
		}
		if o.StreamEdge != "" && !strings.Contains(wrap(o.Body, math.MaxInt), wrap(o.StreamEdge, math.MaxInt)) {
			s.Verbatim = strings.TrimLeft(strings.TrimRight(s.Verbatim, "\n")+"\n"+o.StreamEdge, "\n")
		}
		out = append(out, s)
	}
	return out
}

// observed tells what the stations say now.
func (t Teller) observed(c models.Call, now time.Time) []Section {
	var lines []string
	for _, o := range c.Observed {
		var parts []string
		if w, ok := o.Wind.Get(); ok {
			s := t.Speed(w)
			if f, ok := o.WindFrom.Get(); ok {
				s = f.Point() + " " + s
			}
			parts = append(parts, t.say("stations.wind", s))
			if g, ok := o.Gust.Get(); ok {
				parts = append(parts, t.say("stations.gust", g))
			}
		}
		if sea, ok := o.Sea.Get(); ok {
			parts = append(parts, t.say("stations.sea", t.heightPeriod(sea, o.Period)))
		}
		if b, ok := o.Pressure.Get(); ok {
			parts = append(parts, t.value(b))
		}
		if w, ok := o.Water.Get(); ok {
			parts = append(parts, t.say("stations.water", w))
		}
		if len(parts) > 0 {
			lines = append(lines, t.say("stations.line", o.Station, now.Sub(o.At), strings.Join(parts, ", ")))
		}
	}
	return list(t.say("head.stations"), lines)
}

func (t Teller) sources(c models.Call, now time.Time) []Section {
	var lines []string
	for _, s := range c.Sources {
		line := strings.TrimSpace(s.Source + " " + s.Detail)
		if !s.Issued.IsZero() {
			line += ", " + t.say("sources.made", now.Sub(s.Issued))
		}
		if !s.Fetched.IsZero() && now.Sub(s.Fetched) >= time.Minute {
			line += ", " + t.say("sources.read", now.Sub(s.Fetched))
		}
		if !slices.Contains(lines, line) {
			lines = append(lines, line)
		}
	}
	return list(t.say("head.sources"), lines)
}
