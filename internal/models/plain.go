package models

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// Bounds of text from outside, in characters. What is longer is cut and ends
// in an ellipsis.
const (
	MostLine = 1000
	MostText = 100_000
)

// PlainText makes text from outside fit for terminals, mail, logs, calendars
// and pages: all text that others write passes here or PlainLine where it
// comes in. It leaves out control characters (C0, C1, DEL), characters that
// turn the direction of what stands beside them or are never seen (Unicode's
// Cf, but the joiners that scripts need), and what is no UTF-8; any line end
// becomes a newline, a tab a blank. It says nothing of what the text means.
func PlainText(s string) string { return plain(s, '\n', MostText) }

// PlainLine is PlainText for what stands in one line: a name, a subject, a
// headline. Line ends and runs of blanks become one blank.
func PlainLine(s string) string {
	return strings.Join(strings.Fields(plain(s, ' ', MostLine)), " ")
}

func plain(s string, lineEnd rune, most int) string {
	clean := true
	for _, r := range s {
		if r == utf8.RuneError || hidden(r) || r == '\n' && lineEnd != '\n' {
			clean = false
			break
		}
	}
	if clean && len(s) <= most {
		return s
	}
	var b strings.Builder
	n := 0
	put := func(r rune) bool {
		if n++; n > most {
			b.WriteRune('…')
			return false
		}
		b.WriteRune(r)
		return true
	}
	s = strings.ReplaceAll(s, "\r\n", "\n")
	for _, r := range s { // what is no UTF-8 comes as U+FFFD
		switch {
		case r == '\n' || r == '\r' || r == '\v' || r == '\f' || r == '\u0085' || r == '\u2028' || r == '\u2029':
			r = lineEnd
		case r == '\t':
			r = ' '
		case hidden(r):
			continue
		}
		if !put(r) {
			break
		}
	}
	return b.String()
}

// hidden tells whether a character has no place in a text as it is.
func hidden(r rune) bool {
	const nonJoiner, joiner = '\u200c', '\u200d'
	switch {
	case r == '\n' || r == nonJoiner || r == joiner:
		return false
	case r < 0x80:
		return r < ' ' || r == 0x7f
	}
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp)
}
