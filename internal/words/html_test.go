package words_test

import (
	"encoding/xml"
	"io"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/words"
)

func letterCall() models.Call {
	c := shortCall()
	c.Demo = true
	c.Boat.Name, c.Port.Name, c.Ground.Name = "Second Light", "Port Amparo", "the Shelf edge"
	c.Warnings = models.Known([]models.Warning{{Event: "Small Craft Advisory", Onset: at(15, 0), Text: "* WHAT...Winds <20 to 25 kt> & seas\n  to 7 ft."}})
	for h := range 3 {
		c.Hours = append(c.Hours, models.HourCall{At: at(7+h, 0), Kite: models.GradeGood, Ride: models.RideOK, Do: models.DoKite, Conditions: models.Conditions{Hour: models.Hour{
			Wind: models.Known(12 * units.Knot), Gust: models.Known(17 * units.Knot), WindFrom: models.Known(units.From(180)), Sea: models.Known(3 * units.Foot), Period: models.Known(5.0)}}})
	}
	c.Hours[2].Closed = models.Say("closed.product", "Small Craft Advisory")
	c.Spread = models.Known(models.Spread{Kite: "all-round", Kites: 2, KiteLine: 391 * units.Foot, Angle: 54, Height: 332 * units.Foot,
		Positions: []models.BaitPosition{{Position: "long", Side: "left", Behind: models.Known(258 * units.Foot), Line: "16-30 lb", Lead: "3/4 oz", Bait: "goggle-eye, runner"}}})
	c.Load = []models.LoadItem{{What: "release clip", Count: 6, Stow: "tackle station, top drawer"}}
	c.Charter = models.Known(models.CharterCall{Actions: []models.CharterAction{models.CharterShorten}, Message: []models.Phrase{models.Say("guests.hello_name", "<b>Bobby</b> & co"), models.Say("guests.bye")}})
	c.Cautions = []models.Phrase{models.Say("caution.official"), models.Say("caution.captain")}
	return c
}

func TestLetterPutsTheLeadBehindTheVerdictAndLosesNothing(t *testing.T) {
	teller := words.NewTeller(words.Reader{}, time.UTC, tuesday)
	lead := words.Section{Head: "What changed since last night", Items: []string{"ride was ok, is now rough"}}
	text, letter := teller.Text(letterCall(), at(4, 30)), teller.Letter(letterCall(), at(4, 30), lead)
	require.Equal(t, text, teller.Letter(letterCall(), at(4, 30)))
	require.Equal(t, text, strings.Replace(letter, "\nWhat changed since last night\n  - ride was ok, is now rough\n", "", 1))
	order := []string{words.DemoNotice(), "SMALL CRAFT ADVISORY", "* WHAT...", "KITE, BACK BY NOON", "What changed since last night", "The hours"}
	for i := 1; i < len(order); i++ {
		require.Less(t, strings.Index(letter, order[i-1]), strings.Index(letter, order[i]), order[i])
	}
}

// Every word of the text stands in the HTML.
func TestHTMLHoldsTheWholeText(t *testing.T) {
	teller := words.NewTeller(words.Reader{}, time.UTC, tuesday)
	shown := textOf(t, teller.HTML(letterCall(), at(4, 30)))
	for _, want := range []string{
		"Official warnings (they rule)", "SMALL CRAFT ADVISORY, 15:00 to further notice", "* WHAT...Winds <20 to 25 kt> & seas\n  to 7 ft.",
		"KITE, BACK BY NOON", "The hours (longer bar is better)", "S 12-17 kn", "3 ft 5 s", "closed: Small Craft Advisory",
		"Why", "258 ft", "☐ 6 x release clip (tackle station, top drawer)", "Hello <b>Bobby</b> & co, We look again in the morning, and the captain has the last word at the dock.",
		"official warnings rule: listen to the weather radio before you go and under way", "the decision is the licensed captain's",
	} {
		require.Contains(t, shown, want)
	}
	require.Equal(t, 2, strings.Count(shown, words.DemoNotice()))
	require.NotContains(t, shown, "=== good", "the bars of the text are none of a page")
	for _, p := range words.Parts() {
		for _, s := range teller.Part(p, letterCall(), at(4, 30)) {
			for _, want := range told(s) {
				require.Contains(t, shown, want, p)
			}
		}
	}
}

// textOf reads a page as XML, which fails on whatever is not closed or
// escaped, and returns its text. Void elements are told to the reader.
func textOf(t require.TestingT, page string) string {
	d := xml.NewDecoder(strings.NewReader(page))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var b strings.Builder
	depth := 0
	for {
		tok, err := d.Token()
		if err == io.EOF {
			require.Zero(t, depth)
			return b.String()
		}
		require.NoError(t, err)
		switch tok := tok.(type) {
		case xml.StartElement:
			depth++
			require.NotContains(t, []string{"script", "img", "link", "style", "iframe"}, tok.Name.Local)
			for _, a := range tok.Attr {
				require.False(t, strings.HasPrefix(a.Name.Local, "on"), a.Name.Local)
				require.False(t, a.Name.Local == "src", "nothing is fetched")
			}
		case xml.EndElement:
			depth--
			b.WriteByte('\n')
		case xml.CharData:
			b.Write(tok)
		}
	}
}

func TestForeignTextIsEscaped(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nasty := rapid.SampledFrom([]string{"<script>alert(1)</script>", `"><img src=x onerror=alert(1)>`, "</div></body>", "&lt;b&gt;", "{{.Title}}"})
		s := words.Section{Head: nasty.Draw(t, "head"), Lines: []string{nasty.Draw(t, "line")}, Items: []string{nasty.Draw(t, "item")},
			Quote: nasty.Draw(t, "quote"), Verbatim: nasty.Draw(t, "verbatim"), Links: []words.Link{{Words: nasty.Draw(t, "words"), URL: nasty.Draw(t, "url")}}}
		shown := textOf(t, words.NoteHTML(words.Reader{}, nasty.Draw(t, "title"), true, s))
		for _, want := range []string{s.Head, s.Lines[0], s.Items[0], s.Quote, s.Verbatim} {
			require.Contains(t, shown, want)
		}
	})
	require.NotContains(t, words.NoteHTML(words.Reader{}, "x", false, words.Section{Links: []words.Link{{Words: "go", URL: "javascript:alert(1)"}}}), "javascript:")
}

func TestNote(t *testing.T) {
	require.Equal(t, words.DemoNotice()+"\n\nFloat plan\n  one line\n  - an item\n  approve:\n    https://example.com/x\n",
		words.Note(words.Reader{}, true, words.Section{Head: "Float plan", Lines: []string{"one line"}, Items: []string{"an item"}, Links: []words.Link{{Words: "approve", URL: "https://example.com/x"}}}))
}

// told is every piece of a section.
func told(s words.Section) []string {
	list := append([]string{s.Head, s.Verbatim, s.Quote}, slices.Concat(s.Lines, s.Items, s.Ticks)...)
	if s.Table != nil {
		list = append(list, s.Table.Head...)
		for _, row := range s.Table.Rows {
			for _, c := range row {
				list = append(list, c.Words)
			}
		}
	}
	return list
}
