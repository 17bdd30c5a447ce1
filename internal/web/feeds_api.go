package web

import (
	_ "embed" // the description of the documents
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/web/door"
)

//go:embed openapi.json
var openAPI []byte

// apiRoutes are the JSON documents. They only tell: nothing is changed by
// them, and no other site's pages may read them.
func (s *Server) apiRoutes() []route {
	list := []struct {
		name string
		make func(*view) ([]byte, error)
	}{
		{"call", apiCall}, {"calls", apiCalls}, {"days", apiDays}, {"sources", apiSources},
		{"warnings", apiWarnings}, {"score", apiScore},
		{"openapi.json", func(*view) ([]byte, error) { return openAPI, nil }},
	}
	var rows []route
	for _, d := range list {
		rows = append(rows, route{Pattern: "GET /api/v1/" + d.name, Raw: func(v *view, w http.ResponseWriter) error {
			b, err := d.make(v)
			if err != nil {
				return err
			}
			h := w.Header()
			h.Set("Vary", "Cookie")
			h.Set("Content-Language", string(v.Reader.Language))
			cache := "no-cache"
			if v.Role != Nobody {
				cache = "private, no-cache"
			}
			answer(w, v.Request, body{Type: "application/json", Bytes: b, Tag: tagOf(b), Cache: cache})
			return nil
		}})
	}
	return rows
}

// apiProblem is what went wrong (RFC 9457).
type apiProblem struct {
	Type   string `json:"type"`
	Title  string `json:"title"`
	Status int    `json:"status"`
	Detail string `json:"detail"`
}

// apiFail answers what went wrong with a document, as a document.
func (v *view) apiFail(w http.ResponseWriter, err error) {
	p := apiProblem{Type: "about:blank", Status: http.StatusInternalServerError, Detail: v.T("error.inside")}
	var refused *door.Refusal
	switch {
	case errors.As(err, &refused):
		p.Status, p.Detail = refused.Status, strings.TrimSpace(v.T(refused.Key)+" "+refused.Detail)
	case errors.Is(err, ErrNotFound):
		p.Status, p.Detail = http.StatusNotFound, v.T("api.not found")
	default:
		v.server.o.Logger.Error("a document could not be made", "path", v.Request.URL.Path, "error", err)
	}
	p.Title = http.StatusText(p.Status)
	h := w.Header()
	h.Set("Content-Type", "application/problem+json")
	h.Set("Content-Language", string(v.Reader.Language))
	h.Set("Cache-Control", "no-store")
	w.WriteHeader(p.Status)
	_ = json.NewEncoder(w).Encode(p) // nobody is left to be told
}

// document writes a JSON document.
func document(d any) ([]byte, error) {
	b, err := json.MarshalIndent(d, "", " ")
	if err != nil {
		return nil, fmt.Errorf("write the document: %w", err)
	}
	return append(b, '\n'), nil
}

// head is what every document of ours begins with.
type head struct {
	Schema string `json:"schema"`
	Demo   bool   `json:"demo,omitempty"`
	Notice string `json:"notice,omitempty"`
	Port   string `json:"port"`
	// Made is when the newest call was made; null before the first.
	Made models.Opt[time.Time] `json:"made"`
}

func (v *view) head(b Board, schema string) head {
	h := head{Schema: "forecastd." + schema + ".v1", Demo: b.Demo, Port: b.Port.Name}
	if b.Demo {
		h.Notice = v.DemoNotice()
	}
	if !b.Made.IsZero() {
		h.Made = models.Known(b.Made.UTC())
	}
	return h
}

// dayFor is the day of the board that ?date= asks for, the day at hand
// without.
func (v *view) dayFor(b Board) (Day, error) {
	date := b.Next
	if s := v.ask("date"); s != "" {
		d, err := models.ParseDate(s)
		if err != nil {
			return Day{}, &door.Refusal{Status: http.StatusBadRequest, Key: "api.date", Detail: strconv.Quote(s)}
		}
		date = d
	}
	for _, d := range b.Days {
		if d.Date == date {
			return d, nil
		}
	}
	return Day{}, ErrNotFound
}

