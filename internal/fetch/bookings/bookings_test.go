package bookings_test

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch/bookings"
	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
)

func clock(h, m int) models.Clock { return models.Clock{Hour: h, Minute: m} }

func options(t testing.TB) bookings.Options {
	t.Helper()
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	return bookings.Options{
		Name: "bookings.csv", Zone: zone, Most: 1000, MostADay: 4, Grounds: []string{"the Shelf edge", "North Ledge"},
		Usual: models.Trip{Kind: models.Charter, Party: models.Mixed, Start: clock(7, 0), End: clock(15, 0), ForHire: models.Known(true), Guests: models.Known(4)},
	}
}

func date(t testing.TB, s string) models.Date {
	t.Helper()
	d, err := models.ParseDate(s)
	require.NoError(t, err)
	return d
}

const table = `id,Date,Name,Start,End,Party,Guests,Kind,For hire,Ground,Contact,Status
17,2027-01-20,"Núñez, party of four",7:30 AM,15:30:00,family,4,charter,yes,north ledge,Ana <ana@example.com>,
,2027-01-19,Okafor,,,,,,,,,cancelled
`

func TestCSV(t *testing.T) {
	o := options(t)
	want := []models.Booking{
		{
			ID: "2027-01-19 okafor", Date: date(t, "2027-01-19"), Name: "Okafor", Cancelled: true,
			Trip: models.Trip{Kind: models.Charter, Party: models.Mixed, Start: clock(7, 0), End: clock(15, 0), ForHire: models.Known(true)},
		},
		{
			ID: "17", Date: date(t, "2027-01-20"), Name: "Núñez, party of four", Ground: "North Ledge", Contact: "ana@example.com",
			Trip: models.Trip{Kind: models.Charter, Party: models.Family, Start: clock(7, 30), End: clock(15, 30), ForHire: models.Known(true), Guests: models.Known(4)},
		},
	}
	for name, text := range map[string]string{
		"as written":      table,
		"byte order mark": "\xef\xbb\xbf" + table,
		"CRLF":            strings.ReplaceAll(table, "\n", "\r\n"),
		"semicolons":      strings.NewReplacer(",", ";", "Núñez,", "Núñez,").Replace(table),
		"tabs":            strings.NewReplacer(",", "\t", "Núñez,", "Núñez,").Replace(table),
		"blank rows":      strings.ReplaceAll(table, "\n", "\n,,,\n\n"),
		"underscores":     strings.Replace(table, "For hire", "for_hire", 1),
	} {
		t.Run(name, func(t *testing.T) {
			r, err := bookings.ReadCSV([]byte(text), o)
			require.NoError(t, err)
			require.Empty(t, r.Problems)
			require.False(t, r.Partial)
			require.Equal(t, want, r.Bookings)
		})
	}
}

func TestRowsThatCannotBeRead(t *testing.T) {
	o := options(t)
	for row, want := range map[string]string{
		"1/19/2027,Okafor":             `line 3: the date "1/19/2027" can be read in two ways: write it as 2027-01-19, year first; the row is left out`,
		"19.01.27,Okafor":              `line 3: the date "19.01.27" can be read in two ways: write it as 2027-01-19, year first; the row is left out`,
		"tomorrow,Okafor":              `line 3: "tomorrow" is no date: write it as 2027-01-19; the row is left out`,
		"2027-02-30,Okafor":            `line 3: "2027-02-30" is no date: write it as 2027-01-19; the row is left out`,
		",Okafor":                      `line 3: the row has no date; the row is left out`,
		"2027-01-21,":                  `line 3: the row has no name; the row is left out`,
		"2027-01-21,Okafor,7 in the":   `line 3: "7 in the" is no time of day: write it as 07:30; the row is left out`,
		"2027-01-21,Okafor,15:00":      `line 3: the trip from 15:00 to 15:00 does not end after it starts: a trip lies within one day; the row is left out`,
		"2027-01-21,Okafor,,,,one too": `line 3: there are 6 fields for 5 columns; the row is left out`,
	} {
		t.Run(row, func(t *testing.T) {
			r, err := bookings.ReadCSV([]byte("date,name,start,party,guests\n2027-01-19,Good\n"+row+"\n"), o)
			require.NoError(t, err)
			require.Equal(t, []string{want}, r.Problems)
			require.True(t, r.Partial, "what is left out must not be taken for gone")
			require.Len(t, r.Bookings, 1)
		})
	}
	// A slip in what is not vital leaves the booking as usual, and says so.
	for row, want := range map[string]string{
		"2027-01-21,Okafor,,kids":    `line 2: "kids" is no party: write experienced, mixed, family`,
		"2027-01-21,Okafor,,,twelve": `line 2: "twelve" is no number of guests: write one from 0 to 149`,
	} {
		r, err := bookings.ReadCSV([]byte("date,name,start,party,guests\n"+row+"\n"), o)
		require.NoError(t, err)
		require.Equal(t, []string{want}, r.Problems)
		require.False(t, r.Partial)
		require.Equal(t, models.Mixed, r.Bookings[0].Trip.Party)
		require.False(t, r.Bookings[0].Trip.Guests.Known())
	}
	r, err := bookings.ReadCSV([]byte("date,name,boat\n2027-01-19,Okafor,big\n2027-01-19,okafor,big\n"), o)
	require.NoError(t, err)
	require.Len(t, r.Bookings, 1)
	require.Equal(t, []string{
		`line 1: there is no column "boat": known are id, date, name, start, end, party, guests, kind, for hire, ground, contact, status`,
		`line 3: the booking of 2027-01-19 for okafor comes twice: give each an id`,
	}, r.Problems)
}

