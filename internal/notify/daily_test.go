package notify_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/calendar"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/notify"
	"forecastd/internal/words"
)

var update = flag.Bool("update", false, "write the golden files anew")

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, string(want), got, "run the test with -update and look at the difference")
}

var tuesday = models.Date{Year: 2027, Month: 1, Day: 19}

func captain(t testing.TB) notify.Person {
	return notify.Person{
		Name: "the captain", Routes: []models.Route{{Channel: "email", Address: "captain@example.com"}},
		What:  []models.Notice{models.NoticeCall, models.NoticeMorning, models.NoticeAlert, models.NoticeDraft, models.NoticeTrouble, models.NoticeFloatPlan},
		Quiet: notify.Quiet{From: clock(21, 0), To: clock(4, 0), Zone: newYork(t)},
	}
}

// demoDay is an invented day: boat, port, station and weather are made up.
func demoDay(t testing.TB) (models.Call, models.Standing) {
	zone := newYork(t)
	at := func(h, m int) time.Time { return time.Date(2027, 1, 19, h, m, 0, 0, zone) }
	c := models.Call{
		Made: at(4, 20), Date: tuesday, Demo: true,
		Port: models.Port{Name: "Port Amparo", Zone: zone}, Ground: models.Ground{Name: "the Shelf edge", At: models.Position{Lat: 27.2, Lon: -79.83}},
		Boat:   models.Boat{Name: "Second Light", Kind: models.CenterConsole, Length: 39 * units.Foot},
		Trip:   models.Trip{Kind: models.Charter, Party: models.Mixed, Start: models.Clock{Hour: 7}, End: models.Clock{Hour: 15}},
		Tactic: models.TacticKite, Timing: []models.Timing{models.StartEarlier, models.BackEarly}, Leave: models.Known(at(6, 30)), Back: models.Known(at(11, 0)),
		Confidence: models.Likely, Agreeing: 47, Agreement: 47.0 / 64, Members: 64,
		Answers: models.Answers{
			Runs: models.Answer{Share: 55.0 / 64, Courses: 55, Of: 64, Word: models.Likely}, Hours: models.Answer{Share: 47.0 / 64, Courses: 47, Of: 64, Word: models.Likely},
			Tactic: models.Answer{Share: 1, Courses: 64, Of: 64, Word: models.Likely},
		},
		Warnings: models.Known([]models.Warning{{
			Event: "Small Craft Advisory", Phenomenon: "SC", Significance: "Y", Zone: "AMZ997", ZoneName: "Invented waters from Amparo Inlet out 20 NM", Office: "NWS Amparo (invented)",
			VTEC: "/O.EXT.KXAM.SC.Y.0003.270119T1700Z-270120T1200Z/", Issued: at(3, 50), Onset: at(12, 0), Ends: models.Known(at(31, 0)),
			Text: "* WHAT...Southwest winds 15 to 20 kt with gusts up to 30 kt, becoming\nnorthwest 20 to 25 kt. Seas building to 5 to 7 ft.\n\n* WHERE...Invented waters from Amparo Inlet out 20 NM.",
		}}),
		Reasons:     []models.Phrase{models.Say("reason.back_before", at(11, 0), at(12, 0), models.Say("closed.product", models.Word("Small Craft Advisory")))},
		WouldChange: []models.Phrase{models.Say("change.to", models.Say("change.fog"), models.Say("outcome.stay_in"))},
		Changed:     []models.Phrase{models.Say("changed.back", at(13, 30), at(11, 0))},
		Cautions:    []models.Phrase{models.Say("caution.official"), models.Say("caution.thunder"), models.Say("caution.radar"), models.Say("caution.captain")},
		Charter: models.Known(models.CharterCall{
			Actions: []models.CharterAction{models.CharterStartEarlier, models.CharterShorten}, TellBy: models.Known(at(-5, 0)),
			Subject: models.Say("guests.subject.earlier_shorter", tuesday, at(6, 30), at(11, 0)),
			Message: []models.Phrase{models.Say("guests.hello_name", "party of four"), models.Say("guests.earlier_shorter", tuesday, at(6, 30), at(11, 0)), models.Say("guests.product", models.Word("Small Craft Advisory")), models.Say("guests.single_waves"), models.Say("guests.bye")},
		}),
	}
	for h := 6; h <= 14; h++ {
		hour := models.HourCall{At: at(h, 0), Kite: models.GradeGood, Sight: models.GradePoor, Fish: models.FishFair, Ride: models.RideOK, Do: models.DoKite}
		hour.Conditions.Hour = models.Hour{Wind: models.Known(units.Speed(12+h/2) * units.Knot), Gust: models.Known(units.Speed(16+h) * units.Knot), WindFrom: models.Known(units.From(180 + 4*units.From(h))), Sea: models.Known(units.Length(2+h/5) * units.Foot), Period: models.Known(5.0)}
		if h >= 11 {
			hour.Do, hour.Kite = models.DoInside, models.GradePoor
		}
		if h >= 12 {
			hour.Do, hour.Ride, hour.Closed = models.DoNoGo, models.RideRough, models.Say("closed.product", models.Word("Small Craft Advisory"))
		}
		c.Hours = append(c.Hours, hour)
	}
	return c, models.Standing{Made: c.Made, Date: tuesday, Going: true, Tactic: c.Tactic, Timing: c.Timing, Leave: c.Leave, Back: c.Back, Safety: true, WorstRide: models.RideOK}
}

