package web

import (
	"fmt"
	"strconv"
	"unicode/utf8"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/words"
)

const (
	// logDays is how far back the page of the log reaches.
	logDays = 60
	// longestNote is in characters.
	longestNote = 2000
)

// logData is what the page of the log shows.
type logData struct {
	Wrong          []problem
	CheckIn, Write fillIn
	Entries        []logLine
	Days           int
}

// logLine is one entry as told.
type logLine struct {
	Day, By, Facts string
	// Note may name guests: it is empty for who is not logged in, and Held
	// tells so.
	Note string
	Held bool
}

func tactics() []string {
	return []string{string(models.TacticKite), string(models.TacticHelium), string(models.TacticSight), string(models.TacticKiteSight),
		string(models.TacticSightKite), string(models.TacticEither), string(models.TacticStayIn)}
}

func rides() []models.Ride {
	return []models.Ride{models.RideEasy, models.RideOK, models.RideRough, models.RideNo}
}

func (s *Server) logPage(v *view, f *form) (page, error) {
	entries, err := s.o.Desk.Log(v.Request.Context(), v.Port, logDays)
	if err != nil {
		return page{}, fmt.Errorf("ask for the log: %w", err)
	}
	d := logData{Wrong: f.problems(), Days: logDays}
	for _, e := range entries {
		d.Entries = append(d.Entries, v.logLine(e))
	}
	today := v.today()
	d.CheckIn = v.fill(f, fillIn{
		Name: "checkin", Action: v.Link("/checkin"),
		Fields: []field{{Name: "date", Label: v.T("log.trip"), Type: "date", Value: today.String()}},
	})
	tactic, ride := field{Name: "tactic", Label: v.T("log.tactic")}, field{Name: "ride", Label: v.T("log.ride")}
	tactic.Options, ride.Options = []option{{Words: v.T("people.not said")}}, []option{{Words: v.T("people.not said")}}
	for _, one := range tactics() {
		tactic.Options = append(tactic.Options, option{Value: one, Words: v.word(one)})
	}
	for _, one := range rides() {
		ride.Options = append(ride.Options, option{Value: one.String(), Words: v.word(one.String())})
	}
	speed, height := "kn", v.depthUnit()
	if v.Reader.Measures == words.Metric {
		speed = "m/s"
	}
	d.Write = v.fill(f, fillIn{
		Name: "write", Action: v.Link("/log"), Hidden: []option{{Value: "units", Words: string(v.Reader.Measures)}},
		Fields: []field{
			{Name: "date", Label: v.T("log.date"), Type: "date", Value: today.String(), Required: true},
			tactic, ride,
			{Name: "wind", Label: v.T("log.wind", speed), Type: "text", Mode: "decimal"},
			{Name: "sea", Label: v.T("log.sea", height), Type: "text", Mode: "decimal"},
			{Name: "raised", Label: v.T("log.raised"), Type: "text", Mode: "numeric"},
			{Name: "caught", Label: v.T("log.caught"), Type: "text", Mode: "numeric"},
			{Name: "note", Label: v.T("log.note"), Type: "area", Hint: v.T("log.note.hint")},
		},
	})
	return page{Name: "log", Title: "title.log", Data: d}, nil
}

// logLine tells one entry.
func (v *view) logLine(e LogEntry) logLine {
	t := v.Tell(e.Date)
	line := logLine{Day: t.Day(e.Date), By: v.say("role.", e.By), Note: e.Note}
	add := func(s string) {
		if line.Facts != "" {
			line.Facts += ", "
		}
		line.Facts += s
	}
	if e.Tactic != "" {
		add(v.word(string(e.Tactic)))
	}
	if r, ok := e.Ride.Get(); ok {
		add(v.T("log.fact.ride", v.word(r.String())))
	}
	if w, ok := e.Wind.Get(); ok {
		add(v.T("log.fact.wind", t.Speed(w)))
	}
	if h, ok := e.Sea.Get(); ok {
		add(v.T("log.fact.sea", t.Length(h)))
	}
	if n, ok := e.Raised.Get(); ok {
		add(v.T("log.fact.raised", strconv.Itoa(n)))
	}
	if n, ok := e.Caught.Get(); ok {
		add(v.T("log.fact.caught", strconv.Itoa(n)))
	}
	if !v.LoggedIn() && e.Note != "" {
		line.Note, line.Held = "", true
	}
	return line
}

// writeLog keeps an entry.
func (s *Server) writeLog(v *view, f *form) (done, error) {
	e := LogEntry{Date: v.day(f, "date"), Written: v.Now, By: string(v.Role), Note: f.get("note")}
	if len(f.Wrong) == 0 && v.today().Before(e.Date) {
		f.refuse("date", v.T("log.to come"))
	}
	e.Tactic = models.Tactic(v.oneOf(f, "tactic", tactics()...))
	if said := f.get("ride"); said != "" {
		for _, r := range rides() {
			if r.String() == said {
				e.Ride = models.Known(r)
			}
		}
		if !e.Ride.Known() {
			f.refuse("ride", v.T("people.none of", said))
		}
	}
	speed, height := units.Knot, units.Foot
	if words.Measures(f.get("units")) == words.Metric {
		speed, height = units.MetrePerSecond, units.Metre
	}
	e.Wind = models.MapOpt(v.number(f, "wind", 0, 120), func(n float64) units.Speed { return units.Speed(n) * speed })
	e.Sea = models.MapOpt(v.number(f, "sea", 0, 60), func(n float64) units.Length { return units.Length(n) * height })
	e.Raised, e.Caught = v.whole(f, "raised", 0, 9999), v.whole(f, "caught", 0, 9999)
	if n := utf8.RuneCountInString(e.Note); n > longestNote {
		f.refuse("note", v.T("log.note.long", n, longestNote))
	}
	empty := e.Tactic == "" && e.Note == "" && !e.Ride.Known() && !e.Wind.Known() && !e.Sea.Known() && !e.Raised.Known() && !e.Caught.Known()
	if empty && len(f.Wrong) == 0 {
		f.refuse("tactic", v.T("log.empty"))
	}
	if err := f.unfilled(); err != nil {
		return done{}, err
	}
	sentence, err := s.o.Hand.WriteLog(v.Request.Context(), v.Port, e, v.Role)
	return v.answered(f, sentence, err, "/log")
}

// checkIn says that the boat is back inside.
func (s *Server) checkIn(v *view, f *form) (done, error) {
	date := v.day(f, "date")
	if len(f.Wrong) == 0 && v.today().Before(date) {
		f.refuse("date", v.T("log.to come"))
	}
	if err := f.unfilled(); err != nil {
		return done{}, err
	}
	sentence, err := s.o.Hand.CheckIn(v.Request.Context(), v.Port, date, v.Role)
	return v.answered(f, sentence, err, "/log")
}
