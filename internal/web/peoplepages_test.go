package web_test

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/web"
)

// Whoever is not logged in sees no name, contact, note or message of guests,
// on whatever page of the table.
func TestGuestsAreOnNoOpenPage(t *testing.T) {
	d := newDesk(t)
	d.log[0].Note = "took " + guests + " out"
	v := newVisitor(t, newServer(t, d))
	rows, err := web.Rows(options(d))
	require.NoError(t, err)
	seen := 0
	for _, r := range rows {
		to, ok := strings.CutPrefix(r.Pattern, "GET ")
		if !ok || strings.HasPrefix(to, "/link/") { // who has a signed link may read what it is about
			continue
		}
		to = strings.NewReplacer("{$}", "", "{date}", d.board.Next.String(), "{day}", d.board.Next.String(), "{path...}", "style.css", "{rest...}", "x", "{id}", "b1", "{token}", "x").Replace(to)
		w := v.get(to)
		for _, secret := range []string{guests, "guests@example.com", "we would like to leave earlier"} {
			require.NotContains(t, w.Body.String(), secret, to)
		}
		if w.Code == http.StatusOK {
			seen++
		}
	}
	require.Greater(t, seen, 4)
	// They are there for who may see them.
	mate := loggedIn(t, newServer(t, d), web.Mate)
	require.Contains(t, mate.get("/charters").Body.String(), guests)
	require.NotContains(t, mate.get("/charters").Body.String(), "guests@example.com", "the mate has no business with the contact")
	require.Contains(t, mate.get("/log").Body.String(), guests)
	require.Contains(t, loggedIn(t, newServer(t, d), web.Captain).get("/charters").Body.String(), "guests@example.com")
}

func TestWhatOthersWroteIsEscaped(t *testing.T) {
	const hostile = `</div><script>alert(1)</script><img src=x onerror=alert(1)>"'&` + "\u202e"
	d := newDesk(t)
	c := &d.charters[0]
	c.Name, c.Contact, c.From, c.State, c.Why = hostile, hostile, hostile, hostile, hostile
	c.ID = `b"/../1`
	draft, _ := c.Draft.Get()
	draft.Text, draft.To, draft.ID = hostile, hostile, `"><script>`
	c.Draft = models.Known(draft)
	d.log[0].Note, d.log[0].By = hostile, hostile
	d.said[0].By, d.said[0].What = hostile, models.Say(hostile)
	d.pen = models.Known(models.Pen{Counted: made(), Stock: []models.BaitStock{{Kind: hostile, Count: 3, Source: models.BaitHooked}}})
	d.links["x"] = web.Promise{Action: "approve", About: hostile, Text: hostile, Expires: made()}
	v := loggedIn(t, newServer(t, d), web.Captain)
	for _, to := range []string{"/charters", "/log", "/reports", "/bait", "/link/x", "/charters?id=" + url.QueryEscape(hostile) + "&to=" + url.QueryEscape(hostile)} {
		w := v.get(to)
		require.Equal(t, http.StatusOK, w.Code, to)
		require.NotContains(t, w.Body.String(), "<script>", to)
		require.NotContains(t, w.Body.String(), "<img", to)
	}
	require.Contains(t, v.get("/charters").Body.String(), `action="/charters/b%22%2F..%2F1/move"`)
	w := v.post("/charters/b%22%2F..%2F1/move", v.form("x", "date", "2027-01-21", "why", hostile))
	require.Equal(t, http.StatusSeeOther, w.Code)
	require.Equal(t, `move captain b"/../1 2027-01-21 `+models.PlainLine(hostile), d.asked[0])
	// So is the sentence of what was done, with the name in it.
	require.NotContains(t, v.get("/charters").Body.String(), "<script>")
	// And what is shown again.
	w = v.post("/log", v.form("write", "date", hostile, "note", hostile, "tactic", hostile))
	require.Equal(t, http.StatusUnprocessableEntity, w.Code)
	require.NotContains(t, w.Body.String(), "<script>")
	require.Contains(t, w.Body.String(), "&lt;script&gt;")
}