func demoNews(t testing.TB) (notify.MorningNews, time.Time) {
	now := time.Date(2027, 1, 19, 4, 30, 0, 0, newYork(t))
	said, seen := front(0), front(-3*time.Hour) // said for 07:00 on the port's clock, there since 04:00
	c, ok := notify.Compare(notify.Station{Name: "XAMP1", Reports: []models.Observation{report(seen[12]), report(seen[15])}, Expected: said}, now)
	require.True(t, ok)
	other, ok := notify.Compare(notify.Station{Name: "49997", Reports: []models.Observation{report(said[15])}, Expected: said}, now)
	require.True(t, ok)
	call, _ := demoDay(t)
	w := call.Warnings.Or(nil)[0]
	before := w
	before.Ends = models.Known(w.Onset.Add(6 * time.Hour))
	return notify.MorningNews{
		Stations: []notify.Comparison{c, other}, Silent: []string{"49998"}, Front: models.Known(time.Date(2027, 1, 19, 10, 0, 0, 0, newYork(t))), FrontNow: models.Known(time.Date(2027, 1, 19, 10, 0, 0, 0, newYork(t))),
		Warnings: []notify.WarningChange{{Change: notify.Became(before, w), Warning: w, Before: models.Known(before)}},
	}, now
}

// What the captain reads at half past four: official warnings and the demo's
// notice first, then the day in one line, then what changed since last night.
func TestMorningAsItIsRead(t *testing.T) {
	c, told := demoDay(t)
	news, now := demoNews(t)
	d := notify.Morning(captain(t), one(c, told), news, now)
	golden(t, "morning.txt", "Subject: "+d.Message(models.ReasonFirst, now, "boat.example").Subject+"\n\n"+d.Text)
	golden(t, "morning.html", d.HTML)
	golden(t, "morning-short.txt", d.Short+"\n")
	order := []string{words.DemoNotice(), "SMALL CRAFT ADVISORY", "* WHAT...", "KITE, START EARLIER", "What changed since last night", "extended", "Upwind now", "The hours", "Cautions"}
	for i := 1; i < len(order); i++ {
		require.Less(t, strings.Index(d.Text, order[i-1]), strings.Index(d.Text, order[i]), order[i])
	}
	require.Equal(t, "04:30", d.KnowBy.Or(time.Time{}).In(newYork(t)).Format("15:04"))
}

