package scoring_test

import (
	"math"
	"testing"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
)

// tenDays are ten outlooks of 31 members, made from an expert day by moving
// its wind and sea a little.
func tenDays(b *testing.B) []models.Outlook {
	base := expertOutlook(b, 8)
	var out []models.Outlook
	for d := range 10 {
		o := base
		o.Date = base.Date.AddDays(d)
		shift := o.Date.Start(o.Port.Zone).Sub(base.Date.Start(base.Port.Zone))
		for m := range 31 {
			by := units.Speed(math.Sin(float64(17*m+d))) * 3 * units.Knot
			member := with(base, func(h *models.Hour) {
				h.At = h.At.Add(shift)
				h.Wind = models.Known(max(h.Wind.Or(0)+by, 0))
				h.Gust = models.Known(max(h.Gust.Or(0)+by, 0))
				h.SeaIncludesCurrent = models.Known(false)
				h.Air, h.Water = models.Known(units.Celsius(22)), models.Known(units.Celsius(25))
				h.DirectionSpread = models.Known(10.0)
			})
			if m == 0 {
				o.Middle = member.Middle
			}
			o.Members = append(o.Members, member.Middle)
		}
		// All 24 hours, as a live outlook of a whole day has.
		for i := range o.Members {
			o.Members[i].Hours = wholeDay(o.Members[i].Hours)
		}
		o.Middle.Hours = wholeDay(o.Middle.Hours)
		out = append(out, o)
	}
	return out
}

func wholeDay(hours []models.Hour) []models.Hour {
	out := append([]models.Hour(nil), hours...)
	for len(out) < 24 {
		h := out[len(out)-1]
		h.At = h.At.Add(time.Hour)
		out = append(out, h)
	}
	return out
}

// BenchmarkDays judges one port, 10 days by 31 members, physics and all: the
// budget is 200 ms (design.md 10).
func BenchmarkDays(b *testing.B) {
	days := tenDays(b)
	b.ReportAllocs()
	for b.Loop() {
		scoring.Days(days, models.DefaultLimits(), nil)
	}
}

// BenchmarkCall makes one whole call with its reasons and flips.
func BenchmarkCall(b *testing.B) {
	days := tenDays(b)
	b.ReportAllocs()
	for b.Loop() {
		scoring.Judge(days[0], models.DefaultLimits(), scoring.With{})
	}
}
