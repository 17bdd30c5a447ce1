package words

import (
	"fmt"
	"html/template"
	"strings"
	"time"

	"forecastd/internal/models"
)

// HTML is Letter as a page for e-mail: it needs no image, no script and no
// colour, fits a phone, and everything foreign in it is escaped.
func (t Teller) HTML(c models.Call, now time.Time, lead ...Section) string {
	doc := htmlPage{Language: t.reader.Language, Title: t.Verdict(c), Demo: t.demoNotice(c.Demo)}
	doc.add(t.warnings(c)...)
	for _, s := range t.verdict(c) {
		s := htmlSection{Section: s}
		s.Big, s.Lines = s.Lines[0], s.Lines[1:]
		doc.Sections = append(doc.Sections, s)
	}
	doc.add(lead...)
	doc.add(t.parts(afterOpening(), c, now)...)
	return doc.String()
}

// NoteHTML is Note as a page for e-mail.
func NoteHTML(r Reader, title string, demo bool, sections ...Section) string {
	doc := htmlPage{Language: Language(phrasesOf(r.Language).Code), Title: title}
	if demo {
		doc.Demo = DemoNoticeIn(r.Language)
	}
	doc.add(sections...)
	return doc.String()
}

type htmlPage struct {
	Language    Language
	Title, Demo string
	Sections    []htmlSection
}

// htmlSection is a section with its foremost line set big.
type htmlSection struct {
	Section
	Big string
}

func (h *htmlPage) add(list ...Section) {
	for _, s := range list {
		s.Verbatim, s.Quote = printableLines(s.Verbatim), printableLines(s.Quote)
		h.Sections = append(h.Sections, htmlSection{Section: s})
	}
}

func printableLines(s string) string {
	var out []string
	for _, l := range strings.Split(strings.TrimSpace(s), "\n") {
		out = append(out, printable(strings.TrimRight(l, "\r \t")))
	}
	return strings.Join(out, "\n")
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
{{- range .Sections}}
{{- with .Head}}
<h2 style="font-size:17px;margin:18px 0 4px">{{.}}</h2>{{end}}
{{- with .Big}}
<p style="font-size:22px;font-weight:bold;line-height:1.2;margin:4px 0">{{.}}</p>{{end}}
{{- range .Lines}}
<p style="margin:4px 0">{{.}}</p>{{end}}
{{- with .Table}}
<table style="border-collapse:collapse;font-size:13px;line-height:1.2">
<tr>{{range .Head}}<th style="text-align:left;padding:2px 6px 2px 0;vertical-align:bottom">{{.}}</th>{{end}}</tr>
{{- range .Rows}}
<tr>{{range .}}<td{{with .Span}} colspan="{{.}}"{{end}} style="border-top:1px solid;padding:2px 6px 2px 0;vertical-align:top">{{.Words}}{{with .Bar}}<br><span style="font-size:9px">{{.}}</span>{{end}}</td>{{end}}</tr>
{{- end}}
</table>{{end}}
{{- with .Verbatim}}
<div style="white-space:pre-wrap;border-left:3px solid;margin:6px 0;padding-left:8px">{{.}}</div>{{end}}
{{- with .Quote}}
<div style="white-space:pre-wrap;border-left:3px solid;margin:6px 0;padding-left:8px">{{.}}</div>{{end}}
{{- with .Items}}
<ul style="margin:4px 0;padding-left:20px">{{range .}}
<li style="margin:2px 0">{{.}}</li>{{end}}
</ul>{{end}}
{{- with .Ticks}}
<ul style="margin:4px 0;padding-left:4px;list-style:none">{{range .}}
<li style="margin:4px 0">☐ {{.}}</li>{{end}}
</ul>{{end}}
{{- range .Links}}
<p style="margin:10px 0"><a href="{{.URL}}" style="display:inline-block;border:2px solid;padding:8px 12px">{{.Words}}</a></p>{{end}}
{{- end}}
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
