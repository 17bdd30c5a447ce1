package words

import (
	"fmt"

	"forecastd/internal/models"
	"forecastd/internal/words/catalogue"
)

// Language is the reader's language.
type Language = models.Language

// Languages by name.
const (
	English = models.English
	Spanish = models.Spanish
)

// Languages lists the languages that a call can be told in.
func Languages() []Language { return models.Languages() }

// Check reads every catalogue. Its error names the file, line or key of all
// that is wrong; without one, every language has every phrase.
func Check() error {
	all, err := catalogue.All()
	if err != nil {
		return fmt.Errorf("words: %w", err)
	}
	for _, l := range Languages() {
		if _, ok := all[string(l)]; !ok {
			return fmt.Errorf("words: language %s has no file internal/words/catalogue/%s.json", l, l)
		}
	}
	return nil
}

// phrasesOf is the catalogue of a language, and the English where there is
// none of it.
func phrasesOf(l Language) catalogue.Catalogue {
	all, _ := catalogue.All() // Check told of an error at start
	if c, ok := all[string(l)]; ok {
		return c
	}
	return all[catalogue.Measure]
}

// NameOf is what the readers of a language call it, and that nobody has read
// it yet where that is so.
func NameOf(l Language) string {
	c := phrasesOf(l)
	if c.Unread != "" {
		return c.Name + " (" + c.Unread + ")"
	}
	return c.Name
}

// HasPhrase tells whether the catalogue of a language has a key.
func HasPhrase(l Language, key string) bool {
	_, ok := phrasesOf(l).Phrase(key)
	return ok
}

// DemoNotice stands at the head of every output of the demo that has no reader
// of its own.
func DemoNotice() string { return DemoNoticeIn(English) }

// DemoNoticeIn is DemoNotice in a language.
func DemoNoticeIn(l Language) string {
	p, _ := phrasesOf(l).Phrase("demo.notice")
	return p.Text()
}

func (t Teller) demoNotice(demo bool) string {
	if !demo {
		return ""
	}
	return t.say("demo.notice")
}
