package notify

import (
	"slices"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/words"
)

// Person is somebody who is told.
type Person struct {
	Name   string
	Reader words.Reader
	// Routes are the ways to the person, best first; Failures and Closed
	// are not looked at.
	Routes []models.Route
	What   []models.Notice
	Quiet  Quiet
	// Captain marks who is told what can't wait, whatever What says.
	Captain bool
}

// Wants tells whether the person is told a sort of message. A test on demand
// is for everybody.
func (p Person) Wants(n models.Notice) bool {
	return n == models.NoticeTest || slices.Contains(p.What, n)
}

// Quiet are the hours of the day in which a person is not disturbed, on the
// clock of Zone; they may span midnight. Without From and To there are none.
type Quiet struct {
	From, To models.Opt[models.Clock]
	Zone     *time.Location
}

// Until returns when the quiet hours that hold at now end; ok is false where
// none hold.
func (q Quiet) Until(now time.Time) (end time.Time, ok bool) {
	from, hasFrom := q.From.Get()
	to, hasTo := q.To.Get()
	if !hasFrom || !hasTo || from == to {
		return time.Time{}, false
	}
	zone := q.Zone
	if zone == nil {
		zone = time.UTC
	}
	today := models.DateOf(now, zone)
	// The quiet hours that began yesterday may still hold.
	for _, day := range []models.Date{today.AddDays(-1), today} {
		start, last := from.On(day, zone), day
		if to.Hour*60+to.Minute <= from.Hour*60+from.Minute {
			last = day.AddDays(1)
		}
		if end := to.On(last, zone); !now.Before(start) && now.Before(end) {
			return end, true
		}
	}
	return time.Time{}, false
}
