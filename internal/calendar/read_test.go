package calendar_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/calendar"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	require.NoError(t, err)
	return z
}

func window(t testing.TB, from, to string) calendar.Window {
	t.Helper()
	z := zone(t, "America/New_York")
	a, err := time.ParseInLocation(time.DateOnly, from, z)
	require.NoError(t, err)
	b, err := time.ParseInLocation(time.DateOnly, to, z)
	require.NoError(t, err)
	return calendar.Window{Zone: z, From: a, To: b}
}

// wrap makes a calendar of lines, with CRLF.
func wrap(lines ...string) string {
	return strings.Join(append(append([]string{"BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//test//EN"}, lines...), "END:VCALENDAR", ""), "\r\n")
}

func event(lines ...string) string {
	return wrap(append(append([]string{"BEGIN:VEVENT", "UID:a"}, lines...), "END:VEVENT")...)
}

func read(t testing.TB, s string, w calendar.Window) []calendar.Event {
	t.Helper()
	list, problems, err := calendar.Read(strings.NewReader(s), w)
	require.NoError(t, err)
	require.Empty(t, problems)
	return list
}

// told writes events in short: start and end in the window's zone.
func told(list []calendar.Event, w calendar.Window) []string {
	var out []string
	for _, e := range list {
		s := e.Start.In(w.Zone).Format("2006-01-02 15:04") + " to " + e.End.In(w.Zone).Format("2006-01-02 15:04")
		if e.AllDay {
			s += " all day"
		}
		if e.Cancelled {
			s += " cancelled"
		}
		out = append(out, s)
	}
	return out
}

func TestTimes(t *testing.T) {
	w := window(t, "2027-01-01", "2028-01-01")
	for name, c := range map[string]struct {
		lines []string
		want  string
	}{
		"UTC":                     {[]string{"DTSTART:20270119T120000Z", "DTEND:20270119T200000Z"}, "2027-01-19 07:00 to 2027-01-19 15:00"},
		"zone of the world":       {[]string{"DTSTART;TZID=America/Chicago:20270119T060000", "DTEND;TZID=America/Chicago:20270119T140000"}, "2027-01-19 07:00 to 2027-01-19 15:00"},
		"quoted zone, long name":  {[]string{`DTSTART;TZID="/example.org/20070129_1/America/New_York":20270119T070000`, "DURATION:PT8H"}, "2027-01-19 07:00 to 2027-01-19 15:00"},
		"floating":                {[]string{"DTSTART:20270119T070000", "DURATION:PT8H30M"}, "2027-01-19 07:00 to 2027-01-19 15:30"},
		"all day":                 {[]string{"DTSTART;VALUE=DATE:20270119"}, "2027-01-19 00:00 to 2027-01-20 00:00 all day"},
		"all day without VALUE":   {[]string{"DTSTART:20270119"}, "2027-01-19 00:00 to 2027-01-20 00:00 all day"},
		"two days":                {[]string{"DTSTART;VALUE=DATE:20270119", "DTEND;VALUE=DATE:20270121"}, "2027-01-19 00:00 to 2027-01-21 00:00 all day"},
		"no end":                  {[]string{"DTSTART:20270119T120000Z"}, "2027-01-19 07:00 to 2027-01-19 07:00"},
		"status cancelled":        {[]string{"DTSTART:20270119T120000Z", "DURATION:PT1H", "STATUS:CANCELLED"}, "2027-01-19 07:00 to 2027-01-19 08:00 cancelled"},
		"a nominal day in spring": {[]string{"DTSTART;TZID=America/New_York:20270313T120000", "DURATION:P1D"}, "2027-03-13 12:00 to 2027-03-14 12:00"},
		// RFC 5545 3.3.5: a time that a change skips is taken with the offset
		// from before it; of one that comes twice the first is meant.
		"skipped hour":  {[]string{"DTSTART;TZID=America/New_York:20270314T023000", "DURATION:PT1H"}, "2027-03-14 03:30 to 2027-03-14 04:30"},
		"repeated hour": {[]string{"DTSTART;TZID=America/New_York:20271107T013000", "DURATION:PT2H"}, "2027-11-07 01:30 to 2027-11-07 02:30"},
	} {
		t.Run(name, func(t *testing.T) {
			require.Equal(t, []string{c.want}, told(read(t, event(c.lines...), w), w))
		})
	}
}

