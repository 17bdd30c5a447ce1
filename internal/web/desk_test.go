package web_test

import (
	"context"
	"encoding/base64"
	"fmt"
	"net/http"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/crypto/argon2"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
	"forecastd/internal/web"
	"forecastd/internal/web/door"
	"forecastd/internal/words"
)

// desk is the other side of the pages in these tests: a board made by the real
// judgement from a kept outlook of the demo, and a book of what was asked.
type desk struct {
	board    web.Board
	sources  []web.Source
	charters []web.Charter
	said     []web.Said
	pen      models.Opt[models.Pen]
	log      []web.LogEntry
	score    web.Score
	links    map[string]web.Promise
	// asked is what was done, a line each: "report captain showering yes".
	asked []string
	// refuse is answered to whatever is asked to be done.
	refuse error
}

// guests is the name that must stand on no page without a login.
const guests = "the Invented party of four"

// made is when the kept outlook was made.
func made() time.Time { return time.Date(2027, 1, 18, 22, 30, 0, 0, time.UTC) }

func newDesk(t testing.TB) *desk {
	t.Helper()
	b, err := os.ReadFile("testdata/demo-outlook.json")
	require.NoError(t, err)
	o, err := words.ReadOutlook(b)
	require.NoError(t, err)
	o.Demo = true
	booking := models.Booking{ID: "b1", Date: o.Date, Trip: o.Trip, Name: guests, Contact: "guests@example.com"}
	call := scoring.Judge(o, models.DefaultLimits(), scoring.With{Booking: models.Known(booking)})
	d := &desk{
		board: web.Board{
			Version: "1", Made: o.Made, Port: o.Port, Grounds: []models.Ground{o.Ground}, Next: o.Date, Demo: true,
			Days: []web.Day{{
				Date: o.Date, Short: scoring.Days([]models.Outlook{o}, models.DefaultLimits(), nil)[0],
				Trips: []web.TripCall{{Call: call, Guests: models.Known(guests)}},
			}},
			Official: "https://www.weather.gov/", Language: "en", Units: "nautical",
		},
		sources: []web.Source{
			{Name: "nws alerts", State: "fresh", Age: models.Known(3 * time.Minute), Required: true},
			{Name: "gfs-wave", State: "kept", Age: models.Known(11 * time.Hour), Error: "timeout", Skipped: []string{"1 hour without wind"}},
			{Name: "rtofs", State: "missing", Since: models.Known(o.Made.Add(-5 * time.Hour)), Error: "HTTP 503"},
		},
		pen:   models.Known(models.Pen{Counted: o.Made.Add(-26 * time.Hour), Stock: []models.BaitStock{{Kind: "goggle-eye", Count: 60, Source: models.BaitSeasoned}}}),
		said:  []web.Said{{At: o.Made.Add(-2 * time.Hour), Until: o.Made.Add(34 * time.Hour), What: models.Say("bait is showering"), By: "mate"}},
		log:   []web.LogEntry{{Date: o.Date.AddDays(-1), Written: o.Made, By: "captain", Tactic: models.TacticKite, Wind: models.Known(14 * units.Knot), Note: "two released"}},
		links: map[string]web.Promise{"good.token": {Action: "check in", About: "Second Light", Expires: o.Made.Add(time.Hour)}},
	}
	d.charters = []web.Charter{{
		Booking: booking, From: "configuration", State: "booked", FirstDate: o.Date, Advice: call.Charter,
		Draft: models.Known(web.Draft{ID: "draft1", To: "guests@example.com", Text: "Hello " + guests + ", we would like to leave earlier.", Made: o.Made, Expires: o.Made.Add(12 * time.Hour)}),
	}}
	return d
}

// newServer is a server on that desk, with the passphrases "captain's words"
// and "mate's words" hashed cheaply.
func newServer(t testing.TB, d *desk, change ...func(*web.Options)) http.Handler {
	t.Helper()
	s, err := web.New(options(d, change...))
	require.NoError(t, err)
	return s.Handler()
}

// cheapHash is a hash of the least memory and one pass.
func cheapHash(passphrase string) string {
	salt, e := []byte("a salt for tests"), base64.RawStdEncoding.EncodeToString
	return "$argon2id$v=19$m=8,t=1,p=1$" + e(salt) + "$" + e(argon2.IDKey([]byte(passphrase), salt, 1, 8, 1, 32))
}

