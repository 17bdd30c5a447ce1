package main

import (
	"context"
	"path/filepath"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"forecastd/internal/models"
	"forecastd/internal/store"
)

// waiting makes a store as the daemon leaves it on a day with two trips: a
// message to the guests of each waits, and a float plan of each is kept. All
// of it is invented.
func waiting(ts *testscript.TestScript, neg bool, args []string) {
	st := stateOf(ts, args)
	defer st.Close()
	ctx := context.Background()
	date := models.Date{Year: 2027, Month: 1, Day: 19}
	at := func(hour, minute int) time.Time { return time.Date(2027, 1, 19, hour+5, minute, 0, 0, time.UTC) } // New York in winter
	for _, d := range []struct {
		id, guests, subject string
	}{{"aaaa1111", "the Okafors", "Subject of the first"}, {"bbbb2222", "the Larsens", "Subject of the second"}} {
		ts.Check(st.Outbox().AddDraft(ctx, store.Draft{
			ID: d.id, Key: "guests/" + d.guests, Port: "Port Amparo", Date: date, Booking: d.guests, Made: at(5, 0), Expires: at(23, 0),
			Message: models.Message{
				ID: d.id + "@example.com", Key: "guests/" + d.guests, Notice: models.NoticeGuests, Person: d.guests, Made: at(5, 0), Deadline: at(23, 0),
				Subject: d.subject, Text: "Hello " + d.guests, State: models.MessageWaiting, Routes: []models.Route{{Channel: "e-mail", Address: "guests@example.com"}},
			},
		}))
	}
	for booking, hours := range map[string][2]time.Time{"one": {at(7, 0), at(11, 0)}, "two": {at(12, 30), at(17, 0)}} {
		ts.Check(st.PlanFloat(ctx, store.FloatPlan{
			Port: "Port Amparo", Date: date, Booking: booking, Boat: "Second Light", Ground: "the Shelf edge", Leave: hours[0], Back: hours[1], Overdue: hours[1].Add(time.Hour),
		}))
	}
}

// inoutbox wants just one message on its way, to these guests.
func inoutbox(ts *testscript.TestScript, neg bool, args []string) {
	st := stateOf(ts, args[:1])
	defer st.Close()
	list, err := st.Outbox().Waiting(context.Background())
	ts.Check(err)
	if len(list) != 1 || list[0].Person != args[1] {
		ts.Fatalf("%d messages are on their way, want one to %s", len(list), args[1])
	}
}

func stateOf(ts *testscript.TestScript, args []string) *store.Store {
	st, err := store.Open(context.Background(), store.Options{Path: filepath.Join(ts.MkAbs(args[0]), store.FileName)})
	ts.Check(err)
	return st
}
