package outlook_test

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
	"forecastd/internal/models/units"
)

func newYork(t testing.TB) *time.Location {
	z, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	return z
}

// input is an invented port with one series: a wind veering from S to NW as a
// front passes at 15 UTC.
func input(t testing.TB) outlook.Input {
	date := models.Date{Year: 2027, Month: 1, Day: 19}
	run := time.Date(2027, 1, 18, 18, 0, 0, 0, time.UTC)
	front := time.Date(2027, 1, 19, 15, 0, 0, 0, time.UTC)
	s := models.Series{Source: "gfs", Ground: "the edge", Run: run}
	for i := range 48 {
		at := run.Add(time.Duration(i) * time.Hour)
		h := models.Hour{At: at, Wind: models.Known(14 * units.Knot), WindFrom: models.Known(units.From(190)), Gust: models.Known(18 * units.Knot),
			Sea: models.Known(3 * units.Foot), Period: models.Known(6.0)}
		if !at.Before(front) {
			h.Wind, h.WindFrom, h.Gust = models.Known(18*units.Knot), models.Known(units.From(320)), models.Known(26*units.Knot)
		}
		s.Hours = append(s.Hours, h)
	}
	return outlook.Input{
		Now: run.Add(4 * time.Hour), Date: date,
		Port:   models.Port{Name: "Port Amparo", At: models.Position{Lat: 27.2, Lon: -79.9}, Zone: newYork(t), ShoreNormal: 90},
		Ground: models.Ground{Name: "the edge"},
		Trip:   models.Trip{Kind: models.Charter, Party: models.Mixed, Start: models.Clock{Hour: 7}, End: models.Clock{Hour: 15}},
		Series: []models.Series{s}, Warnings: models.Known([]models.Warning{}),
	}
}

func TestSameDataSameCourses(t *testing.T) {
	a, b := outlook.Build(input(t)), outlook.Build(input(t))
	require.Equal(t, a, b)
	require.Len(t, a.Members, outlook.Courses)

	later := input(t)
	later.Now = later.Now.Add(time.Hour)
	require.Equal(t, a.Members, outlook.Build(later).Members, "the clock alone changes nothing")

	renamed := input(t)
	renamed.Port.Name, renamed.Ground.Name, renamed.Series[0].Ground = "Port B", "the hump", "the hump"
	renamed.Series[0].Source = "another"
	require.Equal(t, a.Members, outlook.Build(renamed).Members, "a name is no weather")

	few := input(t)
	few.Courses = 16
	require.Len(t, outlook.Build(few).Members, 16)
}

// A new run that says the same gives the same day, but for the errors of a
// lead that is shorter by as much.
func TestTheSameForecastAgainIsTheSameDay(t *testing.T) {
	flat := func(_ string, _ time.Duration) outlook.ErrorSize { return outlook.Assumed(24 * time.Hour) }
	in := input(t)
	in.Errors = flat
	in.Series[0].Hours = in.Series[0].Hours[:0]
	for i := range 60 {
		in.Series[0].Hours = append(in.Series[0].Hours, models.Hour{At: in.Series[0].Run.Add(time.Duration(i) * time.Hour), Wind: models.Known(15 * units.Knot), WindFrom: models.Known(units.From(90))})
	}
	a := outlook.Build(in)
	in.Series[0].Run = in.Series[0].Run.Add(30 * time.Minute)
	b := outlook.Build(in)
	for i := range a.Members {
		for k := range a.Members[i].Hours {
			require.InDelta(t, a.Members[i].Hours[k].Wind.Or(0).Knots(), b.Members[i].Hours[k].Wind.Or(0).Knots(), 0.1)
		}
	}
}

