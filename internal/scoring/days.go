package scoring

import (
	"slices"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/ride"
	"forecastd/internal/models/units"
	"forecastd/internal/models/wind"
)

// Days judges the days ahead, one outlook a day in order. free tells of a day
// whether it can be offered; nil where nobody knows.
func Days(outlooks []models.Outlook, lim models.Limits, free func(models.Date) models.Opt[bool]) []models.DayOutlook {
	passages := Fronts(outlooks)
	out := make([]models.DayOutlook, 0, len(outlooks))
	for _, o := range outlooks {
		d := dayAhead(o, lim)
		d.Front = newSite(o, lim).front(passages)
		if free != nil {
			d.Free = free(o.Date)
		}
		out = append(out, d)
	}
	return out
}

// dayAhead is one day in short.
func dayAhead(o models.Outlook, lim models.Limits) models.DayOutlook {
	s := newSite(o, lim)
	v := s.view(false)
	c := models.Call{}
	s.settle(&c, v, With{Quick: true})
	d := models.DayOutlook{
		Date: o.Date, Tactic: c.Tactic, Timing: c.Timing, Confidence: c.Confidence, Agreement: c.Agreement,
		Rides: map[models.Party]models.Ride{}, KiteWindows: s.kiteWindows(v), KiteFlown: kiteFlown(c.Hours),
		Warnings: s.warningsOfDay(),
	}
	from, to := v.trip.start, v.trip.end
	if v.plan.going {
		from, to = v.plan.leave, v.plan.back
		d.Out = models.Known(models.Interval{Start: s.instant(from), End: s.instant(to)})
		if v.plan.fished > 0 {
			d.Fishing = v.plan.fishing / v.plan.fished
		}
	} else if in := v.inTrip(); len(in) > 0 {
		d.Closed = in[0].why
	} else if len(c.Reasons) > 0 {
		d.Closed = c.Reasons[0]
	}
	d.BeyondHours, d.Trip = s.beyond, o.Trip
	d.PastWarnings = models.PastWarnings(o.Made, s.instant(v.trip.end))
	d.BestRide = models.RideNo
	var sum units.Speed
	var winds []units.From
	n := 0
	for i := range v.hours {
		h := &v.hours[i]
		if h.to <= from || h.from >= to {
			continue
		}
		d.BestRide, d.WorstRide = min(d.BestRide, h.ride), max(d.WorstRide, h.ride)
		if sea, ok := h.c.LocalSea.Get(); ok && sea > d.Sea.Or(-1) {
			d.Sea = models.Known(sea)
		}
		for _, p := range []models.Party{models.Experienced, models.Mixed, models.Family} {
			d.Rides[p] = max(d.Rides[p], s.rideOfParty(h, p))
		}
		if w, ok := h.c.Wind.Get(); ok {
			sum += w
			n++
		}
		if from, ok := h.c.WindFrom.Get(); ok {
			winds = append(winds, from)
		}
		if g, ok := h.c.Gust.Get(); ok && g > d.Gust.Or(-1) {
			d.Gust = models.Known(g)
		}
	}
	if n > 0 {
		d.Wind = models.Known(sum / units.Speed(n))
		d.WindFrom = wind.MeanDirection(winds)
	}
	return d
}

func (s *site) rideOfParty(h *hour, p models.Party) models.Ride {
	sea, ok := h.c.LocalSea.Get()
	if !ok {
		return models.RideRough
	}
	return ride.Judge(ride.TableOf(s.o.Boat.Kind, s.o.Boat.Length, p, s.lim), s.scale, sea, h.c.Period)
}

// kiteWindows are the open spans in which a spread flies well.
func (s *site) kiteWindows(v *view) []models.Interval {
	var out []models.Interval
	for i := range v.hours {
		h := &v.hours[i]
		_, closed := closedAt(h.from, h.to, v.closings)
		if closed || s.grade(h.kite.worth) < models.GradeGood || h.c.SunElevation < -6 {
			continue
		}
		if n := len(out); n > 0 && out[n-1].End.Equal(h.span.Start) {
			out[n-1].End = h.span.End
			continue
		}
		out = append(out, h.span)
	}
	return out
}