func TestReports(t *testing.T) {
	d := newDesk(t)
	h := newServer(t, d)
	v := loggedIn(t, h, web.Mate)
	for _, c := range []struct {
		form  string
		pairs []string
		did   string
	}{
		{"fish", []string{"say", "today"}, "fish-on-top today"},
		{"fish", []string{"say", "none"}, "fish-on-top none"},
		{"shower", []string{"say", "no"}, "showering no"},
		{"edge", []string{"say", "in", "depth", "", "unit", "ft"}, "edge in"},
		{"edge", []string{"say", "in", "depth", " 140 ", "unit", "ft"}, "edge in 140 ft"},
		{"edge", []string{"say", "in", "depth", "42,5", "unit", "m"}, "edge in 42.5 m"},
		{"edge", []string{"say", "out", "depth", "140", "unit", "ft"}, "edge out"},
		{"water", []string{"say", "clean green"}, "water clean green"},
		{"inlet", []string{"say", "from", "from", "13:00"}, "inlet from 13:00"},
		{"inlet", []string{"say", "ok", "from", ""}, "inlet ok"},
	} {
		require.Equal(t, http.StatusSeeOther, v.post("/reports", v.form(c.form, c.pairs...)).Code, c.did)
		require.Equal(t, "report mate "+c.did, d.asked[len(d.asked)-1])
	}
	did := len(d.asked)
	for _, c := range []struct {
		form  string
		pairs []string
		told  string
	}{
		{"fish", []string{"say", "tomorrow"}, "is none of what can be chosen"},
		{"sharks", []string{"say", "yes"}, "is none of what can be chosen"},
		{"edge", []string{"say", "in", "depth", "deep", "unit", "ft"}, `<a href="#edge-depth">`},
		{"edge", []string{"say", "in", "depth", "999999", "unit", "ft"}, `id="edge-depth-wrong"`},
		{"edge", []string{"say", "in", "depth", "40", "unit", "fathoms"}, "is none of what can be chosen"},
		{"edge", []string{"say", "in", "depth", "NaN", "unit", "ft"}, `aria-describedby="edge-depth-wrong"`},
		{"inlet", []string{"say", "from", "from", ""}, "Say from what time"},
		{"inlet", []string{"say", "from", "from", "25:00"}, "is no time of day"},
		{"water", []string{"say", ""}, "is none of what can be chosen"},
	} {
		w := v.post("/reports", v.form(c.form, c.pairs...))
		require.Equal(t, http.StatusUnprocessableEntity, w.Code, c.pairs)
		require.Contains(t, w.Body.String(), c.told)
		require.Contains(t, w.Body.String(), `role="alert"`)
	}
	require.Len(t, d.asked, did)
	body := newVisitor(t, h).get("/reports").Body.String()
	require.Contains(t, body, "bait is showering")
	require.NotContains(t, body, `action="/reports"`)
	require.Contains(t, body, `href="/login?back=%2Freports"`)
}