func TestWhatIsNoTable(t *testing.T) {
	for text, want := range map[string]string{
		"":                                  "the file is empty: the first row must name the columns",
		"2027-01-19,Okafor\n":               `line 1: there is no column "date": the first row must name the columns, at least date and name`,
		"date,date,name\n":                  `line 1: the column "date" comes twice`,
		"date,name\n2027-01-19,\"Okafor\n":  `line 2: extraneous or missing " in quoted-field`,
		"date,name\n2027-01-19,N\xfa\xf1ez": `line 2: this is not UTF-8: save the file as "CSV UTF-8"`,
		"date,name\n" + strings.Repeat("2027-01-19,x\n", 5002): "line 1002: there are over 1000 rows (charters.most_bookings): take out those that are long past",
	} {
		_, err := bookings.ReadCSV([]byte(text), options(t))
		require.EqualError(t, err, want)
	}
}

const calendarFile = `BEGIN:VCALENDAR
BEGIN:VEVENT
UID:one@example.com
SUMMARY:Charter Núñez
DTSTART;TZID=America/New_York:20270119T073000
DTEND;TZID=America/New_York:20270119T153000
DESCRIPTION:Party: family\nguests: 5\nGround: North Ledge\ncontact: ana@example.com\nsee https://example.com\nbring: cake
END:VEVENT
BEGIN:VEVENT
UID:two@example.com
SUMMARY:charter, club outing
DTSTART;VALUE=DATE:20270122
DTEND;VALUE=DATE:20270124
DESCRIPTION:party: pirates
END:VEVENT
BEGIN:VEVENT
UID:three@example.com
SUMMARY:Charter Saturday
DTSTART;TZID=America/New_York:20270123T060000
RRULE:FREQ=WEEKLY;COUNT=2
END:VEVENT
BEGIN:VEVENT
UID:three@example.com
RECURRENCE-ID;TZID=America/New_York:20270130T060000
SUMMARY:Charter Saturday
DTSTART;TZID=America/New_York:20270131T060000
STATUS:CANCELLED
END:VEVENT
BEGIN:VEVENT
UID:four@example.com
SUMMARY:Dentist
DTSTART:20270125T150000Z
END:VEVENT
BEGIN:VEVENT
UID:five@example.com
SUMMARY:Charter by night
DTSTART;TZID=America/New_York:20270126T200000
DURATION:PT10H
END:VEVENT
END:VCALENDAR
`

func TestCalendar(t *testing.T) {
	o := options(t)
	o.Marks = []string{"charter"}
	r, err := bookings.ReadCalendar([]byte(calendarFile), o, date(t, "2027-01-01"), date(t, "2027-03-01"))
	require.NoError(t, err)
	require.Equal(t, []string{
		`line 9: in the description: "pirates" is no party: write experienced, mixed, family`,
		"line 34: the event from Tue 20:00 to Wed 06:00 runs over midnight: book it as two days; the event is left out",
	}, r.Problems)
	require.True(t, r.Partial)
	trip := func(start, end models.Clock) models.Trip {
		return models.Trip{Kind: models.Charter, Party: models.Mixed, Start: start, End: end, ForHire: models.Known(true)}
	}
	first := trip(clock(7, 30), clock(15, 30))
	first.Party, first.Guests = models.Family, models.Known(5)
	require.Equal(t, []models.Booking{
		{ID: "one@example.com", Date: date(t, "2027-01-19"), Name: "Charter Núñez", Trip: first, Ground: "North Ledge", Contact: "ana@example.com"},
		{ID: "two@example.com", Date: date(t, "2027-01-22"), Name: "charter, club outing", Trip: trip(clock(7, 0), clock(15, 0))},
		{ID: "three@example.com/20270123T110000Z", Date: date(t, "2027-01-23"), Name: "Charter Saturday", Trip: trip(clock(6, 0), clock(15, 0))},
		{ID: "two@example.com 2027-01-23", Date: date(t, "2027-01-23"), Name: "charter, club outing", Trip: trip(clock(7, 0), clock(15, 0))},
		{ID: "three@example.com/20270130T110000Z", Date: date(t, "2027-01-31"), Name: "Charter Saturday", Trip: trip(clock(6, 0), clock(15, 0)), Cancelled: true},
	}, r.Bookings)
}

