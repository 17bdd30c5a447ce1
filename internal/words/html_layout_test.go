package words

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// What a page sets, reading its layout gives back: heads, paragraphs, items,
// quotes and columns, put together again where they were wrapped.
func TestReadLayoutUndoesThePage(t *testing.T) {
	long := "each of these words is part of one paragraph that is far too long for a single line of the page, and so is wrapped by it"
	var p page
	p.head("A head, " + long)
	p.text("  ", long)
	p.text("  ", "short")
	p.list("Items", []string{long, "short", long})
	p.line("  [ ] %s", "box")
	p.head("Columns")
	p.line("  %-9s%s", "lane", "b  c")
	p.line("  %-9s%s", "", "d")
	p.head("Quotes")
	p.verbatim("    | ", "line one\n  line two\n\n"+long)
	p.line("  then")
	p.verbatim("    > ", long)
	blocks := readLayout(p.String())
	require.Equal(t, []htmlBlock{
		{Head: "A head, " + long}, {Text: long}, {Text: "short"},
		{Head: "Items"}, {Items: []string{long, "short", long, "☐ box"}},
		{Head: "Columns"}, {Columns: "  lane     b  c\n           d"},
		{Head: "Quotes"}, {Quote: "line one\n  line two\n\n" + wrap(long, width-6)}, {Text: "then"}, {Quote: long},
	}, blocks)
}

func TestReadLayoutLosesNoWord(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var p page
		words := rapid.SliceOfN(rapid.StringMatching(`[a-z,.]{1,30}`), 1, 60)
		var want []string
		for range rapid.IntRange(1, 6).Draw(t, "blocks") {
			w := words.Draw(t, "words")
			want = append(want, w...)
			switch text := strings.Join(w, " "); rapid.IntRange(0, 3).Draw(t, "kind") {
			case 0:
				p.head(text)
			case 1:
				p.text("  ", text)
			case 2:
				p.list("head", []string{text})
				want = append(want[:len(want)-len(w)], append([]string{"head"}, w...)...)
			case 3:
				p.verbatim("    > ", text)
			}
		}
		var got []string
		for _, b := range readLayout(p.String()) {
			got = append(got, strings.Fields(b.Head+" "+b.Text+" "+b.Quote+" "+b.Columns+" "+strings.Join(b.Items, " "))...)
		}
		require.Equal(t, want, got)
	})
}
