package outlook_test

import (
	"fmt"
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

func TestSameDataSameMembers(t *testing.T) {
	a, b := outlook.Build(input(t)), outlook.Build(input(t))
	require.Equal(t, a, b)
	require.Len(t, a.Members, outlook.Size)
	require.Equal(t, a.Middle, a.Members[0])

	later := input(t)
	later.Now = later.Now.Add(time.Hour)
	require.Equal(t, a.Members, outlook.Build(later).Members, "the clock alone changes nothing")

	newer := input(t)
	newer.Series[0].Run = newer.Series[0].Run.Add(6 * time.Hour)
	require.NotEqual(t, a.Members[1], outlook.Build(newer).Members[1])
}

func TestMembersSpreadAsAssumedAroundTheMiddle(t *testing.T) {
	in := input(t)
	in.Series[0].Hours = in.Series[0].Hours[:0]
	run := in.Series[0].Run
	for i := range 48 { // steady wind: the spread is the error and no shift shows
		in.Series[0].Hours = append(in.Series[0].Hours, models.Hour{At: run.Add(time.Duration(i) * time.Hour), Wind: models.Known(20 * units.Knot), WindFrom: models.Known(units.From(90))})
	}
	var sum, squares, n float64
	for d := range 40 { // forty ports: forty draws of thirty members
		in.Port.Name = fmt.Sprint("port ", d)
		o := outlook.Build(in)
		for _, m := range o.Members[1:] {
			e := float64(m.Hours[8].Wind.Or(0) - o.Middle.Hours[8].Wind.Or(0))
			sum, squares, n = sum+e, squares+e*e, n+1
		}
	}
	require.InDelta(t, 0, sum/n, 0.05, "opposite pairs cancel")
	// 1.75 m/s on day 1 (design assumption); 1200 draws know it to 2 %, the
	// tolerance is three times that.
	require.InDelta(t, 1.75, math.Sqrt(squares/n), 0.12)
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

func TestUnknownStaysUnknownInEveryMember(t *testing.T) {
	in := input(t)
	for i := range in.Series[0].Hours {
		in.Series[0].Hours[i].Sea = models.Unknown[units.Length]()
	}
	o := outlook.Build(in)
	for _, m := range o.Members {
		for _, h := range m.Hours {
			require.False(t, h.Sea.Known())
		}
	}
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
		in.Port.Name = rapid.String().Draw(rt, "port")
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