func TestBait(t *testing.T) {
	d := newDesk(t)
	v := loggedIn(t, newServer(t, d), web.Mate)
	count := func(pairs ...string) string {
		t.Helper()
		w := v.post("/bait", v.form("lot", append([]string{"kind", "goggle-eye", "source", "seasoned"}, pairs...)...))
		require.Equal(t, http.StatusSeeOther, w.Code, w.Body.String())
		return d.asked[len(d.asked)-1]
	}
	require.Equal(t, "bait mate goggle-eye 60 seasoned", count("count", "60"))
	require.Equal(t, "bait mate goggle-eye 59 seasoned", count("count", "60", "step", "-1"))
	require.Equal(t, "bait mate goggle-eye 70 seasoned", count("count", "60", "step", "10"))
	require.Equal(t, "bait mate goggle-eye 0 seasoned", count("count", "4", "step", "-10"))
	// The signal was bad and the button was pressed twice: one is gone, not two.
	require.Equal(t, count("count", "60", "step", "-1"), count("count", "60", "step", "-1"))
	did := len(d.asked)
	for _, pairs := range [][]string{{"count", ""}, {"count", "many"}, {"count", "-1"}, {"count", "100001"}, {"count", "5", "step", "1000"}, {"count", "5", "kind", ""}, {"count", "5", "source", "stolen"}, {"count", "5", "kind", strings.Repeat("x", 61)}} {
		w := v.post("/bait", v.form("new", append([]string{"kind", "runner", "source", "netted"}, pairs...)...))
		require.Equal(t, http.StatusUnprocessableEntity, w.Code, pairs)
	}
	require.Len(t, d.asked, did)
	body := v.get("/bait").Body.String()
	require.Contains(t, body, `inputmode="numeric"`)
	require.Contains(t, body, `aria-label="-1 goggle-eye, kept at once"`)
	// Enter in the field keeps the count: the first button of the form.
	lot := body[strings.Index(body, `name="form" value="lot-`):]
	require.Less(t, strings.Index(lot, "Keep this count"), strings.Index(lot, `name="step"`))
	call := d.board.Days[0].Trips[0].Call
	plan, ok := call.Bait.Get()
	require.True(t, ok)
	needed, ok := plan.Needed.Get()
	require.True(t, ok)
	require.Contains(t, body, fmt.Sprintf("<td>%d hardy, %d delicate</td>", needed.Hardy, needed.Delicate))
	for _, k := range models.BaitKinds() {
		require.Contains(t, body, fmt.Sprintf(`<option value="%s"`, k.Name))
	}
}

// logged keeps what was written whole.
type logged struct {
	*desk
	entry web.LogEntry
}

func (l *logged) WriteLog(_ context.Context, _ string, e web.LogEntry, _ web.Role) (string, error) {
	l.entry = e
	return "written", nil
}

func TestLog(t *testing.T) {
	d := &logged{desk: newDesk(t)}
	h := newServer(t, d.desk, func(o *web.Options) { o.Hand = d })
	v := loggedIn(t, h, web.Mate)
	full := []string{"date", "2027-01-17", "tactic", "kite then sight cast", "ride", "rough", "wind", "14", "sea", "3.5", "raised", "6", "caught", "2", "note", "two released\r\nboth on top", "units", "nautical"}
	require.Equal(t, http.StatusSeeOther, v.post("/log", v.form("write", full...)).Code)
	want := web.LogEntry{
		Date: models.Date{Year: 2027, Month: 1, Day: 17}, Written: made().Add(10 * 60e9), By: "mate", Tactic: models.TacticKiteSight, Ride: models.Known(models.RideRough),
		Wind: models.Known(14 * units.Knot), Sea: models.Known(3.5 * units.Foot), Raised: models.Known(6), Caught: models.Known(2), Note: "two released\nboth on top",
	}
	require.Equal(t, want, d.entry)
	// A page in metres is read in metres, whatever the reader chose since.
	require.Equal(t, http.StatusSeeOther, v.post("/log", v.form("write", "date", "2027-01-18", "sea", "1,2", "wind", "7", "units", "metric")).Code)
	require.Equal(t, models.Known(1.2*units.Metre), d.entry.Sea)
	require.Equal(t, models.Known(7*units.MetrePerSecond), d.entry.Wind)
	require.False(t, d.entry.Raised.Known(), "what is left out is unknown, not none")
	d.entry = web.LogEntry{}
	for told, pairs := range map[string][]string{
		"An entry says something":    {"date", "2027-01-18"},
		"That day is still to come.": {"date", "2027-01-19", "note", "x"}, // the port's clock shows the 18th
		"is no date":                 {"date", "18/1", "note", "x"},
		`href="#write-wind"`:         {"date", "2027-01-18", "wind", "200"},
		`href="#write-ride"`:         {"date", "2027-01-18", "ride", "soft"},
		`href="#write-tactic"`:       {"date", "2027-01-18", "tactic", "nets"},
		`href="#write-caught"`:       {"date", "2027-01-18", "caught", "1.5"},
		"there is room for 2000":     {"date", "2027-01-18", "note", strings.Repeat("é", 2001)},
	} {
		w := v.post("/log", v.form("write", pairs...))
		require.Equal(t, http.StatusUnprocessableEntity, w.Code, told)
		require.Contains(t, w.Body.String(), told)
	}
	require.Zero(t, d.entry)
	require.Equal(t, http.StatusUnprocessableEntity, v.post("/checkin", v.form("checkin", "date", "2027-02-30")).Code)
	require.Equal(t, http.StatusSeeOther, v.post("/checkin", v.form("checkin")).Code)
	require.True(t, d.did("check in mate 2027-01-18"))
	open := newVisitor(t, h).get("/log").Body.String()
	require.Contains(t, open, "There is a note; log in to read it.")
	require.NotContains(t, open, "two released")
}

