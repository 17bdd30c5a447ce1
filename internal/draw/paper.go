package draw

import (
	"fmt"
	"hash/fnv"
	"html"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"forecastd/internal/models/units"
)

// Unit is a unit of length as the reader writes it.
type Unit struct {
	Name   string
	Metres float64 // in one unit
}

func (u Unit) length() units.Length {
	if !(u.Metres > 0) || math.IsInf(u.Metres, 0) {
		return units.Metre
	}
	return units.Length(u.Metres)
}

// fontSize is the size of the words in user units. A narrow drawing is laid
// out for 360 units, so that on a phone the words keep their size.
const fontSize = 12.0

// paper is what a figure is drawn on. It minds where words stand, so that the
// next word finds a free place.
type paper struct {
	strings.Builder
	id    string
	w, h  float64
	words []box // no two words meet, nor a word and a solid shape
	lines []box // words keep off these where they can
}

// bold is how a word that heads others is written.
const bold = `font-weight="600"`

// box is a rectangle on the paper.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) meets(c box) bool {
	return b.x0 < c.x1 && c.x0 < b.x1 && b.y0 < c.y1 && c.y0 < b.y1
}

func (b box) within(c box) bool {
	return b.x0 >= c.x0 && b.y0 >= c.y0 && b.x1 <= c.x1 && b.y1 <= c.y1
}

// newPaper takes the prefix of the ids from the caller, or makes one from the
// title.
func newPaper(id, title string, w, h float64) *paper {
	clean := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return -1
	}, id)
	if clean == "" || clean[0] < 'A' {
		sum := fnv.New32a()
		sum.Write([]byte(id + title))
		clean = fmt.Sprintf("f%x", sum.Sum32())
	}
	return &paper{id: clean, w: w, h: h}
}

// svg wraps what was drawn. Nothing in it needs a stylesheet, and a strict
// content policy has nothing to refuse.
func (p *paper) svg(class, title, description string) []byte {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" class="figure %s" viewBox="0 0 %s %s" role="img" aria-labelledby="%s-t %[4]s-d" font-family="system-ui,sans-serif" font-size="%s" text-anchor="middle" fill="currentColor">`+"\n",
		class, num(p.w), num(p.h), p.id, num(fontSize))
	fmt.Fprintf(&b, "<title id=\"%s-t\">%s</title>\n<desc id=\"%[1]s-d\">%[3]s</desc>\n", p.id, escape(title), escape(description))
	b.WriteString(p.String())
	b.WriteString("</svg>\n")
	return []byte(b.String())
}

// hatch defines a pattern of slanted lines that shape() fills with.
func (p *paper) hatch() {
	fmt.Fprintf(p, `<defs><pattern id="%s-h" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="hatch" d="M0 0V7" stroke="currentColor" stroke-width="1.6"/></pattern></defs>`+"\n", p.id)
}

func (p *paper) stroke(x0, y0, x1, y1 float64, attributes string) {
	fmt.Fprintf(p, `<path d="M%s %sL%s %s" stroke="currentColor"%s/>`+"\n", num(x0), num(y0), num(x1), num(y1), space(attributes))
}

// path draws one, if there is anything in it.
func (p *paper) path(d, attributes string) {
	if d == "" {
		return
	}
	fmt.Fprintf(p, `<path d="%s"%s/>`+"\n", d, space(attributes))
}

func (p *paper) rect(b box, attributes string) {
	fmt.Fprintf(p, `<rect x="%s" y="%s" width="%s" height="%s"%s/>`+"\n", num(b.x0), num(b.y0), num(b.x1-b.x0), num(b.y1-b.y0), space(attributes))
}

func (p *paper) circle(x, y, r float64, attributes string) {
	fmt.Fprintf(p, `<circle cx="%s" cy="%s" r="%s"%s/>`+"\n", num(x), num(y), num(r), space(attributes))
}

func space(attributes string) string {
	if attributes == "" {
		return ""
	}
	return " " + attributes
}

// anchor is which end of a word stands at its place.
type anchor string

const (
	start  anchor = "start"
	middle anchor = "middle"
	end    anchor = "end"
)

// spot is a place for a word: its anchor on its base line.
type spot struct {
	x, y float64
	at   anchor
}

// boxOf is the room that a word takes.
func boxOf(s spot, word, attributes string) box {
	w := widthOf(word, attributes)
	x := s.x
	switch s.at {
	case middle:
		x -= w / 2
	case end:
		x -= w
	}
	return box{x, s.y - 0.8*fontSize, x + w, s.y + 0.25*fontSize}
}

