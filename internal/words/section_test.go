package words_test

import (
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/words"
)

// Whatever is in the sections, the text has every word, in order, and no line
// of a paragraph or list is wider than the page.
func TestNoteLosesNoWord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.Custom(func(t *rapid.T) string {
			return strings.Join(rapid.SliceOfN(rapid.StringMatching(`[a-zñéí,.]{1,30}`), 1, 60).Draw(t, "words"), " ")
		})
		texts := func(label string) []string { return rapid.SliceOfN(text, 0, 3).Draw(t, label) }
		var want []string
		var sections []words.Section
		for range rapid.IntRange(1, 4).Draw(t, "sections") {
			s := words.Section{Head: text.Draw(t, "head"), Lines: texts("lines"), Quote: text.Draw(t, "quote"), Items: texts("items"), Ticks: texts("ticks")}
			sections = append(sections, s)
			want = append(want, s.Head)
			want = append(append(want, s.Lines...), s.Quote)
			want = append(append(want, s.Items...), s.Ticks...)
		}
		note := words.Note(words.Reader{}, false, sections...)
		for line := range strings.Lines(note) {
			require.LessOrEqual(t, utf8.RuneCountInString(strings.TrimRight(line, "\n")), 78)
		}
		plain := strings.NewReplacer("\n  - ", " ", "\n  [ ] ", " ", "\n    > ", " ").Replace("\n" + note)
		require.Equal(t, strings.Fields(strings.Join(want, " ")), strings.Fields(plain))
	})
}

func TestTablesAreSetInColumns(t *testing.T) {
	table := words.Table{Head: []string{"", "día", "marea"}, Rows: [][]words.Cell{
		{{Words: "07:00"}, {Words: "mié"}, {Words: "no", Bar: "░░░"}},
		{{}, {Words: "cerrado: " + strings.Repeat("niebla ", 12), Span: 2}},
		{{Words: "08:00"}, {Words: "jueves"}, {Words: "buena", Bar: "███"}},
		{{Words: "una nota", Span: 3}},
	}}
	require.Equal(t, `         día     marea
  07:00  mié     ... no
         cerrado: niebla niebla niebla niebla niebla niebla niebla niebla
         niebla niebla niebla niebla
  08:00  jueves  === buena
  una nota
`, words.Note(words.Reader{}, false, words.Section{Table: &table}))
}

// A call is told in its parts, each once: the text is made of nothing else.
func TestPartsAreTold(t *testing.T) {
	teller := words.NewTeller(words.Reader{}, time.UTC, tuesday)
	c := letterCall()
	c.Demo = false
	var sections []words.Section
	full := 0
	for _, p := range words.Parts() {
		part := teller.Part(p, c, at(4, 30))
		if len(part) > 0 {
			full++
		}
		sections = append(sections, part...)
	}
	require.Equal(t, words.Note(words.Reader{}, false, sections...), teller.Text(c, at(4, 30)))
	require.Equal(t, 9, full, "the invented call has warnings, verdict, hours, reasons, fishing, spread, load, charter and cautions")
	require.Empty(t, teller.Part("none of these", c, at(4, 30)))
	require.Equal(t, "KITE, BACK BY NOON", teller.Part(words.PartVerdict, c, at(4, 30))[0].Lines[0], "a page sets this line big")
}