// kiteFlown are the spans that a kite is called for.
func kiteFlown(hours []models.HourCall) []models.Interval {
	var out []models.Interval
	for i, h := range hours {
		if h.Do != models.DoKite && h.Do != models.DoHeliumKite {
			continue
		}
		span := models.Interval{Start: h.At, End: h.At.Add(time.Hour)}
		if i+1 < len(hours) {
			span.End = hours[i+1].At
		}
		if n := len(out); n > 0 && !out[n-1].End.Before(span.Start) {
			out[n-1].End = span.End
			continue
		}
		out = append(out, span)
	}
	return out
}

// warningsOfDay are the official products that hold at any time of the day,
// gravest first.
func (s *site) warningsOfDay() models.Opt[[]models.Warning] {
	return models.MapOpt(s.o.Warnings, func(list []models.Warning) []models.Warning {
		return slices.DeleteFunc(models.DuringGravestFirst(list, s.day), cancelled)
	})
}

// A front is passed when the wind has gone from between south-east and west
// to between west and north-north-east and stays there for frontHolds, with
// at least frontWind behind it. Common practice for the northern hemisphere;
// nothing is named elsewhere.
const (
	frontHolds = 4 * time.Hour
	frontAhead = 12 * time.Hour
	frontWind  = 10 * units.Knot
)

func aheadOfFront(f units.From) bool {
	return f.Degrees() >= 135 && f.Degrees() <= 280
}

func behindFront(f units.From) bool { return f.Degrees() > 280 || f.Degrees() <= 40 }

// Fronts finds the passages of fronts in the middle members of a run of days.
func Fronts(outlooks []models.Outlook) []time.Time {
	var hours []models.Hour
	for _, o := range outlooks {
		if o.Ground.At.Lat < 0 {
			return nil
		}
		for _, h := range o.Middle.Hours {
			if n := len(hours); n == 0 || h.At.After(hours[n-1].At) {
				hours = append(hours, h)
			}
		}
	}
	var out []time.Time
	var ahead time.Time // when the wind was last ahead of a front
	for i, h := range hours {
		from, ok := h.WindFrom.Get()
		if !ok {
			continue
		}
		if aheadOfFront(from) {
			ahead = h.At
			continue
		}
		if !ahead.IsZero() && behindFront(from) && h.At.Sub(ahead) <= frontAhead && staysBehind(hours[i:]) {
			out = append(out, h.At)
			ahead = time.Time{}
		}
	}
	return out
}

func staysBehind(hours []models.Hour) bool {
	strong := false
	for _, h := range hours {
		if h.At.Sub(hours[0].At) >= frontHolds {
			return strong
		}
		from, ok := h.WindFrom.Get()
		if !ok || !behindFront(from) {
			return false
		}
		strong = strong || h.Wind.Or(0) >= frontWind
	}
	return false
}

// longestBehind is how many days a day is still told to be behind a front.
const longestBehind = 3

// front tells where the day lies against the passages of fronts.
func (s *site) front(passages []time.Time) models.Phrase {
	d, zone := s.o.Date, s.zone
	for _, p := range passages {
		if models.DateOf(p, zone) == d {
			return models.Say("front.passes", s.told(s.minute(p)))
		}
	}
	for _, p := range passages {
		if models.DateOf(p, zone) == d.AddDays(1) {
			return models.Say("front.ahead", s.told(s.minute(p)))
		}
	}
	for i := len(passages) - 1; i >= 0; i-- {
		if n := daysBetween(models.DateOf(passages[i], zone), d); n >= 1 && n <= longestBehind {
			return models.Say("front.behind", models.Word(nthDay()[n-1]))
		}
	}
	return models.Phrase{}
}

// behind is which day behind a front a date is, 0 for none.
func behind(days []models.DayOutlook, date models.Date) int {
	for _, d := range days {
		if d.Date != date || d.Front.Key != "front.behind" {
			continue
		}
		for i, word := range nthDay() {
			if d.Front.Args[0] == models.Word(word) {
				return i + 1
			}
		}
	}
	return 0
}

func nthDay() [longestBehind]string { return [...]string{"first", "second", "third"} }
