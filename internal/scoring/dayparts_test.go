package scoring_test

import (
	"encoding/json"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/scoring"
	"forecastd/internal/words"
)

var clockTime = regexp.MustCompile(`\b\d\d:\d\d\b`)

// clocksOf are the clock times that stand in some texts.
func clocksOf(texts ...string) []string {
	return clockTime.FindAllString(strings.Join(texts, "\n"), -1)
}

// Beyond day 3 no clock time is told but those that are booked and those of
// official products (design.md 5).
func TestFarDaysAreToldInPartsOfTheDay(t *testing.T) {
	t.Parallel()
	days := map[bool]int{}
	t.Cleanup(func() { require.NotZero(t, days[true], "no day on which the boat goes was drawn") })
	rule(t, "no clock time is called beyond day 3", func(t *rapid.T) {
		o := anOutlook(t)
		o.Made = o.Trip.Start.On(o.Date, o.Port.Zone).Add(-time.Duration(rapid.IntRange(73, 240).Draw(t, "lead")) * time.Hour)
		o.Members = []models.Member{o.Middle}
		c := scoring.Judge(o, models.DefaultLimits(), scoring.With{})
		booked := []string{o.Trip.Start.String(), o.Trip.End.String()}
		list, _ := o.Warnings.Get()
		for _, w := range list {
			booked = append(booked, w.Onset.In(o.Port.Zone).Format("15:04"), w.Ends.Or(w.Onset).In(o.Port.Zone).Format("15:04"))
		}
		ahead := scoring.Days([]models.Outlook{o}, models.DefaultLimits(), nil)[0]
		require.True(t, ahead.BeyondHours)
		ch, _ := c.Charter.Get()
		for _, l := range words.Languages() {
			teller := words.NewTeller(words.Reader{Language: l}, o.Port.Zone, o.Date)
			say := func(list []models.Phrase) string {
				var all []string
				for _, p := range list {
					all = append(all, teller.Say(p))
				}
				return strings.Join(all, "\n")
			}
			a := teller.Ahead(ahead, true)
			texts := []string{
				teller.Verdict(c), say(c.Reasons), say(c.WouldChange), say(c.Changed), teller.Message(ch), teller.Say(ch.Subject), teller.Short(c),
				a.Say, strings.Join(a.Met, "\n"), strings.Join(a.Notes, "\n"), teller.TripsVerdict([]words.Trip{{Call: c}}),
			}
			for _, p := range []words.Part{words.PartVerdict, words.PartStops} {
				for _, s := range teller.Part(p, c, o.Made) {
					texts = append(texts, append(slices.Clone(s.Lines), s.Items...)...)
				}
			}
			require.NotContains(t, strings.Join(texts, "\n"), "{")
			for _, clock := range clocksOf(texts...) {
				require.Contains(t, booked, clock, "%s: %s", l, strings.Join(texts, "\n"))
			}
		}
		var file struct {
			Leave     *string        `json:"leave"`
			Back      *string        `json:"back"`
			LeavePart models.DayPart `json:"leave_part"`
			BackPart  models.DayPart `json:"back_part"`
		}
		b, err := words.NewTeller(words.Reader{}, o.Port.Zone, o.Date).JSON(c, o.Made, false)
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal(b, &file))
		going := c.Tactic != models.TacticStayIn
		days[going]++
		require.Equal(t, going, file.LeavePart != "" && file.BackPart != "")
		for i, at := range []*string{file.Leave, file.Back} {
			if at != nil {
				require.Equal(t, booked[i], *at)
			}
		}
		if slices.Equal(c.Timing, []models.Timing{models.AsBooked}) {
			require.NotNil(t, file.Leave)
			require.NotNil(t, file.Back)
		}
	})
}

// The plan does not hang on how it is told: a day made out to be nearer or
// farther by a minute about the reach of clock times has the same plan.
func TestPartsOfTheDayChangeOnlyWhatIsTold(t *testing.T) {
	t.Parallel()
	rule(t, "only the telling changes", func(t *rapid.T) {
		o := anOutlook(t)
		o.Members = []models.Member{o.Middle}
		start := o.Trip.Start.On(o.Date, o.Port.Zone)
		o.Made = start.Add(-72 * time.Hour)
		near := quick(o)
		o.Made = start.Add(-72*time.Hour - time.Minute)
		far := quick(o)
		require.False(t, near.BeyondHours())
		require.True(t, far.BeyondHours())
		require.Equal(t, near.Leave, far.Leave)
		require.Equal(t, near.Back, far.Back)
		require.Equal(t, near.Tactic, far.Tactic)
		require.Equal(t, near.Hours, far.Hours)
		leave, back, ok := near.Times()
		require.Equal(t, near.Leave.Known(), ok)
		if ok {
			require.Equal(t, near.Leave.Or(time.Time{}), leave)
			require.Equal(t, near.Back.Or(time.Time{}), back)
		}
	})
}
