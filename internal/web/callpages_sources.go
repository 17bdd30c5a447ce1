package web

import (
	"fmt"
	"math"
	"time"

	"forecastd/internal/draw"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/words"
)

// sourceData is one source as it stands.
type sourceData struct {
	Name, State, Age, Error, Since string
	Bad, Required                  bool
	Skipped                        []string
}

// sourcesPage tells how each source stands: its age, its last error, and what
// of it was skipped.
func sourcesPage(v *view) (page, error) {
	b, err := v.Board()
	if err != nil {
		return page{}, err
	}
	list, err := v.server.o.Desk.Sources(v.Request.Context(), v.Port)
	if err != nil {
		return page{}, err
	}
	t := v.Tell(models.DateOf(v.Now, zoneOf(b)))
	var data []sourceData
	for _, s := range list {
		one := sourceData{Name: s.Name, State: v.T("source." + s.State), Error: s.Error, Required: s.Required, Skipped: s.Skipped, Bad: s.State != "fresh"}
		if age, ok := s.Age.Get(); ok {
			one.Age = v.T("source.age", t.Duration(age))
		} else {
			one.Age = v.T("source.no age")
		}
		if since, ok := s.Since.Get(); ok {
			one.Since = v.T("source.since", t.Time(since))
		}
		data = append(data, one)
	}
	return page{Name: "sources", Title: "title.sources", Data: data}, nil
}

// scoreDays is how far back the page looks.
const scoreDays = 30

// scoreData is what the page of how we did is filled with.
type scoreData struct {
	From, Station string
	Sources       []scoreRow
	Words         []scoreWord
	Told          string
	Wide, Narrow  figure
	Lately        *words.Table
}

type scoreRow struct {
	Source, Day, Hours, Bias, Mean string
	Used                           bool
}

type scoreWord struct{ Word, Came, Said string }

// scorePage tells how forecasts and calls did.
func scorePage(v *view) (page, error) {
	b, err := v.Board()
	if err != nil {
		return page{}, err
	}
	s, err := v.server.o.Desk.Score(v.Request.Context(), v.Port, scoreDays)
	if err != nil {
		return page{}, err
	}
	t := v.Tell(models.DateOf(v.Now, zoneOf(b)))
	data := scoreData{Station: s.Station, Told: v.T("score.told", s.Called, s.Told)}
	if s.From != (models.Date{}) {
		data.From = t.LongDay(s.From)
	}
	for _, r := range s.Sources {
		bias := "±"
		switch {
		case r.Bias > 0:
			bias = "+"
		case r.Bias < 0:
			bias = "−"
		}
		data.Sources = append(data.Sources, scoreRow{
			Source: r.Source, Day: itoa(r.Day), Hours: itoa(r.Hours), Bias: bias + t.Speed(units.Speed(math.Abs(float64(r.Bias)))), Mean: t.Speed(r.Mean), Used: r.Used,
		})
	}
	for _, w := range s.Words {
		data.Words = append(data.Words, scoreWord{Word: t.Word(string(w.Word)), Came: v.T("score.came", w.Came, w.N), Said: v.T("score.said", fmt.Sprintf("%.0f", 100*w.Said))})
	}
	data.Wide, data.Narrow = v.compare(b, s, false), v.compare(b, s, true)
	data.Lately = v.latelyTable(t, s)
	return page{Name: "score", Title: "title.score", Data: data}, nil
}

// compare draws the wind as forecast beside the wind as observed.
func (v *view) compare(b Board, s Score, narrow bool) figure {
	c := draw.Compare{
		ID: figureID("c", 0, narrow), Title: v.T("score.figure", s.Station), Description: v.T("score.figure words"), Zone: zoneOf(b),
		ForecastName: v.T("score.forecast"), ObservedName: v.T("score.observed"), Value: v.T("score.value " + string(v.Reader.Measures)),
		Day: func(at time.Time) string {
			date := models.DateOf(at, zoneOf(b))
			return v.Tell(date).ShortDay(date)
		}, Narrow: narrow,
	}
	number := func(s units.Speed) float64 {
		if v.Reader.Measures == words.Metric {
			return s.MetresPerSecond()
		}
		return s.Knots()
	}
	for _, x := range s.Lately {
		c.Forecast = append(c.Forecast, draw.Sample{At: x.At, Value: models.MapOpt(x.Forecast, number)})
		c.Observed = append(c.Observed, draw.Sample{At: x.At, Value: models.MapOpt(x.Observed, number)})
	}
	return drawn(c.SVG())
}

// latelyTable is the drawing as a table.
func (v *view) latelyTable(t words.Teller, s Score) *words.Table {
	if len(s.Lately) == 0 {
		return nil
	}
	table := words.Table{Head: []string{v.T("column.time"), v.T("score.forecast"), v.T("score.observed")}}
	for _, x := range s.Lately {
		table.Rows = append(table.Rows, []words.Cell{{Words: t.Time(x.At)}, {Words: optSpeed(t, x.Forecast)}, {Words: optSpeed(t, x.Observed)}})
	}
	return &table
}
