package notify

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/words"
)

// getReady is how long before leaving a person must know what changes the
// day: the captain is up, the guests have not left home.
const getReady = 2 * time.Hour

// Trip is the call of one of a day's trips, with where it stands for those who
// are told (see scoring.Settle).
type Trip struct {
	words.Trip
	Told models.Standing
	// Turned tells that it is no longer what was told, and Why what
	// scoring.Settle says of it.
	Turned bool
	Why    models.Phrase
}

// Evening is the call for the captain and the crew, all trips of a day in one
// message; there is at least one. now is when it is written.
func Evening(p Person, trips []Trip, now time.Time) Draft {
	return callDraft(p, trips, now, models.NoticeCall, nil)
}

// Changed is the call again, because the day turned. It shares its key with
// Evening: what was told then is not told again.
func Changed(p Person, trips []Trip, now time.Time) Draft {
	v := voiceFor(p, trips)
	lead := words.Section{Head: v.say("changed.head")}
	for _, t := range trips {
		if !t.Turned && len(trips) > 1 {
			continue
		}
		items := phrases(v, t.Call.Changed)
		if t.Why.Key != "" {
			items = append(items, v.Say(t.Why))
		}
		lead.Items = append(lead.Items, v.ofTrip(t, trips, items)...)
	}
	d := callDraft(p, trips, now, models.NoticeAlert, []words.Section{lead})
	d.Urgent = true
	return d
}

// ofTrip says of which trip some lines are, where there are several.
func (v voice) ofTrip(t Trip, trips []Trip, lines []string) []string {
	if len(trips) == 1 {
		return lines
	}
	var out []string
	for _, l := range lines {
		out = append(out, v.TripName(t.Trip)+": "+l)
	}
	return out
}

func voiceFor(p Person, trips []Trip) voice {
	c := trips[0].Call
	return voiceOf(p, c.Port.Zone, c.Date)
}

func callDraft(p Person, trips []Trip, now time.Time, notice models.Notice, lead []words.Section) Draft {
	v := voiceFor(p, trips)
	c := trips[0].Call
	var list []words.Trip
	var stands []any
	level, leave, ends := 0, time.Time{}, time.Time{}
	for _, t := range trips {
		if len(lead) > 0 {
			t.Call.Changed = nil // the lead tells it
		}
		list = append(list, t.Trip)
		stands = append(stands, standingDigest(t.Told))
		level = max(level, standingLevel(t.Told))
		from, to := hoursOf(t.Call)
		if !t.Out && (leave.IsZero() || from.Before(leave)) {
			leave = from
		}
		if to.After(ends) {
			ends = to
		}
	}
	content := Content{Digest: digest(stands...), Level: level, Always: true, KnowBy: models.Known(leave.Add(-getReady))}
	if len(trips) == 1 {
		content.Digest = standingDigest(trips[0].Told)
	}
	return Draft{
		Content: content,
		Key:     key("call", c.Port.Name, c.Date.String(), p.Name), Notice: notice, Person: p, Port: c.Port.Name, Deadline: ends, Demo: c.Demo,
		Subject: callSubject(v, list), Text: v.Trips(list, now, lead...), HTML: v.TripsHTML(list, now, lead...), Short: v.TripsShort(list),
	}
}

// hoursOf are when the day begins and when telling of it is of no more use.
func hoursOf(c models.Call) (leave, ends time.Time) {
	zone := c.Port.Zone
	if zone == nil {
		zone = time.UTC
	}
	leave, ends = c.Leave.Or(c.Trip.Start.On(c.Date, zone)), c.Back.Or(c.Trip.End.On(c.Date, zone))
	return leave, ends
}

// standingDigest tells two standings apart by what people are told of them.
func standingDigest(s models.Standing) string {
	return digest(s.Date, s.Going, s.Tactic, s.Timing, s.Leave, s.Back, s.Actions, s.Safety, s.WorstRide)
}

func standingLevel(s models.Standing) int {
	plain := s.WorstRide < models.RideRough && len(s.Timing) <= 1
	for _, t := range s.Timing {
		plain = plain && t == models.AsBooked
	}
	switch {
	case !s.Going:
		return 2
	case !plain:
		return 1
	}
	return 0
}

// callSubject tells warnings first, then the day and the verdict.
func callSubject(v voice, trips []words.Trip) string {
	c := trips[0].Call
	s := v.Day(c.Date) + ": " + v.TripsVerdict(trips)
	if c.Confidence != "" && len(trips) == 1 {
		s += " (" + v.Word(string(c.Confidence)) + ")"
	}
	list, known := c.Warnings.Get()
	if !known {
		return v.say("subject.warnings_unknown") + " - " + s
	}
	day := c.Date.Interval(zoneOf(c.Port))
	var events []string
	for _, w := range models.DuringGravestFirst(list, day) {
		if len(events) < 3 {
			events = append(events, strings.ToUpper(w.Event))
		}
	}
	if len(events) > 0 {
		return strings.Join(events, ", ") + " - " + s
	}
	return s
}

func zoneOf(p models.Port) *time.Location {
	if p.Zone == nil {
		return time.UTC
	}
	return p.Zone
}

func phrases(v voice, list []models.Phrase) []string {
	var out []string
	for _, p := range list {
		out = append(out, v.Say(p))
	}
	return out
}

