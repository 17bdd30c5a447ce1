package words

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// width is how wide the text is set: it must read on a phone held sideways
// and on paper.
const width = 78

// page sets sections as lines of text.
type page struct{ strings.Builder }

func (p *page) line(format string, args ...any) {
	fmt.Fprintln(p, strings.TrimRight(fmt.Sprintf(format, args...), " "))
}

func (p *page) gap() {
	if p.Len() > 0 && !strings.HasSuffix(p.String(), "\n\n") {
		fmt.Fprintln(p)
	}
}

func (p *page) sections(list ...Section) {
	for _, s := range list {
		p.section(s)
	}
}

func (p *page) section(s Section) {
	p.gap()
	if s.Head != "" {
		p.text("", s.Head)
	}
	for _, l := range s.Lines {
		p.text("  ", l)
	}
	if s.Table != nil {
		p.table(*s.Table)
	}
	p.verbatim("    | ", s.Verbatim)
	p.verbatim("    > ", s.Quote)
	for _, i := range s.Items {
		p.item("- ", i)
	}
	for _, i := range s.Ticks {
		p.item("[ ] ", i)
	}
	for _, l := range s.Links {
		p.text("  ", l.Words+":")
		p.line("    %s", l.URL)
	}
}

// text sets a paragraph to the page's width behind a margin.
func (p *page) text(margin, s string) {
	for l := range strings.Lines(wrap(s, width-len(margin))) {
		p.line("%s%s", margin, strings.TrimRight(l, "\n"))
	}
}

// item sets an entry of a list; its further lines stand under its first word.
func (p *page) item(mark, s string) {
	margin := "  " + mark
	for _, l := range strings.Split(wrap(s, width-len(margin)), "\n") {
		p.line("%s%s", margin, l)
		margin = strings.Repeat(" ", len(margin))
	}
}

// verbatim prints foreign text line by line behind a mark. Lines too long for
// the page go on behind the same mark; control characters are taken out.
func (p *page) verbatim(mark, s string) {
	for l := range strings.Lines(strings.TrimRight(s, "\n \t")) {
		l = printable(strings.TrimRight(l, "\r\n \t"))
		if utf8.RuneCountInString(l) > width-len(mark) {
			l = wrap(l, width-len(mark))
		}
		for _, piece := range strings.Split(l, "\n") {
			p.line("%s%s", mark, piece)
		}
	}
}

// table sets columns as wide as their widest cell. A cell over several
// columns is set as a paragraph that begins at its first.
func (p *page) table(t Table) {
	const gap = 2
	columns := make([]int, len(t.Head))
	rows := append([][]Cell{cells(t.Head...)}, t.Rows...)
	for _, row := range rows {
		for i, c := range row {
			if c.Span == 0 && i < len(columns) {
				columns[i] = max(columns[i], utf8.RuneCountInString(c.plain()))
			}
		}
	}
	for _, row := range rows {
		line := "  "
		for i, c := range row {
			if c.Span > 0 {
				margin := strings.Repeat(" ", utf8.RuneCountInString(line))
				paragraph := wrap(c.plain(), width-len(margin))
				line += strings.ReplaceAll(paragraph, "\n", "\n"+margin)
				break
			}
			line += pad(c.plain(), columns[i]+gap)
		}
		if strings.TrimSpace(line) != "" {
			p.line("%s", line)
		}
	}
}

// plain is the cell in plain characters.
func (c Cell) plain() string {
	if c.Bar == "" {
		return c.Words
	}
	return strings.NewReplacer(fullBlock, "=", emptyBlock, ".").Replace(c.Bar) + " " + c.Words
}

func pad(s string, n int) string {
	return s + strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s)))
}

func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' && r != '\t' || r == 0x7f || r >= 0x80 && r < 0xa0 {
			return -1
		}
		return r
	}, s)
}

// wrap breaks text at blanks.
func wrap(s string, width int) string {
	var out strings.Builder
	column := 0
	for i, word := range strings.Fields(s) {
		n := utf8.RuneCountInString(word)
		switch {
		case i == 0:
		case column+1+n > width:
			out.WriteByte('\n')
			column = 0
		default:
			out.WriteByte(' ')
			column++
		}
		out.WriteString(word)
		column += n
	}
	return out.String()
}

// capital begins a sentence.
func capital(s string) string {
	_, n := utf8.DecodeRuneInString(s)
	return strings.ToUpper(s[:n]) + s[n:]
}