// bounded reads a whole number of the query within bounds.
func (v *view) bounded(key string, without, low, high int) (int, error) {
	s := v.ask(key)
	if s == "" {
		return without, nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < low || n > high {
		return 0, &door.Refusal{Status: http.StatusBadRequest, Key: "api.number", Detail: fmt.Sprintf("%s=%q: %d..%d", key, s, low, high)}
	}
	return n, nil
}

// agesTo is the instant to which ages in a call's document are told: the end
// of the ten minutes that run, so that an age is never told too young and the
// document stays the same for a while.
func (v *view) agesTo() time.Time {
	const step = 10 * time.Minute
	return v.Now.Truncate(step).Add(step)
}

// callDocument is the call of one trip, without what is said to the guests
// for those who are not logged in.
func (v *view) callDocument(trip TripCall) (json.RawMessage, error) {
	c := trip.Call
	if ch, ok := c.Charter.Get(); ok && v.Role == Nobody {
		ch.Message = nil
		c.Charter = models.Known(ch)
	}
	b, err := v.Tell(c.Date).JSON(c, v.agesTo(), false)
	if err != nil {
		return nil, fmt.Errorf("write the call: %w", err)
	}
	return b, nil
}

// Bounds of what is asked for by ?trip= and ?days=.
const (
	mostTrips = 20
	mostDays  = 400
	usualDays = 60
)

func apiCall(v *view) ([]byte, error) {
	b, err := v.Board()
	if err != nil {
		return nil, err
	}
	day, err := v.dayFor(b)
	if err != nil {
		return nil, err
	}
	n, err := v.bounded("trip", 1, 1, mostTrips)
	if err != nil {
		return nil, err
	}
	if n > len(day.Trips) {
		return nil, ErrNotFound
	}
	return v.callDocument(day.Trips[n-1])
}

func apiCalls(v *view) ([]byte, error) {
	b, err := v.Board()
	if err != nil {
		return nil, err
	}
	day, err := v.dayFor(b)
	if err != nil {
		return nil, err
	}
	d := struct {
		head
		Date  models.Date       `json:"date"`
		Calls []json.RawMessage `json:"calls"`
	}{v.head(b, "calls"), day.Date, []json.RawMessage{}}
	for _, trip := range day.Trips {
		c, err := v.callDocument(trip)
		if err != nil {
			return nil, err
		}
		d.Calls = append(d.Calls, c)
	}
	return document(d)
}

type (
	apiSpan struct {
		From time.Time `json:"from"`
		To   time.Time `json:"to"`
	}
	apiDay struct {
		Date        models.Date             `json:"date"`
		Tactic      models.Tactic           `json:"tactic"`
		Timing      []models.Timing         `json:"timing"`
		Confidence  models.Confidence       `json:"confidence"`
		Agreement   float64                 `json:"agreement"`
		Out         models.Opt[apiSpan]     `json:"out"`
		Beyond      bool                    `json:"beyond_hours"`
		KiteWindows []apiSpan               `json:"kite_windows"`
		BestRide    string                  `json:"best_ride"`
		WorstRide   string                  `json:"worst_ride"`
		Wind        models.Opt[float64]     `json:"wind_kn"`
		WindFrom    models.Opt[float64]     `json:"wind_from_deg"`
		Gust        models.Opt[float64]     `json:"gust_kn"`
		Sea         models.Opt[float64]     `json:"sea_ft"`
		Rides       map[models.Party]string `json:"rides"`
		Front       models.Opt[string]      `json:"front"`
		Closed      models.Opt[string]      `json:"closed"`
		Trips       int                     `json:"trips"`
		Warnings    models.Opt[[]apiHeld]   `json:"warnings"`
		Past        bool                    `json:"past_warnings"`
		Free        models.Opt[bool]        `json:"free"`
		Offered     bool                    `json:"offered"`
	}
	// apiHeld is an official product of a day in short.
	apiHeld struct {
		Event string                `json:"event"`
		Onset time.Time             `json:"onset"`
		Ends  models.Opt[time.Time] `json:"ends"`
	}
)

func held(list []models.Warning) []apiHeld {
	out := []apiHeld{}
	for _, w := range list {
		out = append(out, apiHeld{w.Event, w.Onset.UTC(), models.MapOpt(w.Ends, time.Time.UTC)})
	}
	return out
}

func apiDays(v *view) ([]byte, error) {
	b, err := v.Board()
	if err != nil {
		return nil, err
	}
	d := struct {
		head
		Next models.Date `json:"next"`
		Days []apiDay    `json:"days"`
	}{v.head(b, "days"), b.Next, []apiDay{}}
	span := func(i models.Interval) apiSpan { return apiSpan{i.Start.UTC(), i.End.UTC()} }
	for _, day := range b.Days {
		o, t := day.Short, v.Tell(day.Date)
		said := func(p models.Phrase) models.Opt[string] {
			if p.Key == "" {
				return models.Unknown[string]()
			}
			return models.Known(t.Say(p))
		}
		row := apiDay{
			Date: day.Date, Tactic: o.Tactic, Timing: append([]models.Timing{}, o.Timing...), Confidence: o.Confidence, Agreement: round(o.Agreement),
			Out: models.MapOpt(o.Out, span), Beyond: o.BeyondHours, KiteWindows: []apiSpan{}, BestRide: o.BestRide.String(), WorstRide: o.WorstRide.String(),
			Wind: knots(o.Wind), Gust: knots(o.Gust), Sea: feet(o.Sea),
			WindFrom: models.MapOpt(o.WindFrom, func(f units.From) float64 { return math.Round(f.Degrees()) }),
			Warnings: models.MapOpt(o.Warnings, held), Past: o.PastWarnings, Free: o.Free, Offered: o.Offered(),
			Rides: map[models.Party]string{}, Front: said(o.Front), Closed: said(o.Closed), Trips: len(day.Trips),
		}
		for _, w := range o.KiteWindows {
			row.KiteWindows = append(row.KiteWindows, span(w))
		}
		for p, r := range o.Rides {
			row.Rides[p] = r.String()
		}
		d.Days = append(d.Days, row)
	}
	return document(d)
}

type apiSource struct {
	Name     string                `json:"name"`
	State    string                `json:"state"`
	Age      models.Opt[float64]   `json:"age_s"`
	Since    models.Opt[time.Time] `json:"missing_since"`
	Error    models.Opt[string]    `json:"error"`
	Skipped  []string              `json:"skipped"`
	Required bool                  `json:"required"`
}

func apiSources(v *view) ([]byte, error) {
	b, err := v.Board()
	if err != nil {
		return nil, err
	}
	list, err := v.server.o.Desk.Sources(v.Request.Context(), v.Port)
	if err != nil {
		return nil, fmt.Errorf("ask for the sources: %w", err)
	}
	d := struct {
		head
		Sources []apiSource `json:"sources"`
	}{v.head(b, "sources"), []apiSource{}}
	for _, s := range list {
		row := apiSource{Name: s.Name, State: s.State, Skipped: append([]string{}, s.Skipped...), Required: s.Required}
		row.Age = models.MapOpt(s.Age, func(a time.Duration) float64 { return a.Round(time.Minute).Seconds() })
		row.Since = models.MapOpt(s.Since, time.Time.UTC)
		if s.Error != "" {
			row.Error = models.Known(s.Error)
		}
		d.Sources = append(d.Sources, row)
	}
	return document(d)
}

func knots(v models.Opt[units.Speed]) models.Opt[float64] {
	return models.MapOpt(v, func(s units.Speed) float64 { return round(s.Knots()) })
}

func feet(v models.Opt[units.Length]) models.Opt[float64] {
	return models.MapOpt(v, func(l units.Length) float64 { return round(l.Feet()) })
}

// round leaves four decimals.
func round(v float64) float64 { return math.Round(v*1e4) / 1e4 }

// apiWarnings tells the official products as the call of the day at hand has
// them.
func apiWarnings(v *view) ([]byte, error) {
	b, err := v.Board()
	if err != nil {
		return nil, err
	}
	var told struct {
		Warnings json.RawMessage `json:"warnings"`
	}
	told.Warnings = json.RawMessage("null")
	if len(b.Days) > 0 && len(b.Days[0].Trips) > 0 {
		c, err := v.callDocument(b.Days[0].Trips[0])
		if err != nil {
			return nil, err
		}
		if err := json.Unmarshal(c, &told); err != nil {
			return nil, fmt.Errorf("read the warnings of the call: %w", err)
		}
	}
	return document(struct {
		head
		Official string          `json:"official"`
		Caution  string          `json:"caution"`
		Warnings json.RawMessage `json:"warnings"`
	}{v.head(b, "warnings"), b.Official, v.T("caution.rule"), told.Warnings})
}

type (
	apiSourceScore struct {
		Source string  `json:"source"`
		Day    int     `json:"days_ahead"`
		Hours  int     `json:"hours"`
		Bias   float64 `json:"bias_kn"`
		Mean   float64 `json:"mean_absolute_error_kn"`
		Used   bool    `json:"used"`
	}
	apiWordScore struct {
		Word models.Confidence `json:"word"`
		N    int               `json:"calls"`
		Came int               `json:"came_right"`
		Said float64           `json:"mean_agreement_said"`
	}
	apiCompared struct {
		At       time.Time           `json:"at"`
		Forecast models.Opt[float64] `json:"forecast_kn"`
		Observed models.Opt[float64] `json:"observed_kn"`
	}
)

func apiScore(v *view) ([]byte, error) {
	b, err := v.Board()
	if err != nil {
		return nil, err
	}
	days, err := v.bounded("days", usualDays, 1, mostDays)
	if err != nil {
		return nil, err
	}
	s, err := v.server.o.Desk.Score(v.Request.Context(), v.Port, days)
	if err != nil {
		return nil, fmt.Errorf("ask for the score: %w", err)
	}
	d := struct {
		head
		Days    int                     `json:"days"`
		From    models.Opt[models.Date] `json:"from"`
		Station models.Opt[string]      `json:"station"`
		Sources []apiSourceScore        `json:"sources"`
		Words   []apiWordScore          `json:"words"`
		Called  int                     `json:"days_called"`
		Told    int                     `json:"days_in_the_log"`
		Lately  []apiCompared           `json:"lately"`
	}{head: v.head(b, "score"), Days: days, Called: s.Called, Told: s.Told, Sources: []apiSourceScore{}, Words: []apiWordScore{}, Lately: []apiCompared{}}
	if s.From != (models.Date{}) {
		d.From = models.Known(s.From)
	}
	if s.Station != "" {
		d.Station = models.Known(s.Station)
	}
	for _, x := range s.Sources {
		d.Sources = append(d.Sources, apiSourceScore{x.Source, x.Day, x.Hours, round(x.Bias.Knots()), round(x.Mean.Knots()), x.Used})
	}
	for _, x := range s.Words {
		d.Words = append(d.Words, apiWordScore{x.Word, x.N, x.Came, round(x.Said)})
	}
	for _, x := range s.Lately {
		d.Lately = append(d.Lately, apiCompared{x.At.UTC(), knots(x.Forecast), knots(x.Observed)})
	}
	return document(d)
}