func TestCoursesSpreadAsAssumedAroundTheMiddle(t *testing.T) {
	in := input(t)
	in.Series[0].Hours = in.Series[0].Hours[:0]
	run := in.Series[0].Run
	for i := range 48 { // steady wind: the spread is the error and no shift shows
		in.Series[0].Hours = append(in.Series[0].Hours, models.Hour{At: run.Add(time.Duration(i) * time.Hour), Wind: models.Known(20 * units.Knot), WindFrom: models.Known(units.From(90))})
	}
	o := outlook.Build(in)
	for k, mid := range o.Middle.Hours {
		sum, squares, next := 0.0, 0.0, 0.0
		for _, m := range o.Members {
			e := float64(m.Hours[k].Wind.Or(0) - mid.Wind.Or(0))
			sum, squares = sum+e, squares+e*e
			if k+1 < len(m.Hours) {
				next += e * float64(m.Hours[k+1].Wind.Or(0)-o.Middle.Hours[k+1].Wind.Or(0))
			}
		}
		n := float64(len(o.Members))
		require.InDelta(t, 0, sum/n, 0.15, "opposite quantiles cancel")
		// 1.75 m/s on day 1 (design assumption); of 64 quantiles that walk
		// on by the hour, within a tenth or so.
		require.InDelta(t, 1.75, math.Sqrt(squares/n), 0.25)
		if k+1 < len(o.Middle.Hours) {
			require.Greater(t, next/squares, 0.8, "an hour's error lasts into the next")
		}
	}
}

// A forecast five days out is wrong by a whole day: morning and afternoon go
// together more than in one for tomorrow.
func TestErrorsLastLongerFurtherAhead(t *testing.T) {
	together := func(lead time.Duration) float64 {
		var hours []models.Hour
		start := time.Date(2027, 1, 19, 11, 0, 0, 0, time.UTC)
		for i := range 10 {
			hours = append(hours, models.Hour{At: start.Add(time.Duration(i) * time.Hour), Wind: models.Known(40 * units.Knot), WindFrom: models.Known(units.From(90))})
		}
		a, b, ab := 0.0, 0.0, 0.0
		for _, m := range outlook.Around(hours, start.Add(-lead), outlook.Place{}, 64) {
			x, y := m.Hours[0].Wind.Or(0).Knots()-40, m.Hours[9].Wind.Or(0).Knots()-40
			a, b, ab = a+x*x, b+y*y, ab+x*y
		}
		return ab / math.Sqrt(a*b)
	}
	near, far := together(12*time.Hour), together(5*24*time.Hour)
	require.Less(t, near, 0.65)
	require.Greater(t, far, 0.85)
}

// A chance is as many courses as it says, whatever the hour, and one that has
// it at a low chance has it at a higher one.
func TestChancesAreAsManyCourses(t *testing.T) {
	in := input(t)
	for i := range in.Series[0].Hours {
		h := &in.Series[0].Hours[i]
		h.Thunder, h.Rain = models.Known(float64(min(5*i, 100))), models.Known(float64(min(5*i, 100)))
	}
	o := outlook.Build(in)
	var before []bool
	for k, mid := range o.Middle.Hours {
		thunder, rain, soaked := 0, 0, 0
		has := make([]bool, len(o.Members))
		for i, m := range o.Members {
			h := m.Hours[k]
			require.Contains(t, []float64{0, 100}, h.Thunder.Or(-1))
			require.Contains(t, []float64{0, outlook.LightRain, outlook.Soaking}, h.Rain.Or(-1))
			has[i] = h.Thunder.Or(0) > 0
			if has[i] {
				thunder++
			}
			if h.Rain.Or(0) > 0 {
				rain++
			}
			if h.Rain.Or(0) == outlook.Soaking {
				soaked++
			}
			require.False(t, before != nil && before[i] && !has[i], "a spell does not break off while the chance rises")
		}
		before = has
		n := float64(len(o.Members))
		require.InDelta(t, mid.Thunder.Or(0)/100, float64(thunder)/n, 1/n)
		require.InDelta(t, mid.Rain.Or(0)/100, float64(rain)/n, 1/n)
		require.LessOrEqual(t, soaked, rain)
	}
}