func TestLineEndingsFoldsAndByteOrderMark(t *testing.T) {
	w := window(t, "2027-01-01", "2028-01-01")
	s := event("SUMMARY:Party of f", " our\\, with ni", "\tños", "DESCRIPTION:a\\nb\\;c", "DTSTART:20270119T120000Z")
	want := read(t, s, w)
	require.Equal(t, "Party of four, with niños", want[0].Summary)
	require.Equal(t, "a\nb;c", want[0].Description)
	require.Equal(t, 4, want[0].Line)
	for name, other := range map[string]string{
		"LF only":         strings.ReplaceAll(s, "\r\n", "\n"),
		"byte order mark": "\xef\xbb\xbf" + s,
		"no last newline": strings.TrimSuffix(s, "\r\n"),
	} {
		require.Equal(t, want, read(t, other, w), name)
	}
	// A line may be folded inside of a letter (RFC 5545 3.1).
	folded := strings.Replace(s, "ños", "\xc3\r\n \xb1os", 1)
	require.Equal(t, want[0].Summary, read(t, folded, w)[0].Summary)
}

// The time zone is the example of RFC 5545 3.6.5, under a name that the tz
// database does not have.
const vtimezone = `BEGIN:VTIMEZONE
TZID:Boat Time
BEGIN:DAYLIGHT
DTSTART:19870405T020000
RRULE:FREQ=YEARLY;BYMONTH=4;BYDAY=1SU;UNTIL=20060402T070000Z
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
END:DAYLIGHT
BEGIN:DAYLIGHT
DTSTART:20070311T020000
RRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=2SU
TZOFFSETFROM:-0500
TZOFFSETTO:-0400
END:DAYLIGHT
BEGIN:STANDARD
DTSTART:19671029T020000
RRULE:FREQ=YEARLY;BYMONTH=10;BYDAY=-1SU;UNTIL=20061029T060000Z
TZOFFSETFROM:-0400
TZOFFSETTO:-0500
END:STANDARD
BEGIN:STANDARD
DTSTART:20071104T020000
RRULE:FREQ=YEARLY;BYMONTH=11;BYDAY=1SU
TZOFFSETFROM:-0400
TZOFFSETTO:-0500
END:STANDARD
END:VTIMEZONE`

// What a VTIMEZONE gives must be what the tz database gives for the zone that
// it describes, hour by hour over a year, with the changes of the clock.
func TestVTIMEZONEAgainstTheTzDatabase(t *testing.T) {
	w := window(t, "2026-12-31", "2028-01-02")
	for _, from := range []string{"", "1601"} {
		vtz := vtimezone
		if from != "" { // some calendars describe their zones from 1601 on
			vtz = strings.ReplaceAll(strings.ReplaceAll(vtz, "20070311", "16010311"), "20071104", "16011104")
		}
		for day := time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC); day.Year() == 2027; day = day.AddDate(0, 0, 1) {
			var lines []string
			for h := range 24 {
				for i, tz := range []string{"Boat Time", "America/New_York"} {
					lines = append(lines, "BEGIN:VEVENT", fmt.Sprintf("UID:%02d-%d", h, i), fmt.Sprintf("DTSTART;TZID=%s:%s", tz, day.Add(time.Duration(h)*time.Hour+30*time.Minute).Format("20060102T150405")), "END:VEVENT")
				}
			}
			got := read(t, wrap(append(strings.Split(vtz, "\n"), lines...)...), w)
			require.Len(t, got, 48)
			at := map[string]time.Time{}
			for _, e := range got {
				at[e.UID] = e.Start
			}
			for h := range 24 {
				require.Equal(t, at[fmt.Sprintf("%02d-1", h)], at[fmt.Sprintf("%02d-0", h)], "%s %d h", day, h)
			}
		}
	}
}