func TestOneEveningCallAndOnlyNewsAfterIt(t *testing.T) {
	c, told := demoDay(t)
	l := &notify.Memory{}
	mail := &way{}
	zone := newYork(t)
	now := time.Date(2027, 1, 18, 17, 0, 0, 0, zone)
	o := outbox(t, l, map[string]*way{"email": mail}, func(o *notify.OutboxOptions) { o.Now = func() time.Time { return now } })
	desk := notify.Desk{Ledger: l, Outbox: o, Domain: "boat.example", Now: func() time.Time { return now }}
	tell := func(d notify.Draft) notify.Decision {
		got, err := desk.Tell(t.Context(), d)
		require.NoError(t, err)
		_, err = o.Flush(t.Context())
		require.NoError(t, err)
		return got
	}
	require.Equal(t, models.ReasonFirst, tell(notify.Evening(captain(t), one(c, told), now)).Reason)
	now = now.Add(time.Hour)
	require.Equal(t, models.ReasonNone, tell(notify.Evening(captain(t), one(c, told), now)).Reason)
	c.Agreement = 0.9 // a nuance is no news
	require.Equal(t, models.ReasonNone, tell(notify.Changed(captain(t), one(c, told), now)).Reason)

	in := told
	in.Going, in.Leave, in.Back = false, models.Unknown[time.Time](), models.Unknown[time.Time]()
	inCall := c
	inCall.Tactic, inCall.Timing, inCall.Leave, inCall.Back = models.TacticStayIn, nil, in.Leave, in.Back
	now = time.Date(2027, 1, 18, 23, 0, 0, 0, zone)
	held := tell(notify.Changed(captain(t), turned(inCall, in, "settle.worse"), now))
	require.Equal(t, models.ReasonHeld, held.Reason, "at 04:00 he still has time: the boat would leave at 07:00")
	now = held.At
	require.Equal(t, models.ReasonEscalated, tell(notify.Changed(captain(t), turned(inCall, in, "settle.worse"), now)).Reason)
	require.Len(t, mail.took, 2)
	require.Equal(t, "DEMO: WORSE: SMALL CRAFT ADVISORY - Tue 19 January: stay in (likely)", mail.took[1].Subject)
	require.True(t, mail.took[1].Urgent)

	p := captain(t)
	p.What = []models.Notice{models.NoticeTrouble}
	require.Equal(t, models.ReasonNone, tell(notify.Morning(p, one(c, told), notify.MorningNews{}, now)).Reason, "who does not want it is not told")
}

func TestAMessageThatMustBeKnownBreaksTheQuietHours(t *testing.T) {
	c, told := demoDay(t)
	zone := newYork(t)
	c.Leave = models.Known(time.Date(2027, 1, 19, 5, 0, 0, 0, zone))
	d := notify.Changed(captain(t), one(c, told), c.Made)
	got := notify.Decide(notify.Past{}, d.Content, d.Person.Quiet, time.Date(2027, 1, 18, 23, 0, 0, 0, zone))
	require.True(t, got.Send, "by 04:00, when his quiet hours end, he should be on the way")
}

func TestApprovalAndGuests(t *testing.T) {
	c, _ := demoDay(t)
	now := c.Made
	b := models.Booking{ID: "17", Date: tuesday, Name: "party of four", Contact: "guest@example.com", Trip: c.Trip}
	d, ok := notify.Approval(captain(t), words.Reader{}, c, b, "https://boat.example/a/token", now)
	require.True(t, ok)
	late := notify.Decide(notify.Past{}, d.Content, captain(t).Quiet, time.Date(2027, 1, 18, 23, 0, 0, 0, newYork(t)))
	require.Equal(t, models.ReasonHeld, late.Reason, "the guests' deadline is past: nobody is woken for the draft, it is there at 04:00")
	golden(t, "approval.txt", "Subject: "+d.Subject+"\n\n"+d.Text)
	require.Contains(t, d.Text, "is past (Mon 19:00): tell them now")
	early, ok := notify.Approval(captain(t), words.Reader{}, c, b, "", now.Add(-12*time.Hour))
	require.True(t, ok)
	require.Contains(t, early.Text, "Tell them by Mon 19:00.")
	require.Contains(t, d.HTML, `href="https://boat.example/a/token"`)

	guests := notify.Person{Name: b.Name, Routes: []models.Route{{Channel: "email", Address: b.Contact}}, What: []models.Notice{models.NoticeGuests}, Quiet: notify.Quiet{Zone: newYork(t)}}
	g, ok, err := notify.Guests(guests, c, b, 2, now)
	require.NoError(t, err)
	require.True(t, ok)
	golden(t, "guests.txt", "Subject: "+g.Subject+"\n\n"+g.Text)
	require.Len(t, g.Attachments, 1)
	events, problems, err := calendar.Read(bytes.NewReader(g.Attachments[0].Data), calendar.Window{Zone: newYork(t), From: tuesday.Start(time.UTC), To: tuesday.AddDays(2).Start(time.UTC)})
	require.NoError(t, err)
	require.Empty(t, problems)
	require.Len(t, events, 1)
	require.Equal(t, "06:30 11:00", events[0].Start.In(newYork(t)).Format("15:04")+" "+events[0].End.In(newYork(t)).Format("15:04"))
	require.Equal(t, 2, events[0].Sequence)
	require.Equal(t, calendar.UID("booking 17"), events[0].UID)
	require.Contains(t, events[0].Description, words.DemoNotice())

	c.Charter = models.Known(models.CharterCall{Actions: []models.CharterAction{models.CharterGo}, Message: []models.Phrase{models.Say("guests.bye")}})
	g, _, err = notify.Guests(guests, c, b, 0, now)
	require.NoError(t, err)
	require.Empty(t, g.Attachments, "a trip as booked needs no new entry")
	c.Charter = models.Unknown[models.CharterCall]()
	_, ok = notify.Approval(captain(t), words.Reader{}, c, b, "", now)
	require.False(t, ok)
}