func TestCharters(t *testing.T) {
	d := newDesk(t)
	advice, ok := d.charters[0].Advice.Get()
	require.True(t, ok)
	advice.Offer = []models.DayOffer{{Date: models.Date{Year: 2027, Month: 1, Day: 21}, Why: models.Say("light wind")}}
	d.charters[0].Advice = models.Known(advice)
	h := newServer(t, d)
	v := loggedIn(t, h, web.Captain)
	body := v.get("/charters").Body.String()
	require.Contains(t, body, `value="2027-01-19" autocomplete="off" min="2027-01-18"`)
	_, after, found := strings.Cut(body, `class="press" href="/charters?id=b1&amp;to=2027-01-21#move-`)
	require.True(t, found, "an offered day is a button")
	require.Contains(t, after, "light wind")
	require.Contains(t, v.get("/charters?id=b1&to=2027-01-21").Body.String(), `value="2027-01-21" autocomplete="off" min="2027-01-18"`)
	require.NotContains(t, v.get("/charters?id=b2&to=2027-01-21").Body.String(), `value="2027-01-21"`)

	require.Equal(t, http.StatusSeeOther, v.post("/drafts/draft1", v.form("d", "say", "drop")).Code)
	require.True(t, d.did("draft captain draft1 false"))
	did := len(d.asked)
	for told, try := range map[string]struct {
		to    string
		pairs []string
	}{
		"Say why":                  {"/charters/b1/move", []string{"date", "2027-01-21"}},
		"Say to which day":         {"/charters/b1/move", []string{"why", "x"}},
		"That day is past.":        {"/charters/b1/move", []string{"date", "2027-01-17", "why", "x"}},
		"not after the start":      {"/charters/b1/move", []string{"date", "2027-01-21", "why", "x", "start", "09:00", "end", "09:00"}},
		"is no time of day":        {"/charters/b1/move", []string{"date", "2027-01-21", "why", "x", "start", "9"}},
		"Tick the box":             {"/charters/b1/cancel", []string{"why", "north wind"}},
		"there is room for 500":    {"/charters/b1/cancel", []string{"sure", "yes", "why", strings.Repeat("x", 501)}},
		"none of what can be chos": {"/drafts/draft1", []string{"say", "maybe"}},
	} {
		w := v.post(try.to, v.form("x", try.pairs...))
		require.Equal(t, http.StatusUnprocessableEntity, w.Code, told)
		require.Contains(t, w.Body.String(), told)
	}
	require.Len(t, d.asked, did)
	// The mate sees what is planned, and no form to change it.
	mate := loggedIn(t, h, web.Mate).get("/charters").Body.String()
	require.NotContains(t, mate, `action="/charters`)
	require.NotContains(t, mate, `action="/drafts`)
	require.Contains(t, mate, "we would like to leave earlier")
}