// Rules and dates from the examples of RFC 5545 3.8.5.3, all with
// DTSTART;TZID=America/New_York:19970902T090000 unless said.
func TestRecurrenceAsInTheStandard(t *testing.T) {
	w := window(t, "1997-01-01", "1999-01-01")
	for rule, c := range map[string]struct{ start, want string }{
		"FREQ=DAILY;COUNT=10":                                            {"", "9/2 9/3 9/4 9/5 9/6 9/7 9/8 9/9 9/10 9/11"},
		"FREQ=DAILY;INTERVAL=10;COUNT=5":                                 {"", "9/2 9/12 9/22 10/2 10/12"},
		"FREQ=WEEKLY;UNTIL=19971007T000000Z;WKST=SU;BYDAY=TU,TH":         {"", "9/2 9/4 9/9 9/11 9/16 9/18 9/23 9/25 9/30 10/2"},
		"FREQ=MONTHLY;COUNT=10;BYDAY=1FR":                                {"19970905T090000", "9/5 10/3 11/7 12/5 1/2 2/6 3/6 4/3 5/1 6/5"},
		"FREQ=MONTHLY;INTERVAL=2;COUNT=10;BYDAY=1SU,-1SU":                {"19970907T090000", "9/7 9/28 11/2 11/30 1/4 1/25 3/1 3/29 5/3 5/31"},
		"FREQ=MONTHLY;BYMONTHDAY=-3;COUNT=6":                             {"19970928T090000", "9/28 10/29 11/28 12/29 1/29 2/26"},
		"FREQ=MONTHLY;COUNT=3;BYDAY=TU,WE,TH;BYSETPOS=3":                 {"19970904T090000", "9/4 10/7 11/6"},
		"FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH":             {"", "9/2 9/4 9/16 9/18 9/30 10/2 10/14 10/16"},
		"FREQ=YEARLY;UNTIL=19981231T140000Z;BYMONTH=1,12;BYMONTHDAY=2,3": {"19970902T090000", "9/2 12/2 12/3 1/2 1/3 12/2 12/3"},
	} {
		t.Run(rule, func(t *testing.T) {
			start := c.start
			if start == "" {
				start = "19970902T090000"
			}
			var got []string
			for _, e := range read(t, event("DTSTART;TZID=America/New_York:"+start, "DURATION:PT1H", "RRULE:"+rule), w) {
				local := e.Start.In(w.Zone)
				require.Equal(t, 9, local.Hour(), "nine by the clock on either side of the change")
				got = append(got, local.Format("1/2"))
			}
			require.Equal(t, c.want, strings.Join(got, " "))
		})
	}
}

func TestExceptions(t *testing.T) {
	w := window(t, "2027-03-01", "2027-04-01")
	s := wrap(
		"BEGIN:VEVENT", "UID:weekly", "SUMMARY:Saturday party", "DTSTART;TZID=America/New_York:20270227T070000", "DURATION:PT8H",
		"RRULE:FREQ=WEEKLY;UNTIL=20270327", "EXDATE;TZID=America/New_York:20270313T070000", "RDATE;TZID=America/New_York:20270329T070000", "END:VEVENT",
		// One moved across the change of the clock and into the next day, one
		// called off, in one or the other notation of the instant.
		"BEGIN:VEVENT", "UID:weekly", "SUMMARY:Moved party", "RECURRENCE-ID:20270320T110000Z", "DTSTART;TZID=America/New_York:20270321T080000", "DURATION:PT4H", "SEQUENCE:1", "END:VEVENT",
		"BEGIN:VEVENT", "UID:weekly", "RECURRENCE-ID;TZID=America/New_York:20270327T070000", "DTSTART;TZID=America/New_York:20270327T070000", "DURATION:PT8H", "STATUS:CANCELLED", "END:VEVENT",
	)
	list := read(t, s, w)
	require.Equal(t, []string{
		"2027-03-06 07:00 to 2027-03-06 15:00",
		"2027-03-21 08:00 to 2027-03-21 12:00",
		"2027-03-27 07:00 to 2027-03-27 15:00 cancelled",
		"2027-03-29 07:00 to 2027-03-29 15:00",
	}, told(list, w))
	require.Equal(t, "weekly/20270306T120000Z", list[0].ID())
	require.Equal(t, "weekly/20270320T110000Z", list[1].ID(), "a moved occurrence keeps its name")
	require.Equal(t, "Moved party", list[1].Summary)

	byDay := event("DTSTART:20270302T120000Z", "DURATION:PT1H", "RRULE:FREQ=DAILY;COUNT=3", "EXDATE;VALUE=DATE:20270303")
	require.Equal(t, []string{"2027-03-02 07:00 to 2027-03-02 08:00", "2027-03-04 07:00 to 2027-03-04 08:00"}, told(read(t, byDay, w), w))
}