func TestWarnedTroubledAndFloatPlan(t *testing.T) {
	c, _ := demoDay(t)
	zone := newYork(t)
	now := time.Date(2027, 1, 18, 15, 30, 0, 0, zone)
	w := c.Warnings.Or(nil)[0]
	d := notify.Warned(captain(t), c.Port, notify.WarningChange{Change: notify.Issued, Warning: w}, c.Leave, true, now)
	golden(t, "warned.txt", "Subject: "+d.Subject+"\n\n"+d.Text)
	require.Equal(t, 1, d.Level)
	require.True(t, strings.HasPrefix(d.Short, "DEMO, invented: SMALL CRAFT ADVISORY issued (AMZ997"), d.Short)
	off := notify.Warned(captain(t), c.Port, notify.WarningChange{Change: notify.Cancelled, Warning: w}, c.Leave, true, now)
	require.Equal(t, d.Key, off.Key)
	last := models.Known(d.Message(models.ReasonFirst, now, "boat.example"))
	require.Equal(t, models.ReasonCleared, notify.Decide(past(last), off.Content, notify.Quiet{}, now).Reason)
	gale := w
	gale.Event, gale.Significance, gale.Phenomenon = "Gale Warning", "W", "GL"
	require.Equal(t, 2, notify.Warned(captain(t), c.Port, notify.WarningChange{Change: notify.Issued, Warning: gale}, c.Leave, true, now).Level)

	trouble := notify.Trouble{Name: "source ndbc", What: models.Say("trouble.source", "ndbc"), Cure: models.Say("trouble.source_cure"), Since: now.Add(-5 * time.Hour)}
	tr := notify.Troubled(captain(t), c.Port, trouble, false, now)
	golden(t, "trouble.txt", "Subject: "+tr.Subject+"\n\n"+tr.Text)
	trouble.Detail = models.Say("trouble.error", "no answer for 6 h")
	require.Equal(t, tr.Digest, notify.Troubled(captain(t), c.Port, trouble, false, now).Digest, "that it goes on is no news")
	trouble.Over = true
	require.Zero(t, notify.Troubled(captain(t), c.Port, trouble, false, now).Level)

	plan := notify.FloatPlan{Port: c.Port, Boat: c.Boat, Ground: c.Ground, Leave: c.Leave.Or(now), Back: c.Back.Or(now), Aboard: models.Known(7), CheckIn: "https://boat.example/in/token", Demo: true}
	left := notify.Left(captain(t), plan, plan.Leave)
	late := notify.Late(captain(t), plan, false, plan.Overdue())
	golden(t, "floatplan.txt", "Subject: "+left.Subject+"\n\n"+left.Text)
	golden(t, "overdue.txt", "Subject: "+late.Subject+"\n\n"+late.Text)
	require.Equal(t, "12:00", plan.Overdue().In(zone).Format("15:04"))
	night := notify.Quiet{From: clock(11, 0), To: clock(13, 0), Zone: zone}
	require.True(t, notify.Decide(notify.Past{}, late.Content, night, plan.Overdue()).Send, "an overdue boat breaks every quiet hour")
	sent := late.Message(models.ReasonFirst, plan.Overdue(), "boat.example")
	sent.State, sent.Done = models.MessageSent, models.Known(plan.Overdue())
	require.Equal(t, models.ReasonReminder, notify.Decide(past(models.Known(sent)), late.Content, night, plan.Overdue().Add(30*time.Minute)).Reason)
	in := notify.Late(captain(t), plan, true, plan.Overdue())
	require.Equal(t, models.ReasonCleared, notify.Decide(past(models.Known(sent)), in.Content, night, plan.Overdue().Add(10*time.Minute)).Reason)
	require.Equal(t, models.ReasonNone, notify.Decide(notify.Past{}, in.Content, night, plan.Overdue()).Reason, "nobody was alarmed")
}

