package web

import (
	"context"
	"errors"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Errors that a Desk answers with.
var (
	// ErrNotFound says that there is nothing of that name or day.
	ErrNotFound = errors.New("not found")
	// ErrNoLink says that a signed link is forged, too old or used.
	ErrNoLink = errors.New("the link can't be used")
)

// Desk answers what the pages show. Board and Sources answer from memory and
// are asked for every page; the others may ask the store. An empty port is the
// home port; a port that is not there is ErrNotFound.
type Desk interface {
	// Ports names the ports, the home port first.
	Ports() []string
	// Board is what was last called and judged for a port.
	Board(ctx context.Context, port string) (Board, error)
	// Sources tells how each source stands now.
	Sources(ctx context.Context, port string) ([]Source, error)
	// DriftFrom drifts from another start than the call's: as many metres
	// east and north of the ground's place as said, at an hour.
	DriftFrom(ctx context.Context, port string, from DriftStart) (models.Drift, error)
	// Charters are the bookings from today on, with what the call says about
	// each and the draft that waits for an answer.
	Charters(ctx context.Context, port string) ([]Charter, error)
	// Reported is what was reported and still counts.
	Reported(ctx context.Context, port string) ([]Said, error)
	// Pen is what was counted last.
	Pen(ctx context.Context, port string) (models.Opt[models.Pen], error)
	// Log is the captain's log of the last days, newest first.
	Log(ctx context.Context, port string, days int) ([]LogEntry, error)
	// Score is how the forecasts and the calls did over the last days.
	Score(ctx context.Context, port string, days int) (Score, error)
}

// Hand does what people ask for by the pages. Each answers a sentence that
// says what was done. by is the role of who asked.
type Hand interface {
	// Report keeps what was seen, in the words of the command: "showering",
	// "yes"; "edge", "in 140 ft"; "fish-on-top", "today"; "inlet", "from 13:00".
	// It answers what was understood, to be told in the visitor's own language
	// and units.
	Report(ctx context.Context, port string, said []string, by Role) (models.Phrase, error)
	// CountBait keeps how many baits of a kind the pen holds.
	CountBait(ctx context.Context, port, kind string, count int, source models.BaitSource, by Role) (string, error)
	// WriteLog keeps an entry of the log.
	WriteLog(ctx context.Context, port string, e LogEntry, by Role) (string, error)
	// MoveCharter puts a booking on another day or other times.
	MoveCharter(ctx context.Context, port, id string, to models.Date, start, end models.Opt[models.Clock], why string, by Role) (string, error)
	// CancelCharter calls a booking off.
	CancelCharter(ctx context.Context, port, id, why string, by Role) (string, error)
	// AnswerDraft lets the message to the guests go out, or not.
	AnswerDraft(ctx context.Context, draft string, approve bool, by Role) (string, error)
	// CheckIn says that the boat is back inside.
	CheckIn(ctx context.Context, port string, date models.Date, by Role) (string, error)
	// CallNow asks the sources and makes the call for a day anew.
	CallNow(ctx context.Context, port string, date models.Date, by Role) (string, error)
	// Promise tells what a signed link would do, without doing it: ErrNoLink
	// where it is forged, too old or used.
	Promise(ctx context.Context, token string) (Promise, error)
	// Redeem does what a signed link stands for, once.
	Redeem(ctx context.Context, token string) (string, error)
}

// Board is what the daemon last made for a port. It does not change: when
// anything in it does, there is another Board with another Version.
type Board struct {
	Version string
	// Made is when the newest call in it was made; zero before the first.
	Made time.Time
	Port models.Port
	// Grounds are those of the port.
	Grounds []models.Ground
	// EdgeDepth is where the edge was last reported.
	EdgeDepth models.Opt[units.Length]
	// Next is the day at hand: today until the boat is back, else tomorrow.
	Next models.Date
	// Days are the days from Next on that some wind is known for, in order.
	Days []Day
	Demo bool
	// Official is where the weather service tells its warnings to people.
	Official string
	// Reader is the captain's own language and units, where a visitor chose
	// none.
	Language, Units string
}

// Day is one day of the board.
type Day struct {
	Date  models.Date
	Short models.DayOutlook
	// Trips has a call for each trip of the day, in order; a day without a
	// booking has one, for the usual trip.
	Trips []TripCall
}

// TripCall is the call for one trip.
type TripCall struct {
	Call models.Call
	// Guests names the booking; it is shown to those who are logged in only.
	Guests models.Opt[string]
}

// Source is how one source stands.
type Source struct {
	Name string
	// State is "fresh", "kept" (an older answer stands in) or "missing".
	State string
	// Age is of the data; unknown where there is none.
	Age models.Opt[time.Duration]
	// Since is when it was first found missing.
	Since models.Opt[time.Time]
	// Error is the last one; Skipped tells what could not be used.
	Error    string
	Skipped  []string
	Required bool
}

// DriftStart is where and when a drift starts.
type DriftStart struct {
	Ground      string
	Date        models.Date
	At          models.Clock
	East, North units.Length
	// Hours is how long, 1 to 12.
	Hours int
}

// Charter is a booking with all that is to be decided about it.
type Charter struct {
	models.Booking
	// From is where the booking comes from; State where it stands, and Why.
	From, State, Why string
	// FirstDate is the day it was booked for at first.
	FirstDate models.Date
	// Advice is what the call says; unknown where the day is too far off.
	Advice models.Opt[models.CharterCall]
	// Draft is the message that waits for the captain's answer.
	Draft models.Opt[Draft]
}

// Draft is a message to guests that waits for an answer.
type Draft struct {
	ID            string
	To, Text      string
	Made, Expires time.Time
}

// Said is one thing that was reported.
type Said struct {
	At, Until time.Time
	What      models.Phrase
	By        string
}

// LogEntry is an entry of the captain's log.
type LogEntry struct {
	Date    models.Date
	Written time.Time
	By      string
	// Tactic is how the day was fished; empty where nobody said.
	Tactic         models.Tactic
	Ride           models.Opt[models.Ride]
	Wind           models.Opt[units.Speed]
	Sea            models.Opt[units.Length]
	Raised, Caught models.Opt[int]
	Note           string
}

// Score is how forecasts and calls did.
type Score struct {
	From models.Date
	// Station is what the wind is held against; empty where there is none.
	Station string
	Sources []SourceScore
	Words   []WordScore
	// Called counts the days called, Told those of them that the log tells of.
	Called, Told int
	// Lately is the wind as forecast a day ahead and as the station had it.
	Lately []Compared
}

// SourceScore is how one source's wind did at one lead.
type SourceScore struct {
	Source     string
	Day        int // days ahead
	Hours      int
	Bias, Mean units.Speed // mean error and mean absolute error
	Used       bool        // the calls go by it
}

// WordScore is how often calls of one confidence came right.
type WordScore struct {
	Word    models.Confidence
	N, Came int
	Said    float64 // mean agreement said
}

// Compared is one hour as forecast and as observed.
type Compared struct {
	At                 time.Time
	Forecast, Observed models.Opt[units.Speed]
}

// Promise tells what a signed link would do.
type Promise struct {
	// Action is "approve" or "check in".
	Action string
	// About says what it is done to, and Text what would go out.
	About, Text string
	Expires     time.Time
}