// options are those of newServer.
func options(d *desk, change ...func(*web.Options)) web.Options {
	o := web.Options{
		Desk: d, Hand: d,
		Options: door.Options{
			Now: func() time.Time { return made().Add(10 * time.Minute) }, Key: []byte(strings.Repeat("k", 32)),
			Passphrases: map[web.Role]string{web.Captain: cheapHash("captain's words"), web.Mate: cheapHash("mate's words")},
		},
	}
	for _, c := range change {
		c(&o)
	}
	return o
}

func (d *desk) Ports() []string { return []string{d.board.Port.Name} }

func (d *desk) known(port string) error {
	if port != "" && port != d.board.Port.Name {
		return fmt.Errorf("the port %q: %w", port, web.ErrNotFound)
	}
	return nil
}

func (d *desk) Board(_ context.Context, port string) (web.Board, error) {
	return d.board, d.known(port)
}

func (d *desk) Sources(_ context.Context, port string) ([]web.Source, error) {
	return d.sources, d.known(port)
}

func (d *desk) DriftFrom(_ context.Context, port string, from web.DriftStart) (models.Drift, error) {
	first, ok := d.board.Days[0].Trips[0].Call.Drift.Get()
	if !ok || from.Ground != "" && from.Ground != d.board.Grounds[0].Name {
		return models.Drift{}, web.ErrNotFound
	}
	for i := range first.Track {
		first.Track[i].East += from.East
		first.Track[i].North += from.North
	}
	return first, d.known(port)
}

func (d *desk) Charters(_ context.Context, port string) ([]web.Charter, error) {
	return d.charters, d.known(port)
}

func (d *desk) Reported(_ context.Context, port string) ([]web.Said, error) {
	return d.said, d.known(port)
}

func (d *desk) Pen(_ context.Context, port string) (models.Opt[models.Pen], error) {
	return d.pen, d.known(port)
}

func (d *desk) Log(_ context.Context, port string, _ int) ([]web.LogEntry, error) {
	return d.log, d.known(port)
}

func (d *desk) Score(_ context.Context, port string, _ int) (web.Score, error) {
	return d.score, d.known(port)
}

func (d *desk) do(parts ...any) (string, error) {
	if d.refuse != nil {
		return "", d.refuse
	}
	line := strings.TrimSpace(fmt.Sprintln(parts...))
	d.asked = append(d.asked, line)
	return "done: " + line, nil
}

func (d *desk) Report(_ context.Context, _ string, said []string, by web.Role) (models.Phrase, error) {
	told, err := d.do("report", by, strings.Join(said, " "))
	return models.Say(told), err
}

func (d *desk) CountBait(_ context.Context, _, kind string, count int, source models.BaitSource, by web.Role) (string, error) {
	return d.do("bait", by, kind, count, source)
}

func (d *desk) WriteLog(_ context.Context, _ string, e web.LogEntry, by web.Role) (string, error) {
	return d.do("log", by, e.Date, e.Tactic, e.Note)
}

func (d *desk) MoveCharter(_ context.Context, _, id string, to models.Date, _, _ models.Opt[models.Clock], why string, by web.Role) (string, error) {
	return d.do("move", by, id, to, why)
}

func (d *desk) CancelCharter(_ context.Context, _, id, why string, by web.Role) (string, error) {
	return d.do("cancel", by, id, why)
}

func (d *desk) AnswerDraft(_ context.Context, draft string, approve bool, by web.Role) (string, error) {
	return d.do("draft", by, draft, approve)
}

func (d *desk) CheckIn(_ context.Context, _ string, date models.Date, by web.Role) (string, error) {
	return d.do("check in", by, date)
}

func (d *desk) CallNow(_ context.Context, _ string, date models.Date, by web.Role) (string, error) {
	return d.do("call", by, date)
}

func (d *desk) Promise(_ context.Context, token string) (web.Promise, error) {
	p, ok := d.links[token]
	if !ok {
		return p, web.ErrNoLink
	}
	return p, nil
}

func (d *desk) Redeem(_ context.Context, token string) (string, error) {
	p, ok := d.links[token]
	if !ok {
		return "", web.ErrNoLink
	}
	delete(d.links, token)
	return d.do("link", p.Action)
}

// did tells whether something was asked to be done.
func (d *desk) did(line string) bool { return slices.Contains(d.asked, line) }
