package words

import (
	"strings"
	"unicode/utf8"

	"forecastd/internal/models"
)

// ShortLimit is how many characters the short form has at most, for gateways
// to text messages.
const ShortLimit = 300

// Short tells a call in at most ShortLimit plain characters: the official
// warnings, then the call with its times and doubt, then as much of the
// reasons as there is room for. Warnings and verdict are never cut off.
func (t Teller) Short(c models.Call) string {
	day := capital(t.ShortDay(c.Date)) + ": " + strings.ToUpper(t.Verdict(c)) + "."
	var more []string
	if leave, back, going := c.Times(); going {
		more = append(more, t.say("short.times", leave, back))
	}
	if c.Confidence != "" {
		more = append(more, capital(t.Word(string(c.Confidence)))+".")
	}
	for _, r := range t.sayAll(c.Reasons) {
		more = append(more, capital(r)+".")
	}
	must := day
	if c.Demo {
		must = t.say("demo.short") + " " + must
	}
	room := ShortLimit - utf8.RuneCountInString(Plain(must)) - 1
	return Shorten([]string{t.shortWarnings(c, room), must}, append(more, t.say("short.official"))...)
}

// shortWarnings tells the warnings in the longest of several ways that has
// room.
func (t Teller) shortWarnings(c models.Call, room int) string {
	list, known := c.Warnings.Get()
	if !known {
		unknown := t.say("short.warnings_unknown")
		stood := t.onTheDay(c.Stood)
		if len(stood) == 0 {
			return unknown
		}
		return unknown + " " + t.shortProducts(stood, room-utf8.RuneCountInString(Plain(unknown))-1)
	}
	list = t.onTheDay(list)
	if len(list) == 0 {
		return ""
	}
	return t.shortProducts(list, room)
}

func (t Teller) shortProducts(list []models.Warning, room int) string {
	var timed, names []string
	for _, w := range list {
		event := strings.ToUpper(Plain(w.Event))
		timed = append(timed, event+" "+t.say("range.two", w.Onset, t.until(w)))
		names = append(names, event)
	}
	tries := []string{strings.Join(timed, "; ") + ".", strings.Join(names, "; ") + "."}
	for n := len(names) - 1; n > 0; n-- {
		tries = append(tries, t.say("short.more_warnings", strings.Join(names[:n], "; "), len(names)-n))
	}
	for _, s := range tries {
		if utf8.RuneCountInString(Plain(s)) <= room {
			return s
		}
	}
	return t.say("short.warnings", len(list))
}

// Shorten joins what must be told and as many whole sentences of the rest, in
// order, as fit into ShortLimit plain characters. The first that has no room
// is left out with all that follow it. What must be told is cut only where it
// is longer than the limit by itself.
func Shorten(must []string, rest ...string) string {
	s := ""
	join := func(part string) string {
		part = Plain(part)
		if s == "" || part == "" {
			return s + part
		}
		return s + " " + part
	}
	for _, m := range must {
		s = join(m)
	}
	if r := []rune(s); len(r) > ShortLimit {
		return string(r[:ShortLimit-3]) + "..."
	}
	for _, m := range rest {
		longer := join(m)
		if utf8.RuneCountInString(longer) > ShortLimit {
			break
		}
		s = longer
	}
	return s
}

// Plain puts text into characters that every gateway takes in one octet each:
// the basic set of GSM 03.38 without its escapes, less what has a simple
// letter to stand for it. Line breaks become blanks.
func Plain(s string) string {
	s = plainer().Replace(s)
	s = strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9', strings.ContainsRune(" .,:;!?'\"()/%&+-=<>*#@$_", r):
			return r
		case r == '\n' || r == '\r' || r == '\t':
			return ' '
		}
		return '?'
	}, s)
	return strings.Join(strings.Fields(s), " ")
}

func plainer() *strings.Replacer {
	return strings.NewReplacer(
		"á", "a", "à", "a", "â", "a", "ä", "a", "ã", "a", "å", "a", "Á", "A", "À", "A", "Â", "A", "Ä", "A", "Ã", "A", "Å", "A",
		"é", "e", "è", "e", "ê", "e", "ë", "e", "É", "E", "È", "E", "Ê", "E", "Ë", "E",
		"í", "i", "ì", "i", "î", "i", "ï", "i", "Í", "I", "Ì", "I", "Î", "I", "Ï", "I",
		"ó", "o", "ò", "o", "ô", "o", "ö", "o", "õ", "o", "Ó", "O", "Ò", "O", "Ô", "O", "Ö", "O", "Õ", "O",
		"ú", "u", "ù", "u", "û", "u", "ü", "u", "Ú", "U", "Ù", "U", "Û", "U", "Ü", "U",
		"ñ", "n", "Ñ", "N", "ç", "c", "Ç", "C", "ß", "ss", "ø", "o", "Ø", "O", "æ", "ae", "Æ", "AE",
		"°", " deg", "–", "-", "—", "-", "−", "-", "…", "...", "“", "\"", "”", "\"", "„", "\"", "«", "\"", "»", "\"", "‘", "'", "’", "'",
		"[", "(", "]", ")", "{", "(", "}", ")", "|", "/", "\\", "/", "~", "-", "^", "'", "`", "'", "¿", "", "¡", "", "\u00a0", " ", "½", " 1/2",
	)
}