func TestTestMessagesAreNeverTheSame(t *testing.T) {
	now := time.Date(2027, 1, 18, 15, 30, 0, 0, time.UTC)
	p := captain(t)
	p.What = nil
	require.True(t, p.Wants(models.NoticeTest))
	a := notify.Test(p, models.Port{}, false, now).Message(models.ReasonFirst, now, "boat.example")
	b := notify.Test(p, models.Port{}, false, now.Add(time.Second)).Message(models.ReasonFirst, now.Add(time.Second), "boat.example")
	require.NotEqual(t, a.ID, b.ID)
	require.NotEqual(t, a.Key, b.Key)
	require.True(t, strings.HasSuffix(a.ID, "@boat.example"))
	p.Reader.Language = "es"
	require.Equal(t, "Mensaje de prueba", notify.Test(p, models.Port{}, false, now).Subject)
}

func TestDryRunShowsAndSendsNothing(t *testing.T) {
	c, told := demoDay(t)
	news, now := demoNews(t)
	var out bytes.Buffer
	o, err := notify.NewOutbox(notify.OutboxOptions{
		Ledger: &notify.Memory{}, Channels: map[string]notify.Channel{"email": &notify.DryRun{Channel: "email", Out: &out}},
		Now: func() time.Time { return now }, Random: func() float64 { return 0 },
	})
	require.NoError(t, err)
	require.NoError(t, o.Add(t.Context(), notify.Morning(captain(t), one(c, told), news, now).Message(models.ReasonFirst, now, "boat.example")))
	_, err = o.Flush(t.Context())
	require.NoError(t, err)
	require.Contains(t, out.String(), "--- would send by email to the captain <captain@example.com>: morning (first)\nSubject: DEMO: Morning: SMALL CRAFT ADVISORY")
	require.ErrorContains(t, o.Add(t.Context(), models.Message{Person: "nobody"}), "no way to reach them")
}

// one is a day with one trip; turned one that is no longer as it was told.
func one(c models.Call, told models.Standing) []notify.Trip {
	return []notify.Trip{{Trip: words.Trip{Call: c}, Told: told}}
}

func turned(c models.Call, told models.Standing, why string) []notify.Trip {
	list := one(c, told)
	list[0].Turned, list[0].Why = true, models.Say(why)
	return list
}

// The stations see the front before any forecast does; without them the
// morning's forecast tells what became of the evening's.
func TestTheMorningTellsOfTheFront(t *testing.T) {
	c, _ := demoDay(t)
	now := time.Date(2027, 1, 19, 4, 40, 0, 0, newYork(t))
	at := func(h int) models.Opt[time.Time] { return models.Known(time.Date(2027, 1, 19, h, 0, 0, 0, newYork(t))) }
	none := models.Unknown[time.Time]()
	early := []notify.Comparison{{Station: "XAMP1", At: now, Early: models.Known(2 * time.Hour)}}
	for _, tt := range []struct {
		front, is models.Opt[time.Time]
		stations  []notify.Comparison
		want      string
	}{
		{at(14), at(14), nil, "The front is still expected about 14:00."},
		{at(14), at(17), nil, "The front is to be expected about 17:00; it was said for 14:00."},
		{at(14), at(17), early, "The front is to be expected about 12:00; it was said for 14:00."},
		{at(14), none, nil, "The forecast no longer shows the front that was said for 14:00."},
		{none, at(17), nil, "A front is now expected about 17:00; last night none was said."},
	} {
		d := notify.Morning(captain(t), alone(c), notify.MorningNews{Front: tt.front, FrontNow: tt.is, Stations: tt.stations}, now)
		require.Contains(t, d.Text, tt.want)
	}
	require.NotContains(t, notify.Morning(captain(t), alone(c), notify.MorningNews{}, now).Text, "front")
}

func alone(c models.Call) []notify.Trip { return []notify.Trip{{Trip: words.Trip{Call: c}}} }