// MorningNews is what the morning adds to the call.
type MorningNews struct {
	// Stations are those upwind, held against the call by Compare. Silent
	// names those without a report of the last two hours.
	Stations []Comparison
	Silent   []string
	// Front is when the evening said that a front passes, and FrontNow when
	// the morning's forecast has it.
	Front, FrontNow models.Opt[time.Time]
	// Warnings are what became of official products since last night.
	Warnings []WarningChange
}

// Morning confirms or changes the day, with what changed since last night.
func Morning(p Person, trips []Trip, news MorningNews, now time.Time) Draft {
	v := voiceFor(p, trips)
	c := trips[0].Call
	lead := words.Section{Head: v.say("morning.head")}
	for _, t := range trips {
		lead.Items = append(lead.Items, v.ofTrip(t, trips, phrases(v, t.Call.Changed))...)
	}
	for _, w := range news.Warnings {
		lead.Items = append(lead.Items, warningLine(v, w))
	}
	if len(lead.Items) == 0 {
		lead.Items = []string{v.say("morning.nothing")}
	}
	d := callDraft(p, trips, now, models.NoticeMorning, []words.Section{lead, stationSection(v, news, now)})
	d.Key = key("morning", c.Port.Name, c.Date.String(), p.Name)
	d.Subject = v.say("morning.subject") + " " + d.Subject
	return d
}

func stationSection(v voice, news MorningNews, now time.Time) words.Section {
	s := words.Section{Head: v.say("stations.head")}
	for _, c := range news.Stations {
		s.Items = append(s.Items, stationLine(v, c, now))
	}
	for _, name := range news.Silent {
		s.Items = append(s.Items, v.say("stations.silent", name))
	}
	if len(s.Items) == 0 {
		s.Items = []string{v.say("stations.none")}
	}
	if l := frontLine(v, news); l != "" {
		s.Lines = append(s.Lines, l)
	}
	return s
}

// sameFront is how far apart two times of a front may be and still be the same:
// a forecast has hours of one to three. Our own choice.
const sameFront = time.Hour

// frontLine tells what became of the front: what the stations show goes before
// what the morning's forecast has.
func frontLine(v voice, news MorningNews) string {
	said, was := news.Front.Get()
	is, still := news.FrontNow.Get()
	if !was {
		if still {
			return v.say("front.new", is)
		}
		return ""
	}
	if seen, moved := FrontTime(said, news.Stations); moved {
		return v.say("front.moved", seen, said)
	}
	switch {
	case !still:
		return v.say("front.gone", said)
	case is.Sub(said).Abs() > sameFront:
		return v.say("front.moved", is, said)
	}
	return v.say("front.same", said)
}

// stationLine tells what matters first: whether the weather is as it was said.
func stationLine(v voice, c Comparison, now time.Time) string {
	same := !slices.ContainsFunc(c.Items, func(i Item) bool { return i.Verdict != AsSaid })
	line := v.say("stations.report", c.Station, now.Sub(c.At))
	if early, ok := c.Early.Get(); ok {
		word := "stations.ahead"
		if early < 0 {
			word = "stations.behind"
		}
		line += " " + v.say(word, early.Abs())
	} else if same {
		line += " " + v.say("stations.same")
	}
	var parts []string
	for _, i := range c.Items {
		parts = append(parts, itemLine(v, i, same))
	}
	if t, ok := c.Tendency.Get(); ok {
		parts = append(parts, tendencyLine(v, t))
	}
	return line + " " + strings.Join(parts, "; ")
}

func itemLine(v voice, i Item, same bool) string {
	with := func(value any, from models.Opt[units.From]) string {
		s := v.say("input.value", value)
		if f, ok := from.Get(); ok {
			s = f.Point() + " " + s
		}
		return s
	}
	s := v.say("what."+i.What) + " " + with(i.Now, i.NowFrom)
	switch {
	case same:
		return s
	case i.Said == nil:
		return s + " (" + v.say("verdict."+string(NotSaid)) + ")"
	case i.Verdict == AsSaid:
		return s + " (" + v.say("verdict."+string(AsSaid)) + ")"
	}
	return s + " (" + v.say("verdict."+string(i.Verdict)) + ", " + v.say("stations.said", with(i.Said, i.SaidFrom)) + ")"
}

func tendencyLine(v voice, t units.Pressure) string {
	switch h := t.Hectopascals(); {
	case h >= 0.5:
		return v.say("pressure.rising", fmt.Sprintf("%.1f", h))
	case h <= -0.5:
		return v.say("pressure.falling", fmt.Sprintf("%.1f", -h))
	}
	return v.say("pressure.steady")
}

func warningLine(v voice, w WarningChange) string {
	var zones []string
	for _, o := range w.all() {
		zones = append(zones, strings.TrimSpace(o.Zone+" "+o.ZoneName))
	}
	s := v.say("warning."+string(w.Change), v.Product(w.Warning.Event)) + " (" + strings.Join(zones, "; ") + ")"
	if w.Change.Gone() {
		return s
	}
	return s + ", " + span(v, w.whole())
}

func span(v voice, w models.Warning) string {
	end := v.say("further_notice")
	if at, ok := w.Ends.Get(); ok {
		end = v.Time(at)
	}
	return v.say("from_to", v.Time(w.Onset), end)
}