func TestTheFrontMayComeEarlyOrLate(t *testing.T) {
	o := outlook.Build(input(t))
	passed := map[time.Time]int{}
	for _, m := range o.Members {
		for _, h := range m.Hours {
			if f, ok := h.WindFrom.Get(); ok && units.Apart(f, units.From(320)) < units.Apart(f, units.From(190)) {
				passed[h.At]++
				break
			}
		}
	}
	require.Greater(t, len(passed), 2, "members differ in when the wind veers: %v", passed)
}

// What the middle one does not know is drawn in every course, wide, and is
// still told as missing.
func TestUnknownIsDrawnInEveryCourse(t *testing.T) {
	in := input(t)
	for i := range in.Series[0].Hours {
		in.Series[0].Hours[i].Sea = models.Unknown[units.Length]()
	}
	o := outlook.Build(in)
	for _, h := range o.Middle.Hours {
		require.False(t, h.Sea.Known())
	}
	low, high := units.Length(math.Inf(1)), units.Length(0)
	for _, m := range o.Members {
		for i := range m.Hours {
			for _, l := range outlook.Drawn() {
				require.False(t, l.Of(&m.Hours[i]), l)
			}
		}
		low, high = min(low, m.Hours[5].Sea.Or(0)), max(high, m.Hours[5].Sea.Or(0))
	}
	require.Less(t, low, 1.5*units.Foot)
	require.Greater(t, high, 8*units.Foot)
	var what []string
	for _, g := range o.Missing {
		what = append(what, g.What)
	}
	require.Contains(t, what, "seas")
	require.Contains(t, what, "current")
	require.NotContains(t, what, "wind")
}

func TestNoSeriesGivesHoursThatKnowNothing(t *testing.T) {
	in := input(t)
	in.Series = nil
	o := outlook.Build(in)
	require.Empty(t, o.Members)
	require.Len(t, o.Middle.Hours, 17)
	require.False(t, o.Middle.Hours[5].Wind.Known())
}

func TestFirstSeriesIsTrustedAndLaterOnesFillIn(t *testing.T) {
	in := input(t)
	second := models.Series{Source: "waves", Ground: "the edge", Run: in.Series[0].Run}
	for _, h := range in.Series[0].Hours {
		second.Hours = append(second.Hours, models.Hour{At: h.At, Wind: models.Known(40 * units.Knot), WindFrom: models.Known(units.From(10)),
			Swell: models.Known(2 * units.Foot), Current: models.Known(2 * units.Knot), CurrentToward: models.Known(units.Toward(0))})
	}
	in.Series = append(in.Series, second)
	h := outlook.Build(in).Middle.Hours[3]
	require.Equal(t, 14*units.Knot, h.Wind.Or(0))
	require.Equal(t, 2*units.Foot, h.Swell.Or(0))
	require.Equal(t, 2*units.Knot, h.Current.Or(0))
	in.Series[1].Ground = "another ground"
	require.False(t, outlook.Build(in).Middle.Hours[3].Swell.Known())
}

func TestBiasNeverTakesWindBelowTheOfficialForecast(t *testing.T) {
	in := input(t)
	official := in.Series[0]
	official.Official, official.Source = true, "nws gridpoint"
	model := official
	model.Official, model.Source = false, "gfs"
	model.Hours = append([]models.Hour(nil), official.Hours...)
	for i := range model.Hours {
		model.Hours[i].Wind = models.Known(22 * units.Knot)
	}
	in.Series = []models.Series{model, official}
	in.Errors = func(string, time.Duration) outlook.ErrorSize {
		return outlook.ErrorSize{WindBias: 15 * units.Knot}
	}
	require.InDelta(t, 14, outlook.Build(in).Middle.Hours[2].Wind.Or(0).Knots(), 0.01)
}

func TestDaysOfTwentyThreeAndTwentyFiveHours(t *testing.T) {
	in := input(t)
	for _, d := range []models.Date{{Year: 2027, Month: 3, Day: 14}, {Year: 2027, Month: 11, Day: 7}} {
		in.Date = d
		hours := outlook.Build(in).Middle.Hours
		require.Equal(t, "04:00", hours[0].At.In(in.Port.Zone).Format("15:04"))
		require.Equal(t, "20:00", hours[len(hours)-1].At.In(in.Port.Zone).Format("15:04"))
		require.Len(t, hours, 17)
	}
}

