package scoring

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
	"forecastd/internal/models/units"
)

// said is one answer said of one day, and whether it came so.
type said struct {
	share float64
	came  bool
}

// simulated says the three answers of days whose weather errs as assumed, times
// a factor, and looks how each of them came: an invented port, forecasts of a
// steady day drawn by a fixed seed, and of each of them as many days that come.
func simulated(t testing.TB, forecasts, days int, factor float64) (all [3][]said) {
	rng := rand.New(rand.NewPCG(1, 2))
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	for f := range forecasts {
		date := models.Date{Year: 2027, Month: 1, Day: 19}.AddDays(f)
		made := date.Start(zone).Add(-7 * time.Hour)
		w := units.Speed(6+16*rng.Float64()) * units.Knot
		h := models.Hour{
			Wind: models.Known(w), WindFrom: models.Known(units.From(60)), Gust: models.Known(w * units.Speed(1.2+0.4*rng.Float64())), DirectionSpread: models.Known(20.0),
			Sea: models.Known(units.Length(1+5*rng.Float64()) * units.Foot), Period: models.Known(6.0), SeaFrom: models.Known(units.From(90)), SeaIncludesCurrent: models.Known(true),
			InletCurrent: models.Known(0.5 * units.Knot), Current: models.Known(1.5 * units.Knot), CurrentToward: models.Known(units.Toward(0)),
			Cloud: models.Known(60 * rng.Float64()), Rain: models.Known(60 * rng.Float64()), Thunder: models.Known(35 * rng.Float64()), Visibility: models.Known(10 * units.NauticalMile),
			Air: models.Known(units.Fahrenheit(70)), Water: models.Known(units.Fahrenheit(75)),
		}
		in := outlook.Input{
			Now: made, Date: date,
			Port:     models.Port{Name: "Port A", At: models.Position{Lat: 25.8, Lon: -80.1}, Zone: zone, ShoreNormal: 90},
			Ground:   models.Ground{Name: "the edge", At: models.Position{Lat: 25.8, Lon: -80.06}, Depth: 150 * units.Foot, Run: 20 * time.Minute},
			Boat:     models.Boat{Kind: models.CenterConsole, Length: 39 * units.Foot, Tower: 20 * units.Foot, HeliumAboard: true, Crew: 3},
			Trip:     models.Trip{Kind: models.Charter, Party: models.Mixed, ForHire: models.Known(true), Start: models.Clock{Hour: 7}, End: models.Clock{Hour: 15}},
			Reports:  models.Reports{EdgeInReach: models.Known(true), Water: models.Known(models.WaterBlueEdge), Season: models.Known(models.SeasonPeak), BaitShowering: models.Known(false)},
			Warnings: models.Known([]models.Warning{}),
		}
		series := models.Series{Source: "invented", Ground: "the edge", Run: made}
		for i := range 36 {
			h.At = made.Add(time.Duration(i) * time.Hour)
			series.Hours = append(series.Hours, h)
		}
		in.Series = []models.Series{series}
		o := outlook.Build(in)
		s := newSite(o, models.DefaultLimits())
		v := s.view(false)
		if !v.plan.going {
			continue
		}
		says := s.count(v)

		in.Courses = days
		in.Errors = func(_ string, lead time.Duration) outlook.ErrorSize {
			e := outlook.Assumed(lead)
			e.Wind, e.Sea, e.Shift = e.Wind*units.Speed(factor), e.Sea*factor, time.Duration(float64(e.Shift)*factor)
			return e
		}
		came := outlook.Build(in)
		windows := s.asBookedOrLater(v)
		lists := make([][]models.Hour, len(came.Members))
		for i, m := range came.Members {
			lists[i] = m.Hours
		}
		n := float64(len(v.courses))
		for _, c := range s.judgeAll(lists, v.hours) {
			at, _ := s.stop(c, v.plan.leave)
			all[0] = append(all[0], said{float64(says.Runs.Courses) / n, s.runs(v, c, windows)})
			all[1] = append(all[1], said{float64(says.Hours.Courses) / n, at >= v.plan.back && !s.spoilt(c, &v.trip)})
			all[2] = append(all[2], said{float64(says.Tactic.Courses) / n, s.fits(v, c)})
		}
	}
	return all
}

// came is how often what was said by a word came so, against the mean share
// said.
func byWord(list []said) map[models.Confidence][3]float64 {
	out := map[models.Confidence][3]float64{}
	for _, x := range list {
		w := out[confidence(x.share)]
		w[0]++
		w[1] += x.share
		if x.came {
			w[2]++
		}
		out[confidence(x.share)] = w
	}
	return out
}

// In a world whose errors are those assumed each answer is right as often as
// it says, within three points by each word: over 2,000 days, which know a share
// of 300 of them to that. In one whose errors are half as large again it is right
// less often than it says where it is likely or sure.
func TestAnswersAreRightAsOftenAsTheySay(t *testing.T) {
	names := [...]string{"runs", "hours", "tactic"}
	as := simulated(t, 250, 40, 1)
	require.Greater(t, len(as[0]), 2000)
	over := simulated(t, 250, 40, 1.5)
	under := simulated(t, 250, 40, 1/1.5)
	for i, name := range names {
		for word, w := range byWord(as[i]) {
			t.Logf("%s %s: said %.3f, came %.3f of %.0f", name, word, w[1]/w[0], w[2]/w[0], w[0])
			if w[0] >= 300 {
				require.InDelta(t, w[1]/w[0], w[2]/w[0], 0.03, "%s %s of %.0f", name, word, w[0])
			}
		}
	}
	off := func(all [3][]said) float64 {
		sum, n := 0.0, 0.0
		for word, w := range byWord(all[1]) {
			if word == models.Likely || word == models.Sure {
				sum, n = sum+w[2]-w[1], n+w[0]
			}
		}
		return sum / math.Max(n, 1)
	}
	t.Logf("hours likely or sure: as assumed %.3f, errors 1.5 times %.3f, 1.5 times smaller %.3f", off(as), off(over), off(under))
	require.Less(t, off(over), off(as)-0.03, "too large errors show")
	require.Greater(t, off(under), off(as)+0.02, "too small ones too")
}