func TestFile(t *testing.T) {
	fsys := fstest.MapFS{"b.csv": {Data: []byte(table)}, "b.ics": {Data: []byte(calendarFile)}, "broken.ics": {Data: []byte("<html>")}}
	from, to := date(t, "2027-01-20"), date(t, "2027-01-23")
	read := func(name string) (bookings.Result, error) {
		s, err := bookings.File(fsys, name, options(t))
		require.NoError(t, err)
		return s.Read(t.Context(), from, to)
	}
	r, err := read("b.csv")
	require.NoError(t, err)
	require.Len(t, r.Bookings, 1)
	require.Equal(t, "17", r.Bookings[0].ID)
	r, err = read("b.ics")
	require.NoError(t, err)
	require.Len(t, r.Bookings, 1)
	for name, want := range map[string]models.Kind{"none.csv": models.KindNotFound, "broken.ics": models.KindBadContent} {
		_, err = read(name)
		e, ok := errors.AsType[*models.Error](err)
		require.True(t, ok)
		require.Equal(t, want, e.Kind)
		require.Equal(t, "bookings.csv", e.Source)
	}
	_, err = bookings.File(fsys, "b.xlsx", options(t))
	require.ErrorContains(t, err, "is neither .csv nor .ics")
	s, err := bookings.File(fsys, "b.csv", options(t))
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = s.Read(ctx, from, to)
	require.ErrorIs(t, err, context.Canceled)
}

func TestAddress(t *testing.T) {
	body, status := calendarFile, http.StatusOK
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
		w.WriteHeader(status)
		_, _ = w.Write([]byte(body))
	}))
	defer srv.Close()
	client, err := httpx.New(httpx.Options{Transport: http.DefaultTransport, UserAgent: "forecastd/test (captain@example.com)", Pause: time.Millisecond})
	require.NoError(t, err)
	var _ bookings.Getter = client
	s, err := bookings.Address(client, srv.URL+"/private-secret/basic.ics", options(t))
	require.NoError(t, err)
	r, err := s.Read(t.Context(), date(t, "2027-01-01"), date(t, "2027-03-01"))
	require.NoError(t, err)
	require.Len(t, r.Bookings, 6)

	for _, c := range []struct {
		status int
		body   string
		want   models.Kind
	}{
		{http.StatusNotFound, "", models.KindNotFound},
		{http.StatusOK, "<!DOCTYPE html><title>log in</title>", models.KindBadContent},
		{http.StatusOK, calendarFile[:300], models.KindBadContent},
		{http.StatusServiceUnavailable, "", models.KindServer},
	} {
		status, body = c.status, c.body
		_, err = s.Read(t.Context(), date(t, "2027-01-01"), date(t, "2027-03-01"))
		e, ok := errors.AsType[*models.Error](err)
		require.True(t, ok)
		require.Equal(t, c.want, e.Kind)
		require.NotContains(t, err.Error(), "secret")
	}
	_, err = bookings.Address(client, "file:///etc/passwd", options(t))
	require.ErrorContains(t, err, "must begin with https:// or webcal://")
}

func FuzzReadCSV(f *testing.F) {
	f.Add([]byte(table))
	f.Add([]byte("date;name\n1/2/2027;\"a\nb\"\n"))
	o := options(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		r, err := bookings.ReadCSV(b, o)
		if err != nil {
			return
		}
		seen := map[string]bool{}
		for _, b := range r.Bookings {
			require.NotEmpty(t, b.ID)
			require.NotEmpty(t, b.Name)
			require.False(t, seen[b.ID])
			seen[b.ID] = true
		}
	})
}
