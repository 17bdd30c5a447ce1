package app_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/models"
)

// fileOf writes a file of bookings beside a test.
func fileOf(t testing.TB, name, text string) models.Opt[string] {
	t.Helper()
	file := filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
	return models.Known(file)
}

func anEvent(lines ...string) string {
	return "BEGIN:VEVENT\r\n" + strings.Join(lines, "\r\n") + "\r\nEND:VEVENT\r\n"
}

func aCalendar(events ...string) string {
	return "BEGIN:VCALENDAR\r\nVERSION:2.0\r\n" + strings.Join(events, "") + "END:VCALENDAR\r\n"
}

func freeDays(t testing.TB, a *app.App) map[string]models.Opt[bool] {
	t.Helper()
	days, _, err := a.Days(t.Context(), "", "")
	require.NoError(t, err)
	require.NotEmpty(t, days)
	out := map[string]models.Opt[bool]{}
	for _, d := range days {
		out[d.Date.String()] = d.Free
	}
	return out
}

// What can't be read keeps its day, is told by call and check with its line,
// and the day is not offered to others; of unknown day, no day is known free.
func TestABookingThatCannotBeReadKeepsItsDay(t *testing.T) {
	a, _ := keeping(t, evening, func(cfg *config.Config, _ *app.Options) {
		cfg.Charters.Calendar = fileOf(t, "c.ics", aCalendar(
			anEvent("UID:1@example.com", "SUMMARY:Charter Okafor", "DTSTART;TZID=Nowhere/Atlantis:20270122T070000"),
			anEvent("UID:2@example.com", "SUMMARY:Dentist", "DTSTART:20270123T150000Z", "DTEND:20270123T160000Z", "CLASS:PRIVATE")))
	})
	free := freeDays(t, a)
	require.Equal(t, models.Known(false), free["2027-01-22"])
	require.Equal(t, models.Known(false), free["2027-01-23"])
	require.Equal(t, models.Known(true), free["2027-01-21"])
	_, problems, err := a.Charters(t.Context(), "")
	require.NoError(t, err)
	const told = `line 6: DTSTART: the zone "Nowhere/Atlantis" is neither known nor described by a VTIMEZONE before it; the event is left out`
	require.Equal(t, []string{"bookings_calendar: " + told}, problems)
	c, err := a.CallFor(t.Context(), app.CallRequest{})
	require.NoError(t, err)
	require.Contains(t, gapsOf(c), "bookings: bookings_calendar: 1 of its lines do not fit: `forecastd charter list` tells which")
	found := print(a.CheckBookings(t.Context(), false))
	require.Contains(t, found, told)
	moved, err := a.AddCharter(t.Context(), app.CharterRequest{Name: "the Larsens", Date: day(t, "2027-01-22")})
	require.NoError(t, err)
	require.Contains(t, strings.Join(moved, "\n"), "mind that 2027-01-22 may be taken")

	lost, _ := keeping(t, evening, func(cfg *config.Config, _ *app.Options) {
		cfg.Charters.CSV = fileOf(t, "c.csv", "date,name\nsoon,Okafor\n")
	})
	for d, f := range freeDays(t, lost) {
		if d != "2027-01-19" && d != "2027-01-20" { // those are booked
			require.False(t, f.Or(false), "%s: any day may be Okafor's", d)
		}
	}
	gone, _ := keeping(t, evening, func(cfg *config.Config, _ *app.Options) {
		cfg.Charters.CSV = models.Known(filepath.Join(t.TempDir(), "none.csv"))
	})
	require.False(t, freeDays(t, gone)["2027-01-21"].Known(), "a file that can't be read leaves no day known to be free")
	require.Contains(t, print(gone.CheckBookings(t.Context(), false)), "bookings_csv")
}

// A private event has an address in it, and nobody there is written to.
func TestNobodyIsWrittenToForAPrivateEvent(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(time.Date(2027, 1, 18, 16, 0, 0, 0, time.UTC))
		cfg := daemonConfig(t, "")
		cfg.Charters.Calendar = fileOf(t, "c.ics", aCalendar(
			anEvent("UID:1@example.com", "SUMMARY:Charter for my wife's birthday", "CONTACT:wife@example.com", "DTSTART:20270119T120000Z", "DTEND:20270119T200000Z", "CLASS:PRIVATE"),
			anEvent("UID:2@example.com", "SUMMARY:Dentist", "CONTACT:dentist@example.com", "DTSTART:20270119T120000Z", "DTEND:20270119T130000Z"),
			anEvent("UID:3@example.com", "SUMMARY:the Okafors", "CATEGORIES:Charter", "CONTACT:okafor@example.com", "DTSTART:20270120T120000Z", "DTEND:20270120T200000Z")))
		bag := &mailbag{now: now}
		d := start(t, serveOptions(t, cfg, now, invented{now: now}, bag))
		pass(34 * time.Hour)
		halt(t, d)
		require.NotEmpty(t, bag.of(models.NoticeCall))
		drafts := bag.of(models.NoticeDraft)
		require.NotEmpty(t, drafts)
		for _, m := range bag.all() {
			require.NotRegexp(t, "(?i)birthday|dentist|wife", m.Subject+m.Text+m.HTML+m.Short)
		}
		require.Contains(t, drafts[0].Text, "Okafors")
	})
}

// A file with a hundred bookings for one day costs no more than a day of as
// many trips as it may hold, and says so.
func TestAHundredBookingsADayAreAFault(t *testing.T) {
	var text strings.Builder
	text.WriteString("date,name,start,end\n")
	for i := range 111 {
		fmt.Fprintf(&text, "2027-01-19,guest %d,%02d:%02d,%02d:%02d\n", i, 5+i/12, 5*(i%12), 6+i/12, 5*(i%12))
	}
	a, _ := keeping(t, evening, func(cfg *config.Config, _ *app.Options) {
		cfg.Charters.Bookings = nil
		cfg.Charters.CSV = fileOf(t, "c.csv", text.String())
	})
	list, _, err := a.CallsByHand(t.Context(), app.CallRequest{Date: day(t, "2027-01-19")})
	require.NoError(t, err)
	require.Len(t, list, 4)
	_, problems, err := a.Charters(t.Context(), "")
	require.NoError(t, err)
	require.Contains(t, strings.Join(problems, "\n"), "bookings_csv: line 6: over 4 bookings on 2027-01-19 (charters.most_a_day)")
	// Places together hold no more than one.
	b, _ := keeping(t, evening, func(cfg *config.Config, _ *app.Options) {
		cfg.Charters.CSV = fileOf(t, "c.csv", text.String())
		cfg.Charters.Calendar = fileOf(t, "c.ics", aCalendar(anEvent("UID:3@example.com", "SUMMARY:Charter", "DTSTART:20270119T120000Z", "DTEND:20270119T200000Z")))
	})
	_, problems, err = b.Charters(t.Context(), "")
	require.NoError(t, err)
	require.Contains(t, strings.Join(problems, "\n"), "2027-01-19: over 4 trips are booked (charters.most_a_day)")
}
