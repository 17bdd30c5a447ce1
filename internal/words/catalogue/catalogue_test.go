package catalogue_test

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/words/catalogue"
)

func all(t *testing.T) map[string]catalogue.Catalogue {
	t.Helper()
	list, err := catalogue.All()
	require.NoError(t, err)
	return list
}

// Every language that the model lists has a file, every file is listed, and
// all have the same phrases with the same places for values: All fails else.
func TestLanguagesSayTheSame(t *testing.T) {
	list := all(t)
	require.Len(t, list, len(models.Languages()))
	for _, l := range models.Languages() {
		c, ok := list[string(l)]
		require.True(t, ok, "models.Languages has %s, but there is no %s.json", l, l)
		require.Greater(t, len(c.Keys()), 500)
		require.NotEmpty(t, c.Name)
		// An unread language is worth choosing if nearly all of it is there.
		require.LessOrEqual(t, len(c.Lacks()), len(c.Keys())/10, "%s lacks %v", l, c.Lacks())
	}
}

// Keys stand in the order of the alphabet, so that a phrase is found, and two
// people who add phrases seldom meet on one line.
func TestKeysAreSorted(t *testing.T) {
	for code := range all(t) {
		b, err := os.ReadFile(code + ".json")
		require.NoError(t, err)
		var keys []string
		for _, m := range regexp.MustCompile(`(?m)^    "((?:[^"\\]|\\.)*)": `).FindAllStringSubmatch(string(b[strings.Index(string(b), `"phrases"`):]), -1) {
			keys = append(keys, m[1])
		}
		require.Len(t, keys, len(all(t)[code].Keys())-len(all(t)[code].Lacks()), "%s.json: one phrase a line, indented by four spaces", code)
		for i := 1; i < len(keys); i++ {
			require.Less(t, keys[i-1], keys[i], "%s.json: out of order", code)
		}
	}
}

// Every text of another language is another than the English, but for texts
// without letters and the few that both write alike.
func TestNoEnglishIsLeft(t *testing.T) {
	alike := map[string][]string{"es": {"input.no", "word.no", "page.drift.north", "page.hours.factor", "page.report.shower.no"},
		"pt": {"page.drift.north"},
	}
	letters, units := regexp.MustCompile(`\p{L}`), regexp.MustCompile(`\b(s|min|h)\b`)
	en := all(t)["en"]
	for code, c := range all(t) {
		if code == "en" {
			continue
		}
		for _, key := range c.Keys() {
			p, _ := c.Phrase(key)
			if !letters.MatchString(units.ReplaceAllString(p.Text(), "")) {
				continue
			}
			if slices.Contains(c.Lacks(), key) {
				continue
			}
			english, _ := en.Phrase(key)
			require.Equal(t, slices.Contains(alike[code], key), p.Text() == english.Text(), "%s: %s: %q", code, key, p.Text())
		}
	}
}

// Words that only English has, and that none of ours borrow, stand in no
// text of another language.
func TestNoEnglishWordIsBorrowed(t *testing.T) {
	english := strings.Fields("the and with kite wind seas back leave party not for from bait guest guests boat warning water light")
	word := regexp.MustCompile(`\p{L}+`)
	for code, c := range all(t) {
		if code == "en" {
			continue
		}
		for _, key := range c.Keys() {
			p, _ := c.Phrase(key)
			if slices.Contains(c.Lacks(), key) {
				continue
			}
			for _, text := range p.Texts() {
				for _, w := range word.FindAllString(strings.ToLower(text), -1) {
					require.NotContains(t, english, w, "%s: %s: %q", code, key, text)
				}
			}
		}
	}
}