// What the asker can mend is told at the form; what broke inside is for the
// log.
func TestWhatTheHandCanNotDo(t *testing.T) {
	for _, c := range []struct {
		err    error
		status int
		told   string
	}{
		{errors.New("the draft is out of date"), http.StatusUnprocessableEntity, "the draft is out of date"},
		{fmt.Errorf("the draft: %w", web.ErrNotFound), http.StatusNotFound, "There is no such page or day."},
		{&fs.PathError{Op: "open", Path: "/var/lib/secret", Err: fs.ErrPermission}, http.StatusInternalServerError, "Something broke on our side."},
		{storeError{}, http.StatusInternalServerError, "Something broke on our side."},
	} {
		d := newDesk(t)
		v := loggedIn(t, newServer(t, d), web.Captain)
		form := v.form("write", "date", "2027-01-18", "note", "typed words")
		d.refuse = c.err
		w := v.post("/log", form)
		require.Equal(t, c.status, w.Code)
		require.Contains(t, w.Body.String(), c.told)
		require.NotContains(t, w.Body.String(), "secret")
		if c.status == http.StatusUnprocessableEntity {
			require.Contains(t, w.Body.String(), "typed words")
		}
	}
}

// What the hand answers is English: a Spanish reader is told the gist first,
// and a screen reader which language follows.
func TestASpanishReaderIsToldTheGist(t *testing.T) {
	d := newDesk(t)
	d.board.Language = "es"
	v := loggedIn(t, newServer(t, d), web.Captain)
	v.post("/log", v.form("write", "date", "2027-01-18", "note", "two up"))
	require.Contains(t, v.get("/log").Body.String(), `>Hecho. <span lang="en">done: log captain 2027-01-18`)
	form := v.form("write", "date", "2027-01-18", "note", "two up")
	d.refuse = errors.New("the log is shut")
	require.Contains(t, v.post("/log", form).Body.String(), `<li>No se pudo hacer: <span lang="en">the log is shut</span></li>`)
	d.refuse = nil
	r := v.post("/link/good.token", nil)
	require.Contains(t, r.Body.String(), `Hecho. <span lang="en">`)
}

func TestANightAfterTheTripCatchesNoBaitForIt(t *testing.T) {
	d := newDesk(t)
	trip := d.board.Next
	plan := models.BaitPlan{Needed: models.Known(models.BaitCount{Hardy: 20}), Nights: []models.Date{trip.AddDays(-1), trip, trip.AddDays(9)}, LastGood: models.Known(trip.AddDays(9))}
	d.board.Days[0].Trips[0].Call.Bait = models.Known(plan)
	_, body := get(t, newServer(t, d), "/bait")
	require.Contains(t, body, "<ol><li>Mon 18 January</li></ol>")
	require.NotContains(t, body, "28 January")
}

// storeError is as the driver of the store has them.
type storeError struct{}

func (storeError) Error() string { return "the secret table is locked" }
func (storeError) Code() int     { return 5 }

func TestAnotherPortIsKeptThroughAForm(t *testing.T) {
	d := newDesk(t)
	port := "?port=" + url.QueryEscape(d.board.Port.Name)
	v := loggedIn(t, newServer(t, d), web.Mate)
	require.Contains(t, v.get("/reports"+port).Body.String(), `action="/reports`+strings.ReplaceAll(port, "+", "&#43;")+`"`)
	w := v.post("/reports"+port, v.form("shower", "say", "yes"))
	require.Equal(t, "/reports"+port+"#said", w.Header().Get("Location"))
	require.Contains(t, v.get("/reports"+port).Body.String(), "done: report mate showering yes")
	require.Equal(t, http.StatusNotFound, v.get("/reports?port=Atlantis").Code)
}
