package fetch

import (
	"slices"
	"time"

	"forecastd/internal/models"
)

// Timetable tells when something new can be there after an answer that was
// fetched at last.
type Timetable func(last time.Time) time.Time

// Each is the timetable of what may change at any time: it is worth to ask
// again after a while.
func Each(d time.Duration) Timetable {
	return func(last time.Time) time.Time { return last.Add(d) }
}

// AtMinutes is the timetable of what comes every hour at certain minutes.
func AtMinutes(minutes ...int) Timetable {
	slices.Sort(minutes)
	return func(last time.Time) time.Time {
		hour := last.UTC().Truncate(time.Hour)
		for {
			for _, m := range minutes {
				if t := hour.Add(time.Duration(m) * time.Minute); t.After(last) {
					return t
				}
			}
			hour = hour.Add(time.Hour)
		}
	}
}

// AtClocks is the timetable of what people issue, at certain times of each
// civil day.
func AtClocks(zone *time.Location, clocks ...models.Clock) Timetable {
	return func(last time.Time) time.Time {
		for date := models.DateOf(last, zone); ; date = date.AddDays(1) {
			var first time.Time
			for _, c := range clocks {
				if t := c.On(date, zone); t.After(last) && (first.IsZero() || t.Before(first)) {
					first = t
				}
			}
			if !first.IsZero() {
				return first
			}
		}
	}
}
