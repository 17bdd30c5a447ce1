package words

import (
	"fmt"
	"html/template"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Section is a headed part of a message that is not part of a call.
type Section struct {
	Head string
	// Lines are paragraphs; Items stand in a list below them.
	Lines, Items []string
	// Quote is somebody's words, set apart; Verbatim the words of an
	// official product, line by line.
	Quote, Verbatim string
	Links           []Link
}

// Link is an address with the words for it.
type Link struct{ Words, URL string }

// Letter tells a call as Text does, for a message: sections of the sender
// stand after the official warnings and the verdict, before all else.
func (t Teller) Letter(c models.Call, now time.Time, lead ...Section) string {
	var p page
	t.opening(&p, c)
	for _, s := range lead {
		p.section(s)
	}
	return p.String() + t.afterOpening(c, now)
}

// afterOpening is what Text tells after warnings and verdict.
func (t Teller) afterOpening(c models.Call, now time.Time) string {
	var p page
	t.opening(&p, c)
	return strings.TrimPrefix(t.Text(c, now), p.String())
}

// opening is what stands first in every form of a call.
func (t Teller) opening(p *page, c models.Call) {
	if c.Demo {
		p.line(DemoNotice)
		p.gap()
	}
	t.warnings(p, c)
	t.verdict(p, c)
}

// Note tells sections without a call.
func Note(demo bool, sections ...Section) string {
	var p page
	if demo {
		p.line(DemoNotice)
	}
	for _, s := range sections {
		p.section(s)
	}
	return p.String()
}

func (p *page) section(s Section) {
	if s.Head != "" {
		p.head(s.Head)
	} else if p.Len() > 0 {
		p.gap()
	}
	for _, l := range s.Lines {
		p.text("  ", l)
	}
	p.verbatim("    | ", s.Verbatim)
	p.verbatim("    > ", s.Quote)
	for _, i := range s.Items {
		lines := strings.Split(wrap(i, width-4), "\n")
		p.line("  - %s", lines[0])
		for _, l := range lines[1:] {
			p.line("    %s", l)
		}
	}
	for _, l := range s.Links {
		p.text("  ", l.Words+":")
		p.line("    %s", l.URL)
	}
}

// HTML is Letter as a page for e-mail: it needs no image, no script and no
// colour, fits a phone, and everything foreign in it is escaped.
func (t Teller) HTML(c models.Call, now time.Time, lead ...Section) string {
	doc := htmlPage{Language: languageOf(t.reader), Title: t.Verdict(c), Demo: demoNotice(c.Demo)}
	blocks := func(draw func(*page)) {
		var p page
		draw(&p)
		doc.Blocks = append(doc.Blocks, readLayout(p.String())...)
	}
	blocks(func(p *page) { t.warnings(p, c) })
	start := len(doc.Blocks)
	blocks(func(p *page) { t.verdict(p, c) })
	for i := start; i < len(doc.Blocks); i++ {
		if doc.Blocks[i].Text != "" {
			doc.Blocks[i].Big = true // the verdict itself
			break
		}
	}
	for _, s := range lead {
		doc.Blocks = append(doc.Blocks, s.blocks()...)
	}
	// The rest as Text has it, with real tables for those that it sets in
	// columns.
	rest := t.afterOpening(c, now)
	if c.Demo {
		rest = strings.TrimSuffix(rest, DemoNotice+"\n")
	}
	for _, table := range []htmlTable{t.hoursTable(c), t.spreadTable(c)} {
		if table.plain == "" {
			continue
		}
		before, after, found := strings.Cut(rest, table.plain)
		if !found {
			continue
		}
		doc.Blocks = append(doc.Blocks, readLayout(before)...)
		doc.Blocks = append(doc.Blocks, table.block())
		rest = after
	}
	doc.Blocks = append(doc.Blocks, readLayout(rest)...)
	return doc.String()
}

// languageOf tells browsers and screen readers what is read.
func languageOf(r Reader) Language {
	if r.Language == "" {
		return English
	}
	return r.Language
}

// NoteHTML is Note as a page for e-mail to a reader.
func NoteHTML(r Reader, title string, demo bool, sections ...Section) string {
	doc := htmlPage{Language: languageOf(r), Title: title, Demo: demoNotice(demo)}
	for _, s := range sections {
		doc.Blocks = append(doc.Blocks, s.blocks()...)
	}
	return doc.String()
}

func demoNotice(demo bool) string {
	if demo {
		return DemoNotice
	}
	return ""
}

func (s Section) blocks() []htmlBlock {
	out := []htmlBlock{}
	if s.Head != "" {
		out = append(out, htmlBlock{Head: s.Head})
	}
	for _, l := range s.Lines {
		out = append(out, htmlBlock{Text: l})
	}
	if s.Verbatim != "" {
		out = append(out, htmlBlock{Quote: printableLines(s.Verbatim)})
	}
	if s.Quote != "" {
		out = append(out, htmlBlock{Quote: printableLines(s.Quote)})
	}
	if len(s.Items) > 0 {
		out = append(out, htmlBlock{Items: s.Items})
	}
	for _, l := range s.Links {
		out = append(out, htmlBlock{Link: l})
	}
	return out
}

func printableLines(s string) string {
	var out []string
	for _, l := range strings.Split(strings.TrimSpace(s), "\n") {
		out = append(out, printable(strings.TrimRight(l, "\r \t")))
	}
	return strings.Join(out, "\n")
}

// htmlBlock is one thing on the page; exactly one of the fields is filled.
type htmlBlock struct {
	Head, Text, Quote string
	// Columns is text set in columns, line by line.
	Columns string
	Big     bool
	Items   []string
	Link    Link
	Table   *htmlTable
}

type htmlTable struct {
	plain string // the same as Text sets it, without the head
	Head  []string
	Rows  [][]htmlCell
}

type htmlCell struct {
	Words, Bar string
	Span       int
}

func (h htmlTable) block() htmlBlock { return htmlBlock{Table: &h} }

// hoursTable is the day as lanes that run down the page.
func (t Teller) hoursTable(c models.Call) htmlTable {
	var p page
	t.hours(&p, c)
	_, plain, _ := strings.Cut(p.String(), "\n")
	table := htmlTable{plain: plain, Head: []string{"", "do", "kite", "sight", "ride", "wind, sea"}}
	told := ""
	for _, h := range c.Hours {
		table.Rows = append(table.Rows, []htmlCell{
			{Words: h.At.In(t.zone).Format("15:04")}, {Words: string(h.Do)},
			{Words: h.Kite.String(), Bar: bar(int(h.Kite))}, {Words: h.Sight.String(), Bar: bar(int(h.Sight))},
			{Words: h.Ride.String(), Bar: bar(int(models.RideNo - h.Ride))},
			{Words: t.windOf(h.Conditions) + ", " + t.seaOf(h.Conditions)},
		})
		closed := t.Say(h.Closed)
		if closed != "" && closed != told {
			table.Rows = append(table.Rows, []htmlCell{{Words: ""}, {Words: "closed: " + closed, Span: len(table.Head) - 1}})
		}
		told = closed
	}
	return table
}

func bar(level int) string { return strings.Repeat("█", min(max(level, 0), 3)) }

// spreadTable is the spread card.
func (t Teller) spreadTable(c models.Call) htmlTable {
	s, ok := c.Spread.Get()
	if !ok {
		return htmlTable{}
	}
	var p page
	t.spread(&p, c)
	// The head may take two lines: the table begins with its own.
	_, plain, found := strings.Cut(p.String(), "\n  position ")
	if !found {
		return htmlTable{}
	}
	plain = "  position " + plain
	table := htmlTable{plain: plain, Head: []string{"position", "behind", "clip up", "line out", "line", "lead", "bait"}}
	for _, b := range s.Positions {
		table.Rows = append(table.Rows, []htmlCell{
			{Words: strings.TrimSpace(b.Side + " " + b.Position)}, {Words: t.optLength(b.Behind)}, {Words: t.optLength(b.ClipHeight)},
			{Words: t.optLength(b.LineOut)}, {Words: b.Line}, {Words: b.Lead}, {Words: b.Bait},
		})
	}
	for _, n := range t.sayAll(s.Notes) {
		table.Rows = append(table.Rows, []htmlCell{{Words: n, Span: len(table.Head)}})
	}
	return table
}

// readLayout turns the plain text of a page back into blocks: heads stand at
// the margin, items behind a dash or a box, quotes behind a bar or an arrow,
// and columns have wide gaps.
// A line goes on with the one before it where its first word had no room
// there.
func readLayout(text string) []htmlBlock {
	var out []htmlBlock
	var last *string
	lastLine, lastMargin := "", 0
	add := func(b htmlBlock) *htmlBlock {
		out = append(out, b)
		return &out[len(out)-1]
	}
	goesOn := func(words string, margin int) bool {
		first, _, _ := strings.Cut(words, " ")
		return last != nil && margin == lastMargin && len([]rune(lastLine))+1+len([]rune(first)) > width
	}
	for _, l := range strings.Split(text, "\n") {
		words := strings.TrimLeft(l, " ")
		margin := len(l) - len(words)
		item, isItem := strings.CutPrefix(words, "- ")
		box, isBox := strings.CutPrefix(words, "[ ] ")
		switch {
		case words == "":
			last = nil
		case margin == 4 && (words[0] == '|' || words[0] == '>'):
			quote := strings.TrimPrefix(words[1:], " ")
			if n := len(out); n > 0 && out[n-1].Quote != "" && last == nil {
				joint := "\n"
				if first, _, _ := strings.Cut(quote, " "); words[0] == '>' && len([]rune(lastLine))+1+len([]rune(first)) > width {
					joint = " "
				}
				out[n-1].Quote += joint + quote
			} else {
				add(htmlBlock{Quote: quote})
			}
			last = nil
		case margin == 2 && (isItem || isBox):
			if isBox {
				item = "☐ " + box
			}
			n := len(out)
			if n == 0 || out[n-1].Items == nil {
				add(htmlBlock{Items: []string{}})
				n = len(out)
			}
			out[n-1].Items = append(out[n-1].Items, item)
			last, lastMargin = &out[n-1].Items[len(out[n-1].Items)-1], len(l)-len(words[strings.Index(words, " ")+1:])
			if isBox {
				lastMargin = margin + len("[ ] ")
			}
		case margin > 6, margin > 0 && strings.Contains(words, "  "):
			if n := len(out); n > 0 && out[n-1].Columns != "" {
				out[n-1].Columns += "\n" + l
			} else {
				add(htmlBlock{Columns: l})
			}
			last = nil
		case goesOn(words, margin):
			*last += " " + words
		case margin == 0:
			b := add(htmlBlock{Head: words})
			last, lastMargin = &b.Head, 0
		default:
			b := add(htmlBlock{Text: words})
			last, lastMargin = &b.Text, margin
		}
		lastLine = l
	}
	return out
}

type htmlPage struct {
	Language    Language
	Title, Demo string
	Blocks      []htmlBlock
}

// String sets the page. Styles stand at the elements, for many readers of
// mail drop a style sheet; no colour is set, so that it reads on white, on
// black and on paper.
func (h htmlPage) String() string {
	page := template.Must(template.New("page").Parse(`<!DOCTYPE html>
<html lang="{{.Language}}"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><meta name="color-scheme" content="light dark"><title>{{.Title}}</title></head>
<body style="margin:0;padding:8px;font-family:sans-serif;font-size:16px;line-height:1.35;max-width:42em">
{{- with .Demo}}
<p style="border:2px solid;padding:4px 8px;font-weight:bold">{{.}}</p>{{end}}
{{- range .Blocks}}
{{- if .Head}}
<h2 style="font-size:17px;margin:18px 0 4px">{{.Head}}</h2>
{{- else if .Big}}
<p style="font-size:22px;font-weight:bold;line-height:1.2;margin:4px 0">{{.Text}}</p>
{{- else if .Text}}
<p style="margin:4px 0">{{.Text}}</p>
{{- else if .Quote}}
<div style="white-space:pre-wrap;border-left:3px solid;margin:6px 0;padding-left:8px">{{.Quote}}</div>
{{- else if .Columns}}
<pre style="overflow-x:auto;font-size:12px;line-height:1.3;margin:4px 0">{{.Columns}}</pre>
{{- else if .Items}}
<ul style="margin:4px 0;padding-left:20px">{{range .Items}}
<li style="margin:2px 0">{{.}}</li>{{end}}
</ul>
{{- else if .Link.URL}}
<p style="margin:10px 0"><a href="{{.Link.URL}}" style="display:inline-block;border:2px solid;padding:8px 12px">{{.Link.Words}}</a></p>
{{- else if .Table}}
<table style="border-collapse:collapse;font-size:13px;line-height:1.2">
<tr>{{range .Table.Head}}<th style="text-align:left;padding:2px 6px 2px 0;vertical-align:bottom">{{.}}</th>{{end}}</tr>
{{- range .Table.Rows}}
<tr>{{range .}}<td{{if .Span}} colspan="{{.Span}}"{{end}} style="border-top:1px solid;padding:2px 6px 2px 0;vertical-align:top">{{.Words}}{{with .Bar}}<br><span style="font-size:9px">{{.}}</span>{{end}}</td>{{end}}</tr>
{{- end}}
</table>
{{- end}}{{end}}
{{- with .Demo}}
<p style="border:2px solid;padding:4px 8px;font-weight:bold">{{.}}</p>{{end}}
</body></html>
`))
	var b strings.Builder
	if err := page.Execute(&b, h); err != nil {
		return fmt.Sprintf("<p>%s</p>", template.HTMLEscapeString(err.Error()))
	}
	return b.String()
}
