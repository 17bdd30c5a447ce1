package words

import (
	"maps"
	"slices"
)

// Language is the reader's language.
type Language string

// Languages that the catalogue has.
const (
	English Language = "en"
	Spanish Language = "es"
)

// Languages lists the languages that a call can be told in.
func Languages() []Language { return []Language{English, Spanish} }

// known is the language itself, and English where it is none that the
// catalogue has.
func known(l Language) Language {
	if slices.Contains(Languages(), l) {
		return l
	}
	return English
}

// catalogue is the phrases of a language: keys as the judgement names them,
// texts with {0}, {1} for the values.
func catalogue(l Language) map[string]string {
	if l == Spanish {
		return spanishCatalogue()
	}
	return englishCatalogue()
}

func join(parts ...map[string]string) map[string]string {
	all := map[string]string{}
	for _, part := range parts {
		maps.Copy(all, part)
	}
	return all
}

// HasPhrase tells whether the catalogue of a language has a key.
func HasPhrase(l Language, key string) bool {
	_, ok := catalogue(l)[key]
	return ok
}

// DemoNotice stands at the head of every output of the demo.
const DemoNotice = "DEMO: invented data. Boat, port, coast, stations and weather are made up."

// DemoNoticeIn is DemoNotice in a language.
func DemoNoticeIn(l Language) string { return catalogue(known(l))["demo.notice"] }

func (t Teller) demoNotice(demo bool) string {
	if !demo {
		return ""
	}
	return t.say("demo.notice")
}