func TestThreeHourlyValuesAreJoinedAndGapsStayGaps(t *testing.T) {
	in := input(t)
	day := time.Date(2027, 1, 19, 9, 0, 0, 0, time.UTC)
	hour := func(h int, from units.From) models.Hour {
		return models.Hour{At: day.Add(time.Duration(h) * time.Hour), Wind: models.Known(10 * units.Knot), WindFrom: models.Known(from)}
	}
	in.Series[0].Hours = []models.Hour{hour(0, 350), hour(3, 20), hour(12, 20)}
	hours := outlook.Build(in).Middle.Hours
	require.InDelta(t, 0, units.Apart(hours[1].WindFrom.Or(180), units.From(0)), 0.2, "a third of the way from 350 to 20 is 0, not 240")
	require.True(t, hours[3].Wind.Known())
	require.False(t, hours[4].Wind.Known(), "nine hours are a gap, not a line")
}

func TestMembersArePossible(t *testing.T) {
	in := input(t)
	rapid.Check(t, func(rt *rapid.T) {
		wind := rapid.Float64Range(0, 40).Draw(rt, "wind")
		for i := range in.Series[0].Hours {
			in.Series[0].Hours[i].Wind = models.Known(units.Speed(wind) * units.Knot)
			in.Series[0].Hours[i].Gust = models.Known(units.Speed(wind+rapid.Float64Range(0, 15).Draw(rt, "spread")) * units.Knot)
			in.Series[0].Hours[i].Sea = models.Known(units.Length(rapid.Float64Range(0, 12).Draw(rt, "sea")) * units.Foot)
		}
		in.Courses = rapid.IntRange(1, 40).Draw(rt, "courses")
		for _, m := range outlook.Build(in).Members {
			for _, h := range m.Hours {
				if h.Wind.Known() {
					require.GreaterOrEqual(rt, float64(h.Wind.Or(-1)), 0.0)
					require.GreaterOrEqual(rt, float64(h.Gust.Or(-1)), float64(h.Wind.Or(0))-0.01)
				}
				require.GreaterOrEqual(rt, float64(h.Sea.Or(0)), 0.0)
			}
		}
	})
}

func BenchmarkBuild(b *testing.B) {
	in := input(b)
	for b.Loop() {
		outlook.Build(in)
	}
}

func TestTheStreamBetweenItsTurnsAndTheMeasuredWater(t *testing.T) {
	in := input(t)
	at := func(h, m int) time.Time { return time.Date(2027, 1, 19, h, m, 0, 0, time.UTC) }
	in.Streams = []models.StreamEvent{{At: at(9, 0), Kind: models.Slack}, {At: at(12, 0), Kind: models.Ebb, Speed: -2 * units.Knot}, {At: at(15, 0), Kind: models.Slack}}
	in.Observed = []models.Observation{
		{Station: "49997", At: in.Now.Add(-time.Hour), Water: models.Known(units.Fahrenheit(75))},
		{Station: "49997", At: in.Now.Add(-30 * time.Minute)},
	}
	hours := outlook.Build(in).Middle.Hours
	require.InDelta(t, -2, hours[3].InletCurrent.Or(0).Knots(), 0.01, "strongest ebb at 12 UTC")
	require.InDelta(t, -1, hours[1].InletCurrent.Or(0).Knots(), 0.01, "a third of the way from slack: sin 30°")
	require.False(t, hours[10].InletCurrent.Known(), "after the last turn")
	require.InDelta(t, 75, hours[5].Water.Or(0).Fahrenheit(), 0.01)

	in.Observed[0].At = in.Now.Add(-25 * time.Hour)
	require.False(t, outlook.Build(in).Middle.Hours[5].Water.Known(), "a report of yesterday no longer stands")
}
