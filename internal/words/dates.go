package words

import (
	"fmt"
	"math"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Time tells an instant on the port's clock, with the day where it is not the
// day called.
func (t Teller) Time(v time.Time) string {
	if models.DateOf(v, t.zone) == t.date {
		return t.clock(v)
	}
	return t.dayTime(v)
}

// clock is the time of day on the port's clock.
func (t Teller) clock(v time.Time) string { return v.In(t.zone).Format("15:04") }

// dayTime tells an instant with its day, whichever day it is.
func (t Teller) dayTime(v time.Time) string {
	return t.shortWeekday(v.In(t.zone).Weekday()) + " " + t.clock(v)
}

// Weekday tells a day of the week: "Tuesday".
func (t Teller) Weekday(d models.Date) string {
	return t.say("weekday." + strings.ToLower(d.Weekday().String()))
}

// shortWeekday is the first three letters.
func (t Teller) shortWeekday(d time.Weekday) string {
	return firstThree(t.say("weekday." + strings.ToLower(d.String())))
}

func (t Teller) month(m time.Month) string { return t.say("month." + strings.ToLower(m.String())) }

// LongDay tells a civil day in full: "Tuesday 19 January 2027".
func (t Teller) LongDay(d models.Date) string {
	return t.say("date.long", t.Weekday(d), d.Day, t.month(d.Month), d.Year)
}

// Day tells a civil day: "Tue 19 January".
func (t Teller) Day(d models.Date) string {
	return t.say("date.day", t.shortWeekday(d.Weekday()), d.Day, t.month(d.Month))
}

// ShortDay tells a civil day in eleven or fewer letters: "Tue 19 Jan".
func (t Teller) ShortDay(d models.Date) string {
	return fmt.Sprintf("%s %02d %s", t.shortWeekday(d.Weekday()), d.Day, firstThree(t.month(d.Month)))
}

// Duration tells a span of time: "45 min", "2 h", "2 h 30 min", "3 days".
func (t Teller) Duration(d time.Duration) string {
	d = d.Round(time.Minute)
	h, m := int(d.Hours()), int(d.Minutes())%60
	switch {
	case h >= 48:
		return t.say("days", int(math.Round(d.Hours()/24)))
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	}
	return fmt.Sprintf("%d h %02d min", h, m)
}

func firstThree(s string) string { return string([]rune(s)[:3]) }