// What is wrong with a file is told with its name and the line or key.
func TestABrokenFileIsToldWithItsPlace(t *testing.T) {
	const head = "{\n\"name\": \"X\",\n\"phrases\": {\n"
	for name, c := range map[string]struct{ en, es, want string }{
		"no JSON":         {head + "\"a\": \"b\",,\n}}", "", "catalogue en.json: line 4:"},
		"a stray key":     {"{\n\"name\": \"X\",\n\"more\": 1}", "", "unknown field \"more\""},
		"no phrases":      {"{\"name\": \"X\"}", "", "it needs \"name\" and \"phrases\""},
		"a list":          {"{\"name\": \"X\", \"phrases\": []}", "", "\"phrases\" has to be a table"},
		"twice":           {head + "\"a\": \"b\",\n\"a\": \"c\"\n}}", "", "catalogue en.json: line 5: a: it stands twice"},
		"empty":           {head + "\"a\": \" \"\n}}", "", "line 4: a: it is empty"},
		"a number":        {head + "\"a\": 1\n}}", "", "line 4: a: write a text, or its forms"},
		"a named place":   {head + "\"a\": \"b {name}\"\n}}", "", "a place for a value is a digit in braces"},
		"no count":        {head + "\"a\": {\"one\": \"b\", \"other\": \"c\"}\n}}", "", "\"count\" has to be the place of the number"},
		"a form unknown":  {head + "\"a\": {\"count\": 0, \"lone\": \"b\", \"other\": \"c\"}\n}}", "", "\"lone\" is no form"},
		"a form missing":  {head + "\"a\": {\"count\": 0, \"other\": \"c {0}\"}\n}}", "", "the form for 1 is missing"},
		"a form no text":  {head + "\"a\": {\"count\": 0, \"one\": 1, \"other\": \"c {0}\"}\n}}", "", "\"one\" has to be a text"},
		"a key missing":   {head + "\"a\": \"b\"\n}}", head + "\"event.x\": \"y\"\n}}", "catalogue es.json: a is missing"},
		"a key too many":  {head + "\"a\": \"b\"\n}}", head + "\"a\": \"b\", \"c\": \"d\"\n}}", "catalogue es.json: c is not in en.json"},
		"another place":   {head + "\"a\": \"b {0}\"\n}}", head + "\"a\": \"b {1}\"\n}}", "catalogue es.json: a has places [{1}], but en.json has [{0}]"},
		"a place twice":   {head + "\"a\": \"b {0}\"\n}}", head + "\"a\": \"b {0} {0}\"\n}}", "catalogue es.json: a has places [{0} {0}]"},
		"both are broken": {head + "\"a\": \"\"\n}}", head + "\"z\": \"\"\n}}", "catalogue es.json: line 4: z: it is empty"},
	} {
		t.Run(name, func(t *testing.T) {
			texts := map[string][]byte{"en.json": []byte(c.en)}
			if c.es != "" {
				texts["es.json"] = []byte(c.es)
			}
			_, err := catalogue.Parse(texts)
			require.ErrorContains(t, err, c.want)
		})
	}
	list, err := catalogue.Parse(map[string][]byte{
		"en.json": []byte(head + "\"a\": \"b {0}\", \"c\": \"d\"\n}}"),
		"pt.json": []byte("{\"name\": \"X\", \"unread\": \"ninguém leu\", \"phrases\": {\"c\": \"e\"}}"),
	})
	require.NoError(t, err, "what a language lacks that nobody has read is told in English")
	p, ok := list["pt"].Phrase("a")
	require.True(t, ok)
	require.Equal(t, "b {0}", p.Text())
	require.Equal(t, []string{"a"}, list["pt"].Lacks())
	_, err = catalogue.Parse(map[string][]byte{"es.json": []byte(head + "\"a\": \"b\"\n}}")})
	require.ErrorContains(t, err, "catalogue en.json is missing")
	_, err = catalogue.Parse(map[string][]byte{"Spanish!.json": []byte(head + "\"a\": \"b\"\n}}")})
	require.ErrorContains(t, err, "no code of a language")
}

// Forms follow the plural rules of the Unicode CLDR: French takes none and one
// together, English one alone, Polish 2 to 4, 22 to 24 … apart from the rest
// (cardinal rules as Unicode publishes them).
func TestFormsFollowTheLanguage(t *testing.T) {
	const en = `{"name": "English", "phrases": {"trips": {"count": 1, "one": "{0}: one trip", "other": "{0}: {1} trips"}}}`
	const fr = `{"name": "Français", "phrases": {"trips": {"count": 1, "one": "{0} : {1} sortie", "other": "{0} : {1} sorties"}}}`
	const pl = `{"name": "Polski", "phrases": {"trips": {"count": 1, "one": "{0}: {1} rejs", "few": "{0}: {1} rejsy", "many": "{0}: {1} rejsów", "other": "{0}: {1} rejsu"}}}`
	list, err := catalogue.Parse(map[string][]byte{"en.json": []byte(en), "fr.json": []byte(fr), "pl.json": []byte(pl)})
	require.NoError(t, err)
	for _, c := range []struct {
		code string
		n    int
		want string
	}{
		{"en", 0, "{0}: {1} trips"}, {"en", 1, "{0}: one trip"}, {"en", 2, "{0}: {1} trips"},
		{"fr", 0, "{0} : {1} sortie"}, {"fr", 1, "{0} : {1} sortie"}, {"fr", 2, "{0} : {1} sorties"},
		{"pl", 1, "{0}: {1} rejs"}, {"pl", 3, "{0}: {1} rejsy"}, {"pl", 13, "{0}: {1} rejsów"}, {"pl", 23, "{0}: {1} rejsy"},
	} {
		p, ok := list[c.code].Phrase("trips")
		require.True(t, ok)
		place, counts := p.Count()
		require.True(t, counts)
		require.Equal(t, 1, place)
		require.Equal(t, c.want, p.TextFor(c.n), "%s %d", c.code, c.n)
	}
}

// One of something is not told as many.
func TestOneIsNotMany(t *testing.T) {
	for code, c := range all(t) {
		for _, key := range []string{"trips.count", "page.days.trips", "days", "bait.hardy", "bait.delicate"} {
			p, ok := c.Phrase(key)
			require.True(t, ok, key)
			require.NotEqual(t, p.TextFor(2), p.TextFor(1), "%s: %s", code, key)
		}
	}
}

// A thing has one word in a language. Left stands the word that is not taken,
// beside the keys in which it means another thing.
func TestAThingHasOneWord(t *testing.T) {
	for code, others := range map[string]map[string][]string{
		"en": {
			`courses (of|the) (the )?weather`: nil,                                 // forecast scenarios
			`never limit`:                     {"caution.override_not_understood"}, // what an override names
		},
		"es": {
			`borde`:        {"factor.wind.poor"}, // veril
			`viveros?`:     {"word.live well"},   // jaula
			`saliente`:     nil,                  // vaciante
			`boca`:         nil,                  // bocana
			`vuelta a las`: nil,                  // vuelta antes de las: the latest hour, not the hour
		},
	} {
		c := all(t)[code]
		for word, keys := range others {
			taken := regexp.MustCompile(`(?i)\b` + word + `\b`)
			for _, key := range c.Keys() {
				p, _ := c.Phrase(key)
				for _, text := range p.Texts() {
					require.False(t, taken.MatchString(text) && !slices.Contains(keys, key), "%s: %s: %q", code, key, text)
				}
			}
		}
	}
}