func TestVersionsAndMethodCancel(t *testing.T) {
	w := window(t, "2027-01-01", "2028-01-01")
	s := wrap("BEGIN:VEVENT", "UID:a", "DTSTART:20270120T120000Z", "SEQUENCE:2", "END:VEVENT",
		"BEGIN:VEVENT", "UID:a", "DTSTART:20270119T120000Z", "SEQUENCE:1", "END:VEVENT")
	require.Equal(t, []string{"2027-01-20 07:00 to 2027-01-20 07:00"}, told(read(t, s, w), w))
	s = strings.Replace(event("DTSTART:20270119T120000Z"), "VERSION:2.0", "METHOD:CANCEL", 1)
	require.True(t, read(t, s, w)[0].Cancelled)
}

func TestOtherPartsAreLeftAlone(t *testing.T) {
	w := window(t, "2027-01-01", "2028-01-01")
	s := wrap("BEGIN:VTODO", "UID:t", "DTSTART:20270119T120000Z", "END:VTODO",
		"BEGIN:VEVENT", "UID:a", "DTSTART:20270119T120000Z", "BEGIN:VALARM", "TRIGGER:-PT15M", "SUMMARY:not the event's", "END:VALARM", "SUMMARY:the event's", "X-OTHER;X-P=\"a;b\":z", "END:VEVENT")
	list := read(t, s, w)
	require.Len(t, list, 1)
	require.Equal(t, "the event's", list[0].Summary)
}

func TestWhatCannotBeUsedNamesItsLine(t *testing.T) {
	w := window(t, "2027-01-01", "2028-01-01")
	good := []string{"BEGIN:VEVENT", "UID:good", "DTSTART:20270119T120000Z", "END:VEVENT"}
	for want, lines := range map[string][]string{
		`line 10: DTSTART: "19/01/2027" is no time: 20270119T073000, 20270119T123000Z or 20270119 is wanted`: {"DTSTART:19/01/2027"},
		`line 10: DTSTART: the zone "Nowhere/Else" is neither known nor described by a VTIMEZONE before it`:  {"DTSTART;TZID=Nowhere/Else:20270119T070000"},
		`line 8: the event has no DTSTART`:                                                  {"SUMMARY:x"},
		`line 11: DTEND is before DTSTART`:                                                  {"DTSTART:20270119T120000Z", "DTEND:20270119T110000Z"},
		`line 11: DURATION: "8 hours" is no length: PT8H or P1D is wanted`:                  {"DTSTART:20270119T120000Z", "DURATION:8 hours"},
		`line 11: RRULE: nothing that repeats within the day is understood`:                 {"DTSTART:20270119T120000Z", "RRULE:FREQ=SECONDLY"},
		`line 11: RRULE: more than 24 times a day`:                                          {"DTSTART:20270119T120000Z", "RRULE:FREQ=DAILY;BYMINUTE=" + numbers(60)},
		`line 11: RANGE=THISANDFUTURE is not understood: change the occurrences one by one`: {"DTSTART:20270119T120000Z", "RECURRENCE-ID;RANGE=THISANDFUTURE:20270119T120000Z"},
		`line 11: EXRULE is no longer part of the standard and not understood: use EXDATE`:  {"DTSTART:20270119T120000Z", "EXRULE:FREQ=DAILY", "RRULE:FREQ=DAILY;COUNT=2"},
		`line 11: "no colon in this line" is no property: a name and a colon are wanted`:    {"DTSTART:20290119T120000Z", "no colon in this line"},
		`line 11: DTEND does not fit the all-day DTSTART`:                                   {"DTSTART;VALUE=DATE:20270119", "DTEND:20270119T120000Z"},
	} {
		t.Run(want, func(t *testing.T) {
			s := wrap(append(append(append([]string{}, good...), append([]string{"BEGIN:VEVENT", "UID:bad"}, lines...)...), "END:VEVENT")...)
			list, problems, err := calendar.Read(strings.NewReader(s), w)
			require.NoError(t, err)
			require.Len(t, problems, 1)
			require.EqualError(t, &problems[0], want)
			require.Equal(t, "good", list[0].UID, "the others are read all the same")
			require.Len(t, list, 1)
		})
	}
}

