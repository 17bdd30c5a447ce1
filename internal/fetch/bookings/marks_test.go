package bookings_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch/bookings"
	"forecastd/internal/models"
)

// The three events that RFC 5545 gives as examples in 3.6.1, moved to days of
// ours: a private appointment, a public one that takes no time, a confidential
// anniversary that recurs; then bookings by summary and by category, and one
// that says that it is private.
const mixedCalendar = `BEGIN:VCALENDAR
VERSION:2.0
BEGIN:VEVENT
UID:19970901T130000Z-123401@example.com
DTSTAMP:19970901T130000Z
DTSTART:20270119T163000Z
DTEND:20270119T190000Z
SUMMARY:Annual Employee Review
CLASS:PRIVATE
CATEGORIES:BUSINESS,HUMAN RESOURCES
END:VEVENT
BEGIN:VEVENT
UID:19970901T130000Z-123402@example.com
DTSTAMP:19970901T130000Z
DTSTART:20270120T163000Z
DTEND:20270121T010000Z
SUMMARY:Laurel is in sensitivity awareness class.
CLASS:PUBLIC
CATEGORIES:BUSINESS,HUMAN RESOURCES
TRANSP:TRANSPARENT
END:VEVENT
BEGIN:VEVENT
UID:19970901T130000Z-123403@example.com
DTSTAMP:19970901T130000Z
DTSTART;VALUE=DATE:20171102
SUMMARY:Our Blissful Anniversary
TRANSP:TRANSPARENT
CLASS:CONFIDENTIAL
CATEGORIES:ANNIVERSARY,PERSONAL,SPECIAL OCCASION
RRULE:FREQ=YEARLY
END:VEVENT
BEGIN:VEVENT
UID:a@example.com
DTSTART:20270122T120000Z
DTEND:20270122T200000Z
SUMMARY:Booked: the Haddads
CONTACT:haddad@example.com
END:VEVENT
BEGIN:VEVENT
UID:b@example.com
DTSTART:20270123T120000Z
DTEND:20270123T200000Z
SUMMARY:the Ikedas
CATEGORIES:Charter,Winter
END:VEVENT
BEGIN:VEVENT
UID:c@example.com
DTSTART:20270124T120000Z
DTEND:20270124T200000Z
SUMMARY:Charter for my wife's birthday
CONTACT:wife@example.com
CLASS:PRIVATE
END:VEVENT
BEGIN:VEVENT
UID:d@example.com
DTSTART:20270125T150000Z
DTEND:20270125T160000Z
SUMMARY:Dentist, and chartering matters
CONTACT:dentist@example.com
END:VEVENT
BEGIN:VEVENT
UID:e@example.com
DTSTART;TZID=Nowhere/Atlantis:20270126T070000
SUMMARY:Charter Okafor
END:VEVENT
BEGIN:VEVENT
UID:f@example.com
DTSTART;TZID=Nowhere/Atlantis:20270127T070000
SUMMARY:Haircut
END:VEVENT
BEGIN:VEVENT
UID:g@example.com
DTSTART;VALUE=DATE:20270128
DTEND;VALUE=DATE:20270130
SUMMARY:Haul-out
END:VEVENT
END:VCALENDAR
`

func marked(t testing.TB) bookings.Options {
	o := options(t)
	o.Marks = []string{"charter", "booking", "booked"}
	return o
}

func days(list []models.Date) (out []string) {
	for _, d := range list {
		out = append(out, d.String())
	}
	return out
}

func TestOnlyWhatIsMarkedIsABooking(t *testing.T) {
	r, err := bookings.ReadCalendar([]byte(mixedCalendar), marked(t), date(t, "2027-01-01"), date(t, "2028-01-01"))
	require.NoError(t, err)
	var names, contacts []string
	for _, b := range r.Bookings {
		names = append(names, b.Date.String()+" "+b.Name)
		contacts = append(contacts, b.Contact)
	}
	require.Equal(t, []string{"2027-01-22 Booked: the Haddads", "2027-01-23 the Ikedas"}, names)
	require.Equal(t, []string{"haddad@example.com", ""}, contacts)
	require.ElementsMatch(t, []string{"2027-01-19", "2027-01-24", "2027-01-25", "2027-01-26", "2027-01-27", "2027-01-28", "2027-01-29"}, days(r.Taken),
		"private and other events, and the booking of unknown zone, keep their days; what takes no time does not")
	require.Equal(t, []string{`line 63: DTSTART: the zone "Nowhere/Atlantis" is neither known nor described by a VTIMEZONE before it; the event is left out`}, r.Problems)
	require.True(t, r.Partial)
	require.False(t, r.Unplaced)
}

// A booking that recurs by a rule that can't be read may be on any day.
func TestABookingOfUnknownDayLeavesNoDayFree(t *testing.T) {
	text := strings.Replace(mixedCalendar, "SUMMARY:Charter Okafor", "SUMMARY:Charter Okafor\nRRULE:FREQ=WEEKLY", 1)
	r, err := bookings.ReadCalendar([]byte(text), marked(t), date(t, "2027-01-01"), date(t, "2028-01-01"))
	require.NoError(t, err)
	require.True(t, r.Unplaced)
	r, err = bookings.ReadCSV([]byte("date,name,start\n2027-01-21,Okafor,seven\nsoon,Okafor,07:00\n"), options(t))
	require.NoError(t, err)
	require.Equal(t, []string{"2027-01-21"}, days(r.Taken))
	require.True(t, r.Unplaced)
	require.Len(t, r.Problems, 2)
}

func TestMoreThanADayHoldsIsAFault(t *testing.T) {
	var b strings.Builder
	b.WriteString("date,name\n")
	for i := range 111 {
		fmt.Fprintf(&b, "2027-01-19,guest %d\n", i)
	}
	b.WriteString("2027-01-20,Okafor\n")
	r, err := bookings.ReadCSV([]byte(b.String()), options(t))
	require.NoError(t, err)
	require.Len(t, r.Bookings, 5)
	require.Equal(t, []string{"line 6: over 4 bookings on 2027-01-19 (charters.most_a_day): this one and those after it are left out"}, r.Problems)
	require.Equal(t, []string{"2027-01-19"}, days(r.Taken))
	require.True(t, r.Partial, "what is left out is not taken for gone")
}

// Twice the rows take twice the time and memory, not four times.
func BenchmarkReadCSV(b *testing.B) {
	for _, rows := range []int{1000, 2000, 4000} {
		b.Run(fmt.Sprint(rows), func(b *testing.B) {
			var text strings.Builder
			text.WriteString("date,name,contact,party\n")
			for i := range rows {
				day := time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC).AddDate(0, 0, i/3)
				fmt.Fprintf(&text, "%s,guest %d,guest%d@example.com,mixed\n", day.Format(time.DateOnly), i, i)
			}
			o := options(b)
			o.Most = 5000
			b.ReportAllocs()
			for b.Loop() {
				r, err := bookings.ReadCSV([]byte(text.String()), o)
				if err != nil || len(r.Bookings) != rows {
					b.Fatal(err, len(r.Bookings))
				}
			}
		})
	}
}