// write puts a word at the first spot on the paper where it meets no other
// word and no line, or else no other word, and tells whether there was one.
func (p *paper) write(word string, attributes string, spots ...spot) bool {
	word = clean(word)
	if word == "" {
		return false
	}
	for _, minding := range []bool{true, false} {
		for _, s := range spots {
			if p.free(boxOf(s, word, attributes), minding) {
				p.put(word, attributes, s)
				return true
			}
		}
	}
	return false
}

// gap is how far words on one base line keep from one another.
const gap = 3.0

// free tells whether a word may stand there, and whether off the lines too.
func (p *paper) free(b box, minding bool) bool {
	if !b.within(box{0, 0, p.w, p.h}) {
		return false
	}
	if minding && slices.ContainsFunc(p.lines, b.meets) {
		return false
	}
	b.x0, b.x1 = b.x0-gap, b.x1+gap
	return !slices.ContainsFunc(p.words, b.meets)
}

// keep marks the room of a solid shape, where no word may stand.
func (p *paper) keep(b box) { p.words = append(p.words, b) }

// avoid marks a straight line that words keep off.
func (p *paper) avoid(x0, y0, x1, y1, reach float64) {
	n := int(math.Hypot(x1-x0, y1-y0)/8) + 1
	for i := range n + 1 {
		f := float64(i) / float64(n)
		x, y := x0+f*(x1-x0), y0+f*(y1-y0)
		p.lines = append(p.lines, box{x - reach, y - reach, x + reach, y + reach})
	}
}

func (p *paper) put(word, attributes string, s spot) {
	p.words = append(p.words, boxOf(s, word, attributes))
	if s.at != middle { // as the whole drawing has it
		attributes = `text-anchor="` + string(s.at) + `"` + space(attributes)
	}
	fmt.Fprintf(p, `<text x="%s" y="%s"%s>%s</text>`+"\n", num(s.x), num(s.y), space(attributes), escape(word))
}

// widthOf is the width of a word as it is written.
func widthOf(word, attributes string) float64 {
	w := textWidth(word)
	if attributes == bold {
		w *= boldWider
	}
	return w
}

// boldWider is how much wider bold words are.
const boldWider = 1.13

// textWidth is how wide a word is at most, in user units: by the widths of a
// wide sans-serif, since the reader's own typeface is not known.
func textWidth(s string) float64 {
	w := 0.0
	for _, r := range s {
		w += runeWidth(r)
	}
	return w * fontSize
}

func runeWidth(r rune) float64 {
	switch {
	case strings.ContainsRune(" ijl.,:;'|!", r):
		return 0.33
	case strings.ContainsRune("ftrI()[]-/\"", r):
		return 0.42
	case strings.ContainsRune("mwMW@%—…", r):
		return 1
	case r < 0x7f && unicode.IsUpper(r):
		return 0.75
	case r < 0x500:
		return 0.64
	}
	return 1.05
}

// fit cuts a word to a width.
func fit(word string, width float64) string {
	word = clean(word)
	if textWidth(word) <= width {
		return word
	}
	w, cut := textWidth("…"), 0
	for i, r := range word {
		w += runeWidth(r) * fontSize
		if w > width {
			break
		}
		cut = i + len(string(r))
	}
	if cut == 0 {
		return ""
	}
	return strings.TrimRight(word[:cut], " ") + "…"
}

// wrap breaks words into at most n lines of a width; what is left over is cut.
func wrap(words string, width float64, n int) []string {
	var lines []string
	for _, w := range strings.Fields(clean(words)) {
		if last := len(lines) - 1; last >= 0 && (len(lines) == n || textWidth(lines[last]+" "+w) <= width) {
			lines[last] += " " + w
			continue
		}
		lines = append(lines, w)
	}
	for i, l := range lines {
		lines[i] = fit(l, width)
	}
	return lines
}

// clean drops what may not stand in XML or would change how the rest is read:
// control characters, marks that turn the direction of writing, broken UTF-8.
func clean(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t':
			return ' '
		case unicode.IsControl(r), r == unicode.ReplacementChar, r == 0xfffe, r == 0xffff,
			r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069, r == 0x200e, r == 0x200f:
			return -1
		}
		return r
	}, s))
}

func escape(s string) string { return html.EscapeString(clean(s)) }

// drawable tells whether all are numbers of a size that can be drawn: beyond
// it nothing of the trade lies.
func drawable(vs ...float64) bool {
	return !slices.ContainsFunc(vs, func(v float64) bool { return !(math.Abs(v) < 1e8) })
}

// num writes a length on the paper to a tenth.
func num(v float64) string {
	s := strconv.FormatFloat(v, 'f', 1, 64)
	s = strings.TrimSuffix(s, ".0")
	if s == "-0" {
		return "0"
	}
	return s
}