func numbers(n int) string {
	var list []string
	for i := range n {
		list = append(list, fmt.Sprint(i))
	}
	return strings.Join(list, ",")
}

func TestWhatIsNoCalendar(t *testing.T) {
	w := window(t, "2027-01-01", "2028-01-01")
	for s, want := range map[string]string{
		"":                                       "no line BEGIN:VCALENDAR",
		"<!DOCTYPE html>":                        "no line BEGIN:VCALENDAR",
		"BEGIN:VEVENT\nEND:VEVENT\n":             `line 1: "VEVENT" begins outside of a calendar`,
		"BEGIN:VCALENDAR\nBEGIN:VEVENT\n":        "the calendar is cut off: VEVENT is not closed",
		"BEGIN:VCALENDAR\nEND:VEVENT\n":          "line 2: END:VEVENT closes nothing that is open",
		strings.Repeat("x", calendar.MaxBytes+1): "too large",
		"BEGIN:VCALENDAR\n" + strings.Repeat("BEGIN:X\n", 20):                                    "nested too deep",
		"BEGIN:VCALENDAR\n" + strings.Repeat("BEGIN:VEVENT\nEND:VEVENT\n", calendar.MaxEvents+1): "over 10000 events",
	} {
		_, _, err := calendar.Read(strings.NewReader(s), w)
		require.ErrorContains(t, err, want)
	}
}

func TestRulesThatNeverHappen(t *testing.T) {
	w := window(t, "2027-01-01", "2028-01-01")
	var lines []string
	for i := range 21 {
		lines = append(lines, "BEGIN:VEVENT", fmt.Sprint("UID:", i), "DTSTART:20270119T120000Z", "RRULE:FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30", "END:VEVENT")
	}
	_, problems, err := calendar.Read(strings.NewReader(wrap(lines[:5]...)), w)
	require.NoError(t, err)
	require.EqualError(t, &problems[0], "line 7: RRULE: the rule names days that never come")
	_, _, err = calendar.Read(strings.NewReader(wrap(lines...)), w)
	require.ErrorContains(t, err, "over 20 rules that never happen")
}

// Expanding is bounded, whatever a rule asks for.
func TestRulesThatNeverEnd(t *testing.T) {
	w := window(t, "2027-01-01", "2028-01-01")
	for _, rule := range []string{"FREQ=DAILY;BYMONTH=2;BYMONTHDAY=31", "FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30", "FREQ=WEEKLY;INTERVAL=999999999", "FREQ=DAILY;INTERVAL=0", "FREQ=DAILY;BYHOUR=" + numbers(24)} {
		_, problems, err := calendar.Read(strings.NewReader(event("DTSTART:19010101T120000Z", "RRULE:"+rule)), w)
		require.NoError(t, err)
		require.LessOrEqual(t, len(problems), 1, rule)
	}
}
