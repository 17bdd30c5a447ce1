package words_test

import (
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/words"
)

var tuesday = models.Date{Year: 2027, Month: 1, Day: 19}

func at(h, m int) time.Time { return time.Date(2027, 1, 19, h, m, 0, 0, time.UTC) }

func shortCall() models.Call {
	return models.Call{
		Date: tuesday, Tactic: models.TacticKite, Timing: []models.Timing{models.BackEarly}, Leave: models.Known(at(7, 0)), Back: models.Known(at(12, 0)),
		Confidence: models.Likely, Agreement: 0.8, Members: 31,
		Warnings: models.Known([]models.Warning{{Event: "Small Craft Advisory", Onset: at(15, 0), Ends: models.Known(at(23, 0))}}),
		Reasons:  []models.Phrase{models.Say("reason.back_before", at(12, 0), at(15, 0), models.Say("closed.product", "Small Craft Advisory"))},
	}
}

func TestShort(t *testing.T) {
	teller := words.NewTeller(words.Reader{}, time.UTC, tuesday)
	require.Equal(t, "SMALL CRAFT ADVISORY 15:00 to 23:00. Tue 19 Jan: KITE, BACK BY NOON. Leave 07:00, back 12:00. Likely. "+
		"Back inside by 12:00, since from 15:00: Small Craft Advisory. Official warnings rule.", teller.Short(shortCall()))

	c := shortCall()
	c.Warnings, c.Demo = models.Unknown[[]models.Warning](), true
	require.True(t, strings.HasPrefix(teller.Short(c), "WARNINGS UNKNOWN: listen to the radio. DEMO, invented: Tue 19 Jan: KITE, BACK BY NOON."), teller.Short(c))
	c.Warnings = models.Known([]models.Warning{})
	c.Demo, c.CaptainDecides = false, true
	require.True(t, strings.HasPrefix(teller.Short(c), "Tue 19 Jan: KITE, BACK BY NOON (CAPTAIN DECIDES)."), teller.Short(c))
}

// Whatever the call, the short form is at most 300 plain characters and holds
// the verdict whole and each warning that it begins to name.
func TestShortNeverCutsWarningsOrVerdict(t *testing.T) {
	teller := words.NewTeller(words.Reader{}, time.UTC, tuesday)
	rapid.Check(t, func(t *rapid.T) {
		c := shortCall()
		c.Demo = rapid.Bool().Draw(t, "demo")
		c.CaptainDecides = rapid.Bool().Draw(t, "captain decides")
		c.Tactic = rapid.SampledFrom([]models.Tactic{models.TacticKite, models.TacticSightKite, models.TacticStayIn}).Draw(t, "tactic")
		c.Timing = rapid.SampledFrom([][]models.Timing{{models.AsBooked}, {models.StartEarlier, models.BackEarly}, {models.StartLater, models.BackEarly}}).Draw(t, "timing")
		var list []models.Warning
		for _, event := range rapid.SliceOfN(rapid.OneOf(rapid.SampledFrom([]string{"Gale Warning", "Hazardous Seas Watch", "Hurricane Force Wind Warning"}), rapid.StringN(1, 400, -1)), 0, 12).Draw(t, "events") {
			list = append(list, models.Warning{Event: event, Onset: at(1, 0)})
		}
		c.Warnings = models.Known(list)
		c.Reasons = nil
		for _, r := range rapid.SliceOf(rapid.String()).Draw(t, "reasons") {
			c.Reasons = append(c.Reasons, models.Say("closed.product", r))
		}
		s := teller.Short(c)
		require.LessOrEqual(t, utf8.RuneCountInString(s), words.ShortLimit)
		require.Equal(t, words.Plain(s), s)
		verdict := strings.ToUpper(words.Plain(teller.Verdict(c)))
		require.Contains(t, s, verdict)
		if len(list) == 0 {
			return
		}
		require.Contains(t, s, "Tue 19 Jan: "+verdict)
		named, _, _ := strings.Cut(s, "Tue 19 Jan: ")
		told := 0
		for _, w := range list {
			if strings.Contains(named, strings.ToUpper(words.Plain(w.Event))) {
				told++
			}
		}
		require.True(t, told == len(list) || strings.Contains(named, "OFFICIAL WARNINGS"), "a warning is neither named nor counted: %s", s)
	})
}

func TestPlain(t *testing.T) {
	require.Equal(t, `Nunez: 30 deg, "wind" - 4 1/2 ft (x) a'b / ?`, words.Plain("Núñez:\n30°, “wind” – 4½ ft [x] a`b \\ 漢"))
	// The characters of the basic table of GSM 03.38 (3GPP TS 23.038 6.2.1,
	// from memory) that we use; each takes one septet.
	basic := " !\"#$%&'()*+,-./0123456789:;<=>?@ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"
	rapid.Check(t, func(t *rapid.T) {
		for _, r := range words.Plain(rapid.String().Draw(t, "text")) {
			require.Contains(t, basic, string(r))
		}
	})
}

func TestShortenLeavesOutWholeSentences(t *testing.T) {
	s := words.Shorten([]string{strings.Repeat("a", 290)}, "fits not at all", "b.")
	require.Equal(t, strings.Repeat("a", 290), s, "what comes after a gap would mislead")
	require.Equal(t, "must. one. two.", words.Shorten([]string{"", "must."}, "one.", "two."))
	require.Len(t, words.Shorten([]string{strings.Repeat("a ", 290)}), 300)
}
